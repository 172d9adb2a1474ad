"""What a review finds: one verdict on one place, and all of them for one formula on one date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal, NamedTuple

from watchglass.composition import Composition
from watchglass.errors import Place, one_line
from watchglass.formula import Deviation, Formula
from watchglass.interval import Interval, Limit
from watchglass.rulebook import Severity
from watchglass.solution import Solution

Verdict = Literal["meets", "breaks", "undecided", "coming", "deviation"]
Outcome = Literal["breaks", "cannot tell", "meets"]

UNREADABLE = "unreadable"

# What binds so firmly that nobody can depart from it, and that an open question about it leaves the outcome open.
FIRM = ("law", "arithmetic")


class Finding(NamedTuple):
    """One rule's verdict on one place of one formula, for one market.

    `statements` are the ids of label statements any one of which would mend it, `texts` what each must say.
    """

    rule: str
    entry: str | None
    requirement: str
    verdict: Verdict
    severity: Severity
    market: str | None
    place: Place
    where: str
    substances: tuple[str, ...]
    message: str
    value: Interval | None
    unit: str
    limit: Limit | None
    binding: str
    read: str
    source: dict[str, str]
    why: str
    needs: tuple[str, ...] = ()
    changes_on: str | None = None
    deviation: Deviation | None = None
    statements: tuple[str, ...] = ()
    texts: Mapping[str, str] = {}

    @property
    def address(self) -> str:
        """rule, or rule#entry."""
        return self.rule if self.entry is None else f"{self.rule}#{self.entry}"


class Review(NamedTuple):
    """All findings for one formula on one date, plus the numbers they rest on."""

    path: str
    on: str
    markets: tuple[str, ...]
    outcome: Outcome
    findings: tuple[Finding, ...]
    meets: tuple[str, ...] = ()
    not_in_force: tuple[str, ...] = ()
    does_not_apply: int = 0
    cautions: tuple[str, ...] = ()
    formula: Formula | None = None
    composition: Composition | None = None
    solution: Solution | None = None
    undissolved: tuple[str, ...] = ()

    def breaks(self, severity: Severity) -> int:
        """Breaks of one severity."""
        return sum(finding.verdict == "breaks" and finding.severity == severity for finding in self.findings)

    def count_verdict(self, verdict: Verdict) -> int:
        """Findings of one verdict."""
        return sum(finding.verdict == verdict for finding in self.findings)


def about_the_file(
    rule: str, severity: Severity, binding: str, place: Place, where: str, message: str, title: str, why: str
) -> Finding:
    """A finding that no rule of the rulebook makes: something is wrong with the file itself."""
    return Finding(
        rule=rule,
        entry=None,
        requirement="sheet",
        verdict="breaks",
        severity=severity,
        market=None,
        place=place,
        where=one_line(where),
        substances=(),
        message=one_line(message),
        value=None,
        unit="",
        limit=None,
        binding=binding,
        read="primary",
        source={"ref": "watchglass", "title": title, "at": "", "binding": binding, "read": "primary"},
        why=why,
    )


def unreadable(path: str, on: str, faults: Iterable[tuple[Place, str, str]]) -> Review:
    """The review of a file that is not a formula: place, path and message of each fault."""
    title, why = "The formula file format", "What cannot be read cannot be reviewed."
    findings = (
        about_the_file(UNREADABLE, "error", "arithmetic", place, where, message, title, why)
        for place, where, message in faults
    )
    return Review(path, on, (), "breaks", tuple(findings))


def outcome_of(findings: Iterable[Finding]) -> Outcome:
    """breaks, else cannot tell, else meets: what all findings together come to.

    A break of law that is no error is one of a remembered figure: it fails nothing and passes nothing.
    """
    outcome: Outcome = "meets"
    for finding in findings:
        if finding.verdict == "breaks" and finding.severity == "error":
            return "breaks"
        if finding.verdict in ("undecided", "breaks") and finding.binding in FIRM:
            outcome = "cannot tell"
    return outcome
