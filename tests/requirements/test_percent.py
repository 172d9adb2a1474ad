import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.findings import Review


def percent(limit: dict[str, float], **parameters: object) -> dict[str, object]:
    return rule({"percent": {"of": "Glycolic Acid"} | parameters}, values={"always": limit})


def of(found: Review) -> str:
    return only(found).message


# -- bounds --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "inside", "outside"),
    [
        ({"max": 10}, ["0.001", "10"], ["10.001"]),
        ({"below": 10}, ["9.999"], ["10", "10.001"]),
        ({"min": 2}, ["2", "50"], ["1.999"]),
        ({"above": 2}, ["2.001"], ["2", "1.999"]),
        ({"min": 2, "max": 10}, ["2", "10"], ["1.999", "10.001"]),
        ({"above": 2, "below": 10}, ["2.001", "9.999"], ["2", "10"]),
    ],
)
def test_max_and_min_include_the_figure_and_below_and_above_do_not(
    limit: dict[str, float], inside: list[str], outside: list[str]
) -> None:
    for amount in inside:
        assert verdict(reviewed(sheet(f"Glycolic Acid {amount}", "Aqua qs"), percent(limit))) == "meets", amount
    for amount in outside:
        assert verdict(reviewed(sheet(f"Glycolic Acid {amount}", "Aqua qs"), percent(limit))) == "breaks", amount


def test_a_ceiling_of_nothing_is_broken_by_any_amount_and_not_by_a_line_of_none() -> None:
    none = percent({"max": 0})

    assert verdict(reviewed(sheet("Glycolic Acid 0", "Aqua qs"), none)) == "does not apply"
    assert "none is allowed" in of(reviewed(sheet("Glycolic Acid 0.000001", "Aqua qs"), none))


def test_a_product_without_the_substance_is_not_spoken_of() -> None:
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs"), percent({"max": 10}))) == "does not apply"


def test_the_message_holds_the_amount_and_the_limit_and_points_at_the_amount() -> None:
    text = sheet("Aqua qs", "Glycolic Acid 10.01")
    finding = only(reviewed(text, percent({"max": 10})))

    assert "10.01 % w/w" in finding.message
    assert "at most 10" in finding.message
    assert pointed_at(text, finding).startswith("10.01}")
    assert finding.where == "phases.one.lines[1]"
    assert finding.substances == ("Glycolic Acid",)


def test_sums_are_exact_where_binary_floats_are_not() -> None:
    text = sheet("Glycolic Acid 0.1", "Glycolic Acid 0.2", "Aqua qs")

    assert verdict(reviewed(text, percent({"max": 0.3}))) == "meets"
    assert verdict(reviewed(text, percent({"below": 0.3}))) == "breaks"


def test_a_declared_amount_is_compared_as_written_and_not_rounded() -> None:
    assert verdict(reviewed(sheet("Glycolic Acid 10.00001", "Aqua qs"), percent({"max": 10}))) == "breaks"


def test_a_sum_points_at_its_largest_line_and_names_every_substance() -> None:
    several = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"]}}, values={"always": {"max": 10}})
    text = sheet("Glycolic Acid 3", "Lactic Acid 8", "Glycolic Acid 1", "Aqua qs")
    finding = only(reviewed(text, several))

    assert "12 % w/w" in finding.message
    assert finding.place.line == FIRST_LINE + 1
    assert finding.substances == ("Glycolic Acid", "Lactic Acid")


def test_what_a_material_holds_counts_at_its_strength() -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}}"

    assert verdict(reviewed(sheet("glycolic-70 10", "Aqua qs", extra=extra), percent({"max": 7}))) == "meets"
    assert verdict(reviewed(sheet("glycolic-70 10.1", "Aqua qs", extra=extra), percent({"max": 7}))) == "breaks"


