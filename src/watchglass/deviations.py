"""Accepted deviations: which cover a break, and which cover nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from watchglass.composition import MOST_SUGGESTIONS
from watchglass.conditions import with_wider
from watchglass.findings import FIRM, Finding, about_the_file
from watchglass.formula import Deviation, Formula
from watchglass.nearest import did_you_mean
from watchglass.rulebook import Rule, Rulebook

DEVIATIONS = "deviations"


def covering(finding: Finding, formula: Formula, on: str) -> Deviation | None:
    """The unexpired deviation that covers a finding; law and arithmetic cannot be deviated from."""
    if finding.binding in FIRM:
        return None
    return next(
        (
            deviation
            for deviation in formula.deviations
            if deviation.rule == finding.address and (deviation.until is None or deviation.until >= on)
        ),
        None,
    )


def idle(
    formula: Formula, findings: Iterable[Finding], on: str, book: Rulebook, markets: Iterable[str]
) -> Iterator[Finding]:
    """Deviations that cover nothing: unknown, expired, for law or arithmetic, or without a break to cover.

    One whose rule is still open, or belongs to a market that is not reviewed, may cover something yet.
    """
    if not formula.deviations:
        return
    findings = tuple(findings)
    used = {id(finding.deviation) for finding in findings if finding.deviation is not None}
    covered = frozenset(finding.address for finding in findings if finding.deviation is not None)
    waiting = {finding.address for finding in findings if finding.verdict in ("undecided", "coming")}
    reviewed = with_wider(markets)
    known = frozenset(book.addresses)
    hints = 0
    for number, deviation in enumerate(formula.deviations):
        if id(deviation) in used or _may_yet_cover(deviation, on, book, waiting, reviewed):
            continue
        hints += deviation.rule not in known
        message = _what_is_wrong(deviation, on, book, known, covered, hints <= MOST_SUGGESTIONS)
        where, why = f"deviations[{number}]", "A deviation that covers nothing hides what was meant to be accepted."
        yield about_the_file(DEVIATIONS, "warning", "practice", deviation.place, where, message, "Deviations", why)


def _rules_of(deviation: Deviation, book: Rulebook) -> list[Rule]:
    """The rules that a deviation names; a preservative system is named as an entry of its rule."""
    return book.find(deviation.rule) or (
        book.find(deviation.rule.split("#")[0]) if deviation.rule in book.addresses else []
    )


def _may_yet_cover(deviation: Deviation, on: str, book: Rulebook, waiting: set[str], reviewed: frozenset[str]) -> bool:
    rules = _rules_of(deviation, book)
    if not rules or rules[0].binding in FIRM or (deviation.until is not None and deviation.until < on):
        return False
    elsewhere = all(rule.markets is not None and not rule.markets & reviewed for rule in rules)
    return elsewhere or deviation.rule in waiting


def _what_is_wrong(
    deviation: Deviation, on: str, book: Rulebook, known: frozenset[str], covered: frozenset[str], hint: bool
) -> str:
    called = f'deviation from "{deviation.rule}"'
    if deviation.rule not in known:
        if book.find(deviation.rule):
            return f"{called}: this is a table; name the row as {deviation.rule}#ENTRY"
        return f"{called}: no such rule{did_you_mean(deviation.rule, (*book.ids, *known)) if hint else ''}"
    rules = _rules_of(deviation, book)
    if rules and rules[0].binding in FIRM:
        kind = rules[0].binding
        return f"{called}: {kind} cannot be deviated from; mend the formula, or declare the fact that takes it away"
    if deviation.until is not None and deviation.until < on:
        return f"{called} ran out on {deviation.until}; renew it with a reason or mend the formula"
    if deviation.rule in covered:
        return f"{called} covers nothing: another deviation from the same rule does already; take one of them out"
    return f"{called} covers nothing: the rule does not break here; take the deviation out"
