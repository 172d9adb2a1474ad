"""Whatever bytes come, every reader answers with what it reads or with a place in one line, never a traceback."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from hypothesis import strategies as st

from helpers import ON, index_of
from mutated import anything
from watchglass import known, library
from watchglass.batch_record import Record, blank, check, record_of
from watchglass.editor.completion import completion_at
from watchglass.editor.definition import definition_at
from watchglass.editor.hover import hover_at
from watchglass.editor.marks import marks_of
from watchglass.editor.page import Home, page_of
from watchglass.errors import CannotRun, Place
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import formula_of, is_shelf
from watchglass.judge import review
from watchglass.library import load as load_library
from watchglass.proofread import proofread
from watchglass.reports import github, gitlab, jsonl, junit, sarif
from watchglass.reports import json as json_report
from watchglass.reports import text as text_report
from watchglass.rulebook import build, load
from watchglass.schema import Fault
from watchglass.settings import settings_for

ROOT = Path(__file__).parents[1]
BOOK = load()
FORMULAS = [path.read_text("utf-8") for path in sorted((ROOT / "formulas").rglob("*.yaml"))]
ALONE = [text for text in FORMULAS if "shelf:" not in text]

quick = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    database=None,
    phases=(Phase.explicit, Phase.generate, Phase.shrink),
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
thorough = settings(quick, max_examples=5_000, derandomize=False)


def check_faults(found: list[Fault], data: bytes) -> None:
    """Each fault is one line and points into the text."""
    lines = data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n").split("\n")
    assert found
    for fault in found:
        assert fault.message
        assert fault.message.isprintable()
        assert 1 <= fault.place.line <= len(lines) + 1
        assert fault.place.column >= 1


# -- formula and shelf -------------------------------------------------------------------------------------------------

WRITERS: tuple[Callable[..., str], ...] = (
    *(text_report.write, json_report.write, jsonl.write, sarif.write, junit.write, github.write, gitlab.write),
)


def check_formula(data: bytes) -> None:
    found = formula_of(data, ROOT / "formulas" / "clean")
    if isinstance(found, Formula):
        made: Review = review(found, BOOK, ON)
    else:
        check_faults(found, data)
        made = unreadable("-", ON, found)
        assert made.outcome == "breaks"
    for write in WRITERS:
        assert write([made], BOOK, ON)


@quick
@given(anything(FORMULAS))
def test_any_bytes_are_a_formula_or_are_refused_at_a_place(data: bytes) -> None:
    check_formula(data)


@pytest.mark.long
@thorough
@given(anything(FORMULAS))
def test_any_of_thousands_of_bytes_are_a_formula_or_are_refused_at_a_place(data: bytes) -> None:
    check_formula(data)


SHELF = (ROOT / "formulas" / "shelf.yaml").read_text("utf-8")
NAMES_A_SHELF = ALONE[0] + "\nshelf: shelf.yaml\n"


def check_shelf(data: bytes, folder: Path) -> None:
    (folder / "shelf.yaml").write_bytes(data)
    is_sound = is_shelf(data)
    found = formula_of(NAMES_A_SHELF, folder)

    if isinstance(found, Formula):
        review(found, BOOK, ON)
        assert is_sound
    else:
        check_faults(found, NAMES_A_SHELF.encode())
        assert "shelf.yaml" in found[0].message


@quick
@given(anything([SHELF]))
def test_any_bytes_are_a_shelf_or_are_told_where_the_shelf_is_named(tmp_path: Path, data: bytes) -> None:
    check_shelf(data, tmp_path)


@pytest.mark.long
@thorough
@given(anything([SHELF]))
def test_any_of_thousands_of_bytes_are_a_shelf_or_are_told(tmp_path: Path, data: bytes) -> None:
    check_shelf(data, tmp_path)


# -- configuration and known findings ----------------------------------------------------------------------------------

CONFIGURATION = """\
markets: [eu, us]
fail_at: error
shelf: shelf.yaml
rules: [house]
tolerances: {meter: 0.1, strip: 0.7, balance: 0.1 g}
"""


def check_configuration(data: bytes, folder: Path, number: list[int] = [0]) -> None:  # noqa: B006 - a running number
    number[0] += 1
    home = folder / str(number[0])  # one folder each: what was read is kept while its file does not change
    (home / "house").mkdir(parents=True)
    (home / ".git").mkdir()
    (home / "shelf.yaml").write_text(SHELF, "utf-8")
    (home / "watchglass.yaml").write_bytes(data)
    try:
        found = settings_for(home)
    except CannotRun as refused:
        for line in str(refused).split("\n"):
            assert line.isprintable()
            assert str(home / "watchglass.yaml") in line
    else:
        assert found.file == home / "watchglass.yaml"
        formula_of(ALONE[0], home, found.defaults)


@quick
@given(anything([CONFIGURATION]))
def test_any_bytes_are_a_configuration_or_are_refused_at_a_place(tmp_path: Path, data: bytes) -> None:
    check_configuration(data, tmp_path)


@pytest.mark.long
@settings(thorough, max_examples=1_500)
@given(anything([CONFIGURATION]))
def test_any_of_many_bytes_are_a_configuration_or_are_refused(tmp_path: Path, data: bytes) -> None:
    check_configuration(data, tmp_path)


LISTED = "\n".join(
    [known.HEAD, "a.yaml\tr-1\teu\tphases.a.lines[0]\tbreaks\terror\t0f3a", "b.yaml\tr-2\t-\t-\tundecided\tnote\tff"]
)


@quick
@given(anything([LISTED + "\n"]))
@example(known.HEAD.encode() + b"\r\n")
@example((LISTED + "\x85x").encode())
def test_any_bytes_are_known_findings_or_are_refused_at_a_line(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "known").write_bytes(data)
    try:
        entries = known.read(tmp_path / "known")
    except CannotRun as refused:
        told = str(refused)
        assert told.isprintable()
        assert str(tmp_path / "known") in told
    else:
        assert all(entry.verdict in ("undecided", "breaks") for entry in entries)
        assert data.startswith(known.HEAD.encode())


# -- the batch record --------------------------------------------------------------------------------------------------

GEL = formula_of(ALONE[0], Path())
assert isinstance(GEL, Formula)
RECORD = blank(GEL, GEL.batch_grams or Decimal(100), ON).replace("grams: 0", "grams: 1.5")


def check_record(data: bytes) -> None:
    found = record_of(data)
    if isinstance(found, Record):
        assert isinstance(GEL, Formula)
        assert all(departure.message for departure in check(found, GEL, BOOK, ON).departures)
    else:
        check_faults(found, data)


@quick
@given(anything([RECORD]))
def test_any_bytes_are_a_batch_record_or_are_refused_at_a_place(data: bytes) -> None:
    check_record(data)


@pytest.mark.long
@thorough
@given(anything([RECORD]))
def test_any_of_thousands_of_bytes_are_a_batch_record_or_are_refused(data: bytes) -> None:
    check_record(data)


# -- rules -------------------------------------------------------------------------------------------------------------

RULES = [
    """\
