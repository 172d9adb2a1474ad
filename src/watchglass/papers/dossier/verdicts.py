"""How the formula stands to the rules: market by market, finding by finding, against an earlier version."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from watchglass.dossier import Dossier
from watchglass.findings import Comparison, Finding, Review
from watchglass.papers.dossier.blocks import Block, Cell, Entry, Listing, Table, Words
from watchglass.reports import accepted, mend_in_words, title_of
from watchglass.reports.changes import comparison_in_words
from watchglass.rulebook import Severity

NOTHING = "-"
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
ORDER = ("breaks", "undecided", "coming", "deviation")


def by_market(dossier: Dossier) -> Iterator[Block]:
    """The outcome in each market, and the rules of which something is to be told, side by side."""
    reviews = dossier.by_market
    yield Table(
        "Outcome",
        ("Market", "Outcome", "Breaks", "Undecided", "Coming", "Deviations", "Rules met"),
        [(review.markets[0], review.outcome, _breaks(review), *_counts(review)) for review in reviews],
        (4, 4, 4, 3, 3, 3, 3),
    )
    named = dict.fromkeys(f.address for review in reviews for f in _of_rules(review))
    if named:
        yield Table(
            "Rules that are not simply met",
            ("Rule", *(review.markets[0] for review in reviews)),
            [(address, *(_standing(address, review) for review in reviews)) for address in named],
            (6, *(3 for _ in reviews)),
        )
    yield Words("Breaks of law or arithmetic make the outcome; guidance, opinion and practice are told beside it.")


def findings(dossier: Dossier) -> Iterator[Block]:
    """Each finding with its source and what would mend it; notes together in a table."""
    own = sorted(dossier.review.findings, key=lambda f: (SEVERITIES.index(f.severity), ORDER.index(f.verdict)))
    told = [finding for finding in own if not _is_note(finding)]
    if not told:
        yield Words("No error and no warning.")
    for finding in told:
        yield Entry(f"{title_of(finding)}: {finding.verdict}, {finding.severity}", list(_facts(finding)))
    notes = [finding for finding in own if _is_note(finding) and finding.verdict != "deviation"]
    if notes:
        yield Table(
            "Notes",
            ("Rule", "Verdict", "What", "To do"),
            [(title_of(f), f.verdict, f.message, "; ".join(f.needs) or NOTHING) for f in notes],
            (5, 3, 7, 5),
        )


def deviations(dossier: Dossier) -> Iterator[Block]:
    """Every deviation of the formula, and whether it covers anything."""
    stated = dossier.version.formula.deviations
    if not stated:
        yield Words("None.")
        return
    covering = [f.deviation for f in dossier.review.findings if f.deviation is not None]
    yield Table(
        "Accepted deviations",
        ("Rule", "Reason", "Until", "By", "Covers a finding"),
        [(d.rule, d.reason, d.until or "no end", d.by or NOTHING, "yes" if d in covering else "no") for d in stated],
        (4, 7, 3, 2, 3),
    )


def tests(dossier: Dossier) -> Iterator[Block]:
    """The tests that the maker names; which version they were made on, only the maker knows."""
    stated, comparison = dossier.version.formula.tests, dossier.review.comparison
    if not stated:
        yield Words("The formula names no test. Challenge, stability and counts are not replaced by this paper.")
        return
    yield Table(
        "Tests that the formula names",
        ("Test", "Method", "Date", "Result", "Remark"),
        [(test.name, test.method or NOTHING, test.date, test.result, _remark(test.date, dossier)) for test in stated],
        (4, 4, 3, 5, 5),
    )
    if comparison is None:
        yield Words("Whether the formula changed after a test is told where an earlier version is given.")


def cautions(dossier: Dossier) -> Iterator[Block]:
    """What can hurt at the bench."""
    yield Listing(dossier.review.cautions) if dossier.review.cautions else Words("None of the rules has one.")


def changed(comparison: Comparison) -> Iterator[Block]:
    """Composition, pH and verdicts against an earlier version."""
    yield Listing([line.strip() for line in comparison_in_words(comparison)])


def _is_note(finding: Finding) -> bool:
    return finding.severity == "note" and finding.verdict != "breaks"


def _facts(finding: Finding) -> Iterator[tuple[str, Cell]]:
    yield "What", finding.message
    yield "Where", f"line {finding.place.line}, {finding.where}"
    if finding.needs:
        yield "To do", "; ".join(finding.needs)
    if finding.mend is not None:
        yield "Mend", mend_in_words(finding.mend).removeprefix("mend: ")
    for statement, text in finding.texts.items():
        yield "Statement", f"{statement}: {text}"
    if finding.deviation is not None:
        yield "Deviation", accepted(finding.deviation)
    yield "Why", finding.why
    at = f", {finding.source['at']}" if finding.source["at"] else ""
    yield "Source", f"{finding.source['title']}{at} ({finding.binding}, read: {finding.read})"


def _of_rules(review: Review) -> Iterator[Finding]:
    return (finding for finding in review.findings if finding.requirement != "sheet")


def _breaks(review: Review) -> str:
    told = [f"{number} {severity}" for severity in SEVERITIES if (number := review.breaks(severity))]
    return ", ".join(told) or "0"


def _counts(review: Review) -> tuple[str, ...]:
    return (
        str(review.count_verdict("undecided")),
        str(review.count_verdict("coming")),
        str(review.count_verdict("deviation")),
        str(len(review.meets)),
    )


def _standing(address: str, review: Review) -> str:
    own: Sequence[Finding] = [finding for finding in _of_rules(review) if finding.address == address]
    if own:
        worst = min(own, key=lambda f: (ORDER.index(f.verdict), SEVERITIES.index(f.severity)))
        day = f" {worst.changes_on}" if worst.changes_on else ""
        return f"{worst.verdict}{day}, {worst.severity}"
    if address in review.meets:
        return "meets"
    return "not in force" if address in review.not_in_force else NOTHING


def _remark(date: str, dossier: Dossier) -> str:
    if date > dossier.review.on:
        return f"dated after {dossier.review.on}"
    comparison = dossier.review.comparison
    if comparison is None:
        return NOTHING
    if comparison.shifts:
        return "the composition changed since the earlier version: say on which of them it was made"
    return "the composition is that of the earlier version"
