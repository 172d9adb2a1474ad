import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.interval import shown


def window(limit: dict[str, object], **parameters: object) -> dict[str, object]:
    return rule({"ph": {"of": "Lactic Acid"} | parameters}, values={"always": limit})


def read_as(reading: str, *lines: str) -> str:
    return sheet(*(lines or ("Lactic Acid 2", "Aqua qs")), extra=f"measured: {{{reading}}}")


BUFFER = ("Lactic Acid 2", "Sodium Lactate 2", "Aqua qs")  # predicted at 3.64, between 3.54 and 3.74


# -- a reading -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "inside", "outside"),
    [
        ({"min": 3.5}, ["3.5", "3.501"], ["3.499"]),
        ({"above": 6}, ["6.001"], ["6", "5.999"]),
        ({"max": 4.5}, ["4.5"], ["4.501"]),
        ({"below": 4.5}, ["4.499"], ["4.5"]),
        ({"min": 3.5, "max": 4.5}, ["3.5", "4.5"], ["3.499", "4.501"]),
    ],
)
def test_an_exact_reading_is_held_to_both_sides_of_every_bound(
    limit: dict[str, object], inside: list[str], outside: list[str]
) -> None:
    for reading in inside:
        assert verdict(reviewed(read_as(f"ph: {reading}, tolerance: 0"), window(limit))) == "meets", reading
    for reading in outside:
        assert verdict(reviewed(read_as(f"ph: {reading}, tolerance: 0"), window(limit))) == "breaks", reading


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        # Half a tenth for a meter, half a unit for a strip: common practice, no source.
        ("ph: 3.55", "meets"),
        ("ph: 3.54", "undecided"),
        ("ph: 3.46", "undecided"),
        ("ph: 3.44", "breaks"),
        ("ph: 3.55, by: meter", "meets"),
        ("ph: 4.0, by: strip", "meets"),
        ("ph: 3.9, by: strip", "undecided"),
        ("ph: 3.1, by: strip", "undecided"),
        ("ph: 2.9, by: strip", "breaks"),
        ("ph: 3.9, by: strip, tolerance: 0.2", "meets"),
        ("ph: 3.9, by: meter, tolerance: 0.5", "undecided"),
    ],
)
def test_a_strip_leaves_more_open_than_a_meter_and_a_stated_tolerance_wins(reading: str, said: str) -> None:
    assert verdict(reviewed(read_as(reading), window({"min": 3.5}))) == said


def test_a_reading_wider_than_the_window_is_undecided() -> None:
    narrow = window({"min": 3.9, "max": 4.1})

    assert verdict(reviewed(read_as("ph: 4, tolerance: 0.5"), narrow)) == "undecided"
    assert verdict(reviewed(read_as("ph: 4, tolerance: 0.1"), narrow)) == "meets"


def test_the_finding_points_at_the_reading_and_holds_both_numbers() -> None:
    text = read_as("ph: 3.49, tolerance: 0")
    finding = only(reviewed(text, window({"min": 3.5})))

    assert "3.49" in finding.message
    assert "at least 3.5" in finding.message
    assert "Lactic Acid" in finding.message
    assert finding.where == "measured.ph"
    assert pointed_at(text, finding).startswith("3.49,")


def test_an_undecided_reading_asks_for_a_better_one() -> None:
    finding = only(reviewed(read_as("ph: 3.5, by: strip"), window({"min": 3.5})))

    assert "3 to 4" in finding.message
    assert finding.needs == ("read the pH with a calibrated meter: the limit 3.5 lies inside 3 to 4",)


def test_an_undecided_meter_reading_asks_to_read_again_or_to_move_away() -> None:
    finding = only(reviewed(read_as("ph: 3.52, by: meter"), window({"min": 3.5})))

    assert finding.needs == (
        "read the pH with a calibrated meter again, or move it: the limit 3.5 lies inside 3.47 to 3.57",
    )


def test_a_reading_wins_over_the_prediction() -> None:
    assert verdict(reviewed(sheet(*BUFFER), window({"max": 5}))) == "meets"
    assert verdict(reviewed(read_as("ph: 5.2", *BUFFER), window({"max": 5}))) == "breaks"


# -- a prediction --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("floor", "said"), [(3.4, "meets"), (3.64, "undecided"), (3.9, "breaks")])
def test_a_predicted_ph_counts_with_its_band(floor: float, said: str) -> None:
    # Equal weights of acid and lactate: pH = pKa + log10(90.08 / 112.06) - 0.13 at this ionic strength, about 3.64,
    # with the pKa 3.86 of Martin and Tartar 1937.
    found = reviewed(sheet(*BUFFER), window({"min": floor}))

    assert verdict(found) == said


def test_an_undecided_prediction_points_at_the_line_and_asks_for_a_measurement() -> None:
    finding = only(reviewed(sheet("Aqua qs", *BUFFER[:2]), window({"min": 3.64})))

    assert finding.value is not None
    low, high = finding.value
    assert finding.needs == (f"measure the final pH: the limit 3.64 lies inside {shown(low)} to {shown(high)}",)
    assert "predicted" in finding.message
    assert finding.place.line == FIRST_LINE + 1
    assert finding.severity == "warning"


