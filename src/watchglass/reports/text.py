"""The review for people, one formula after the other: its heading, what is in the jar, then the findings.

A finding starts path:line:column, as editors and terminals expect. Nothing depends on the
width unless a terminal is there, and colour only repeats what a word says.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Sequence

from watchglass.errors import located, one_line
from watchglass.findings import FIRM, Finding, Review
from watchglass.interval import shown, shown_interval
from watchglass.reports import NOT_CHECKED, NOT_YET, accepted, mend_in_words, outcomes, overall, plural, tally
from watchglass.requirements import enumerated
from watchglass.rulebook import Rulebook
from watchglass.solution import Forms, Ph, Solution

_COLOURS = {
    "error": "red",
    "warning": "yellow",
    "note": "cyan",
    "breaks": "red",
    "cannot tell": "yellow",
    "meets": "green",
}
_INDENT = "    "

Style = Callable[[str, str], str]


def write(
    reviews: Sequence[Review],
    book: Rulebook,
    on: str,
    colour: bool = False,
    width: int | None = None,
    only_findings: bool = False,
) -> str:
    """All reviews as text.

    Args:
        reviews: In the order in which they are shown.
        book: The rules that they were held against.
        on: The date.
        colour: Whether severity words are coloured as well.
        width: Columns of the terminal, None where there is none.
        only_findings: Leave out everything else: what is in the jar, cautions, counts, the outcome.
    """
    style = _coloured if colour else _bare
    if only_findings:
        return "".join(f"{line}\n" for review in reviews for line in _findings(review, style, width))
    lines: list[str] = []
    for review in reviews:
        lines += [*_review(review, style, width), ""]
    lines += _cautions(reviews, width)
    lines += _summary(reviews, book, on, style, width)
    return "\n".join(lines) + "\n"


def _review(review: Review, style: Style, width: int | None) -> list[str]:
    lines = [_heading(review)]
    if review.formula is not None:
        lines += [wrapped for line in _jar(review) for wrapped in _wrap(one_line(line), width)]
    lines += _findings(review, style, width)
    remembered = dict.fromkeys(finding.address for finding in review.findings if _is_from_memory(finding))
    if remembered:
        told = f"left open, because the figure is only from memory: {', '.join(remembered)}"
        lines += _wrap(told, width)
    unknown = dict.fromkeys(name for f in review.findings if _lacks_solubility(f) for name in f.substances)
    if unknown:
        lines += _wrap(f"solubility not known, a small trial tells: {', '.join(unknown)}", width)
    lines += _changes(review, width)
    judged = f"{plural(len(review.meets), 'rule')} met, {review.does_not_apply} do not apply"
    if review.not_in_force:
        judged += f", {len(review.not_in_force)} not in force on {review.on}"
    outcome = style(review.outcome, review.outcome)
    lines += _wrap(
        f"{outcome}: {_verdict_counts(review)}; {judged}" if review.formula else f"{outcome}: not a formula", width
    )
    return lines


def _findings(review: Review, style: Style, width: int | None) -> list[str]:
    """The findings that get lines of their own."""
    lines: list[str] = []
    for finding in review.findings:
        if not _is_from_memory(finding) and not _lacks_solubility(finding):
            lines += _finding(review, finding, style, width)
    return lines


def _changes(review: Review, width: int | None) -> list[str]:
    """What will change, and what changed; nothing unless it was asked for."""
    if review.calendar is None and review.comparison is None:
        return []
    from watchglass.reports.changes import calendar_in_words, comparison_in_words

    told = list(calendar_in_words(review.calendar, review.on)) if review.calendar is not None else []
    told += comparison_in_words(review.comparison) if review.comparison is not None else ()
    return [wrapped for line in told for wrapped in _indented(line, width)]


def _indented(line: str, width: int | None) -> list[str]:
    """A line with its own blanks kept in front of it."""
    return _wrap(line.lstrip(" "), width, _INDENT + " " * (len(line) - len(line.lstrip(" "))))


def _heading(review: Review) -> str:
    if review.formula is None:
        return one_line(review.path)
    title = one_line(" ".join(review.formula.title.split()))
    code = f" [{one_line(review.formula.code)}]" if review.formula.code else ""
    return f"{title}{code} - {one_line(review.path)}"


def _jar(review: Review) -> list[str]:
    """What is in the jar: composition, pH, free acid."""
    formula, composition, solution = review.formula, review.composition, review.solution
    assert formula is not None
    assert composition is not None
    assert solution is not None
    product = formula.product
    kind = f", {product.kind}" if product.kind else ""
    lines = [
        f"product: {product.use} {product.form} for the {product.site}{kind}; "
        f"{product.audience}, {product.applied_by}; markets {', '.join(review.markets)}"
    ]
    names = composition.by_substance()
    most = ", ".join(f"{name} {_short(shown_interval(percent))}" for name, percent in list(names.items())[:4])
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    lines.append(one_line(f"in the jar: {_short(shown(composition.total_percent))} %: {most}{more}"))
    lines.append(f"pH: {_ph_words(solution)}")
    free = [_free(form) for form in solution.forms if _is_worth_telling(form)]
    if free:
        lines.append(f"undissociated: {'; '.join(free)} (% w/w)")
    for test in formula.tests:
        method = f", {test.method}" if test.method else ""
        lines.append(one_line(f"test on file: {test.name}{method}, {test.date}: {test.result}"))
    return lines


def _short(figures: str) -> str:
    return re.sub(r"(\.[0-9]{4})[0-9]+", r"\1", figures)


def _is_worth_telling(form: Forms) -> bool:
    """Acids that are partly ionised, and whose free part amounts to something."""
    is_ionised = form.uncharged_share[1] < 0.98  # what ionises less is told by its total
    return form.is_acid and is_ionised and form.uncharged_percent[2] >= 0.005  # less is 0.00 in print


def _free(form: Forms) -> str:
    low, _, high = form.uncharged_percent
    span = f"{low:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"{low:.2g} to {high:.2g}"
    return f"{form.substance} {span} of {form.total_percent:.3g}"


def _ph_words(solution: Solution) -> str:
    ph, predicted = solution.ph, solution.predicted
    words = []
    if ph is not None and ph.origin == "measured":
        words.append(f"{_ph(ph)} measured")
    if predicted is not None:
        words.append(f"{_ph(predicted)} predicted")
        if solution.conditional_on:
            words[-1] += f" if {enumerated(solution.conditional_on)} took no part"
        if solution.fresh is not None:
            fresh = solution.fresh
            words.append(
                f"freshly made about {fresh.ph:.1f}, until {enumerated(fresh.opening)} opens ({fresh.hours:g} h)"
            )
    elif solution.has_water:
        words.append(f"no prediction: {solution.why_not}")
    else:
        words.append(f"none: {solution.why_not}")
    strength = solution.ionic_strength
    if strength is not None:
        words.append(f"ionic strength {strength:.2f} mol/kg")
    return "; ".join(words)


def _ph(ph: Ph) -> str:
    return f"{ph.value:.2f} ({ph.interval.low:.2f} to {ph.interval.high:.2f})"


def _finding(review: Review, finding: Finding, style: Style, width: int | None) -> list[str]:
    label = style(finding.severity, finding.severity)
    if finding.known:
        label += ", known"
    if finding.verdict != "breaks":
        label += f": {finding.verdict}"
    market = f" ({finding.market})" if finding.market else ""
    message = f"{finding.address}{market}, {label}: {one_line(finding.message)}"
    lines = [located(one_line(review.path), finding.place, message)]
    if finding.requirement == "sheet":
        return lines
    if finding.deviation is not None:
        lines += _wrap(accepted(finding.deviation), width)
    if finding.needs and (finding.verdict != "undecided" or finding.severity != "note"):
        lines += _wrap(one_line(f"to do: {'; '.join(finding.needs)}"), width)
    if finding.mend is not None:
        lines += _wrap(one_line(mend_in_words(finding.mend)), width)
    for statement, text in finding.texts.items():
        lines += _wrap(f"the statement {statement}: {text}", width)
    if finding.severity != "note":
        lines += _wrap(f"why: {finding.why}", width)
        at = f", {finding.source['at']}" if finding.source["at"] else ""
        lines += _wrap(f"source: {finding.source['title']}{at} ({finding.binding}, read: {finding.read})", width)
    return lines


def _is_from_memory(finding: Finding) -> bool:
    """Under a figure that was not read: one line together, they say the same."""
    is_note = finding.verdict == "undecided" and finding.severity == "note"
    return is_note and finding.read == "memory" and finding.binding not in FIRM


def _lacks_solubility(finding: Finding) -> bool:
    return finding.requirement == "dissolved" and finding.severity == "note" and finding.limit is None


def _verdict_counts(review: Review) -> str:
    parts = [
        plural(review.breaks("error"), "error"),
        plural(review.breaks("warning"), "warning"),
        plural(review.breaks("note"), "note"),
    ]
    parts += [f"{review.count_verdict(verdict)} {verdict}" for verdict in ("undecided", "coming")]
    parts.append(plural(review.count_verdict("deviation"), "deviation"))
    return ", ".join(part for part in parts if not part.startswith("0 ")) or "no findings"


def _cautions(reviews: Sequence[Review], width: int | None) -> list[str]:
    """Each caution once, with the formulas that it is for."""
    titles: dict[str, list[str]] = {}
    for review in reviews:
        for caution in review.cautions:
            titles.setdefault(caution, []).append(review.formula.title if review.formula else review.path)
    lines: list[str] = []
    for caution, of in titles.items():
        lines += _wrap(one_line(f"caution for {', '.join(of)}: {caution}"), width, "")
    return [*lines, ""] if lines else []


def _summary(reviews: Sequence[Review], book: Rulebook, on: str, style: Style, width: int | None) -> list[str]:
    lines = _wrap(tally(reviews, book, on), width, "")
    lines += _wrap(f"Not in the rulebook yet: {NOT_YET}.", width, "")
    lines += _wrap(f"Never checked: {NOT_CHECKED}. Watchglass advises; it certifies nothing.", width, "")
    worst = overall(reviews)
    return [*lines, f"outcome: {style(worst, worst)} ({outcomes(reviews)})"]


def _wrap(text: str, width: int | None, indent: str = _INDENT) -> list[str]:
    if width is None:
        return [indent + text]
    return textwrap.wrap(
        text, max(width, 40), initial_indent=indent, subsequent_indent=indent + "  ", break_on_hyphens=False,
        break_long_words=False,
    )  # fmt: skip


def _coloured(text: str, word: str) -> str:
    import click

    return click.style(text, fg=_COLOURS[word], bold=True)


def _bare(text: str, word: str) -> str:
    return text
