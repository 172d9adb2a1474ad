from decimal import Decimal
from typing import Any

from helpers import reviewed, rule, sheet
from watchglass.comparison import compared
from watchglass.findings import Comparison
from watchglass.interval import Interval
from watchglass.reports.changes import comparison_in_words

CEILING = rule({"percent": {"of": "Glycolic Acid"}}, values={"2020-01-01": {"max": 10}})
BEFORE = sheet("Glycolic Acid 12", "Glycerin 3", "Aqua qs")
AFTER = sheet("Propanediol 2", "Glycolic Acid 8", "Aqua qs")


def comparison(now: str, was: str, *rules: dict[str, Any]) -> Comparison:
    return compared(reviewed(now, *rules), reviewed(was, *rules))


def test_substances_that_came_went_and_moved_are_listed_with_both_shares() -> None:
    shifts = {shift.substance: (shift.was, shift.now) for shift in comparison(AFTER, BEFORE, CEILING).shifts}

    assert shifts == {
        "Aqua": (Interval.exactly(85), Interval.exactly(90)),
        "Glycolic Acid": (Interval.exactly(12), Interval.exactly(8)),
        "Glycerin": (Interval.exactly(3), None),
        "Propanediol": (None, Interval.exactly(2)),
    }


def test_a_mended_break_and_a_new_one_are_told_with_the_outcome() -> None:
    mended, broken = comparison(AFTER, BEFORE, CEILING), comparison(BEFORE, AFTER, CEILING)

    assert [(change.was, change.now) for change in mended.changes] == [("breaks, error", "meets")]
    assert (mended.was, mended.now) == ("breaks", "meets")
    assert [(change.was, change.now) for change in broken.changes] == [("meets", "breaks, error")]
    assert (broken.was, broken.now) == ("meets", "breaks")


def test_a_rule_whose_substance_went_does_not_apply_any_more() -> None:
    found = comparison(sheet("Glycerin 3", "Aqua qs"), BEFORE, CEILING)

    assert [(change.was, change.now) for change in found.changes] == [("breaks, error", "does not apply")]


def test_the_same_formula_with_its_lines_in_another_order_and_a_remark_has_not_changed() -> None:
    moved = "# a remark\n" + sheet("Glycerin 3", "Aqua qs", "Glycolic Acid 12")
    found = comparison(moved, BEFORE, CEILING)

    assert (found.shifts, found.changes) == ((), ())
    assert found.ph_was == found.ph_now


def test_a_change_of_the_ph_is_told() -> None:
    neutralised = sheet("Glycolic Acid 12", "Sodium Hydroxide 4", "Glycerin 3", "Aqua qs")
    found = comparison(neutralised, BEFORE, CEILING)

    assert found.ph_was is not None
    assert found.ph_now is not None
    assert found.ph_now.interval.low > found.ph_was.interval.high


def test_a_name_that_nobody_knows_is_compared_too() -> None:
    found = comparison(sheet("Unobtainium Oil 2", "Aqua qs"), sheet("Unobtainium Oil 1", "Aqua qs"), CEILING)

    (shift,) = [shift for shift in found.shifts if shift.substance == "Unobtainium Oil"]
    assert shift.now == Interval.exactly(Decimal(2))


def test_in_words_every_change_is_a_line_and_nothing_is_an_arrow() -> None:
    lines = list(comparison_in_words(comparison(AFTER, BEFORE, CEILING)))

    assert lines[0] == "against jar.yaml:"
    assert "  Glycolic Acid: from 12 % to 8 % (-4)" in lines
    assert "  Propanediol: from none to 2 %" in lines
    assert any(line.startswith("  the-rule: from breaks, error to meets; it was: ") for line in lines)
    assert lines[-1] == "  the outcome turns from breaks to meets"
    assert not any("->" in line for line in lines)
