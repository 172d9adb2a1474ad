"""The findings of a text as marks over its words."""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

from watchglass.editor.page import Page
from watchglass.editor.text import end_of
from watchglass.errors import Place
from watchglass.findings import Finding
from watchglass.reports import message_of
from watchglass.rulebook import Rulebook

Level = Literal["error", "warning", "information", "hint"]
LEVELS: tuple[Level, ...] = get_args(Level)  # the gravest first
_LEVELS: dict[str, Level] = {"error": "error", "warning": "warning", "note": "information"}


class Mark(NamedTuple):
    """One mark.

    Attributes:
        start: Its first character.
        end: Behind its last character.
        code: The rule; None where no rule speaks.
        link: The page of the rule's source, where it has one.
        finding: What is marked; None for a remark on the text itself.
    """

    start: Place
    end: Place
    level: Level
    message: str
    code: str | None = None
    link: str | None = None
    finding: Finding | None = None


def marks_of(page: Page, book: Rulebook) -> list[Mark]:
    """Every finding, in the order of the text, then remarks on the text itself."""
    findings = page.review.findings if page.review is not None else ()
    marks = [_mark(page, finding, book) for finding in findings]
    return marks + [
        Mark(fault.place, end_of(page.lines, fault.place), "information", fault.message) for fault in page.remarks
    ]


def _mark(page: Page, finding: Finding, book: Rulebook) -> Mark:
    link = book.sources.get(finding.source["ref"], {}).get("link")
    return Mark(
        start=finding.place,
        end=end_of(page.lines, finding.place),
        level=_level(finding),
        message=message_of(finding),
        code=finding.address,
        link=link,
        finding=finding,
    )


def _level(finding: Finding) -> Level:
    """That of the severity; what is accepted, or open without weight, only as a hint."""
    if finding.verdict == "deviation" or (finding.verdict == "undecided" and finding.severity == "note"):
        return "hint"
    return _LEVELS[finding.severity]
