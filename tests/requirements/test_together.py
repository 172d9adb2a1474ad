import re
from decimal import Decimal

import pytest

from helpers import FIRST_LINE, only, reviewed, rule, sheet, verdict
from watchglass.findings import Finding
from watchglass.interval import Interval
from watchglass.rulebook import load

NONE = {"values": {"always": {"max": 0}}}
PAIR = rule(
    {"together": {"of": "Sodium Benzoate", "beside": ["Ascorbic Acid", "Ferulic Acid"], "effect": "it hisses"}}, **NONE
)
AT_MOST_2 = rule({"together": {"of": "Methylparaben", "beside": "nonionic-emulsifiers"}}, values={"always": {"max": 2}})
ACID = rule({"together": {"of": "Sodium Benzoate", "beside": "Ascorbic Acid", "ph": {"below": 7}}}, **NONE)
CHELATED = rule(
    {"together": {"of": "Sodium Benzoate", "beside": "Ascorbic Acid", "settled_by": "strong-chelators"}}, **NONE
)
SALT = rule(
    {"together": {"of": "Carbomer", "against": "ionic strength", "within_percent": 20, "effect": "salt thins it"}},
    values={"always": {"max": 0.1}},
)
READ_AT = "measured: {{ph: {}, tolerance: {}}}"


def at(ph: str, *lines: str, tolerance: str = "0") -> str:
    return sheet(*lines, "Aqua qs", extra=READ_AT.format(ph, tolerance))


def strength(finding: Finding) -> Interval:
    assert finding.value is not None
    return finding.value


# -- a pair --------------------------------------------------------------------------------------------------------


def test_a_banned_pair_breaks_at_the_first_of_the_two_with_amount_and_effect() -> None:
    finding = only(reviewed(sheet("Aqua qs", "Ascorbic Acid 5", "Sodium Benzoate 0.4"), PAIR))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert finding.message == "Sodium Benzoate together with 5 % w/w Ascorbic Acid; it hisses"
    assert finding.place.line == FIRST_LINE + 2
    assert finding.needs == ("take one of the two out",)