def test_a_material_in_a_premix_counts_at_the_product_of_both_strengths() -> None:
    extra = (
        "materials:\n"
        "  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}}\n"
        "  dilution: {premix: {glycolic-70: 50, Aqua: 50}}"
    )
    finding = only(reviewed(sheet("dilution 20", "Aqua qs", extra=extra), percent({"max": 6.9})))

    assert "7 % w/w" in finding.message


# -- intervals -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "said"), [(7.1, "meets"), (7.05, "undecided"), (6.95, "undecided"), (6.89, "breaks")]
)
def test_a_tolerance_decides_where_it_lies_on_one_side_and_not_where_it_straddles(limit: float, said: str) -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
    text = sheet("glycolic-70 10", "Aqua qs", extra=extra)

    assert verdict(reviewed(text, percent({"max": limit}))) == said


def test_an_end_of_the_tolerance_that_touches_the_limit_is_inside_max_and_outside_below() -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
    text = sheet("glycolic-70 10", "Aqua qs", extra=extra)

    assert verdict(reviewed(text, percent({"max": 7.1}))) == "meets"
    assert verdict(reviewed(text, percent({"below": 7.1}))) == "undecided"
    assert verdict(reviewed(text, percent({"below": 6.9}))) == "breaks"


def test_an_undecided_amount_shows_both_ends_and_asks_for_a_narrower_assay() -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
    finding = only(reviewed(sheet("glycolic-70 10", "Aqua qs", extra=extra), percent({"max": 7})))

    assert "6.9 to 7.1 % w/w" in finding.message
    assert "at most 7" in finding.message
    assert "assay" in finding.needs[0]
    assert finding.severity == "warning"


# -- as ------------------------------------------------------------------------------------------------------------

# From the IUPAC abridged standard atomic weights of 2021.
BENZOIC_ACID = 7 * 12.011 + 6 * 1.008 + 2 * 15.999
SODIUM_BENZOATE = BENZOIC_ACID - 1.008 + 22.990


def test_a_salt_counts_as_its_acid_by_molar_mass() -> None:
    as_acid = rule(
        {"percent": {"of": ["Benzoic Acid", "Sodium Benzoate"], "as": "Benzoic Acid"}}, values={"always": {"max": 0.1}}
    )
    finding = only(reviewed(sheet("Sodium Benzoate 1", "Aqua qs"), as_acid))

    assert f"{BENZOIC_ACID / SODIUM_BENZOATE:.4f} % w/w as benzoic acid" in finding.message


def test_a_converted_amount_is_rounded_at_four_decimals_before_it_is_compared() -> None:
    as_acid = rule(
        {"percent": {"of": ["Benzoic Acid", "Sodium Benzoate"], "as": "Benzoic Acid"}}, values={"always": {"max": 0.5}}
    )
    unrounded = 0.59004 * BENZOIC_ACID / SODIUM_BENZOATE
    assert 0.5 < unrounded < 0.50005

    assert verdict(reviewed(sheet("Sodium Benzoate 0.59004", "Aqua qs"), as_acid)) == "meets"
    assert verdict(reviewed(sheet("Sodium Benzoate 0.5902", "Aqua qs"), as_acid)) == "breaks"
    assert verdict(reviewed(sheet("Benzoic Acid 0.50004", "Aqua qs"), as_acid)) == "breaks"


@pytest.mark.parametrize(("grams", "rounded"), [("0.0015", "0.0002"), ("0.0025", "0.0002"), ("0.0035", "0.0004")])
def test_a_tie_is_rounded_to_even(grams: str, rounded: str) -> None:
    rest = 1000 - float(grams)
    finding = only(reviewed(sheet(f"Glycolic Acid {grams} g", f"Aqua {rest:.4f} g"), percent({"max": 0.0001})))

    assert f"is {rounded} % w/w" in finding.message


