"""The facts of the pre-launch document of one formula on one day: reviews, pictures' numbers, evidence.

Everything is worked out here and written nowhere; `papers.dossier` makes the document of it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from typing import NamedTuple, TypeVar

from watchglass.calendar import calendar_of
from watchglass.comparison import compared
from watchglass.dates import after
from watchglass.dossier.evidence import Constant, Evidence, constants_of, evidence_of
from watchglass.dossier.shares import Share, shares_of
from watchglass.dossier.window import Window, window_of
from watchglass.errors import CannotRun
from watchglass.findings import Calendar, Review
from watchglass.formula import Formula
from watchglass.judge import case_of, review
from watchglass.mend import with_mends
from watchglass.neutralise import Neutralisation, neutralise
from watchglass.rulebook import Rulebook

HORIZON = "5y"  # how far the calendar of coming law looks
LAST_DAY = "9999-12-31"

_Told = TypeVar("_Told")


class Version(NamedTuple):
    """A formula with what tells it from every other version of it.

    Attributes:
        formula: As read.
        path: How its file is called.
        digest: SHA-256 of the bytes of the file, hexadecimal.
    """

    formula: Formula
    path: str
    digest: str


class Refused(NamedTuple):
    """Something that cannot be told of this formula, and why."""

    reason: str


class Dossier(NamedTuple):
    """All that is told of one version of a formula on one day.

    Attributes:
        version: What it is about.
        review: For all markets together, with the calendar, and the comparison where there is an earlier version.
        by_market: The review for each market alone, in their order.
        calendar: Of the coming law.
        rulebook: The state of the rules.
        window: pH against acid, or why it is not drawn.
        neutralisation: The curve to the target pH, or why it is not drawn.
        shares: The undissociated share of each acid against pH.
        evidence: Each rule that had a say, with its figure and its source.
        constants: The figures of chemistry that the pH rests on.
    """

    version: Version
    review: Review
    by_market: tuple[Review, ...]
    calendar: Calendar
    rulebook: str
    window: Window | Refused
    neutralisation: Neutralisation | Refused
    shares: tuple[Share, ...]
    evidence: tuple[Evidence, ...]
    constants: tuple[Constant, ...]


def dossier_of(
    version: Version, book: Rulebook, on: str, markets: Sequence[str] = (), earlier: Version | None = None
) -> Dossier:
    """Gather the facts.

    Args:
        version: The formula.
        book: By these rules.
        on: The day, year-month-day.
        markets: Instead of the formula's own.
        earlier: An older version to tell the changes against.
    """
    formula, path = version.formula, version.path
    case = case_of(formula, book)
    whole = with_mends(review(formula, book, on, path, markets, case), book)
    calendar = calendar_of(formula, book, whole, _until(on))
    if earlier is not None:
        was = review(earlier.formula, book, on, earlier.path, whole.markets)
        whole = whole._replace(comparison=compared(whole, was))
    return Dossier(
        version=version,
        review=whole,
        by_market=tuple(review(formula, book, on, path, (market,), case) for market in whole.markets),
        calendar=calendar,
        rulebook=book.hash,
        window=_or_reason(lambda: window_of(formula, case, book, on, whole.markets)),
        neutralisation=_or_reason(lambda: neutralise(formula, book, _aim(formula))),
        shares=shares_of(case.solution, book.model),
        evidence=evidence_of(whole, book),
        constants=constants_of(case, book),
    )


def _or_reason(work: Callable[[], _Told]) -> _Told | Refused:
    try:
        return work()
    except CannotRun as error:
        return Refused(str(error))


def _until(on: str) -> str:
    try:
        return after(on, HORIZON)
    except ValueError:
        return LAST_DAY


def _aim(formula: Formula) -> Decimal:
    """The middle of the maker's own pH window.

    Raises:
        CannotRun: There is none.
    """
    target = formula.target
    ends = [] if target is None else [end for end in (target.min, target.max) if end is not None]
    if not ends:
        raise CannotRun("the formula names no target.ph")
    return sum(ends, Decimal(0)) / len(ends)
