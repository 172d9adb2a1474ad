"""Which amounts of a formula may change, in which steps, and what takes the difference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import NamedTuple

from watchglass.formula import QS, Formula, Line
from watchglass.interval import EXACT
from watchglass.substances import Substances

HUNDRED = Decimal(100)
USUAL_STEP = Decimal("0.01")  # of a hundred: what most recipes are written to
FINER = Decimal("0.1")
REFINEMENTS = 3


class Option(NamedTuple):
    """One line whose amount may change.

    Attributes:
        line: Which.
        amount: Now, in its own unit.
        unit: % or g.
        percent: What one of its unit is in % of the product.
        most: How much it may be: what balances it has no more to give.
        rest: The line that takes the difference.
        rest_amount: How much that is now, in the unit of `line`; a qs line does not say it.
        steps: The figures that it may be changed to are multiples of these, tried in this order.
    """

    line: Line
    amount: Decimal
    unit: str
    percent: Decimal
    most: Decimal
    rest: Line
    rest_amount: Decimal
    steps: tuple[Decimal, ...]

    def amounts(self, after: Decimal) -> dict[str, Decimal]:
        """What to write for which line, so that this one has an amount and the total stays as it is."""
        written = {self.line.where: after}
        if self.rest.percent != QS:
            written[self.rest.where] = self.rest_after(after)
        return written

    def rest_after(self, after: Decimal) -> Decimal:
        """What is left of the line that takes the difference."""
        return EXACT.subtract(self.rest_amount, EXACT.subtract(after, self.amount))

    def size(self, after: Decimal) -> Decimal:
        """How large the change is, in % of the product."""
        return EXACT.multiply(abs(after - self.amount), self.percent)


class Grid(NamedTuple):
    """The figures on one side of an amount that can be written and weighed: the nearest is number 1."""

    start: Decimal
    step: Decimal
    end: Decimal
    points: int

    def at(self, number: int) -> Decimal:
        """The figure of a number; the last is the end itself."""
        return self.end if number >= self.points else EXACT.add(self.start, self.step * (number - 1))

    def number(self, figure: Decimal) -> int:
        """The number of a figure that is one of them, or of the first."""
        return max(int(EXACT.divide(figure - self.start, self.step)) + 1, 1)


def grid(option: Option, up: bool, step: Decimal) -> Grid | None:
    """All figures above or below the amount; None where there is no room."""
    end = option.most if up else Decimal(0)
    number = EXACT.divide(option.amount, step).to_integral_value(ROUND_FLOOR if up else ROUND_CEILING)
    start = EXACT.multiply(number + (1 if up else -1), step)
    if up:
        end = EXACT.multiply(EXACT.divide(end, step).to_integral_value(ROUND_FLOOR), step)
    if (start > end) if up else (start < end):
        return None if option.amount == end or up else Grid(end, step, end, 1)
    count = int(EXACT.divide(abs(end - start), step).to_integral_value(ROUND_FLOOR)) + 1
    return Grid(start, step if up else -step, end, count)


def options(formula: Formula, substances: Substances) -> dict[str, Option]:
    """Every line that may change, by its path; empty where nothing can take the difference."""
    whole = _whole_grams(formula)
    rest = next((line for line in formula.lines if line.percent == QS), None)
    found = {}
    for line in formula.lines:
        amount = amount_of(line)
        unit = "g" if line.grams is not None else "%"
        if amount is None or (unit == "g" and not whole):
            continue
        percent = EXACT.divide(HUNDRED, whole) if unit == "g" and whole else Decimal(1)
        taker = rest or _largest_water(formula, substances, unit)
        if taker is None or taker is line:
            continue
        left = _left(formula, whole, unit) if rest is not None else amount_of(taker) or Decimal(0)
        if left < 0:
            continue
        steps = tuple(_steps(formula, line, amount, whole))
        found[line.where] = Option(line, amount, unit, percent, amount + left, taker, left, steps)
    return found


def altered(formula: Formula, amounts: Mapping[str, Decimal]) -> Formula:
    """The formula with other amounts. A reading belongs to the jar that it was taken from, so it is left out."""
    phases = tuple(
        phase._replace(lines=tuple(_with(line, amounts.get(line.where)) for line in phase.lines))
        for phase in formula.phases
    )
    return formula._replace(phases=phases, measured=None)


def _with(line: Line, amount: Decimal | None) -> Line:
    if amount is None:
        return line
    return line._replace(grams=amount) if line.grams is not None else line._replace(percent=amount)


def amount_of(line: Line) -> Decimal | None:
    """What the author wrote, in % or in g; None for qs."""
    if line.grams is not None:
        return line.grams
    return line.percent if isinstance(line.percent, Decimal) else None


def _largest_water(formula: Formula, substances: Substances, unit: str) -> Line | None:
    """The largest line of plain water that is written in this unit; the first of equals."""
    waters = [
        line
        for line in formula.lines
        if (line.grams is not None) == (unit == "g") and is_water(line, formula, substances)
    ]
    return max(waters, key=lambda line: amount_of(line) or Decimal(0), default=None)


def in_unit_of(line: Line, percent: Decimal, formula: Formula) -> Decimal:
    """A share of the product in the unit of a line."""
    if line.grams is None:
        return percent
    return EXACT.divide(EXACT.multiply(percent, _whole_grams(formula) or Decimal(0)), HUNDRED)


def is_water(line: Line, formula: Formula, substances: Substances) -> bool:
    """Whether a line is plain water."""
    substance = None if line.material in formula.materials else substances.find(line.material)
    return substance is not None and substance.is_water


def stated_percent(formula: Formula) -> Decimal:
    """What all lines but the qs line make together, in % of the product."""
    whole = _whole_grams(formula)
    total = Decimal(0)
    for line in formula.lines:
        if isinstance(line.percent, Decimal):
            total = EXACT.add(total, line.percent)
        elif line.grams is not None and whole:
            total = EXACT.add(total, EXACT.divide(EXACT.multiply(line.grams, HUNDRED), whole))
    return total


def _left(formula: Formula, whole: Decimal | None, unit: str) -> Decimal:
    """What the qs line has, in a unit."""
    percent = EXACT.subtract(HUNDRED, stated_percent(formula))
    return EXACT.divide(EXACT.multiply(percent, whole), HUNDRED) if unit == "g" and whole else percent


def _whole_grams(formula: Formula) -> Decimal | None:
    weighed = [line.grams for line in formula.lines if line.grams is not None]
    return sum(weighed, Decimal(0)) if weighed and len(weighed) == len(formula.lines) else formula.batch_grams


def _steps(formula: Formula, line: Line, amount: Decimal, whole: Decimal | None) -> Iterator[Decimal]:
    """First as fine as the author wrote it or as recipes usually are, then finer; no finer than the balance shows."""
    least = Decimal(0)
    if formula.balance_grams is not None and whole:
        in_percent = EXACT.divide(EXACT.multiply(formula.balance_grams, HUNDRED), whole)
        least = formula.balance_grams if line.grams is not None else _round_figure(in_percent)
    usual = USUAL_STEP
    if line.grams is not None and whole:
        usual = Decimal(1).scaleb(EXACT.multiply(whole, USUAL_STEP / HUNDRED).adjusted())
    step = min(usual, Decimal(1).scaleb(int(amount.normalize().as_tuple().exponent)))
    if least >= step:
        yield least
        return
    for _ in range(REFINEMENTS):
        if step >= least:
            yield step
        step *= FINER


def _round_figure(value: Decimal) -> Decimal:
    """The next of 1, 2, 5, 10, 20 ... that is not less.

    >>> _round_figure(Decimal("0.033"))
    Decimal('0.05')
    """
    power = Decimal(1).scaleb(value.adjusted())
    return next(power * lead for lead in (1, 2, 5, 10) if power * lead >= value)