def test_as_acid_turns_each_salt_and_ester_into_its_own_acid() -> None:
    as_acid = rule({"percent": {"of": "glycolic-and-lactic", "as": "acid"}}, values={"always": {"max": 1}})
    glycolic = 76.051 / (76.051 - 1.008 + 22.990)
    ethyl = 90.078 / (90.078 + 46.069 - 18.015)  # lactic acid, and its ester with ethanol
    text = sheet("Sodium Glycolate 2", "Ethyl Lactate 2", "Lactic Acid 2", "Aqua qs")

    assert f"make {2 * glycolic + 2 * ethyl + 2:.4f}" in of(reviewed(text, as_acid))


def test_as_supplied_is_what_no_as_means() -> None:
    text = sheet("Sodium Glycolate 2", "Aqua qs")
    for parameters in ({}, {"as": "supplied"}):
        supplied = rule({"percent": {"of": "Sodium Glycolate"} | parameters}, values={"always": {"max": 1.99}})
        assert "is 2 % w/w" in of(reviewed(text, supplied))


def test_what_cannot_be_expressed_so_is_undecided_and_says_what_is_missing() -> None:
    strange = rule({"percent": {"of": ["Glycerin", "Lactic Acid"], "as": "Lactic Acid"}}, values={"always": {"max": 1}})
    finding = only(reviewed(sheet("Glycerin 2", "Lactic Acid 2", "Aqua qs"), strange))

    assert finding.verdict == "undecided"
    assert finding.value is None
    assert "Glycerin" in finding.needs[0]


# -- each, only_as, not_as -----------------------------------------------------------------------------------------


def test_each_judges_every_substance_by_itself_and_adds_its_own_lines_up() -> None:
    each = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"], "each": True}}, values={"always": {"max": 5}})

    assert verdict(reviewed(sheet("Glycolic Acid 5", "Lactic Acid 5", "Aqua qs"), each)) == "meets"
    finding = only(reviewed(sheet("Glycolic Acid 5", "Lactic Acid 3", "Lactic Acid 2.01", "Aqua qs"), each))
    assert finding.substances == ("Lactic Acid",)
    assert "5.01" in finding.message


def test_each_gives_one_finding_for_every_substance_that_breaks() -> None:
    each = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"], "each": True}}, values={"always": {"max": 5}})
    found = reviewed(sheet("Glycolic Acid 6", "Lactic Acid 7", "Aqua qs"), each)

    assert [finding.substances for finding in found.findings] == [("Glycolic Acid",), ("Lactic Acid",)]


def test_only_as_counts_the_lines_of_that_function() -> None:
    exfoliant = percent({"max": 4}, only_as=["exfoliant"])

    assert "5 % w/w" in of(
        reviewed(sheet("Glycolic Acid 5 as exfoliant", "Glycolic Acid 1 as buffering", "Aqua qs"), exfoliant)
    )
    assert verdict(reviewed(sheet("Glycolic Acid 5 as pH adjuster", "Aqua qs"), exfoliant)) == "does not apply"


def test_only_as_takes_the_first_function_of_the_library_where_the_line_states_none() -> None:
    assert (
        verdict(reviewed(sheet("Glycolic Acid 5", "Aqua qs"), percent({"max": 4}, only_as=["exfoliant"]))) == "breaks"
    )
    assert (
        verdict(reviewed(sheet("Glycolic Acid 5", "Aqua qs"), percent({"max": 4}, only_as=["pH adjuster"])))
        == "does not apply"
    )


def test_an_exemption_that_the_line_claims_takes_it_out_of_the_count() -> None:
    exempt = percent({"max": 4}, not_as=["pH adjuster"])

    assert verdict(reviewed(sheet("Glycolic Acid 5 as pH adjuster", "Aqua qs"), exempt)) == "does not apply"
    text = sheet("Glycolic Acid 4 as exfoliant", "Glycolic Acid 1 as pH adjuster", "Aqua qs")
    assert verdict(reviewed(text, exempt)) == "meets"


