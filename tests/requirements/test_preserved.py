from typing import Any

import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.findings import Review

BENZOIC = {
    "system": "benzoic-acid",
    "of": ["Benzoic Acid", "Sodium Benzoate"],
    "ph": {"min": 2, "max": 5},
    "dose": {"min": 0.1, "max": 0.5},
    "read": "secondary",
}
PHENOXY = {
    "system": "phenoxyethanol",
    "of": ["Phenoxyethanol"],
    "ph": {"min": 3, "max": 10},
    "dose": {"min": 0.5},
    "read": "secondary",
}
GAPPED = PHENOXY | {"gap": "yeast and mould"}
BLEND = {
    "system": "benzoate-and-sorbate",
    "of": ["Sodium Benzoate", "Potassium Sorbate"],
    "all": True,
    "ph": {"min": 3, "max": 5.5},
    "dose": {"min": 0.4},
    "read": "secondary",
}
BOOSTER = {
    "system": "ethylhexylglycerin",
    "of": ["Ethylhexylglycerin"],
    "booster": True,
    "ph": {"min": 3, "max": 12},
    "dose": {"min": 0.1},
    "read": "secondary",
}
# Criteria of low microbiological risk of ISO 29621, from memory.
NATURE = {
    "ph_at_most": 3.0,
    "ph_at_least": 10.0,
    "ethanol_above_percent": 20,
    "water_activity_at_most": 0.75,
    "water_at_most_percent": 1,
}


def preserved(*systems: dict[str, Any], **facts: Any) -> dict[str, Any]:
    return rule(
        {"preserved": {"systems": list(systems or (BENZOIC,)), "by_nature": NATURE}}, binding="practice", **facts
    )


def at(
    ph: str, *lines: str, product: str = "use: leave-on, site: face, form: gel, audience: adults", by: str = ""
) -> str:
    reading = f"ph: {ph}, by: {by}" if by else f"ph: {ph}, tolerance: 0"
    return sheet(*lines, "Aqua qs", product=product, extra=f"measured: {{{reading}}}")


def overall(found: Review) -> str:
    """The verdict on the product, besides what is said of single systems."""
    return verdict(found)


# -- dose ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("dose", "said"), [("0.1", "meets"), ("0.099", "breaks"), ("0.6", "meets")])
def test_a_system_at_its_usual_dose_carries_the_product_and_more_is_the_ceilings_business(dose: str, said: str) -> None:
    assert overall(reviewed(at("4", f"Sodium Benzoate {dose}"), preserved())) == said


@pytest.mark.parametrize(("dose", "said"), [("0.066", "breaks"), ("0.067", "meets")])
def test_a_dose_of_an_acid_counts_the_acid_that_its_salt_gives(dose: str, said: str) -> None:
    # 112.13 g of sorbic acid in 150.22 g of potassium sorbate: 0.05 % of acid is 0.06699 % of salt
    sorbic = BENZOIC | {"of": ["Sorbic Acid", "Potassium Sorbate"], "as": "Sorbic Acid", "dose": {"min": 0.05}}

    found = reviewed(at("5", f"Potassium Sorbate {dose}"), preserved(sorbic))

    assert overall(found) == said
    if said == "breaks":
        assert "0.0493 % as sorbic acid, below the usual dose of 0.05 %" in only(found).message


def test_a_weak_dose_breaks_with_both_numbers_at_its_line() -> None:
    text = sheet("Aqua qs", "Sodium Benzoate 0.05", extra="measured: {ph: 4, tolerance: 0}")
    finding = only(reviewed(text, preserved()))

    assert "0.05 %" in finding.message
    assert "below the usual dose of 0.1 %" in finding.message
    assert finding.place.line == FIRST_LINE + 1
    assert pointed_at(text, finding).startswith('{material: "Sodium Benzoate"')


def test_acid_and_salt_of_one_system_count_together() -> None:
    assert overall(reviewed(at("4", "Benzoic Acid 0.06", "Sodium Benzoate 0.05"), preserved())) == "meets"
    assert overall(reviewed(at("4", "Benzoic Acid 0.04", "Sodium Benzoate 0.05"), preserved())) == "breaks"


def test_a_dose_whose_tolerance_straddles_the_usual_dose_is_undecided() -> None:
    blend = "materials:\n  blend: {contains: {Phenoxyethanol: 50, Glycerin: qs}, tolerance: 5}\nmeasured: {ph: 5}"

    def text(percent: str) -> str:
        return sheet(f"blend {percent}", "Aqua qs", extra=blend)

    assert overall(reviewed(text("1.2"), preserved(PHENOXY))) == "meets"
    assert overall(reviewed(text("0.8"), preserved(PHENOXY))) == "breaks"
    assert overall(reviewed(text("1"), preserved(PHENOXY))) == "undecided"


