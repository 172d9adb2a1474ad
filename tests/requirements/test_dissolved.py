import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict

FINISHED = rule({"dissolved": {"in": "finished"}}, binding="practice", severity="warning")
PHASE = rule({"dissolved": {"in": "phase"}}, binding="practice", severity="warning")
HEAD = "formula: a test jar\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [eu]\n"


def at(ph: str, *lines: str, tolerance: str = "0") -> str:
    return sheet(*lines, "Aqua qs", extra=f"measured: {{ph: {ph}, tolerance: {tolerance}}}")


# -- in the finished product ---------------------------------------------------------------------------------------

# Allantoin: about 0.5 g in 100 g of water at 25 C (AqSolDB 2019, entries between 0.40 and 0.53); a factor of 1.2 either
# way for what published figures scatter.


@pytest.mark.parametrize(("percent", "said"), [("0.3", "meets"), ("0.5", "undecided"), ("0.7", "breaks")])
def test_a_powder_is_held_against_its_solubility_with_a_margin_on_both_sides(percent: str, said: str) -> None:
    assert verdict(reviewed(sheet(f"Allantoin {percent}", "Aqua qs"), FINISHED)) == said


def test_the_message_counts_per_100_g_of_water_and_points_at_the_line() -> None:
    text = sheet("Aqua qs", "Allantoin 2")
    found = reviewed(text, FINISHED)
    finding = only(found)

    assert "2.04 g per 100 g water" in finding.message  # 2 g in 98 g
    assert "dissolves 0.397 to 0.6" in finding.message
    assert pointed_at(text, finding).startswith('{material: "Allantoin"')
    assert finding.place.line == FIRST_LINE + 1
    assert found.undissolved == ("Allantoin",)


def test_an_undecided_powder_asks_for_a_trial_and_is_not_called_undissolved() -> None:
    found = reviewed(sheet("Allantoin 0.5", "Aqua qs"), FINISHED)

    assert "trial" in only(found).needs[0]
    assert found.undissolved == ()


def test_less_water_takes_up_less() -> None:
    assert verdict(reviewed(sheet("Allantoin 0.3", "Aqua qs"), FINISHED)) == "meets"
    assert (
        verdict(reviewed(sheet("Allantoin 0.3", "Sodium Chloride 20", "Sucrose 40", "Aqua qs"), FINISHED)) == "breaks"
    )


@pytest.mark.parametrize("helper", ["Glycerin 5", "Squalane 5", "Sodium Laureth Sulfate 3"])
def test_what_may_take_the_powder_up_leaves_it_open(helper: str) -> None:
    assert verdict(reviewed(sheet("Allantoin 2", helper, "Aqua qs"), FINISHED)) == "undecided"


def test_much_solvent_makes_a_figure_for_water_prove_little() -> None:
    assert verdict(reviewed(sheet("Allantoin 0.2", "Aqua qs"), FINISHED)) == "meets"
    assert verdict(reviewed(sheet("Allantoin 0.2", "Propanediol 30", "Aqua qs"), FINISHED)) == "undecided"


def test_two_lines_of_a_powder_count_together_at_the_larger() -> None:
    finding = only(reviewed(sheet("Allantoin 0.3", "Allantoin 0.5", "Aqua qs"), FINISHED))

    assert finding.verdict == "breaks"
    assert finding.place.line == FIRST_LINE + 1


def test_a_powder_of_unknown_solubility_is_undecided() -> None:
    finding = only(reviewed(sheet("Caffeic Acid 0.1", "Aqua qs"), FINISHED))

    assert finding.verdict == "undecided"
    assert "not known" in finding.message


@pytest.mark.parametrize(
    ("temperature", "said"), [("4", "undecided"), ("5", "breaks"), ("40", "breaks"), ("41", "undecided")]
)
def test_figures_decide_from_5_to_40_degrees(temperature: str, said: str) -> None:
    text = sheet("Allantoin 2", "Aqua qs", extra=f"ph_temperature: {temperature}")

    assert verdict(reviewed(text, FINISHED)) == said


