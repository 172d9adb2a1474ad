"""One module for each format; each is a pure function of the reviews and gives the same bytes for the same reviews."""

from __future__ import annotations

from collections.abc import Sequence

from watchglass.errors import one_line
from watchglass.findings import Finding, Mend, NewAmount, Outcome, Review
from watchglass.formula import Deviation
from watchglass.interval import shown
from watchglass.rulebook import Rulebook

OUTCOMES: tuple[Outcome, ...] = ("breaks", "cannot tell", "meets")  # the worst first


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
        "known": sum(review.known for review in reviews),
    }


def overall(reviews: Sequence[Review]) -> Outcome:
    """The worst outcome of all reviews."""
    found = {review.outcome for review in reviews}
    return next(outcome for outcome in OUTCOMES if outcome in found or outcome == "meets")


def tally(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """The counts over all reviews in one sentence."""
    total = counts(reviews)
    formulas = plural(total["files"], "formula")
    findings = ", ".join(plural(total[severity], severity) for severity in ("error", "warning", "note"))
    others = f"{total['undecided']} undecided, {total['coming']} coming, {plural(total['deviation'], 'deviation')}"
    known = f"; {total['known']} of these known before" if total["known"] else ""
    return f"{formulas} on {on}, rulebook {book.hash}: {findings}; {others}{known}"


def outcomes(reviews: Sequence[Review]) -> str:
    """How many formulas have which outcome, the worst first."""
    tally = {outcome: sum(review.outcome == outcome for review in reviews) for outcome in OUTCOMES}
    told = ", ".join(f"{number} {outcome}" for outcome, number in tally.items() if number)
    known = sum(review.known for review in reviews)
    return f"{told}; {plural(known, 'known finding')} not counted in the exit code" if known else told


def message_of(finding: Finding) -> str:
    """A finding in one line for a place that shows no more than that: verdict, message, what to do, deviation."""
    verdict = "" if finding.verdict == "breaks" else f"{finding.verdict}: "
    parts = [f"{'known: ' if finding.known else ''}{verdict}{finding.message}"]
    if finding.needs:
        parts.append(f"to do: {'; '.join(finding.needs)}")
    if finding.deviation is not None:
        parts.append(accepted(finding.deviation))
    return one_line("; ".join(parts))


def accepted(deviation: Deviation) -> str:
    """Why a deviation was accepted, until when and by whom."""
    until = f", until {deviation.until}" if deviation.until else ""
    by = f", by {deviation.by}" if deviation.by else ""
    return one_line(f"accepted: {deviation.reason}{until}{by}")


def mend_in_words(mend: Mend) -> str:
    """The change, or why there is none, in one line."""
    if mend.none_because is not None:
        return f"no mend: {mend.none_because}"
    changes = " and ".join(_change(change) for change in mend.changes)
    balance = "" if mend.balance is None else f", {_change(mend.balance)}"
    again = "; then read the pH again" if mend.read_again else ""
    return f"mend: {changes}{balance}{again}"


def _change(change: NewAmount) -> str:
    return f"{change.material} from {shown(change.before)} to {shown(change.after)} {change.unit}"


def title_of(finding: Finding) -> str:
    """The rule, and the market where it is for one."""
    return f"{finding.address} ({finding.market})" if finding.market else finding.address


def plural(number: int, word: str) -> str:
    """A number with its noun.

    >>> plural(1, "error"), plural(0, "error")
    ('1 error', '0 errors')
    """
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


# Until the rule library holds them, a formula that meets every rule may still break one of these.
NOT_YET = (
    "what only an analysis tells of common materials (peroxides, nitrosamines, purity), what the United States, "
    "Canada and ASEAN restrict or prohibit but for single entries, the lists of colourants, UV filters and "
    "fragrance allergens outside the EU"
)

NOT_CHECKED = (
    "the safety report and its assessor, the responsible person, notifications, GMP, the challenge test, microbial "
    "counts, stability, packaging, the label's other particulars (batch, durability, contents, origin), heavy metals, "
    "nitrosamines, REACH but for siloxanes and particles of plastic, languages, animal-testing bans"
)
