from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict

ABSENT = rule({"absent": {"of": "Trichloroacetic Acid"}})
FACT = "refining-history-known"
UNLESS = rule({"absent": {"of": ["Petrolatum", "Paraffinum Liquidum"], "unless": FACT}})
KNOWN = f"{{contains: {{Petrolatum: 100}}, declares: [{FACT}]}}"
UNKNOWN = "{contains: {Petrolatum: 100}}"


def test_a_product_without_it_is_not_spoken_of() -> None:
    assert verdict(reviewed(sheet("Lactic Acid 5", "Aqua qs"), ABSENT)) == "does not apply"


def test_a_line_of_none_is_none() -> None:
    assert verdict(reviewed(sheet("Trichloroacetic Acid 0", "Aqua qs"), ABSENT)) == "does not apply"


def test_the_smallest_amount_breaks_with_the_amount_at_its_line() -> None:
    text = sheet("Aqua qs", "Trichloroacetic Acid 0.000001")
    finding = only(reviewed(text, ABSENT))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert "0.000001 % w/w" in finding.message
    assert finding.place.line == FIRST_LINE + 1
    assert pointed_at(text, finding).startswith("0.000001}")


def test_a_synonym_and_a_cas_number_are_the_substance() -> None:
    assert verdict(reviewed(sheet("tca 1", "Aqua qs"), ABSENT)) == "breaks"
    assert verdict(reviewed(sheet("76-03-9 1", "Aqua qs"), ABSENT)) == "breaks"


def test_what_a_bought_material_holds_is_in_the_product() -> None:
    extra = "materials:\n  peel: {contains: {Trichloroacetic Acid: 30, Aqua: qs}}"
    finding = only(reviewed(sheet("Aqua qs", "peel 10", extra=extra), ABSENT))

    assert finding.verdict == "breaks"
    assert "3 % w/w" in finding.message
    assert finding.place.line == FIRST_LINE + 1


def test_a_tolerance_that_reaches_down_to_nothing_does_not_excuse_it() -> None:
    extra = "materials:\n  peel: {contains: {Trichloroacetic Acid: 1, Aqua: qs}, tolerance: 1}"

    assert verdict(reviewed(sheet("Aqua qs", "peel 10", extra=extra), ABSENT)) == "breaks"


def test_several_of_a_list_are_told_together_at_the_largest() -> None:
    several = rule({"absent": {"of": ["Trichloroacetic Acid", "Formaldehyde"]}})
    finding = only(reviewed(sheet("Formaldehyde 0.1", "Trichloroacetic Acid 0.3", "Aqua qs"), several))

    assert finding.substances == ("Formaldehyde", "Trichloroacetic Acid")
    assert "0.4 % w/w" in finding.message
    assert finding.place.line == FIRST_LINE + 1


# -- only_as, not_as -----------------------------------------------------------------------------------------------


def test_only_as_bans_it_in_that_function() -> None:
    exfoliant = rule({"absent": {"of": "Lactic Acid", "only_as": ["exfoliant"]}})

    assert verdict(reviewed(sheet("Lactic Acid 1 as exfoliant", "Aqua qs"), exfoliant)) == "breaks"
    assert verdict(reviewed(sheet("Lactic Acid 1 as pH adjuster", "Aqua qs"), exfoliant)) == "does not apply"


def test_not_as_has_to_be_claimed_on_the_line() -> None:
    claimed = rule({"absent": {"of": "Sodium Lactate", "not_as": ["humectant"]}})

    assert verdict(reviewed(sheet("Sodium Lactate 1 as humectant", "Aqua qs"), claimed)) == "does not apply"
    assert verdict(reviewed(sheet("Sodium Lactate 1 as exfoliant", "Aqua qs"), claimed)) == "breaks"
    finding = only(reviewed(sheet("Sodium Lactate 1", "Aqua qs"), claimed))
    assert finding.verdict == "undecided"
    assert "function of Sodium Lactate" in finding.needs[0]


# -- unless --------------------------------------------------------------------------------------------------------


def jar(first: str, second: str = UNKNOWN) -> str:
    return sheet("first 5", "second 3", "Squalane 92", extra=f"materials:\n  first: {first}\n  second: {second}")


def test_without_the_supplier_fact_it_is_undecided_and_names_the_fact_to_declare() -> None:
    finding = only(reviewed(jar(UNKNOWN), UNLESS))

    assert (finding.verdict, finding.severity) == ("undecided", "warning")
    assert FACT in finding.message
    assert FACT in finding.needs[0]
    assert "supplier confirms" in finding.needs[0]


def test_a_line_that_names_the_bare_substance_declares_nothing() -> None:
    assert verdict(reviewed(sheet("Petrolatum 5", "Squalane 95"), UNLESS)) == "undecided"


def test_with_the_fact_on_every_material_it_meets() -> None:
    assert verdict(reviewed(jar(KNOWN, KNOWN), UNLESS)) == "meets"


def test_the_fact_on_one_of_two_materials_is_not_enough() -> None:
    assert verdict(reviewed(jar(KNOWN), UNLESS)) == "undecided"


def test_a_fact_excuses_as_much_as_the_limit_says_and_no_more() -> None:
    capped, extra = UNLESS | {"values": {"always": {"max": 5}}}, f"materials:\n  jelly: {KNOWN}"

    assert verdict(reviewed(sheet("jelly 5", "Squalane qs", extra=extra), capped)) == "meets"
    finding = only(reviewed(sheet("jelly 5.001", "Squalane qs", extra=extra), capped))
    assert finding.verdict == "breaks"
    assert "5.001" in finding.message
    assert "at most 5 is" in finding.message


def test_an_amount_that_may_be_more_than_the_fact_excuses_is_undecided() -> None:
    capped = UNLESS | {"values": {"always": {"max": 5}}}
    jelly = f"{{contains: {{Petrolatum: 50, Squalane: qs}}, tolerance: 2, declares: [{FACT}]}}"
    extra = f"materials:\n  jelly: {jelly}"

    assert verdict(reviewed(sheet("jelly 10", "Squalane qs", extra=extra), capped)) == "undecided"


def test_another_fact_is_not_the_fact() -> None:
    other = "{contains: {Petrolatum: 100}, declares: [butadiene-below-0-1-percent]}"

    assert verdict(reviewed(jar(other, KNOWN), UNLESS)) == "undecided"


def test_a_premix_carries_on_what_its_material_declares() -> None:
    extra = f"materials:\n  bought: {KNOWN}\n  premix: {{premix: {{bought: 50, Squalane: 50}}}}"

    assert verdict(reviewed(sheet("premix 10", "Squalane 90", extra=extra), UNLESS)) == "meets"


def test_a_ban_for_one_function_asks_for_the_function_where_none_is_stated() -> None:
    peeling = rule({"absent": {"of": "Gluconolactone", "only_as": ["exfoliant"]}}, values={"always": {"max": 0}})
    unsaid, said = sheet("Gluconolactone 1", "Aqua qs"), sheet("Gluconolactone 1 as exfoliant", "Aqua qs")

    assert only(reviewed(unsaid, peeling)).needs == (
        "state the function of Gluconolactone on its line, if it is there for something else",
    )
    assert only(reviewed(said, peeling)).needs == ()
    assert verdict(reviewed(sheet("Gluconolactone 1 as preservative", "Aqua qs"), peeling)) == "does not apply"