# -- pH ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ph", "said"), [("5", "meets"), ("5.01", "breaks"), ("3.01", "meets")])
def test_a_system_works_inside_its_ph_range(ph: str, said: str) -> None:
    assert overall(reviewed(at(ph, "Sodium Benzoate 0.4"), preserved())) == said


def test_the_message_holds_ph_range_and_undissociated_share_and_leaves_it_to_the_challenge_test() -> None:
    # At its pKa of 4.20 half of an acid is undissociated; salts in the water shift the share a little.
    finding = only(reviewed(at("4.2", "Sodium Benzoate 0.4"), preserved(BENZOIC | {"read": "memory"})))

    assert "pH 4.2" in finding.message
    assert "works at pH 2 to 5" in finding.message
    assert "undissociated" in finding.message
    assert "challenge test decides" in finding.message


@pytest.mark.parametrize(("ph", "share"), [("4.2", 50), ("5.2", 9), ("3.2", 91)])
def test_the_undissociated_share_follows_the_ph(ph: str, share: int) -> None:
    wide = BENZOIC | {"ph": {"min": 2, "max": 7}, "read": "memory"}
    message = only(reviewed(at(ph, "Benzoic Acid 0.15"), preserved(wide))).message
    told = message.split(" % of it undissociated")[0].rsplit(", ", 1)[1].split(" to ")

    assert float(told[0]) - 2 <= share <= float(told[-1]) + 2


def test_a_strip_on_the_edge_of_the_range_is_undecided_where_a_meter_decides() -> None:
    assert overall(reviewed(at("4.8", "Sodium Benzoate 0.4", by="meter"), preserved())) == "meets"
    finding = only(reviewed(at("4.8", "Sodium Benzoate 0.4", by="strip"), preserved()))

    assert finding.verdict == "undecided"
    assert "edge" in finding.message
    assert finding.needs == (
        "read the pH with a calibrated meter: the limit 5 lies inside 4.3 to 5.3; or a challenge test",
    )


@pytest.mark.parametrize(
    ("lines", "reason"),
    [
        (("Sodium Benzoate 0.4", "Lactic Acid 0.5", "Carbomer 0.5"), "Carbomer"),
        (("Sodium Benzoate 0.4", "Alcohol 15"), "ethanol is 15"),
    ],
)
def test_without_a_ph_it_is_undecided_with_the_reason_and_asks_to_measure(lines: tuple[str, ...], reason: str) -> None:
    finding = only(reviewed(sheet(*lines, "Aqua qs"), preserved()))

    assert finding.verdict == "undecided"
    assert reason in finding.message
    assert "works at pH 2 to 5" in finding.message
    assert finding.needs == ("measure the final pH; or a challenge test",)


def test_without_a_ph_a_weak_dose_still_breaks() -> None:
    assert overall(reviewed(sheet("Sodium Benzoate 0.05", "Carbomer 0.5", "Aqua qs"), preserved())) == "breaks"


def test_a_system_out_of_its_range_is_told_also_where_another_carries_the_product() -> None:
    found = reviewed(at("6.5", "Sodium Benzoate 0.4", "Phenoxyethanol 0.9"), preserved(BENZOIC, PHENOXY))
    finding = only(found, "the-rule#benzoic-acid")

    assert overall(found) == "meets"
    assert (finding.verdict, finding.entry) == ("breaks", "benzoic-acid")
    assert "6.5" in finding.message
    assert "2 to 5" in finding.message


def test_a_system_alone_and_out_of_its_range_breaks_for_the_product() -> None:
    found = reviewed(at("6.5", "Sodium Benzoate 0.4"), preserved())

    assert overall(found) == "breaks"
    assert "no preservative can work at this pH" in only(found).message


# -- which systems count -------------------------------------------------------------------------------------------


def test_water_without_any_system_breaks_at_the_phases_with_the_water() -> None:
    text = at("5.5", "Glycerin 5")
    finding = only(reviewed(text, preserved()))

    assert finding.verdict == "breaks"
    assert "95.0 % water" in finding.message
    assert pointed_at(text, finding).startswith("phases:")


def test_a_booster_alone_breaks_and_is_named_as_a_support() -> None:
    finding = only(reviewed(at("5.5", "Ethylhexylglycerin 0.5"), preserved(BENZOIC, BOOSTER)))

    assert finding.verdict == "breaks"
    assert "Ethylhexylglycerin only supports one" in finding.message