- rule: our-ceiling
  title: Our own ceiling
  applies: {markets: [eu, us], use: leave-on}
  require: {percent: {of: Glycolic Acid, as: acid}}
  values: {2020-01-01: {max: 5}, 2027-01-01: {max: 4}}
  source: {ref: common-practice, at: our notes, read: primary}
  binding: practice
  severity: warning
  why: We had complaints.
""",
    """\
- rule: our-window
  title: Our own window
  require: {ph: {of: Lactic Acid}}
  values: {2020-01-01: {min: 3.5}}
  source: {ref: common-practice, at: our notes, read: memory}
  binding: guidance
  why: It stings.
- rule: our-pair
  title: Never together
  require: {together: {of: Glycolic Acid, beside: Ascorbic Acid, effect: it browns}}
  values: {2020-01-01: {max: 1}}
  source: {ref: common-practice, at: our notes, read: primary}
  binding: practice
  why: It browns.
""",
]
NEAR_A_LIMIT = formula_of(json.dumps({
    "formula": "a", "product": {"use": "leave-on", "site": "face", "form": "gel", "audience": "adults"},
    "markets": ["eu", "us"], "measured": {"ph": 3.5},
    "phases": {"a": {"lines": [
        {"material": "Glycolic Acid", "percent": 5}, {"material": "Lactic Acid", "percent": 1},
        {"material": "Ascorbic Acid", "percent": 1}, {"material": "Aqua", "percent": "qs"}]}},
}), Path())  # fmt: skip


def check_rules(data: bytes, folder: Path) -> None:
    """What the rule folder's reader and the proofreader let through can be compiled and judges without a traceback."""
    path = folder / "own.yaml"
    path.write_bytes(data)
    try:
        node = library._read_file(path, "own.yaml", "rules")
    except CannotRun as refused:
        for line in str(refused).split("\n"):
            assert line.startswith("own.yaml:")
            assert line.isprintable()
        return
    own = [schema_free(item) for item in plain_items(node)]
    told = [line for line in proofread({**base(), "rules": own}) if "own.yaml" in line or "our-" in line]
    if told or any("rows_of" in facts or "rows" in facts for facts in own):
        assert all(line.isprintable() for line in told)
        return
    assert isinstance(NEAR_A_LIMIT, Formula)
    review(NEAR_A_LIMIT, build(index_of(*own), "own"), ON)


