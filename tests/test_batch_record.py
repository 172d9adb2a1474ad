"""A batch as it was made, held against its sheet and the rules."""

from __future__ import annotations

import subprocess
import sys
from decimal import Decimal
from pathlib import Path

import pytest

from helpers import ON, formula_from
from watchglass.batch_record import Checked, Record, blank, check, record_of
from watchglass.rulebook import load

BOOK = load()
FORMULA = """\
formula: Groyne gel
code: GR-7
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [us]
batch: 500 g
balance: 0.1 g
target: {ph: {min: 3.8, max: 4.2}}
phases:
  water:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Xanthan Gum, percent: 0.8}
  acid:
    lines:
      - {material: lactic-88, percent: 5}
      - {material: caustic-20, percent: 5.4}
materials:
  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}
  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}}
"""
RECORD = """\
record: Groyne gel
code: GR-7
number: 2611-04
batch: 500 g
made_on: 2026-11-20
weighed:
  water:
    - {material: Aqua, grams: 444}
    - {material: Xanthan Gum, grams: 4, lot: X-1, expires: 2026-11-20}
  acid:
    - {material: lactic-88, grams: 25, lot: L-77, expires: 2027-03-31}
    - {material: caustic-20, grams: 27}
measured: {ph: 3.9}
"""


def checked(record: str = RECORD) -> Checked:
    found = record_of(record)
    assert isinstance(found, Record), found
    return check(found, formula_from(FORMULA), BOOK, ON)


def told(record: str) -> list[str]:
    return [departure.message for departure in checked(record).departures]


def test_a_batch_as_the_sheet_asks_departs_from_nothing_and_is_reviewed_with_its_reading() -> None:
    found = checked()

    assert found.departures == ()
    assert found.review is not None
    assert found.review.solution is not None
    assert found.review.solution.ph is not None
    assert found.review.solution.ph.value == Decimal("3.9")


@pytest.mark.parametrize(("grams", "off"), [("25.25", False), ("25.26", True), ("24.75", False), ("24.74", True)])
def test_a_weight_more_than_a_hundredth_off_is_told(grams: str, off: bool) -> None:
    messages = told(RECORD.replace("lactic-88, grams: 25,", f"lactic-88, grams: {grams},"))

    assert bool(messages) == off
    if off:
        assert messages[0].startswith(f"lactic-88 in acid weighs {grams} g, 1.0 % ")
        assert messages[0].endswith("than the 25 g of the sheet")


@pytest.mark.parametrize(("expires", "out"), [("2026-11-20", False), ("2026-11-19", True)])
def test_a_lot_that_had_expired_on_the_day_is_told(expires: str, out: bool) -> None:
    messages = told(RECORD.replace("expires: 2026-11-20", f"expires: {expires}"))

    assert messages == ([f"Xanthan Gum (lot X-1) expired on {expires}, before 2026-11-20"] if out else [])


def test_a_line_without_a_weight_is_told_and_the_batch_is_not_reviewed_yet() -> None:
    for record in (
        RECORD.replace("grams: 27", "grams: 0"),
        RECORD.replace("    - {material: caustic-20, grams: 27}\n", ""),
    ):
        found = checked(record)

        assert [d.message for d in found.departures] == ["caustic-20 in acid has no weight yet; the sheet asks 27 g"]
        assert found.review is None


def test_what_the_formula_does_not_have_names_the_nearest_that_it_has() -> None:
    messages = told(RECORD.replace("lactic-88, grams", "lactic-80, grams").replace("  water:", "  watre:"))

    assert any('the formula has no phase "watre"; did you mean "water"?' in message for message in messages)
    assert any(
        'phase acid of the formula has no "lactic-80"; did you mean "lactic-88"?' in message for message in messages
    )


def test_a_reading_outside_the_makers_window_is_a_finding_of_the_review() -> None:
    found = checked(RECORD.replace("ph: 3.9", "ph: 4.4"))

    assert found.review is not None
    assert "own-target-ph" in {finding.rule for finding in found.review.findings if finding.verdict == "breaks"}


def test_a_weight_that_breaks_a_rule_is_a_finding_of_the_review() -> None:
    found = checked(RECORD.replace("lactic-88, grams: 25,", "lactic-88, grams: 65,"))

    assert found.review is not None
    assert "cir-glycolic-lactic-ceiling" in {f.rule for f in found.review.findings if f.verdict == "breaks"}


def test_two_lines_of_one_material_are_weighed_in_turn() -> None:
    twice = FORMULA.replace(
        "      - {material: Xanthan", "      - {material: Aqua, percent: 10}\n      - {material: Xanthan"
    )
    record = RECORD.replace("Aqua, grams: 444}", "Aqua, grams: 394}\n    - {material: Aqua, grams: 50}")
    found = record_of(record)
    assert isinstance(found, Record)

    assert check(found, formula_from(twice), BOOK, ON).departures == ()


def test_an_empty_record_asks_for_every_weight_and_can_be_read() -> None:
    empty = blank(formula_from(FORMULA), Decimal(500), "2026-11-20")

    assert "# asked: 25 g" in empty
    assert len(told(empty)) == 4


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("grams: 444", "grams: -1"), "-1"),
        (("made_on: 2026-11-20", "made_on: 2026-02-30"), 'made_on is "2026-02-30"; that day is on no calendar'),
        (("expires: 2027-03-31", "expires: 2027-02-30"), 'expires is "2027-02-30"; that day is on no calendar'),
        (("batch: 500 g", "batch: 0 g"), "a batch of nothing"),
        (("lot: X-1", "lott: X-1"), 'did you mean "lot"?'),
        (("record: Groyne gel\n", ""), "record"),
        (("weighed:", "weighed: ["), ""),
    ],
)
def test_a_record_that_cannot_be_read_says_where_and_why(change: tuple[str, str], said: str) -> None:
    found = record_of(RECORD.replace(*change))

    assert isinstance(found, list)
    assert said in found[0].message
    assert found[0].place.line >= 1


# -- as a user runs it -----------------------------------------------------------------------------------------------


def run(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    (folder / "gel.yaml").write_text(FORMULA, "utf-8")
    command = [sys.executable, "-m", "watchglass", "weigh", "gel.yaml", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, encoding="utf-8", check=False)


@pytest.mark.parametrize(("record", "code"), [(RECORD, 0), (RECORD.replace("grams: 25,", "grams: 26,"), 1)])
def test_a_batch_that_departs_from_its_sheet_ends_with_exit_1(record: str, code: int, tmp_path: Path) -> None:
    (tmp_path / "batch.yaml").write_text(record, "utf-8")
    done = run("--record", "batch.yaml", folder=tmp_path)

    assert done.returncode == code, done.stderr
    assert done.stdout.startswith("Groyne gel, made on 2026-11-20: ")
    assert ("batch.yaml:11:36: lactic-88" in done.stdout) == bool(code)


def test_an_empty_record_is_written_once_and_never_over_another(tmp_path: Path) -> None:
    first = run("--write-record", "batch.yaml", folder=tmp_path)
    second = run("--write-record", "batch.yaml", folder=tmp_path)

    assert first.returncode == 0, first.stderr
    assert isinstance(record_of((tmp_path / "batch.yaml").read_text("utf-8")), Record)
    assert second.returncode == 2
    assert "is there already; nothing is written over" in second.stderr


def test_a_record_that_is_not_there_is_exit_2(tmp_path: Path) -> None:
    done = run("--record", "none.yaml", folder=tmp_path)

    assert (done.returncode, done.stderr) == (2, "watchglass: none.yaml:1:1: there is no such file\n")
