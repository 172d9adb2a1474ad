"""How much of a stock brings a formula to a pH: the amount with its interval, what is left free, the heat, the curve.

The stock takes the place of water: the `qs` line gives way. The pH is the predicted one, so the amount is too; the
first portion is less than all of it, and the meter decides the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

from watchglass.composition import Composition, expand
from watchglass.errors import CannotRun
from watchglass.formula import QS, Formula, Line, Phase
from watchglass.nearest import did_you_mean, folded
from watchglass.rulebook import Rulebook
from watchglass.solution import Forms, Ph, Solution, dissolve
from watchglass.solution.crossing import crossing
from watchglass.solution.equilibrium import NoConvergenceError
from watchglass.solution.heat import Rise, of_neutralising
from watchglass.solution.mixture import mix
from watchglass.solution.saturation import saturate

CLOSE_PH = 1e-6
LANDS_WITHIN_PH = 0.002
SMALLEST_TRIAL = 0.05  # % of the stock; doubled until the target is passed
CURVE_POINTS = 41
FEWEST_PLACES, MOST_PLACES = 2, 8
PH_ADJUSTER = "pH adjuster"


class Point(NamedTuple):
    """So much of the stock, % w/w of the product, and the pH that it makes."""

    percent: float
    ph: float


class Neutralisation(NamedTuple):
    """What it takes to reach a pH.

    Attributes:
        material: The stock.
        target_ph: Where to.
        percent: Of the product, all of the stock together; rounded so that it still lands on the target.
        percent_between: The amounts that would reach it at the ends of the prediction's band.
        before_percent: What the formula has of it now.
        batch_grams: What the formula makes, where it says so.
        first_percent: What to add before the first reading: a usual share, and not past where the band begins.
        further_percent: What is still to be added after a reading, where one was given.
        ph_before: Predicted as the formula stands.
        solution: At the amount.
        free_acids: The acids that are partly free there, those that let go at a pH below neutral.
        rise: How much neutralising warms the whole product.
        curve: From none of it to past the target.
        formula: With the stock in it and without its reading; for what else is to be said of it.
    """

    material: str
    target_ph: Decimal
    percent: Decimal
    percent_between: tuple[Decimal, Decimal]
    before_percent: Decimal
    batch_grams: Decimal | None
    first_percent: Decimal
    further_percent: Decimal | None
    ph_before: float
    solution: Solution
    free_acids: tuple[Forms, ...]
    rise: Rise | None
    curve: tuple[Point, ...]
    formula: Formula


def neutralise(
    formula: Formula, book: Rulebook, target_ph: Decimal, stock: str | None = None, read_ph: Decimal | None = None
) -> Neutralisation:
    """Find how much of a stock brings a formula to a pH.

    Args:
        formula: As written; its reading is left aside.
        book: For the substances and the constants.
        target_ph: Where to.
        stock: A material of the formula or its shelf, or a substance; left out where the formula leaves no choice.
        read_ph: A reading after some of the stock; then it is also told how much is still to be added.

    Raises:
        CannotRun: With the reason, in one line: the sheet does not add up, there is no water to give way, the target
            cannot be reached, or the pH cannot be predicted there.
    """
    trial = _Trial(formula._replace(measured=None), book, stock, target_ph)
    amount = trial.amount_for(float(target_ph))
    percent = trial.landing_near(amount)
    solution = trial.solution(percent)
    predicted = solution.predicted
    if predicted is None:
        raise CannotRun(f"at {percent} % {trial.material}: {solution.why_not}; no amount is given")
    low, high = trial.between(predicted)
    first = min(percent * Decimal(str(book.model.first_portion)), low)
    further = None
    if read_ph is not None:
        further = max(_rounded(amount - trial.amount_for(float(read_ph)), FEWEST_PLACES), Decimal(0))
    return Neutralisation(
        material=trial.material,
        target_ph=target_ph,
        percent=percent,
        percent_between=(low, high),
        before_percent=trial.before,
        batch_grams=trial.whole_grams,
        first_percent=_rounded(float(first), FEWEST_PLACES),
        further_percent=further,
        ph_before=trial.ph(float(trial.before)),
        solution=solution,
        free_acids=tuple(
            form for form in solution.forms if form.is_acid and form.first_pka < book.model.free_acid_first_pka_below
        ),
        rise=trial.rise(percent),
        curve=tuple(trial.curve(amount)),
        formula=trial.formula_with(percent),
    )


class _Trial:
    """One formula with one stock, of which any amount can be tried."""

    def __init__(self, formula: Formula, book: Rulebook, stock: str | None, target_ph: Decimal) -> None:
        self._formula, self._book = formula, book
        asked = formula.ph_temperature
        self._temperature_c = book.model.reference_temperature_c if asked is None else float(asked)
        self._now = expand(formula, book.substances)
        _refuse_to_guess(self._now)
        self._water = self._giving_way()
        self._target = float(target_ph)
        self.material = self._chosen(stock)
        self.before = self._stands_at(self._line())

    # -- the stock -----------------------------------------------------------------------------------------------

    def _chosen(self, stock: str | None) -> str:
        """The stock that was named, or the only one that could be meant."""
        known = list(dict.fromkeys([line.material for line in self._formula.lines] + list(self._formula.materials)))
        if stock is not None:
            own = next((name for name in known if folded(name) == folded(stock)), None)
            substance = self._book.substances.find(stock)
            if own is None and substance is None:
                raise CannotRun(f'no material "{stock}"{did_you_mean(stock, known)}')
            return own or (substance.name if substance else stock)
        in_use = [name for name in dict.fromkeys(line.material for line in self._formula.lines) if self._helps(name)]
        found = in_use or [name for name in self._formula.materials if self._helps(name)]
        if len(found) != 1:
            which = f"several would do: {', '.join(found)}" if found else "the formula and its shelf hold none"
            raise CannotRun(f"say which stock to use with --with; {which}")
        return found[0]

    def _helps(self, name: str) -> bool:
        """Whether a material is there to set the pH, and moves it the right way."""
        material = next((m for own, m in self._formula.materials.items() if folded(own) == folded(name)), None)
        parts = [self._book.substances.find(part) for part in (material.parts if material is not None else [name])]
        active = [part for part in parts if part is not None and not part.is_water]
        if not active or any(part.usual_function != PH_ADJUSTER for part in active):
            return False
        self.material = name
        before = float(self._stands_at(self._line()))
        here = self.ph(before)
        return (self.ph(before + SMALLEST_TRIAL) - here) * (self._target - here) > 0

    def _line(self) -> Line | None:
        lines = [line for line in self._formula.lines if folded(line.material) == folded(self.material)]
        return next((line for line in reversed(lines) if line.percent != QS), None)

    def _stands_at(self, line: Line | None) -> Decimal:
        """What the formula has of a line now, also where it says grams."""
        if line is None:
            return Decimal(0)
        if isinstance(line.percent, Decimal):
            return line.percent
        return sum((portion.percent.middle for portion in self._now.portions if portion.line == line), Decimal(0))

    def _giving_way(self) -> Line:
        """The line that makes room: the qs line, else the largest line of water."""
        water = {
            line: percent for line in self._formula.lines if (percent := self._stands_at(line)) and self._is_water(line)
        }
        rest = next((line for line in self._formula.lines if line.percent == QS), None)
        if rest is not None and rest not in water:
            raise CannotRun(f'the qs line is "{rest.material}", and it is water that has to make room for the stock')
        if not water:
            raise CannotRun("no line is water, which has to make room for the stock")
        return rest if rest is not None else max(water, key=lambda line: water[line])

    def _is_water(self, line: Line) -> bool:
        return all(portion.substance.is_water for portion in self._now.portions if portion.line == line)

    # -- what an amount makes ------------------------------------------------------------------------------------

    def formula_with(self, percent: float | Decimal) -> Formula:
        """The formula with so much of the stock, and so much less water."""
        amount, line = Decimal(str(percent)), self._line()
        changed = {} if line is None else {line: self._amounted(line, amount)}
        if self._water.percent != QS:
            left = self._stands_at(self._water) + self._stands_at(line) - amount
            changed[self._water] = self._amounted(self._water, left)
        phases = [
            phase._replace(lines=tuple(changed.get(own, own) for own in phase.lines)) for phase in self._formula.phases
        ]
        if line is None:
            new = self._amounted(_new_line(phases[-1], self.material, self._water), amount)
            phases[-1] = phases[-1]._replace(lines=(*phases[-1].lines, new))
        return self._formula._replace(phases=tuple(phases))

    def _amounted(self, line: Line, percent: Decimal) -> Line:
        """A line with another amount, in the unit that it is written in."""
        whole = self.whole_grams
        if line.grams is None or whole is None:
            return line._replace(percent=percent)
        return line._replace(grams=percent * whole / 100)

    @property
    def whole_grams(self) -> Decimal | None:
        """What the formula makes: its batch, or the sum where every line is weighed."""
        in_grams = [line.grams for line in self._formula.lines if line.grams is not None]
        return sum(in_grams, Decimal(0)) if len(in_grams) == len(self._formula.lines) else self._formula.batch_grams

    def ph(self, percent: float) -> float:
        """Predicted; not a number where the solver gives none."""
        book = self._book
        made = expand(self.formula_with(max(percent, 0.0)), book.substances)
        try:
            return saturate(mix(made, book.substances, book.model, self._temperature_c), book.model).equilibrium.ph
        except NoConvergenceError:
            return float("nan")

    def solution(self, percent: Decimal) -> Solution:
        """All that is in the water."""
        made = expand(self.formula_with(percent), self._book.substances)
        return dissolve(made, self._book.substances, self._book.model, self._temperature_c)

    def rise(self, percent: Decimal) -> Rise | None:
        """How much neutralising in the whole product warms it."""
        made = expand(self.formula_with(percent), self._book.substances)
        parts = [(portion.substance, float(portion.percent.high)) for portion in made.portions]
        return of_neutralising(parts, 100, self._book.model)

    # -- amounts -------------------------------------------------------------------------------------------------

    @property
    def _most(self) -> float:
        return float(self.before + self._stands_at(self._water))

    def amount_for(self, target_ph: float) -> float:
        """The amount that makes a pH.

        Raises:
            CannotRun: No amount does.
        """
        found = self._amount_or_none(target_ph)
        if found is not None:
            return found
        none = self.ph(0)
        leads = (self.ph(min(SMALLEST_TRIAL, self._most)) - none) * (target_ph - none) > 0
        why = f"even {self._most:.3g} % of it, all that the water has room for, does not" if leads else "it leads away"
        raise CannotRun(
            f"pH {target_ph:g} cannot be reached with {self.material}: without it the pH is {none:.2f}; {why}"
        )

    def _amount_or_none(self, target_ph: float) -> float | None:
        low, high = 0.0, min(SMALLEST_TRIAL, self._most)
        while True:
            found = crossing(lambda percent: self.ph(percent) - target_ph, low, high, CLOSE_PH)
            if found is not None or high >= self._most:
                return found
            low, high = high, min(2 * high, self._most)

    def between(self, predicted: Ph) -> tuple[Decimal, Decimal]:
        """The amounts at the ends of a band; none or all where an end cannot be reached."""
        ends = []
        at_none = self.ph(0)
        for ph in (float(predicted.interval.low), float(predicted.interval.high)):
            found = self._amount_or_none(ph)
            beyond = 0.0 if abs(at_none - ph) < abs(float(predicted.value) - ph) else self._most
            ends.append(_rounded(beyond if found is None else found, FEWEST_PLACES))
        return min(ends), max(ends)

    def landing_near(self, amount: float) -> Decimal:
        """The amount with as few digits as still land on the target."""
        for places in range(FEWEST_PLACES, MOST_PLACES):
            percent = _rounded(amount, places)
            if abs(self.ph(float(percent)) - self._target) <= LANDS_WITHIN_PH:
                return percent
        return _rounded(amount, MOST_PLACES)

    def curve(self, amount: float) -> Iterator[Point]:
        """From none of the stock to half as much again as is needed."""
        last = min(1.5 * max(amount, SMALLEST_TRIAL), self._most)
        for number in range(CURVE_POINTS):
            percent = last * number / (CURVE_POINTS - 1)
            yield Point(percent, self.ph(percent))


def _refuse_to_guess(composition: Composition) -> None:
    if composition.complaints:
        first = composition.complaints[0]
        raise CannotRun(f"line {first.place.line}: {first.message}; mend the sheet first, see 'watchglass review'")


def _new_line(phase: Phase, material: str, water: Line) -> Line:
    """A line for the stock, in grams where the water is."""
    where = f"phases.{phase.name}.lines[{len(phase.lines)}]"
    return water._replace(
        material=material, percent=None, function=PH_ADJUSTER, note=None, phase=phase.name, where=where
    )


def _rounded(value: float, places: int) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
