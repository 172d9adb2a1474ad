"""One module for each format; each is a pure function of the reviews and gives the same bytes for the same reviews."""

from __future__ import annotations

from collections.abc import Sequence

from watchglass.findings import Review


def counts(reviews: Sequence[Review]) -> dict[str, int]:
    """Breaks by severity, and the other verdicts, over all reviews: the same in every format."""
    return {
        "files": len(reviews),
        "error": sum(review.breaks("error") for review in reviews),
        "warning": sum(review.breaks("warning") for review in reviews),
        "note": sum(review.breaks("note") for review in reviews),
        "undecided": sum(review.count_verdict("undecided") for review in reviews),
        "coming": sum(review.count_verdict("coming") for review in reviews),
        "deviation": sum(review.count_verdict("deviation") for review in reviews),
    }


def overall(reviews: Sequence[Review]) -> str:
    """The worst outcome of all reviews."""
    outcomes = {review.outcome for review in reviews}
    return next(outcome for outcome in ("breaks", "cannot tell", "meets") if outcome in outcomes or outcome == "meets")


# Until the rule library holds them, a formula that meets every rule may still break one of these.
NOT_YET = (
    "the other entries of the lists of prohibited and restricted substances, preservatives, colourants and UV "
    "filters that are on no list of allowed ones, fragrance allergens, pairs that do not go together, temperatures "
    "of addition, the ingredient declaration, claims"
)

NOT_CHECKED = (
    "the safety report and its assessor, the responsible person, notifications, GMP, the challenge test, microbial "
    "counts, stability, packaging, heavy metals, nitrosamines, REACH, languages, animal-testing bans"
)