def test_a_booster_beside_a_system_does_not_disturb_it() -> None:
    assert (
        overall(reviewed(at("4", "Sodium Benzoate 0.4", "Ethylhexylglycerin 0.5"), preserved(BENZOIC, BOOSTER)))
        == "meets"
    )


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        (("Sodium Benzoate 0.2", "Potassium Sorbate 0.2"), "meets"),
        (("Sodium Benzoate 0.2", "Potassium Sorbate 0.19"), "breaks"),
        (("Sodium Benzoate 0.4",), "breaks"),
        (("Potassium Sorbate 0.4",), "breaks"),
    ],
)
def test_a_blend_needs_every_part_and_its_dose_is_of_both_together(lines: tuple[str, ...], said: str) -> None:
    assert overall(reviewed(at("4", *lines), preserved(BLEND))) == said


def test_the_better_of_two_systems_decides() -> None:
    assert (
        overall(reviewed(at("4", "Sodium Benzoate 0.05", "Phenoxyethanol 0.9"), preserved(BENZOIC, PHENOXY))) == "meets"
    )


def test_two_weak_doses_together_are_open_and_one_alone_breaks() -> None:
    both = only(reviewed(at("4", "Sodium Benzoate 0.05", "Phenoxyethanol 0.4"), preserved(BENZOIC, PHENOXY)))

    assert both.verdict == "undecided"
    assert "together" in both.message
    assert overall(reviewed(at("4", "Phenoxyethanol 0.4"), preserved(BENZOIC, PHENOXY))) == "breaks"
    assert overall(reviewed(at("6", "Sodium Benzoate 0.05", "Phenoxyethanol 0.4"), preserved(BENZOIC, PHENOXY))) == (
        "breaks"
    )


def test_a_system_with_a_gap_is_open_alone_and_carries_the_product_beside_another_or_a_booster() -> None:
    alone = only(reviewed(at("4", "Phenoxyethanol 0.9"), preserved(BENZOIC, GAPPED)))

    assert alone.verdict == "undecided"
    assert "weak on yeast and mould" in alone.message
    assert "yeast and mould" in alone.needs[0]
    beside = at("4", "Phenoxyethanol 0.9", "Sodium Benzoate 0.4")
    assert overall(reviewed(beside, preserved(BENZOIC, GAPPED))) == "meets"
    boosted = at("4", "Phenoxyethanol 0.9", "Ethylhexylglycerin 0.1")
    assert overall(reviewed(boosted, preserved(GAPPED, BOOSTER))) == "meets"


def test_more_than_the_usual_dose_is_noted_and_not_counted_against_the_product() -> None:
    found = reviewed(at("4", "Sodium Benzoate 0.51"), preserved())
    finding = only(found, "the-rule#benzoic-acid")

    assert (finding.verdict, finding.severity) == ("undecided", "note")
    assert "above the usual 0.5 %" in finding.message
    assert reviewed(at("4", "Sodium Benzoate 0.5"), preserved()).findings == ()


SALICYLIC = BENZOIC | {"system": "salicylic-acid", "of": ["Salicylic Acid"]}


@pytest.mark.parametrize(("function", "said"), [("preservative", "meets"), ("exfoliant", "breaks"), (None, "breaks")])
def test_an_acid_that_is_usually_there_to_peel_preserves_only_where_its_line_says_so(
    function: str | None, said: str
) -> None:
    text = at("4", "Salicylic Acid 0.3")
    if function is not None:
        text = text.replace("percent: 0.3", f"percent: 0.3, function: {function}")

    assert overall(reviewed(text, preserved(SALICYLIC))) == said


def test_a_trace_of_one_part_makes_no_blend() -> None:
    asked = rule(
        {"preserved": {"systems": [BLEND], "by_nature": NATURE, "blend_part_at_least_percent": 5}}, binding="practice"
    )

    assert overall(reviewed(at("4", "Sodium Benzoate 0.38", "Potassium Sorbate 0.02"), asked)) == "meets"
    assert overall(reviewed(at("4", "Sodium Benzoate 0.39", "Potassium Sorbate 0.01"), asked)) == "breaks"


def test_a_preservative_by_law_without_a_known_range_is_open() -> None:
    asked = rule(
        {"preserved": {"systems": [BENZOIC], "others": "annex-v-preservatives", "by_nature": NATURE}},
        binding="practice",
    )
    finding = only(reviewed(at("5", "o-Cymen-5-ol 0.1"), asked))

    assert finding.verdict == "undecided"
    assert "not known" in finding.message
    assert overall(reviewed(at("5", "o-Cymen-5-ol 0.1"), preserved())) == "breaks"


