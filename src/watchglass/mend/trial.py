"""A changed formula judged again: as it will be reviewed, and as the reading of the old jar lets expect."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Literal

from watchglass.composition import Composition, expand
from watchglass.findings import Finding, Mend
from watchglass.formula import QS, Formula
from watchglass.interval import Interval, Limit
from watchglass.judge import FIGURE, case_of, judged, reading_of
from watchglass.mend.amounts import altered
from watchglass.requirements import Case
from watchglass.requirements.ph import measure
from watchglass.rulebook import Rulebook
from watchglass.solution import NOT_DISSOLVED, Ph

# short: it still breaks on the side on which it broke; past: beyond the window, or nobody can tell.
Standing = Literal["short", "there", "past"]

DRY = ("percent",)  # what needs no pH to be judged


class Bench:
    """One formula with its breaks, and what becomes of them when amounts change.

    A reading belongs to the jar that it was taken from. What it told of the model's error still holds for a changed
    jar: a change counts as proved where the prediction says so, and also the reading moved by as much as the
    prediction moves.
    """

    def __init__(
        self, formula: Formula, book: Rulebook, on: str, markets: tuple[str, ...], reading: Interval | None = None
    ) -> None:
        """The bench of a formula.

        Args:
            formula: Which.
            book: The rules.
            on: The date.
            markets: Whose rules.
            reading: How far the reading of the first jar lies from its prediction, where the formula has been
                changed since.
        """
        self.formula, self.book, self.on, self.markets = formula, book, on, markets
        self._alone: dict[str, Rulebook] = {}
        self._cases: dict[object, list[Case]] = {}
        self.case = case = case_of(formula, book)
        self.before = breaks(judged(case, book, on, markets))
        self.had_reading = formula.measured is not None
        self.is_quick = not case.solution.dissolved  # what stays undissolved takes a hundred times as long to work out
        self.offset = reading
        if reading is None and formula.measured is not None and case.solution.predicted is not None:
            own, predicted = reading_of(formula.measured, book.model), case.solution.predicted.value
            self.offset = Interval(own.low - predicted, own.high - predicted)

    def changed(self, mend: Mend) -> Bench:
        """The bench of the formula that a mend makes."""
        first = mend.changes[0]
        if first.where == "batch":
            changed = self.formula._replace(batch_grams=first.after)
        else:
            changed = altered(self.formula, written(mend, self.formula))
        return Bench(changed, self.book, self.on, self.markets, self.offset)

    def composition(self, formula: Formula) -> Composition:
        """What is in a changed formula."""
        return expand(formula, self.book.substances)

    def why_no_prediction(self, amounts: Mapping[str, Decimal]) -> str | None:
        """Why the pH of a changed formula is not known, if it is not."""
        solution = self.cases(amounts)[0].solution
        if solution.ph is not None:
            return None
        return measure(self.cases(amounts)[0])[0]

    def cases(self, amounts: Mapping[str, Decimal], dry: bool = False) -> list[Case]:
        """The changed formula with what may be in its water; `dry` where no one asks for that. Worked out once."""
        key = (dry, *sorted(amounts.items()))
        if key not in self._cases:
            self._cases[key] = self._worked_out(amounts, dry)
        return self._cases[key]

    def _worked_out(self, amounts: Mapping[str, Decimal], dry: bool) -> list[Case]:
        changed = altered(self.formula, amounts)
        if dry:
            book = self.book
            composition = expand(changed, book.substances)
            return [Case(changed, composition, NOT_DISSOLVED, book.substances, book.model, book.statements, book.facts)]
        case = case_of(changed, self.book)
        predicted = case.solution.predicted
        if self.offset is None or predicted is None:
            return [case]
        moved = Interval(predicted.value + self.offset.low, predicted.value + self.offset.high)
        expected = case.solution._replace(ph=Ph(moved.middle, moved, "measured"))
        return [case, case._replace(solution=expected)]

    def own(self, target: Finding, cases: Iterable[Case]) -> list[list[Finding]]:
        """What the rule of a finding says of the same substances, for each case."""
        alone = self._book_of(target)
        return [
            [finding for finding in judged(case, alone, self.on, self.markets) if is_same(finding, target)]
            for case in cases
        ]

    def _book_of(self, target: Finding) -> Rulebook:
        """The rulebook with the rule of a finding alone."""
        if target.address not in self._alone:
            rule = next(iter(self.book.find(target.address) or self.book.find(target.rule)))
            self._alone[target.address] = self.book._replace(rules=self.book.rules.alone(rule))
        return self._alone[target.address]

    def standing(self, target: Finding, amounts: Mapping[str, Decimal]) -> tuple[Standing, Finding | None]:
        """Where a change leaves a broken rule, and the finding that says so."""
        worst: tuple[Standing, Finding | None] = ("there", None)
        cases = self.cases(amounts, target.requirement in DRY)
        if target.requirement not in DRY and self._is_another(target, cases[0]):
            return "past", None
        for findings in self.own(target, cases):
            stands = _standing(findings, target)
            if stands[0] == "short":
                return stands
            worst = stands if stands[0] == "past" else worst
        return worst

    def _is_another(self, target: Finding, case: Case) -> bool:
        """Whether a change makes another product, of which the rule no longer speaks: without water, or without it."""
        if self.case.solution.has_water and not case.solution.has_water:
            return True
        there = {portion.substance.name for portion in case.composition.portions if portion.percent.high > 0}
        return target.unit == "pH" and bool(target.substances) and not there & set(target.substances)

    def is_at_the_edge(self, amounts: Mapping[str, Decimal]) -> bool:
        """Whether a change leaves so little buffer that a slip of a stock would move the pH by units."""
        predicted = self.cases(amounts)[0].solution.predicted
        if predicted is None:
            return False
        return float(predicted.interval.high - predicted.interval.low) > self.book.model.widest_mended_ph

    def new_breaks(self, amounts: Mapping[str, Decimal]) -> list[Finding]:
        """What a change breaks that was not broken."""
        found: list[Finding] = []
        for case in self.cases(amounts):
            after = breaks(judged(case, self.book, self.on, self.markets))
            found += [finding for finding in after if not any(is_same(finding, old) for old in (*self.before, *found))]
        return found


def written(mend: Mend, formula: Formula) -> dict[str, Decimal]:
    """What a mend writes for which line: a qs line takes the difference by itself."""
    rests = {line.where for line in formula.lines if line.percent == QS}
    balance = () if mend.balance is None or mend.balance.where in rests else (mend.balance,)
    return {change.where: change.after for change in (*mend.changes, *balance)}


def breaks(findings: Iterable[Finding]) -> list[Finding]:
    """The breaks among some findings."""
    return [finding for finding in findings if finding.verdict == "breaks"]


def is_same(one: Finding, other: Finding) -> bool:
    """Whether two findings are of one rule and market and about the same thing."""
    if (one.address, one.market) != (other.address, other.market):
        return False
    about = set(one.substances) & set(other.substances)
    return bool(about) or not one.substances or not other.substances or one.requirement == "preserved"


def _standing(findings: list[Finding], target: Finding) -> tuple[Standing, Finding | None]:
    open_ones = [finding for finding in findings if not _is_met(finding)]
    if not open_ones:
        return "there", None
    found = open_ones[0]
    if found.verdict in ("breaks", "deviation") and found.unit == target.unit and found.limit is None:
        return "short", found
    if found.value is None or found.limit is None or target.value is None or target.limit is None:
        return ("short" if target.limit is None else "past"), found
    if found.unit != target.unit:
        return "past", found
    if target.requirement == "dissolved":
        return "short", found
    side = _violated(target.value, target.limit)
    return ("short" if _violated(found.value, found.limit) & side else "past"), found


def _is_met(finding: Finding) -> bool:
    """What only a figure from memory leaves open is met as far as a formula can; what is coming is met today."""
    return finding.verdict == "coming" or (finding.verdict == "undecided" and finding.needs == (FIGURE,))


def _violated(value: Interval, limit: Limit) -> set[str]:
    """The sides of a window on which some of an interval lies outside."""
    sides = set()
    if not Limit(min=limit.min, above=limit.above).holds(value.low):
        sides.add("low")
    if not Limit(max=limit.max, below=limit.below).holds(value.high):
        sides.add("high")
    return sides
