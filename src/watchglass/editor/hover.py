"""What is told of the thing under the pointer, as plain text: nothing in it can be a link or a picture."""

from __future__ import annotations

from watchglass.cite import on_rule, unit_of, value_in_words
from watchglass.conditions import with_wider
from watchglass.editor.marks import LEVELS, Mark, marks_of
from watchglass.editor.page import Page
from watchglass.editor.pointer import line_at
from watchglass.errors import Place, one_line
from watchglass.findings import Review
from watchglass.formula import Formula, Line
from watchglass.interval import NOTHING, Interval, shown, shown_interval
from watchglass.reports import title_of
from watchglass.rulebook import Rule, Rulebook
from watchglass.substances import Substance

MOST_RULES = 12
MOST_PARTS = 12
_WIDTH = 100


def hover_at(page: Page, place: Place, book: Rulebook, on: str) -> str | None:
    """The findings that are marked there, then the ingredient of the line; None where there is neither."""
    here = [mark for mark in marks_of(page, book) if mark.start <= place < mark.end]
    told = [_on_mark(mark, book) for mark in sorted(here, key=_gravity)]
    line = line_at(page, place)
    if line is not None and page.formula is not None:
        told.append(_on_line(page, page.formula, line, book, on))
    return "\n\n".join(told) or None


def _gravity(mark: Mark) -> tuple[int, bool]:
    """The gravest first, and of those what is certain."""
    return LEVELS.index(mark.level), mark.finding is not None and mark.finding.verdict != "breaks"


# -- a finding -----------------------------------------------------------------------------------------------------


def _on_mark(mark: Mark, book: Rulebook) -> str:
    if mark.finding is None:
        return mark.message
    finding = mark.finding
    lines = [f"{title_of(finding)}: {mark.message}"]
    lines += [one_line(f"the statement {name}: {text}") for name, text in finding.texts.items()]
    rules = book.find(finding.address) or book.find(finding.rule)
    if mark.level == "hint":  # many of them lie over one weighing; their rules would hide what matters
        return "\n".join(lines)
    if rules:
        return "\n".join([*lines, on_rule(rules[:1], book, _WIDTH).rstrip("\n")])
    return "\n".join([*lines, f"why: {finding.why}"])


# -- an ingredient -------------------------------------------------------------------------------------------------


def _on_line(page: Page, formula: Formula, line: Line, book: Rulebook, on: str) -> str:
    assert page.review is not None
    composition = page.review.composition
    portions = [p for p in composition.portions if p.line == line] if composition is not None else []
    total = NOTHING
    for portion in portions:
        total = total + portion.percent
    lines = [one_line(_weighing(formula, line, total))]
    if len(portions) > 1 or (portions and portions[0].substance.name != line.material):
        told = ", ".join(f"{p.substance.name} {shown_interval(p.percent)} %" for p in portions[:MOST_PARTS])
        lines.append(f"brings: {told}{_more(len(portions), MOST_PARTS)}")
    if not portions:
        lines.append("no substance of this name is known")
    for substance in {p.substance.name: p.substance for p in portions[:MOST_PARTS]}.values():
        lines += ["", *_on_substance(page, formula, substance, book, on)]
    return "\n".join(lines)


def _weighing(formula: Formula, line: Line, total: Interval) -> str:
    grams = line.grams
    told = f"{line.material}: {shown_interval(total)} %" if total != NOTHING else line.material
    if grams is None and formula.batch_grams is not None and total.is_exact and total != NOTHING:
        grams = formula.batch_grams * total.low / 100
    if grams is not None:
        batch = f" in a batch of {shown(formula.batch_grams)} g" if formula.batch_grams is not None else ""
        told += f", {shown(grams)} g{batch}"
    return told


def _on_substance(page: Page, formula: Formula, substance: Substance, book: Rulebook, on: str) -> list[str]:
    numbers = f" (CAS {', '.join(substance.cas)})" if substance.cas else ""
    facts = [", ".join(substance.functions), substance.state]
    lines = [f"{substance.name}{numbers}: {'; '.join(fact for fact in facts if fact)}"]
    if substance.molar_mass is not None:
        lines.append(f"  molar mass: {shown(substance.molar_mass)} g/mol")
    if substance.steps:
        told = ", ".join(f"{step.pka:g} ± {step.uncertainty:g} (read: {step.read})" for step in substance.steps)
        lines.append(f"  pKa at 25 °C: {told}")
    if substance.water_solubility is not None:
        found = substance.water_solubility
        told = f"{found.grams_per_100_g_water:g} g in 100 g ({found.low:g} to {found.high:g}; read: {found.read})"
        lines.append(f"  in water: {told}")
    lines += [f"  in this product: {told}" for told in _free(page, substance)]
    return lines + _rules(page, formula, substance, book, on)


def _free(page: Page, substance: Substance) -> list[str]:
    """How much of each acid or base that the substance gives is undissociated, at the pH of the product."""
    solution = page.review.solution if page.review is not None else None
    if solution is None:
        return []
    told = []
    for name in dict.fromkeys((substance.name, *substance.gives)):
        form = solution.form(name)
        if form is not None:
            low, _, high = form.uncharged_percent
            what = "undissociated" if form.is_acid else "free base"
            told.append(f"{name} {form.total_percent:.3g} % in all, {what} {low:.2g} to {high:.2g} %")
    return told


def _rules(page: Page, formula: Formula, substance: Substance, book: Rulebook, on: str) -> list[str]:
    """The rules that apply to the substance in this product and its markets, with what holds on the day."""
    assert page.review is not None
    found = [rule for rule in book.rules.touching({substance.name}) if _is_about(rule, substance, page, formula)]
    said = _verdicts(page.review)
    lines = [f"  {_rule(rule, said[rule.address], formula, on)}" for rule in found if rule.address in said]
    return lines[:MOST_RULES] + ([f"  and {len(lines) - MOST_RULES} more"] if len(lines) > MOST_RULES else [])


def _verdicts(review: Review) -> dict[str, str]:
    """What the review says of each rule; nothing of those that do not apply."""
    said = dict.fromkeys(review.not_in_force, "not in force") | dict.fromkeys(review.meets, "meets")
    return said | {finding.address: finding.verdict for finding in review.findings}


def _is_about(rule: Rule, substance: Substance, page: Page, formula: Formula) -> bool:
    assert page.review is not None
    touches = rule.check.touches
    here = rule.markets is None or bool(rule.markets & with_wider(page.review.markets))
    return touches is not None and substance.name in touches and here and rule.fits(formula.product) is not False


def _rule(rule: Rule, verdict: str, formula: Formula, on: str) -> str:
    tier = next((tier for tier in rule.tiers if tier.fits(formula.product) is not False), None)
    value = tier.series.on(on, formula.on_market_since) if tier is not None else None
    told = "" if value is None else value_in_words(value, unit_of(rule))
    return f"{rule.address}: {verdict}{f'; {told}' if told else ''} ({rule.binding})"


def _more(number: int, shown_of_them: int) -> str:
    return f" and {number - shown_of_them} more" if number > shown_of_them else ""
