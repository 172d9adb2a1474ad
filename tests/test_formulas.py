"""The formulas that ship with the project: what their reviews find, and nothing else."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections import Counter
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

from watchglass import rulebook
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.rulebook import Rulebook

HOME = Path(__file__).parents[1]
FORMULAS = HOME / "formulas"
TABLE: dict[str, Any] = yaml.safe_load((HOME / "tests/data/expected-findings.yaml").read_text("utf-8"))
ON: str = TABLE["date"]
FILES: dict[str, dict[str, Any]] = TABLE["files"]
CLEAN = [name for name in FILES if name.startswith("clean/")]
FLAWED = [name for name in FILES if name.startswith("flawed/")]
MISREAD = "reading-agrees-with-prediction"
AMOUNT = re.compile(r"\b(percent|grams): ([0-9.]+)")


@pytest.fixture(scope="module")
def reviews() -> dict[str, dict[str, Any]]:
    command = [sys.executable, "-m", "watchglass", "review", "formulas", "--on", ON, "--format", "json"]
    result = subprocess.run(command, capture_output=True, text=True, check=False, cwd=HOME)
    assert result.returncode == 1, result.stderr
    document = json.loads(result.stdout)
    return {Path(found["path"]).relative_to("formulas").as_posix(): found for found in document["reviews"]}


@pytest.fixture(scope="module")
def book() -> Rulebook:
    return rulebook.load()


def address(finding: dict[str, Any]) -> str:
    return finding["rule"] if finding["entry"] is None else f"{finding['rule']}#{finding['entry']}"


def is_remembered(finding: dict[str, Any]) -> bool:
    return bool(finding["source"]["read"] == "memory")


def counted(findings: list[dict[str, Any]]) -> list[tuple[str, str, str, str]]:
    """The findings that the table holds; a note that stays open because a figure is from memory is left out."""
    return sorted(
        (address(finding), finding["verdict"], finding["severity"], finding["market"] or "every")
        for finding in findings
        if not (finding["verdict"] == "undecided" and finding["severity"] == "note" and is_remembered(finding))
    )


def expected(name: str) -> list[tuple[str, str, str, str]]:
    return sorted(
        (row["rule"], row["verdict"], row["severity"], row["market"] or "every") for row in FILES[name]["findings"]
    )


def text_of(name: str) -> str:
    return (FORMULAS / name).read_text("utf-8")


def model_of(name: str) -> Formula:
    read = formula_of(text_of(name), (FORMULAS / name).parent)
    assert isinstance(read, Formula), read
    return read


def readings(reviews: dict[str, dict[str, Any]]) -> dict[str, dict[str, Any]]:
    """The solution of each formula whose pH was measured."""
    return {
        name: found["solution"]
        for name, found in reviews.items()
        if found["solution"] and found["solution"]["ph"] and found["solution"]["ph"]["origin"] == "measured"
    }


def doubled(text: str, line: int) -> str | None:
    """The text with the amount on one of its lines doubled; None where that line is made up to 100."""
    lines = text.splitlines()
    changed, times = AMOUNT.subn(lambda found: f"{found[1]}: {2 * float(found[2]):.6g}", lines[line - 1])
    lines[line - 1] = changed
    return "\n".join(lines) if times else None


def test_every_formula_is_in_the_table_and_every_row_has_its_formula(reviews: dict[str, dict[str, Any]]) -> None:
    on_disk = {path.relative_to(FORMULAS).as_posix() for path in FORMULAS.glob("*/*.yaml")}
    assert on_disk == set(FILES) == set(reviews)
    assert len(CLEAN) >= 9
    assert len(FLAWED) >= 9


@pytest.mark.parametrize("name", FILES)
def test_a_formula_has_exactly_the_findings_and_the_outcome_of_the_table(
    name: str, reviews: dict[str, dict[str, Any]]
) -> None:
    assert counted(reviews[name]["findings"]) == expected(name)
    assert reviews[name]["outcome"] == FILES[name]["outcome"]


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_formula_meets_and_nothing_in_it_breaks(name: str, reviews: dict[str, dict[str, Any]]) -> None:
    assert text_of(name).startswith("# Clean: ")
    assert reviews[name]["outcome"] == "meets"
    verdicts = Counter(finding["verdict"] for finding in reviews[name]["findings"])
    assert verdicts["breaks"] == verdicts["coming"] == 0


@pytest.mark.parametrize("name", FLAWED)
def test_a_flawed_formula_is_found_by_the_rules_it_teaches_and_its_comment_says_so(
    name: str, reviews: dict[str, dict[str, Any]]
) -> None:
    first, flaw = text_of(name).splitlines()[0], set(FILES[name]["flaw"])
    assert first.startswith("# Teaches: ")
    assert FILES[name]["teaches"] in first
    found = {address(finding) for finding in reviews[name]["findings"]}
    assert flaw <= found
    bad = {address(finding) for finding in reviews[name]["findings"] if finding["verdict"] in ("breaks", "coming")}
    assert bad <= flaw


def test_only_the_reading_that_is_the_flaw_is_one_that_its_formula_cannot_give(
    reviews: dict[str, dict[str, Any]],
) -> None:
    compared, apart = 0, set()
    for name, solution in readings(reviews).items():
        reading, predicted = solution["ph"], solution["predicted_ph"]
        if predicted is None or solution["conditional_on"]:
            continue
        compared += 1
        if reading["low"] > predicted["high"] or predicted["low"] > reading["high"]:
            apart.add(name)
    assert compared >= 14
    assert apart == {name for name in FLAWED if MISREAD in FILES[name]["flaw"]}


def test_a_reading_beside_surfactants_lies_near_the_prediction_that_leaves_them_out(
    reviews: dict[str, dict[str, Any]],
) -> None:
    # Surfactants carry some alkali or acid that the model leaves out; half a unit is our own allowance for it.
    gaps = {
        name: abs(solution["ph"]["value"] - solution["predicted_ph"]["value"])
        for name, solution in readings(reviews).items()
        if solution["predicted_ph"] is not None and solution["conditional_on"]
    }
    assert len(gaps) >= 4
    assert {name for name, gap in gaps.items() if gap > 0.5} == set()


@pytest.mark.parametrize("name", CLEAN)
def test_a_clean_formula_with_any_one_line_doubled_is_still_reviewed(name: str, book: Rulebook) -> None:
    text, before = text_of(name), review(model_of(name), book, ON)
    assert before.composition is not None
    tried = 0
    for line in model_of(name).lines:
        changed = doubled(text, line.amount_place.line)
        if changed is None:
            assert line.percent == "qs"
            continue
        tried += 1
        read = formula_of(changed, (FORMULAS / name).parent)
        assert isinstance(read, Formula), read
        after = review(read, book, ON, name)
        assert after.outcome in ("meets", "cannot tell", "breaks")
        assert after.composition is not None
        assert after.composition.portions != before.composition.portions
        total_breaks = any(finding.rule == "product-total" for finding in after.findings)
        assert total_breaks is (abs(after.composition.total_percent - 100) > Decimal("0.01"))
    assert tried >= 6


def test_the_formulas_between_them_use_what_a_sheet_can_say() -> None:
    sheets = [yaml.safe_load(text_of(name)) for name in FILES]
    keys = set().union(*sheets)
    assert {"code", "batch", "target", "measured", "shelf", "tests", "on_market_since", "deviations", "label"} <= keys
    markets = {market for sheet in sheets for market in sheet["markets"]}
    assert {"eu", "uk", "us", "ca", "asean", "us-california"} <= markets
    codes = [sheet["code"] for sheet in sheets]
    assert len(codes) == len(set(codes))
    assert any("grams" in line for sheet in sheets for phase in sheet["phases"].values() for line in phase["lines"])
