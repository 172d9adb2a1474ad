import pytest

from helpers import book_of, formula_from, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.judge import review

HUNDRED = {"always": {"min": 99.99, "max": 100.01}}
PRODUCT = rule({"total": {"of": "product"}}, values=HUNDRED, binding="arithmetic")
MATERIAL = rule({"total": {"of": "material"}}, values=HUNDRED, binding="arithmetic")
BATCH = rule({"total": {"of": "batch"}}, values=HUNDRED, binding="arithmetic")
NAMES = rule({"total": {"of": "names"}}, binding="arithmetic")

HEAD = "formula: a test jar\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [eu]\n"


# -- the product ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("water", ["94.99", "95", "95.01"])
def test_lines_that_make_100_to_a_hundredth_meet(water: str) -> None:
    assert verdict(reviewed(sheet("Glycerin 5", f"Aqua {water}"), PRODUCT)) == "meets"


@pytest.mark.parametrize(
    ("water", "sum_", "off"), [("94.98", "99.98", "0.02 % short"), ("95.02", "100.02", "0.02 % over")]
)
def test_lines_that_miss_100_by_more_break_with_both_numbers_at_the_phases(water: str, sum_: str, off: str) -> None:
    text = sheet("Glycerin 5", f"Aqua {water}")
    finding = only(reviewed(text, PRODUCT))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert sum_ in finding.message
    assert "100" in finding.message
    assert off in finding.message
    assert pointed_at(text, finding).startswith("phases:")


def test_tenths_that_a_binary_float_cannot_hold_still_make_exactly_100() -> None:
    exact = rule({"total": {"of": "product"}}, values={"always": {"min": 100, "max": 100}}, binding="arithmetic")
    tenths = [f"Glycerin {part}" for part in ("0.1", "0.2", "0.3", "0.7", "1.1", "2.2")]

    assert verdict(reviewed(sheet(*tenths, "Aqua 95.4"), exact)) == "meets"


def test_a_qs_line_takes_the_rest_and_the_product_meets() -> None:
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs"), PRODUCT)) == "meets"


def test_a_qs_line_with_nothing_left_still_meets() -> None:
    assert verdict(reviewed(sheet("Glycerin 100", "Aqua qs"), PRODUCT)) == "meets"


def test_a_qs_below_nothing_breaks_at_its_own_amount_and_says_what_to_take_out() -> None:
    text = sheet("Glycerin 60", "Propanediol 45.5", "Aqua qs")
    finding = only(reviewed(text, PRODUCT))

    assert finding.verdict == "breaks"
    assert "-5.5 %" in finding.message
    assert "105.5 %" in finding.message
    assert "take 5.5 % out" in finding.message
    assert pointed_at(text, finding).startswith("qs}")
    assert finding.place.line == 9


def test_a_second_qs_breaks_at_the_second_and_names_the_line_of_the_first() -> None:
    text = sheet("Aqua qs", "Glycerin 5", "Propanediol qs")
    finding = only(reviewed(text, PRODUCT))

    assert finding.place.line == 9
    assert "line 7" in finding.message


def test_a_wrong_total_leaves_no_doubt_about_the_outcome() -> None:
    assert reviewed(sheet("Aqua 90"), PRODUCT).outcome == "breaks"


# -- materials -----------------------------------------------------------------------------------------------------


def with_material(parts: str, more: str = "") -> str:
    return sheet("stock 5", "Aqua qs", extra=f"materials:\n  stock: {{{parts}{more}}}")


@pytest.mark.parametrize("parts", ["contains: {Lactic Acid: 88, Aqua: 12}", "premix: {Lactic Acid: 88, Aqua: 11.99}"])
def test_a_material_that_makes_100_meets(parts: str) -> None:
    assert verdict(reviewed(with_material(parts), MATERIAL)) == "meets"


def test_a_material_with_a_qs_part_is_whole_by_itself() -> None:
    assert verdict(reviewed(with_material("contains: {Lactic Acid: 88, Aqua: qs}"), MATERIAL)) == "does not apply"


def test_a_material_that_does_not_make_100_breaks_at_its_name() -> None:
    text = with_material("premix: {Lactic Acid: 88, Aqua: 11.98}")
    finding = only(reviewed(text, MATERIAL))

    assert finding.verdict == "breaks"
    assert '"stock"' in finding.message
    assert "99.98" in finding.message
    assert "0.02 % short" in finding.message
    assert pointed_at(text, finding).startswith("stock:")
    assert finding.where == "materials.stock"


def test_a_material_that_no_line_uses_is_added_up_all_the_same() -> None:
    text = sheet("Aqua qs", extra="materials:\n  spare: {contains: {Glycerin: 90}}")

    assert "90" in only(reviewed(text, MATERIAL)).message


def test_parts_over_100_beside_a_qs_part_break() -> None:
    finding = only(reviewed(with_material("contains: {Lactic Acid: 88, Glycerin: 20, Aqua: qs}"), MATERIAL))

    assert finding.verdict == "breaks"
    assert "-8 %" in finding.message
    assert "108 %" in finding.message


def test_two_qs_parts_break_and_are_both_named() -> None:
    message = only(reviewed(with_material("contains: {Lactic Acid: 88, Glycerin: qs, Aqua: qs}"), MATERIAL)).message

    assert "Glycerin" in message
    assert "Aqua" in message


def test_a_tolerance_of_something_that_is_not_a_part_breaks() -> None:
    text = with_material("contains: {Lactic Acid: 88, Aqua: qs}", ", tolerance: {Glycolic Acid: 1}")

    assert "Glycolic Acid" in only(reviewed(text, MATERIAL)).message


