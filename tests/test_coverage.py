"""The page on what the rules cover is the one that the rule files make, and counts what is there."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

from watchglass import library
from watchglass.rulebook import load

SCRIPT = Path(__file__).parents[1] / "docs" / "coverage.py"


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("coverage_page", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_not_stale() -> None:
    found = script()

    assert found.PAGE.read_text("utf-8") == found.written(), "run python docs/coverage.py"


def test_every_row_of_law_is_counted_once_as_judged_on_a_word_or_open() -> None:
    rows = [line.split(" | ") for line in script().written().splitlines() if line.count(" | ") == 5 and ": " in line]
    counted = {cells[0].removeprefix("| ").split(":")[0]: [int(cell) for cell in cells[1:5]] for cells in rows}
    law = [rule for rule in load().rules if rule.entry is not None and rule.binding == "law"]

    assert sum(total for total, *_ in counted.values()) == len(law)
    assert all(total == sum(parts) for total, *parts in counted.values())
    assert set(counted) == {rule.id for rule in law}


def test_everything_not_covered_is_told_with_its_reason() -> None:
    text = script().written()

    for entry in library.load()["not-covered"]:
        assert " ".join(str(entry["why"]).split()).replace("|", "/") in text