@pytest.mark.parametrize("line", ["Sodium Benzoate 0.4", "Ascorbic Acid 5"])
def test_either_half_alone_is_not_spoken_of(line: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs"), PAIR)) == "does not apply"


def test_a_line_of_none_stands_beside_nothing() -> None:
    assert verdict(reviewed(sheet("Sodium Benzoate 0.4", "Ascorbic Acid 0", "Aqua qs"), PAIR)) == "does not apply"


def test_two_phases_are_one_product_and_a_bought_blend_is_opened() -> None:
    text = (
        "formula: a test jar\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [eu]\n"
        "phases:\n  a: {lines: [{material: Aqua, percent: qs}, {material: blend, percent: 1}]}\n"
        "  b: {lines: [{material: Ascorbic Acid, percent: 5}]}\n"
        "materials: {blend: {contains: {Sodium Benzoate: 30, Glycerin: 70}}}\n"
    )

    assert verdict(reviewed(text, PAIR)) == "breaks"


def test_what_stands_on_both_sides_of_a_rule_is_no_pair_with_itself() -> None:
    both = rule({"together": {"of": "Sodium Benzoate", "beside": ["Sodium Benzoate", "Urea"]}}, **NONE)

    assert verdict(reviewed(sheet("Sodium Benzoate 0.4", "Aqua qs"), both)) == "does not apply"
    assert verdict(reviewed(sheet("Sodium Benzoate 0.4", "Urea 1", "Aqua qs"), both)) == "breaks"


@pytest.mark.parametrize(("amounts", "said"), [(("1", "1"), "meets"), (("1", "1.01"), "breaks")])
def test_the_partners_are_added_up_and_the_limit_itself_is_allowed(amounts: tuple[str, str], said: str) -> None:
    text = sheet("Methylparaben 0.2", f"Polysorbate 20 {amounts[0]}", f"Ceteareth-20 {amounts[1]}", "Aqua qs")

    assert verdict(reviewed(text, AT_MOST_2)) == said


def test_a_tolerance_across_the_limit_is_open() -> None:
    extra = "materials:\n  solubiliser: {contains: {Polysorbate 20: 20, Aqua: qs}, tolerance: 1}"
    finding = only(reviewed(sheet("Methylparaben 0.2", "solubiliser 10", "Aqua qs", extra=extra), AT_MOST_2))

    assert (finding.verdict, finding.needs) == ("undecided", ("a narrower assay",))
    assert "the limit is at most 2" in finding.message


def test_only_a_line_with_the_function_is_half_of_the_pair() -> None:
    acid = rule({"together": {"of": "Lactic Acid", "beside": "Retinol", "only_as": ["exfoliant"]}}, **NONE)

    assert verdict(reviewed(sheet("Lactic Acid 5 as exfoliant", "Retinol 0.1", "Aqua qs"), acid)) == "breaks"
    assert verdict(reviewed(sheet("Lactic Acid 5 as pH adjuster", "Retinol 0.1", "Aqua qs"), acid)) == "does not apply"


# -- pH ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ph", "said"), [("6.99", "breaks"), ("7", "meets"), ("7.2", "meets")])
def test_a_pair_that_matters_below_a_ph_breaks_below_it_only(ph: str, said: str) -> None:
    assert verdict(reviewed(at(ph, "Sodium Benzoate 0.4", "Ascorbic Acid 1"), ACID)) == said


def test_a_reading_across_the_ph_where_it_matters_is_open() -> None:
    finding = only(reviewed(at("6.9", "Sodium Benzoate 0.4", "Ascorbic Acid 1", tolerance="0.5"), ACID))

    assert finding.verdict == "undecided"
    assert "6.4 to 7.4" in finding.message
    assert finding.needs == ("read the pH with a calibrated meter",)


def test_without_a_ph_a_pair_that_hangs_on_it_is_open_and_asks_for_a_reading() -> None:
    finding = only(reviewed(sheet("Sodium Benzoate 0.4", "Ascorbic Acid 1", "Carbomer 2", "Aqua qs"), ACID))

    assert (finding.verdict, finding.needs) == ("undecided", ("measure the final pH",))
    assert "below 7" in finding.message


def test_where_no_water_is_a_pair_that_hangs_on_the_ph_does_not_meet() -> None:
    assert verdict(reviewed(sheet("Sodium Benzoate 0.4", "Ascorbic Acid 1", "Squalane qs"), ACID)) == "does not apply"
    assert verdict(reviewed(sheet("Sodium Benzoate 0.4", "Ascorbic Acid 1", "Squalane qs"), PAIR)) == "breaks"


# -- what settles it -----------------------------------------------------------------------------------------------


def test_what_settles_it_meets_and_is_named_and_its_lack_is_what_to_add() -> None:
    without = only(reviewed(sheet("Sodium Benzoate 0.4", "Ascorbic Acid 5", "Aqua qs"), CHELATED))
    beside = sheet("Sodium Benzoate 0.4", "Ascorbic Acid 5", "Disodium EDTA 0.1", "Aqua qs")

    assert without.verdict == "breaks"
    assert without.needs[1].startswith("or add one of ")
    assert verdict(reviewed(beside, CHELATED)) == "meets"


def test_none_of_what_settles_it_settles_nothing() -> None:
    beside = sheet("Sodium Benzoate 0.4", "Ascorbic Acid 5", "Disodium EDTA 0", "Aqua qs")

    assert verdict(reviewed(beside, CHELATED)) == "breaks"


# -- salt ----------------------------------------------------------------------------------------------------------


def test_salt_beside_a_thickener_is_held_against_its_ionic_strength() -> None:
    # 1 % sodium chloride in 98.9 g of water is 0.173 mol/kg (58.44 g/mol)
    finding = only(reviewed(at("6", "Carbomer 0.1", "Sodium Chloride 1"), SALT))

    assert finding.verdict == "breaks"
    assert strength(finding).low < Decimal("0.173") < strength(finding).high
    assert "mol/kg; the limit is at most 0.1; salt thins it" in finding.message


def test_little_salt_meets_and_some_salt_is_open() -> None:
    assert verdict(reviewed(at("6", "Carbomer 0.1", "Sodium Chloride 0.1"), SALT)) == "meets"
    found = only(reviewed(at("6", "Carbomer 0.1", "Sodium Chloride 0.6"), SALT))
    assert (found.verdict, found.needs) == ("undecided", ("a trial: does it thicken in this product",))


def test_base_that_the_thickener_itself_takes_up_is_not_held_against_it() -> None:
    # 1 % of polyacrylic acid takes up to 0.14 mol/kg of base (72 g/mol); its own salt does not thin it
    assert verdict(reviewed(at("6", "Carbomer 1", "Sodium Hydroxide 0.5"), SALT)) == "undecided"


def test_the_most_that_unmodelled_materials_could_bring_widens_it_upwards() -> None:
    alone = only(reviewed(at("6", "Carbomer 0.1", "Sodium Chloride 0.6"), SALT))
    beside = only(reviewed(at("6", "Carbomer 0.1", "Sodium Chloride 0.6", "Xanthan Gum 0.5", "Pectin 0.5"), SALT))

    assert strength(beside).high > strength(alone).high + Decimal("0.05")


def test_salt_without_the_thickener_and_a_product_without_water_are_not_spoken_of() -> None:
    assert verdict(reviewed(at("6", "Sodium Chloride 5"), SALT)) == "does not apply"
    assert verdict(reviewed(sheet("Carbomer 0.1", "Sodium Chloride 1", "Squalane qs"), SALT)) == "does not apply"


# -- the groups of charge ------------------------------------------------------------------------------------------

CHARGES = {"anionic-surfactants", "cationic-surfactants", "amphoteric-surfactants", "nonionic-surfactants"}
FATTY_ACID = re.compile(r".* Acid")  # becomes a soap only with a base


def test_every_surfactant_and_emulsifier_has_one_charge_so_that_no_pair_is_overlooked() -> None:
    substances = load().substances
    uncharged = [
        name
        for name in substances
        if substances[name].functions[0] in ("surfactant", "emulsifier")
        and len(substances[name].groups & CHARGES) != 1
        and not FATTY_ACID.fullmatch(name)
    ]

    assert uncharged == ["Sodium Isethionate"]  # the plain salt, no surfactant by itself