@pytest.mark.parametrize(
    "line", ["Glycerin 5", "Sodium Hydroxide 0.5", "Titanium Dioxide 5", "Carbomer 0.5", "Allantoin 0"]
)
def test_what_is_not_a_powder_for_the_water_is_not_judged(line: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs"), FINISHED)) == "does not apply"


def test_without_water_nothing_has_to_dissolve_in_it() -> None:
    assert verdict(reviewed(sheet("Allantoin 2", "Squalane 98"), FINISHED)) == "does not apply"


# -- an acid at the pH of the product ------------------------------------------------------------------------------

# Salicylic acid: 0.22 g in 100 g of water at 25 C, both forms together (AqSolDB 2019), which is about 0.17 g of the
# uncharged form; pKa 2.98 (Khouri 2024). At pH 5 a hundred times as much dissolves as its uncharged form alone.


@pytest.mark.parametrize(("ph", "said"), [("2.4", "breaks"), ("4", "undecided"), ("5", "meets")])
def test_an_acid_dissolves_the_better_the_more_of_it_is_ionised(ph: str, said: str) -> None:
    assert verdict(reviewed(at(ph, "Salicylic Acid 1"), FINISHED)) == said


@pytest.mark.parametrize(("ph", "said"), [("3.5", "breaks"), ("5.5", "meets")])
def test_a_salt_drops_out_again_as_the_free_acid(ph: str, said: str) -> None:
    found = reviewed(at(ph, "Sodium Benzoate 1"), FINISHED)

    assert verdict(found) == said
    if said == "breaks":
        assert "Benzoic Acid" in only(found).message
        assert "at pH 3.50" in only(found).message


def test_an_acid_and_its_salt_count_together() -> None:
    # Benzoic acid, S0 about 0.3 g in 100 g (AqSolDB 2019), pKa 4.20: about 0.33 to 0.49 g of all forms at pH 3.5.
    assert verdict(reviewed(at("3.5", "Benzoic Acid 0.3"), FINISHED)) == "meets"
    assert verdict(reviewed(at("3.5", "Sodium Benzoate 0.3"), FINISHED)) == "meets"
    assert only(reviewed(at("3.5", "Benzoic Acid 0.3", "Sodium Benzoate 0.3"), FINISHED)).verdict == "breaks"


def test_a_wide_reading_leaves_an_acid_open() -> None:
    assert verdict(reviewed(at("4.6", "Sodium Benzoate 1"), FINISHED)) == "meets"
    assert verdict(reviewed(at("4.6", "Sodium Benzoate 1", tolerance="0.8"), FINISHED)) == "undecided"


def test_without_a_ph_an_acid_is_open_until_the_ph_is_measured() -> None:
    finding = only(reviewed(sheet("Salicylic Acid 1", "Carbomer 0.5", "Aqua qs"), FINISHED))

    assert finding.verdict == "undecided"
    assert "pH" in finding.message
    assert any("measure the final pH" in need for need in finding.needs)


def test_an_acid_so_little_that_even_the_free_form_dissolves_needs_no_ph() -> None:
    assert verdict(reviewed(sheet("Salicylic Acid 0.1", "Carbomer 0.5", "Aqua qs"), FINISHED)) == "meets"


# -- powders for the oil -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("tolerance", "said"), [("", "breaks"), (", tolerance: 6", "undecided")])
def test_the_stated_tolerance_of_a_material_counts_where_an_acid_is_just_too_much(tolerance: str, said: str) -> None:
    stock = f"materials:\n  stock: {{contains: {{Salicylic Acid: 60, Sodium Salicylate: qs}}{tolerance}}}"
    text = sheet("stock 0.45", "Aqua qs", extra=f"measured: {{ph: 2.8, tolerance: 0}}\n{stock}")

    assert verdict(reviewed(text, FINISHED)) == said


def test_an_oil_soluble_powder_breaks_where_there_is_only_water() -> None:
    assert verdict(reviewed(sheet("BHT 0.1", "Aqua qs"), FINISHED)) == "breaks"
    assert verdict(reviewed(sheet("BHT 0.1", "Squalane 5", "Aqua qs"), FINISHED)) == "does not apply"


# -- in its own phase ----------------------------------------------------------------------------------------------


def two_phases(first: str, second: str, temperature: str = "") -> str:
    heat = f"    temperature: {temperature}\n" if temperature else ""
    return f"{HEAD}phases:\n  small:\n{heat}    lines:\n{first}  large:\n    lines:\n{second}"


ALLANTOIN = "      - {material: Allantoin, percent: 0.2}\n      - {material: Aqua, percent: 10}\n"
WATER = "      - {material: Aqua, percent: qs}\n"


def test_a_phase_with_too_little_water_breaks_though_the_product_has_enough() -> None:
    text = two_phases(ALLANTOIN, WATER)
    finding = only(reviewed(text, PHASE))

    assert finding.verdict == "breaks"
    assert 'phase "small"' in finding.message
    assert "2 g per 100 g water" in finding.message
    assert verdict(reviewed(text, FINISHED)) == "meets"


def test_a_phase_with_enough_water_meets() -> None:
    assert verdict(reviewed(sheet("Allantoin 0.3", "Aqua qs"), PHASE)) == "meets"


@pytest.mark.parametrize(("temperature", "said"), [("40", "breaks"), ("75", "does not apply")])
def test_a_hot_phase_is_judged_only_in_the_product_when_it_is_cold(temperature: str, said: str) -> None:
    assert verdict(reviewed(two_phases(ALLANTOIN, WATER, temperature), PHASE)) == said


def test_a_powder_in_a_phase_without_water_waits_for_the_product() -> None:
    dry = "      - {material: Allantoin, percent: 0.3}\n      - {material: Glycerin, percent: 1}\n"
    text = two_phases(dry, WATER)

    assert verdict(reviewed(text, PHASE)) == "does not apply"
    assert verdict(reviewed(text, FINISHED)) == "meets"


def test_an_acid_that_is_neutralised_in_its_phase_waits_for_the_product() -> None:
    acid = "      - {material: Salicylic Acid, percent: 1}\n      - {material: Aqua, percent: 20}\n"
    lye = "      - {material: Sodium Hydroxide, percent: 0.3}\n"

    assert verdict(reviewed(two_phases(acid, WATER), PHASE)) == "breaks"
    assert verdict(reviewed(two_phases(acid + lye, WATER), PHASE)) == "does not apply"


def test_a_phase_says_nothing_of_a_powder_whose_solubility_is_not_known() -> None:
    assert verdict(reviewed(sheet("Caffeic Acid 0.1", "Aqua qs"), PHASE)) == "does not apply"