@pytest.mark.parametrize(
    ("lines", "reason"),
    [
        (("Lactic Acid 2", "Carbomer 0.5", "Aqua qs"), "Carbomer"),
        (("Lactic Acid 2", "Unheard-of Root 0.5", "Aqua qs"), "Unheard-of Root"),
        (("Lactic Acid 2", "Alcohol 15", "Aqua qs"), "ethanol is 15"),
        (("Lactic Acid 30", "Aqua qs"), "free acid"),
    ],
)
def test_a_ph_that_cannot_be_predicted_is_undecided_with_the_reason_until_it_is_measured(
    lines: tuple[str, ...], reason: str
) -> None:
    finding = only(reviewed(sheet(*lines), window({"min": 3.5})))

    assert finding.verdict == "undecided"
    assert reason in finding.message
    assert "at least 3.5" in finding.message
    assert [need.split(":")[0] for need in finding.needs] == ["measure the final pH"]
    assert verdict(reviewed(read_as("ph: 3.6", *lines), window({"min": 3.5}))) == "meets"


def test_a_figure_that_was_not_read_leaves_no_gap_in_the_sentence() -> None:
    unread = window({"unread": "the floor after May 2024"})
    for lines in (("Lactic Acid 2", "Carbomer 0.5", "Aqua qs"), ("Lactic Acid 2", "Aqua qs")):
        message = only(reviewed(sheet(*lines), unread)).message
        assert "not read: the floor after May 2024" in message
        assert "  " not in message


# -- to whom it applies --------------------------------------------------------------------------------------------


def test_without_water_there_is_no_ph_to_judge() -> None:
    assert verdict(reviewed(sheet("Lactic Acid 2", "Squalane 98"), window({"min": 3.5}))) == "does not apply"


def test_without_the_substance_the_ph_is_free() -> None:
    assert verdict(reviewed(read_as("ph: 2", "Citric Acid 2", "Aqua qs"), window({"min": 3.5}))) == "does not apply"


def test_a_claimed_exemption_takes_the_rule_away_and_an_unclaimed_one_leaves_it_open() -> None:
    exempt = rule(
        {"ph": {"of": ["Lactic Acid", "Sodium Lactate"], "not_as": ["humectant"]}}, values={"always": {"min": 3.5}}
    )

    assert verdict(reviewed(read_as("ph: 3", "Sodium Lactate 2 as humectant", "Aqua qs"), exempt)) == "does not apply"
    assert verdict(reviewed(read_as("ph: 3", "Sodium Lactate 2 as exfoliant", "Aqua qs"), exempt)) == "breaks"
    finding = only(reviewed(read_as("ph: 3", "Sodium Lactate 2", "Aqua qs"), exempt))
    assert finding.verdict == "undecided"
    assert "function of Sodium Lactate" in finding.needs[0]
    assert verdict(reviewed(read_as("ph: 4", "Sodium Lactate 2", "Aqua qs"), exempt)) == "meets"


def test_only_as_looks_at_the_lines_of_that_function() -> None:
    exfoliant = window({"max": 4.5}, only_as=["exfoliant"])

    assert verdict(reviewed(read_as("ph: 5", "Lactic Acid 2 as pH adjuster", "Aqua qs"), exfoliant)) == "does not apply"
    assert verdict(reviewed(read_as("ph: 5", "Lactic Acid 2 as exfoliant", "Aqua qs"), exfoliant)) == "breaks"


# -- against the author's own window -------------------------------------------------------------------------------

TARGET = rule({"ph": {"against": "target"}}, binding="practice", severity="warning")


@pytest.mark.parametrize(
    ("target", "reading", "said"),
    [
        ("{min: 3.8, max: 4.2}", "3.8", "meets"),
        ("{min: 3.8, max: 4.2}", "4.2", "meets"),
        ("{min: 3.8, max: 4.2}", "3.79", "breaks"),
        ("{min: 3.8, max: 4.2}", "4.21", "breaks"),
        ("{min: 3.8}", "9", "meets"),
        ("{max: 4.2}", "2", "meets"),
        ("{max: 4.2}", "4.21", "breaks"),
    ],
)
def test_the_ph_is_held_to_the_authors_own_window(target: str, reading: str, said: str) -> None:
    text = f"{read_as(f'ph: {reading}, tolerance: 0')}target: {{ph: {target}}}\n"

    assert verdict(reviewed(text, TARGET)) == said


def test_a_missed_target_is_called_a_target_and_holds_both_numbers() -> None:
    text = f"{read_as('ph: 3.79, tolerance: 0')}target: {{ph: {{min: 3.8}}}}\n"
    message = only(reviewed(text, TARGET)).message

    assert "3.79" in message
    assert "the target is at least 3.8" in message


def test_a_target_without_a_reading_is_held_against_the_prediction_and_pointed_at() -> None:
    text = sheet(*BUFFER, extra="target: {ph: {min: 3.9}}")
    finding = only(reviewed(text, TARGET))

    assert finding.verdict == "breaks"
    assert pointed_at(text, finding).startswith("target:")


