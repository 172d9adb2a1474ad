"""Known findings: a list of what was found before, so that a run fails only for what is new.

The list is text, one finding a line, sorted, without line numbers and values, so that a diff of two lists is read as
what came and what went. A known finding is told and counted as before, and the outcome stays what it is; only the exit
code passes it. What became worse since (a note that is now an error, an open question that is now a break) is new.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from watchglass.conditions import with_wider
from watchglass.errors import CannotRun, Place, Unreadable, located, one_line
from watchglass.findings import FIRM, UNREADABLE, Finding, Review
from watchglass.fingerprints import fingerprints, logical_place
from watchglass.intake import bytes_of

HEAD = "# known findings: file, rule, market, place, verdict, severity, fingerprint; take a line out and it fails again"
_EVERYWHERE = "-"
_COLUMNS = 7
_VERDICTS = ("undecided", "breaks")  # the lesser first
_SEVERITIES = ("note", "warning", "error")


class Entry(NamedTuple):
    """One line of a list."""

    path: str
    rule: str
    market: str
    where: str
    verdict: str
    severity: str
    fingerprint: str

    def covers(self, finding: Finding) -> bool:
        """Whether a finding of this fingerprint is no worse than it was when it was listed."""
        return _VERDICTS.index(finding.verdict) <= _VERDICTS.index(self.verdict) and _SEVERITIES.index(
            finding.severity
        ) <= _SEVERITIES.index(self.severity)

    @property
    def called(self) -> str:
        """What it is, in words."""
        market = "" if self.market == _EVERYWHERE else f" ({self.market})"
        return f"{self.path}: {self.rule}{market} at {self.where}"


def may_be_known(finding: Finding) -> bool:
    """Whether a finding can fail a run and may be listed.

    A file that cannot be read may not: what is wrong with the formula in it would go by unseen.
    """
    if finding.rule == UNREADABLE:
        return False
    return finding.verdict == "breaks" or (finding.verdict == "undecided" and finding.binding in FIRM)


def entries_of(review: Review, path: str) -> list[Entry]:
    """The lines for what a review found.

    Args:
        review: Of one file.
        path: Of the file as the list names it: relative to the folder of the list, with forward slashes.
    """
    return [
        _entry(review, finding, path, fingerprint)
        for finding, fingerprint in zip(review.findings, fingerprints(review, path), strict=True)
        if may_be_known(finding)
    ]


def _entry(review: Review, finding: Finding, path: str, fingerprint: str) -> Entry:
    return Entry(
        path=one_line(path),
        rule=one_line(finding.address),
        market=finding.market or _EVERYWHERE,
        where=logical_place(review, finding) or _EVERYWHERE,
        verdict=finding.verdict,
        severity=finding.severity,
        fingerprint=fingerprint,
    )


def text_of(entries: Iterable[Entry]) -> str:
    """The list as text, sorted by file, rule, market and place."""
    return "\n".join([HEAD, *sorted("\t".join(entry) for entry in entries)]) + "\n"


def read(path: Path) -> list[Entry]:
    """Read a list.

    Raises:
        CannotRun: It cannot be opened or is no list of known findings. It is never taken for an empty one.
    """
    shown = one_line(str(path))
    try:
        lines = bytes_of(path).decode("utf-8").splitlines()
    except Unreadable as error:
        raise CannotRun(f"the known findings {shown}: {error.message}") from None
    except UnicodeDecodeError:
        raise CannotRun(f"the known findings {shown}: this is not UTF-8 text") from None
    if not lines or lines[0] != HEAD:
        raise CannotRun(f"{located(shown, Place(1, 1), 'this is no list of known findings')}; --write-known writes one")
    return [_parsed(line, number, shown) for number, line in enumerate(lines[1:], start=2) if line.strip()]


def _parsed(line: str, number: int, shown: str) -> Entry:
    parts = line.split("\t")
    if len(parts) != _COLUMNS:
        message = f"this is no known finding: {_COLUMNS} columns with tabs between them, not {len(parts)}"
        raise CannotRun(located(shown, Place(number, 1), message))
    entry = Entry(*parts)
    for word, words in ((entry.verdict, _VERDICTS), (entry.severity, _SEVERITIES)):
        if word not in words:
            message = f'"{one_line(word)}" is none of {", ".join(words)}'
            raise CannotRun(located(shown, Place(number, 1), message))
    return entry


def marked(reviews: Sequence[Review], paths: Sequence[str], listed: Iterable[Entry]) -> list[Review]:
    """The reviews with every known finding marked as such.

    Args:
        reviews: One for each file.
        paths: Of the same files, as the list names them.
        listed: The known findings.
    """
    known = {entry.fingerprint: entry for entry in listed}
    return [_marked(review, path, known) for review, path in zip(reviews, paths, strict=True)]


def _marked(review: Review, path: str, known: Mapping[str, Entry]) -> Review:
    findings = [
        finding._replace(known=True)
        if may_be_known(finding) and fingerprint in known and known[fingerprint].covers(finding)
        else finding
        for finding, fingerprint in zip(review.findings, fingerprints(review, path), strict=True)
    ]
    return review._replace(findings=tuple(findings))


def gone(reviews: Sequence[Review], paths: Sequence[str], listed: Iterable[Entry], folder: Path) -> list[Entry]:
    """The listed findings that are no longer found.

    A file that was not reviewed this time, or could not be read, or not for that market, says nothing of its findings;
    one that is no longer there has none.

    Args:
        reviews: One for each file.
        paths: Of the same files, as the list names them.
        listed: The known findings.
        folder: That of the list.
    """
    found: set[str] = set()
    read_for: dict[str, frozenset[str]] = {}
    for review, path in zip(reviews, paths, strict=True):
        if review.formula is not None:
            found.update(fingerprints(review, path))
            read_for[one_line(path)] = with_wider(review.markets) | {_EVERYWHERE}
    return [
        entry
        for entry in listed
        if entry.fingerprint not in found
        and (entry.market in read_for.get(entry.path, ()) or not (folder / entry.path).exists())
    ]
