"""What a review finds: one verdict on one place, and all of them for one formula on one date."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Literal, NamedTuple

from watchglass.composition import Composition
from watchglass.errors import Place, one_line
from watchglass.formula import Deviation, Formula
from watchglass.interval import Interval, Limit
from watchglass.rulebook import Severity
from watchglass.solution import Ph, Solution

Verdict = Literal["meets", "breaks", "undecided", "coming", "deviation"]
Outcome = Literal["breaks", "cannot tell", "meets"]

UNREADABLE = "unreadable"

# What binds so firmly that nobody can depart from it, and that an open question about it leaves the outcome open.
FIRM = ("law", "arithmetic")


class NewAmount(NamedTuple):
    """Another amount for one line, or another batch; `where` is its path, the unit % or g."""

    where: str
    material: str
    before: Decimal
    after: Decimal
    unit: str


class Mend(NamedTuple):
    """What would make a broken rule meet, proved by a review of the changed formula; or why nothing was found.

    Attributes:
        changes: Of the author's lines; empty where no mend was found.
        balance: What takes the difference, so that the total stays as it is; None where the total is what is mended.
        read_again: Whether a reading is left without its jar: the pH of the changed formula is to be read.
        none_because: Why there is no mend, in one sentence; None where there is one.
    """

    changes: tuple[NewAmount, ...] = ()
    balance: NewAmount | None = None
    read_again: bool = False
    none_because: str | None = None


class Finding(NamedTuple):
    """One rule's verdict on one place of one formula, for one market.

    `statements` are the ids of label statements any one of which would mend it, `texts` what each must say. `known`:
    it stands in the list of known findings, so it is told and counted and fails no run.
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
    known: bool = False
    mend: Mend | None = None

    @property
    def address(self) -> str:
        """rule, or rule#entry."""
        return self.rule if self.entry is None else f"{self.rule}#{self.entry}"


class Change(NamedTuple):
    """What became of one rule at one place between two reviews.

    Attributes:
        rule: rule, or rule#entry.
        market: None for a rule that holds everywhere.
        was: Its standing before: a verdict, `not in force`, or `does not apply`.
        now: The same after.
        finding: The finding after; where it went away, the one before. None for a rule that gave none.
    """

    rule: str
    market: str | None
    was: str
    now: str
    finding: Finding | None


class Turn(NamedTuple):
    """A day on which the verdict on a formula changes."""

    on: str
    was: Outcome
    now: Outcome
    changes: tuple[Change, ...]


class Calendar(NamedTuple):
    """All days after the review's, up to and with the last, on which the verdict changes by what is known today."""

    until: str
    turns: tuple[Turn, ...]


class Shift(NamedTuple):
    """The share of a substance before and after, % w/w; None where it is not in it."""

    substance: str
    was: Interval | None
    now: Interval | None


class Comparison(NamedTuple):
    """What changed between two versions of a formula; `path` is the earlier one."""

    path: str
    shifts: tuple[Shift, ...]
    ph_was: Ph | None
    ph_now: Ph | None
    was: Outcome
    now: Outcome
    changes: tuple[Change, ...]


class Review(NamedTuple):
    """All findings for one formula on one date, plus the numbers they rest on.

    `cautioned` are the cautions that hold whatever the verdicts, each with the path of where it matters.
    """

    path: str
    on: str
    markets: tuple[str, ...]
    outcome: Outcome
    findings: tuple[Finding, ...]
    meets: tuple[str, ...] = ()
    not_in_force: tuple[str, ...] = ()
    does_not_apply: int = 0
    cautioned: tuple[tuple[str, str], ...] = ()
    formula: Formula | None = None
    composition: Composition | None = None
    solution: Solution | None = None
    undissolved: tuple[str, ...] = ()
    calendar: Calendar | None = None
    comparison: Comparison | None = None

    @property
    def cautions(self) -> tuple[str, ...]:
        """Every caution once."""
        return tuple(dict.fromkeys(caution for _, caution in self.cautioned))

    def breaks(self, severity: Severity) -> int:
        """Breaks of one severity."""
        return sum(finding.verdict == "breaks" and finding.severity == severity for finding in self.findings)

    def count_verdict(self, verdict: Verdict) -> int:
        """Findings of one verdict."""
        return sum(finding.verdict == verdict for finding in self.findings)

    @property
    def known(self) -> int:
        """Findings that were known before."""
        return sum(finding.known for finding in self.findings)


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