def test_a_target_without_any_ph_is_undecided() -> None:
    text = sheet("Lactic Acid 2", "Carbomer 0.5", "Aqua qs", extra="target: {ph: {min: 3.9}}")

    assert only(reviewed(text, TARGET)).needs[0].startswith("measure the final pH")


@pytest.mark.parametrize(
    "text",
    [
        sheet(*BUFFER),
        sheet("Squalane 100", extra="target: {ph: {min: 3.9}}"),
    ],
    ids=["no target", "no water"],
)
def test_without_a_target_or_without_water_the_window_is_not_spoken_of(text: str) -> None:
    assert verdict(reviewed(text, TARGET)) == "does not apply"


# -- a reading against the prediction ------------------------------------------------------------------------------

AGREES = rule({"ph": {"against": "prediction"}}, binding="practice", severity="warning")


@pytest.mark.parametrize(
    ("reading", "said"),
    [
        ("ph: 3.64, tolerance: 0", "meets"),
        ("ph: 3.78", "meets"),  # 3.73 to 3.83 meets 3.54 to 3.74
        ("ph: 3.85", "breaks"),
        ("ph: 3.44", "breaks"),
        ("ph: 4.2, by: strip", "meets"),
        ("ph: 4.3, by: strip", "breaks"),
    ],
)
def test_a_reading_agrees_where_its_interval_touches_the_band(reading: str, said: str) -> None:
    assert verdict(reviewed(read_as(reading, *BUFFER), AGREES)) == said


def test_a_reading_that_does_not_agree_says_both_numbers_and_where_to_look() -> None:
    finding = only(reviewed(read_as("ph: 5.1", *BUFFER), AGREES))

    assert "5.1" in finding.message
    assert "3.64" in finding.message
    assert "that the sheet does not name or a meter that is off" in finding.message
    assert "25 C" in finding.needs[0]


@pytest.mark.parametrize(
    "text",
    [
        sheet(*BUFFER),
        read_as("ph: 3.9", "Lactic Acid 2", "Carbomer 0.5", "Aqua qs"),
        read_as("ph: 3.9", "Lactic Acid 2", "Alcohol 15", "Aqua qs"),
        read_as("ph: 3.9", "Squalane 100"),
    ],
    ids=["no reading", "not modelled", "not predicted", "no water"],
)
def test_without_a_reading_or_a_firm_prediction_there_is_nothing_to_compare(text: str) -> None:
    assert verdict(reviewed(text, AGREES)) == "does not apply"


PREDICTED = rule({"ph": {"against": "prediction"}}, binding="practice", severity="warning")


@pytest.mark.parametrize(
    ("meant", "taken", "said"),
    [("25", "15", "meets"), ("25", "14.9", "undecided"), ("25", "35", "meets"), ("25", "35.1", "undecided"),
     ("40", "40", "meets"), ("40", "25", "undecided")],
)  # fmt: skip
def test_a_reading_is_compared_with_a_prediction_for_about_its_temperature(meant: str, taken: str, said: str) -> None:
    # lactic acid 0.222 mol/kg alone, pKa 3.86: pH (3.86 + 0.65) / 2 = 2.26; it hardly moves with temperature
    text = read_as(f"ph: 2.24, tolerance: 0.1, temperature: {taken}") + f"ph_temperature: {meant}\n"
    found = reviewed(text, PREDICTED)

    assert verdict(found) == said
    if said == "undecided":
        assert f"was taken at {taken} C and the prediction is meant at {meant} C" in only(found).message


# -- against hours -------------------------------------------------------------------------------------------------

DRIFT = rule({"ph": {"against": "hours", "of": "Gluconolactone"}}, values={"always": {"min": 24}}, binding="practice")


@pytest.mark.parametrize(("hours", "said"), [("23.9", "breaks"), ("24", "meets"), ("48", "meets")])
def test_a_product_that_drifts_is_read_after_so_many_hours(hours: str, said: str) -> None:
    text = sheet("Gluconolactone 3", "Aqua qs", extra=f"measured: {{ph: 3.8, after_hours: {hours}}}")

    assert verdict(reviewed(text, DRIFT)) == said


def test_a_reading_whose_age_is_not_stated_is_open_and_asks_for_it() -> None:
    text = sheet("Gluconolactone 3", "Aqua qs", extra="measured: {ph: 3.8}")
    finding = only(reviewed(text, DRIFT))

    assert (finding.verdict, finding.needs) == ("undecided", ("state measured.after_hours",))
    assert finding.where == "measured.after_hours"


def test_without_a_reading_or_without_what_drifts_nothing_is_too_early() -> None:
    early = "measured: {ph: 3.8, after_hours: 1}"

    assert verdict(reviewed(sheet("Gluconolactone 3", "Aqua qs"), DRIFT)) == "does not apply"
    assert verdict(reviewed(sheet("Glycerin 3", "Aqua qs", extra=early), DRIFT)) == "does not apply"