def test_materials_that_hold_each_other_break_as_a_circle() -> None:
    text = sheet(
        "one 5",
        "Aqua qs",
        extra="materials:\n  one: {premix: {two: 50, Aqua: qs}}\n  two: {premix: {one: 50, Aqua: qs}}",
    )
    finding = only(reviewed(text, MATERIAL))

    assert finding.verdict == "breaks"
    assert "circle" in finding.message


# -- the batch -----------------------------------------------------------------------------------------------------


def in_grams(batch: str, *lines: str) -> str:
    return sheet(*lines, extra=f"batch: {batch}")


@pytest.mark.parametrize("water", ["9499", "9500", "9501"])
def test_grams_that_make_the_batch_to_a_hundredth_of_a_percent_meet(water: str) -> None:
    assert verdict(reviewed(in_grams("10 kg", "Glycerin 500 g", f"Aqua {water} g"), BATCH)) == "meets"


@pytest.mark.parametrize(
    ("water", "sum_", "side"), [("9498", "9998 g", "0.02 % short"), ("9502", "10002 g", "0.02 % over")]
)
def test_grams_that_miss_the_batch_break_with_both_weights_at_the_batch(water: str, sum_: str, side: str) -> None:
    text = in_grams("10 kg", "Glycerin 500 g", f"Aqua {water} g")
    finding = only(reviewed(text, BATCH))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert sum_ in finding.message
    assert "10000 g" in finding.message
    assert side in finding.message
    assert pointed_at(text, finding).startswith("batch:")


def test_grams_without_a_batch_are_a_share_of_their_own_sum() -> None:
    text = sheet("Glycerin 5 g", "Aqua 45 g")
    found = reviewed(text, BATCH)

    assert verdict(found) == "does not apply"
    assert found.composition is not None
    assert found.composition.percent(["Glycerin"]).low == 10


def test_grams_beside_percents_ask_for_the_batch() -> None:
    finding = only(reviewed(sheet("Glycerin 5 g", "Aqua qs"), BATCH))

    assert finding.verdict == "breaks"
    assert "batch: 500 g" in finding.message


def test_percents_alone_have_no_batch_to_agree_with() -> None:
    assert verdict(reviewed(in_grams("500 g", "Glycerin 5", "Aqua qs"), BATCH)) == "does not apply"


# -- names ---------------------------------------------------------------------------------------------------------


def test_known_names_meet_in_any_case_and_as_cas_numbers() -> None:
    assert verdict(reviewed(sheet("gLYCERIN 5", "50-21-5 2", "Aqua qs"), NAMES)) == "meets"


def test_an_unknown_name_is_undecided_at_its_line_with_the_nearest_and_leaves_the_outcome_open() -> None:
    text = sheet("Aqua qs", "Glyserin 5")
    found = reviewed(text, NAMES)
    finding = only(found)

    assert (finding.verdict, finding.severity) == ("undecided", "warning")
    assert '"Glyserin"' in finding.message
    assert "Glycerin" in finding.message
    assert finding.needs
    assert finding.place.line == 8
    assert found.outcome == "cannot tell"


def test_an_unknown_part_of_a_material_is_undecided_at_the_part() -> None:
    text = with_material("contains: {Lactic Acit: 88, Aqua: qs}")
    finding = only(reviewed(text, NAMES))

    assert finding.verdict == "undecided"
    assert "Lactic Acid" in finding.message
    assert pointed_at(text, finding).startswith("Lactic Acit: 88")


def test_a_name_without_any_likeness_asks_for_an_inci_name_or_a_description() -> None:
    message = only(reviewed(sheet("Aqua qs", "Qqqqxzzzz 5"), NAMES)).message

    assert "INCI" in message
    assert "materials" in message


def test_a_misspelt_statement_is_undecided_with_the_nearest_id() -> None:
    text = sheet("Aqua qs", extra="label: {statements: [sunburn-allert]}")
    finding = only(reviewed(text, NAMES))

    assert finding.verdict == "undecided"
    assert '"sunburn-allert"' in finding.message
    assert '"sunburn-alert"' in finding.message
    assert pointed_at(text, finding).startswith("sunburn-allert")


def test_a_misspelt_supplier_fact_is_undecided_with_the_nearest_fact() -> None:
    absent = rule({"absent": {"of": "Petrolatum", "unless": "refining-history-known"}}, rule="needs-a-fact")
    text = with_material("contains: {Petrolatum: 100}", ", declares: [refining-history-knwon]")
    finding = only(reviewed(text, NAMES, absent))

    assert finding.verdict == "undecided"
    assert '"refining-history-knwon"' in finding.message
    assert '"refining-history-known"' in finding.message
    assert pointed_at(text, finding).startswith("stock:")


def test_a_fact_that_no_rule_asks_for_is_not_taken_in_silence() -> None:
    text = with_material("contains: {Petrolatum: 100}", ", declares: [picked-by-moonlight]")

    assert "no rule asks for it" in only(reviewed(text, NAMES)).message


def test_every_name_of_the_library_is_known_to_the_word() -> None:
    book = book_of(NAMES)
    lines = "".join(f'      - {{material: "{name}", percent: 0}}\n' for name in list(book.substances)[::7])
    text = f"{HEAD}phases:\n  one:\n    lines:\n{lines}      - {{material: Aqua, percent: qs}}\n"

    assert review(formula_from(text), book, "2026-11-25").meets == ("the-rule",)