def test_a_system_known_from_memory_never_meets_and_a_read_one_does() -> None:
    finding = only(reviewed(at("4", "Sodium Benzoate 0.4"), preserved(BENZOIC | {"read": "memory"})))

    assert (finding.verdict, finding.severity) == ("undecided", "note")
    assert "from memory" in finding.message
    assert overall(reviewed(at("4", "Sodium Benzoate 0.4"), preserved())) == "meets"


# -- by nature -----------------------------------------------------------------------------------------------------

GLYCERIN = "Glycerin 5"


@pytest.mark.parametrize(("ph", "said"), [("3", "meets"), ("3.001", "breaks"), ("9.999", "breaks"), ("10", "meets")])
def test_acid_and_alkaline_water_needs_no_preservative(ph: str, said: str) -> None:
    assert overall(reviewed(at(ph, GLYCERIN), preserved())) == said


@pytest.mark.parametrize(
    "product",
    [
        "use: leave-on, site: eye area, form: gel, audience: adults",
        "use: leave-on, site: body, form: gel, audience: children under 3",
    ],
)
@pytest.mark.parametrize("ph", ["2.5", "10.5"])
def test_ph_alone_is_no_excuse_near_the_eye_or_for_small_children(product: str, ph: str) -> None:
    assert overall(reviewed(at(ph, GLYCERIN, product=product), preserved())) == "breaks"


@pytest.mark.parametrize("product", ["use: leave-on, site: body, form: gel, audience: children"])
def test_ph_alone_is_enough_for_older_children(product: str) -> None:
    assert overall(reviewed(at("2.5", GLYCERIN, product=product), preserved())) == "meets"


def test_ethanol_above_20_percent_preserves_everywhere() -> None:
    eye = "use: leave-on, site: eye area, form: liquid, audience: adults"

    assert overall(reviewed(at("6", "Alcohol 20.01"), preserved())) == "meets"
    assert overall(reviewed(at("6", "Alcohol 20.01", product=eye), preserved())) == "meets"
    assert overall(reviewed(at("6", "Alcohol 20"), preserved())) == "breaks"


def test_a_declared_water_activity_preserves_and_another_does_not() -> None:
    def text(fact: str) -> str:
        honey = f"materials:\n  syrup: {{contains: {{Sucrose: 60, Aqua: qs}}, declares: [{fact}]}}\nmeasured: {{ph: 6}}"
        return sheet("syrup 90", "Glycerin 10", extra=honey)

    assert overall(reviewed(text("water-activity-at-most-0.75"), preserved())) == "meets"
    assert overall(reviewed(text("water-activity-at-most-0.9"), preserved())) == "breaks"


@pytest.mark.parametrize(
    ("water", "said"), [("0.9", "does not apply"), ("1", "does not apply"), ("1.01", "breaks"), ("2", "breaks")]
)
def test_a_product_with_hardly_any_water_needs_none(water: str, said: str) -> None:
    assert overall(reviewed(sheet(f"Aqua {water}", "Squalane qs"), preserved())) == said


@pytest.mark.parametrize(("reading", "said"), [("2.94", "meets"), ("2.98", "undecided"), ("3.06", "breaks")])
def test_a_reading_across_the_bound_of_nature_is_undecided(reading: str, said: str) -> None:
    assert overall(reviewed(at(reading, GLYCERIN, by="meter"), preserved())) == said


def test_ethanol_whose_tolerance_straddles_20_percent_is_undecided() -> None:
    spirit = "materials:\n  spirit: {contains: {Alcohol: 94, Aqua: qs}, tolerance: 1}\nmeasured: {ph: 6}"

    def text(percent: str) -> str:
        return sheet(f"spirit {percent}", "Aqua qs", extra=spirit)

    assert overall(reviewed(text("22"), preserved())) == "meets"
    assert overall(reviewed(text("20"), preserved())) == "breaks"
    assert overall(reviewed(text("21.3"), preserved())) == "undecided"


# -- oil -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("oil", "said"), [("20", "meets"), ("20.1", "undecided"), ("40", "undecided")])
def test_above_20_percent_of_oil_the_preservative_in_the_water_is_an_upper_bound(oil: str, said: str) -> None:
    assert overall(reviewed(at("4", f"Squalane {oil}", "Sodium Benzoate 0.4"), preserved())) == said


def test_an_oily_product_asks_for_a_challenge_test_on_the_emulsion() -> None:
    finding = only(reviewed(at("4", "Squalane 30", "Sodium Benzoate 0.4"), preserved()))

    assert "oil is 30.0 %" in finding.message
    assert finding.needs == ("a challenge test on the emulsion",)


def test_oil_does_not_excuse_a_weak_dose() -> None:
    assert overall(reviewed(at("4", "Squalane 30", "Sodium Benzoate 0.05"), preserved())) == "breaks"
