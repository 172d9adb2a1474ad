"""The days on which the verdict on a formula changes, by all dates that the rulebook and the formula know today.

Between two neighbouring dates that any value of any rule, or any deviation of the formula, starts or ends on, nothing
that a review looks at depends on the date. So the formula is reviewed on each of those dates, and the days on which
something came out differently are listed.
"""

from __future__ import annotations

from collections.abc import Iterable

from watchglass.comparison import DOES_NOT_APPLY, changes, standings
from watchglass.dates import day_after
from watchglass.findings import Calendar, Change, Review, Turn
from watchglass.formula import Formula
from watchglass.judge import case_of, review
from watchglass.requirements import Case
from watchglass.rulebook import ALWAYS, Rule, Rulebook


def calendar_of(formula: Formula, book: Rulebook, today: Review, until: str) -> Calendar:
    """All days after a review up to and with `until` on which the verdict changes.

    Args:
        formula: What was reviewed.
        book: By these rules.
        today: That review; its day is where the calendar starts, its markets are looked at.
        until: The last day, year-month-day.
    """
    case = case_of(formula, book)
    turns = []
    before = today
    for day in dates_of(case, book):
        if not today.on < day <= until:
            continue
        after = review(formula, book, day, today.path, today.markets, case)
        found = (*changes(after, before), *_silent(after, before))
        if found or after.outcome != before.outcome:
            turns.append(Turn(day, before.outcome, after.outcome, found))
        before = after
    return Calendar(until, tuple(turns))


def dates_of(case: Case, book: Rulebook) -> list[str]:
    """Every date on which a value of a rule about the product, or a deviation, starts to count or ceases to."""
    ends = (day_after(deviation.until) for deviation in case.formula.deviations if deviation.until is not None)
    rules = book.rules.touching(case.composition.by_substance())
    return sorted({*_dates_of_rules(rules), *(day for day in ends if day is not None)})


def _dates_of_rules(rules: Iterable[Rule]) -> Iterable[str]:
    for rule in rules:
        for tier in rule.tiers:
            series = tier.series
            yield from (start for start, _ in (*series.values, *series.stock) if start != ALWAYS)
            if series.known_from is not None:
                yield series.known_from


def _silent(after: Review, before: Review) -> Iterable[Change]:
    """The rules that are met from now on, or were till now, and gave no finding on either day."""
    told = {finding.address for finding in (*after.findings, *before.findings) if finding.verdict != "coming"}
    was, now = standings(before), standings(after)
    for address in sorted({*before.meets, *after.meets} - told):
        old, new = was.get(address, DOES_NOT_APPLY), now.get(address, DOES_NOT_APPLY)
        if old != new:
            yield Change(address, None, old, new, None)