def test_an_exemption_that_only_follows_from_the_usual_function_is_open() -> None:
    exempt = rule({"percent": {"of": "Sodium Lactate", "not_as": ["humectant"]}}, values={"always": {"max": 4}})
    finding = only(reviewed(sheet("Sodium Lactate 5", "Aqua qs"), exempt))

    assert finding.verdict == "undecided"
    assert "function of Sodium Lactate" in finding.needs[0]


def test_an_open_exemption_does_not_hide_what_breaks_without_it() -> None:
    exempt = rule(
        {"percent": {"of": ["Sodium Lactate", "Lactic Acid"], "not_as": ["humectant"]}}, values={"always": {"max": 4}}
    )

    assert verdict(reviewed(sheet("Lactic Acid 5", "Sodium Lactate 1", "Aqua qs"), exempt)) == "breaks"
    assert verdict(reviewed(sheet("Lactic Acid 3", "Sodium Lactate 2", "Aqua qs"), exempt)) == "undecided"
    assert verdict(reviewed(sheet("Lactic Acid 3", "Sodium Lactate 1", "Aqua qs"), exempt)) == "meets"


# -- the free acid -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ph", "free"), [("3.831", 0.5), ("2.831", 1 / 1.1), ("4.831", 1 / 11)])
def test_the_free_acid_stands_beside_the_total(ph: str, free: float) -> None:
    # pKa 3.83 of glycolic acid: Bell and Kuhn 1963, read in a secondary restatement.
    text = sheet("Glycolic Acid 0.1", "Aqua qs", extra=f"measured: {{ph: {ph}, tolerance: 0}}")

    assert f"free acid about {0.1 * free:.2f} %" in of(reviewed(text, percent({"max": 0.01})))


def test_the_free_acid_of_a_salt_is_told_as_well() -> None:
    salt = rule({"percent": {"of": "Sodium Glycolate"}}, values={"always": {"max": 1}})
    text = sheet("Sodium Glycolate 5", "Aqua qs", extra="measured: {ph: 2.8, tolerance: 0}")

    assert "free acid about 3." in of(reviewed(text, salt))


def test_no_free_acid_is_told_where_the_ph_is_not_known_or_nothing_ionises() -> None:
    assert "free acid" not in of(reviewed(sheet("Glycolic Acid 5", "Carbomer 1", "Aqua qs"), percent({"max": 1})))
    glycerin = rule({"percent": {"of": "Glycerin"}}, values={"always": {"max": 1}})
    assert "free acid" not in of(reviewed(sheet("Glycerin 5", "Lactic Acid 2", "Aqua qs"), glycerin))


def test_an_undecided_amount_names_the_assay_and_the_limit_that_it_would_decide() -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
    finding = only(reviewed(sheet("glycolic-70 10", "Aqua qs", extra=extra), percent({"max": 7.05})))

    assert finding.needs == ("a narrower assay of Glycolic Acid: the limit 7.05 lies inside 6.9 to 7.1",)


@pytest.mark.parametrize(
    ("limit", "said"), [(10.1, "meets"), (10.09, "undecided"), (9.9, "undecided"), (9.89, "breaks")]
)
def test_a_weighing_counts_with_half_a_division_of_the_balance(limit: float, said: str) -> None:
    # 0.2 g on 100 g of batch: half a division is 0.1 % of the batch.
    text = sheet("Glycolic Acid 10", "Aqua qs", extra="batch: 100 g\nbalance: 0.2 g")

    assert verdict(reviewed(text, percent({"max": limit}))) == said


def test_an_amount_that_only_the_weighing_leaves_open_asks_for_a_finer_one() -> None:
    text = sheet("Glycolic Acid 10", "Aqua qs", extra="batch: 100 g\nbalance: 0.2 g")

    assert only(reviewed(text, percent({"max": 10}))).needs == (
        "a finer balance or a larger batch: the limit 10 lies inside 9.9 to 10.1",
    )
