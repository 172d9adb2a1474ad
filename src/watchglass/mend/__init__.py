"""Mends: the least change of the author's amounts that makes a broken rule meet without breaking another.

A mend is looked for where a report shows it, never inside a review. It is proved by judging the changed formula again,
and where there is none the reason is told. How it is chosen is told in docs/decisions/0010.
"""

from __future__ import annotations

from watchglass.findings import Finding, Mend, Review
from watchglass.formula import Formula
from watchglass.mend.choice import Mender, is_mendable
from watchglass.mend.trial import Bench
from watchglass.rulebook import Rulebook

FIRST = ("total", "percent")
MOST_MENDS = 50  # of one formula; each takes away a break


def with_mends(review: Review, book: Rulebook) -> Review:
    """The review with a mend, or the reason why there is none, at each break that has a number."""
    formula = review.formula
    if formula is None or not any(is_mendable(finding, book) for finding in review.findings):
        return review
    mender = Mender(Bench(formula, book, review.on, review.markets))
    return review._replace(
        findings=tuple(
            finding._replace(mend=mender.mend(finding)) if is_mendable(finding, book) else finding
            for finding in review.findings
        )
    )


def mend_of(finding: Finding, review: Review, book: Rulebook) -> tuple[Mend, Formula] | None:
    """The mend of one break and the formula that it makes; None where there is none."""
    if review.formula is None or not is_mendable(finding, book):
        return None
    bench = Bench(review.formula, book, review.on, review.markets)
    mend = Mender(bench).mend(finding)
    return None if mend is None or not mend.changes else (mend, bench.changed(mend).formula)


def mended(review: Review, book: Rulebook) -> Formula | None:
    """The formula of a review with every break mended that can be, one after the other; None where none can.

    Totals come first: until the lines make 100, every other percentage means something else than it says. Then amounts,
    because they move the pH; the pH last.
    """
    formula = review.formula
    if formula is None:
        return None
    bench = Bench(formula, book, review.on, review.markets)
    for _ in range(MOST_MENDS):
        broken = [finding for finding in bench.before if is_mendable(finding, book)]
        broken.sort(
            key=lambda finding: FIRST.index(finding.requirement) if finding.requirement in FIRST else len(FIRST)
        )
        mender = Mender(bench)
        mend = next((mend for mend in map(mender.mend, broken) if mend is not None and mend.changes), None)
        if mend is None:
            break
        bench = bench.changed(mend)
    return None if bench.formula is formula else bench.formula