def plain_items(node: Any) -> list[dict[str, Any]]:
    from watchglass.sheet import plain

    return list(plain(node))


def schema_free(facts: dict[str, Any]) -> dict[str, Any]:
    return facts | {"file": "own.yaml", "line": 1, "column": 1}


def base() -> dict[str, Any]:
    shipped = load_library()
    return {**shipped, "substances": [], "names": dict(shipped["names"])}


def test_the_rules_that_are_changed_are_sound_before(tmp_path: Path) -> None:
    for text in RULES:
        (tmp_path / "own.yaml").write_text(text, "utf-8")
        node = library._read_file(tmp_path / "own.yaml", "own.yaml", "rules")
        own = [schema_free(item) for item in plain_items(node)]

        assert [line for line in proofread({**base(), "rules": own}) if "our-" in line] == []


@settings(quick, max_examples=40)
@given(anything(RULES))
def test_any_bytes_are_rules_or_are_refused_at_a_place(tmp_path: Path, data: bytes) -> None:
    check_rules(data, tmp_path)


@pytest.mark.long
@thorough
@given(anything(RULES))
def test_any_of_thousands_of_bytes_are_rules_or_are_refused(tmp_path: Path, data: bytes) -> None:
    check_rules(data, tmp_path)


# -- the editor --------------------------------------------------------------------------------------------------------

HOME = Home("formulas/a.yaml", ROOT / "formulas" / "clean", (ROOT,))


def check_page(data: bytes, line: int, column: int) -> None:
    """Whatever stands in the window and wherever the cursor is, there are marks and answers."""
    text = data.decode("utf-8", "replace")
    page = page_of(text, HOME, BOOK, ON)
    place = Place(min(line, len(page.lines)), column)
    for mark in marks_of(page, BOOK):
        assert mark.start <= mark.end
        assert mark.message
    hover_at(page, place, BOOK, ON)
    completion_at(page, place, BOOK)
    definition_at(page, place)


@quick
@given(anything(FORMULAS), st.integers(1, 40), st.integers(1, 60))
def test_any_text_in_a_window_is_marked_and_answered(data: bytes, line: int, column: int) -> None:
    check_page(data, line, column)


@pytest.mark.long
@thorough
@given(anything(FORMULAS), st.integers(1, 40), st.integers(1, 60))
def test_any_of_thousands_of_texts_in_a_window_is_marked_and_answered(data: bytes, line: int, column: int) -> None:
    check_page(data, line, column)
