"""What the chemistry tests share: a formula from a map of percents, and what the engine makes of it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TypeAlias

from watchglass.composition import Composition, expand
from watchglass.findings import Finding
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.interval import Interval
from watchglass.judge import review
from watchglass.rulebook import load
from watchglass.solution import Solution, dissolve
from watchglass.substances import Substance

# Floats, or the words that the sheet takes: a figure as it is written, or qs.
Percents: TypeAlias = Mapping[str, float] | Mapping[str, float | str] | Mapping[str, str]

HEAD = """\
formula: a test jar
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu]
"""
ON = "2026-11-25"


def substance(name: str) -> Substance:
    """The substance of a name; the test fails when the library does not know it."""
    found = load().substances.find(name)
    assert found is not None, name
    return found


def formula_from(text: str) -> Formula:
    """The formula of a YAML text that must be a formula."""
    found = formula_of(text, Path())
    assert isinstance(found, Formula), found
    return found


def text_of(percents: Percents, extra: str = "", water: bool = True) -> str:
    """A formula of one phase; water takes the rest unless told otherwise."""
    lines = [f'      - {{material: "{name}", percent: {_figure(percent)}}}' for name, percent in percents.items()]
    if water:
        lines.append("      - {material: Aqua, percent: qs}")
    return HEAD + extra + "phases:\n  jar:\n    lines:\n" + "\n".join(lines) + "\n"


def formula(percents: Percents, extra: str = "", water: bool = True) -> Formula:
    """The same, read."""
    return formula_from(text_of(percents, extra, water))


def composition(percents: Percents, extra: str = "", water: bool = True) -> Composition:
    """What is really in it."""
    return expand(formula(percents, extra, water), load().substances)


def solution(
    percents: Percents,
    extra: str = "",
    temperature_c: float = 25.0,
    reading: Interval | None = None,
    water: bool = True,
    analytical: bool = False,
) -> Solution:
    """What is in the water; `analytical`: every substance is as pure as its name says."""
    book = load()
    made = composition(percents, extra, water)
    if analytical:
        made = made._replace(portions=tuple(portion._replace(assayed=True) for portion in made.portions))
    return dissolve(made, book.substances, book.model, temperature_c, reading)


def verdict(rule: str, made: Formula, about: str | None = None) -> str | None:
    """The verdict of one rule; where it has several findings, the one about a substance."""
    found = review(made, load(), ON)
    findings = [
        finding for finding in found.findings if finding.rule == rule and (about is None or about in finding.substances)
    ]
    if findings:
        return findings[0].verdict
    return "meets" if rule in found.meets else None


def findings(rule: str, made: Formula) -> list[Finding]:
    """All findings of one rule."""
    return [finding for finding in review(made, load(), ON).findings if finding.rule == rule]


def _figure(percent: float | str) -> str:
    return percent if isinstance(percent, str) else f"{percent:.10g}" if percent >= 1e-4 else f"{percent:.12f}"
