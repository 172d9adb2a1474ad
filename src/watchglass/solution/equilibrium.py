"""The pH at which charges balance.

One unknown, the pH, is found by Newton's method on ln(positive/negative charge), which is close to a line; the ionic
strength is brought along at every step. At fixed ionic strength the net charge falls strictly with pH, so there is one
root. Species are written as logarithms with the largest subtracted, so nothing overflows from pH -2 to 16.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from watchglass.errors import WatchglassError
from watchglass.solution.model import Model
from watchglass.solution.water import davies

LOWEST_PH, HIGHEST_PH = -2.0, 16.0
CLOSE_ENOUGH = 1e-10  # pH
CLOSE_IN_STRENGTH = 1e-8  # mol/kg; moves the pH by less than the former
MOST_STEPS = 200
MOST_CHARGE_ERROR = 1e-8
MOST_IONIC_STRENGTH = 20.0  # far beyond any use of the activity model; keeps the exponents finite
LN10 = math.log(10)


class NoConvergenceError(WatchglassError):
    """The solver stopped without an answer; it never hands back the last value."""


class Acid(NamedTuple):
    """An acid or the conjugate acid of a base, with all its forms.

    Attributes:
        name: Of the substance.
        molality_mol_per_kg: All forms together, per kg of water.
        charge: Of the form that holds every proton.
        pkas: Infinite dilution, at the temperature of the solution; the most acidic first.
    """

    name: str
    molality_mol_per_kg: float
    charge: int
    pkas: tuple[float, ...]


class WholeIons(NamedTuple):
    """Ions that take no part in acid and base: molality and charge of each."""

    molalities: tuple[tuple[float, int], ...]


class Equilibrium(NamedTuple):
    """A solution at equilibrium.

    Attributes:
        ph: -log10 of the activity of H+.
        ionic_strength: mol/kg.
        fractions: For each acid the share of each form, the most protonated first; each sums to 1.
        buffer_capacity: mol of strong base per kg and pH.
        charge_error: What is left of the charge balance, mol/kg.
    """

    ph: float
    ionic_strength: float
    fractions: tuple[tuple[float, ...], ...]
    buffer_capacity: float
    charge_error: float


def solve(acids: Sequence[Acid], ions: WholeIons, pkw: float, slope: float, model: Model) -> Equilibrium:
    """The equilibrium of a mixture.

    Args:
        acids: Every acid and base with its total.
        ions: The ions that stay whole.
        pkw: Of water at the temperature.
        slope: Debye-Hückel slope at the temperature.
        model: The constants.

    Raises:
        NoConvergenceError: No answer within the step limit.
    """
    ph, strength = 7.0, min(_ionic_strength_of(ions), MOST_IONIC_STRENGTH)
    ionised = pkw + minus_log_water_activity(acids, ions, model)
    before = 0.0
    for count in range(MOST_STEPS):
        state = _State(acids, ions, ionised, davies(strength, slope, model), ph)
        wanted = state.newton_step()
        step = max(-2.0, min(2.0, wanted))
        if step * before < 0 and abs(step) > abs(before) / 2:
            step = -before / 2  # swinging to and fro about the root: halve the swing
        before = step
        after = min(HIGHEST_PH, max(LOWEST_PH, ph + step))
        # Past the usual number of steps the two unknowns chase each other; half steps end that.
        after_strength = state.ionic_strength if count < 40 else (strength + state.ionic_strength) / 2
        after_strength = min(after_strength, MOST_IONIC_STRENGTH)
        shifted = abs(after_strength - strength)
        ph, strength = after, after_strength
        if abs(wanted) < CLOSE_ENOUGH and shifted < CLOSE_IN_STRENGTH:
            found = _State(acids, ions, ionised, davies(strength, slope, model), ph)
            if abs(found.net) > MOST_CHARGE_ERROR * max(1.0, found.positive):
                break
            return found.equilibrium()
    raise NoConvergenceError("the charge balance did not settle")


def activity_at_ph(acids: Sequence[Acid], ions: WholeIons, ph: float, pkw: float, slope: float, model: Model) -> float:
    """-log10 gamma of an ion of charge 1 at a pH that is known; the missing charge counts as a 1:1 ion."""
    strength = min(_ionic_strength_of(ions), MOST_IONIC_STRENGTH)
    ionised = pkw + minus_log_water_activity(acids, ions, model)
    for _ in range(MOST_STEPS):
        state = _State(acids, ions, ionised, davies(strength, slope, model), ph)
        after = min(state.ionic_strength + abs(state.net) / 2, MOST_IONIC_STRENGTH)
        moved, strength = abs(after - strength), after
        if moved < CLOSE_ENOUGH:
            break
    return davies(strength, slope, model)


def minus_log_water_activity(acids: Sequence[Acid], ions: WholeIons, model: Model) -> float:
    """-log10 of the activity of the water: what is dissolved takes its share, whatever it is."""
    solutes = sum(acid.molality_mol_per_kg for acid in acids) + sum(molality for molality, _ in ions.molalities)
    return model.water_activity_per_mol_per_kg * solutes / LN10


def _ionic_strength_of(ions: WholeIons) -> float:
    return sum(molality * charge * charge for molality, charge in ions.molalities) / 2


class _State:
    """All sums at one pH and one ionic strength."""

    __slots__ = (
        "_negative_slope",
        "_positive_slope",
        "fractions",
        "ionic_strength",
        "negative",
        "ph",
        "positive",
        "variance",
    )

    def __init__(self, acids: Sequence[Acid], ions: WholeIons, pkw: float, minus_log_gamma: float, ph: float) -> None:
        hydrogen: float = 10.0 ** (minus_log_gamma - ph)
        hydroxide: float = 10.0 ** (minus_log_gamma + ph - pkw)
        positive, negative = hydrogen, hydroxide
        positive_slope, negative_slope = -hydrogen, hydroxide
        double_strength: float = hydrogen + hydroxide
        variance = hydrogen + hydroxide
        for molality, charge in ions.molalities:
            if charge > 0:
                positive += molality * charge
            else:
                negative -= molality * charge
            double_strength += molality * charge * charge
        fractions = []
        for acid in acids:
            forms = shares(acid, minus_log_gamma, ph)
            fractions.append(forms)
            molality, top = acid.molality_mol_per_kg, acid.charge
            lost = 0.0
            for number in range(1, len(forms)):
                lost += number * forms[number]
            charge, off = top, -lost
            for share in forms:
                amount = molality * share
                variance += amount * off * off
                if charge > 0:
                    moved = amount * charge
                    positive += moved
                    positive_slope += moved * off
                    double_strength += moved * charge
                elif charge < 0:
                    moved = amount * charge
                    negative -= moved
                    negative_slope -= moved * off
                    double_strength += moved * charge
                charge -= 1
                off += 1.0
        self.ph = ph
        self.positive, self.negative = positive, negative
        self._positive_slope, self._negative_slope = positive_slope, negative_slope
        self.ionic_strength = double_strength / 2
        self.variance = variance
        self.fractions = tuple(fractions)

    @property
    def net(self) -> float:
        return self.positive - self.negative

    def newton_step(self) -> float:
        """On ln(positive/negative), which has the same root as the net charge and is close to a line."""
        slope = LN10 * (self._positive_slope / self.positive - self._negative_slope / self.negative)
        return -math.log(self.positive / self.negative) / slope

    def equilibrium(self) -> Equilibrium:
        return Equilibrium(self.ph, self.ionic_strength, self.fractions, LN10 * self.variance, self.net)


def shares(acid: Acid, minus_log_gamma: float, ph: float) -> tuple[float, ...]:
    """The share of each form of an acid at a pH, the most protonated first; they sum to 1."""
    top, pkas = acid.charge, acid.pkas
    if len(pkas) == 1:  # the usual case, without lists
        ratio = 10.0 ** (ph - pkas[0] + minus_log_gamma * (1 - 2 * top))
        kept = 1.0 / (1.0 + ratio)
        return kept, ratio * kept
    logs = [0.0]
    total = 0.0
    for number, pka in enumerate(pkas, start=1):
        total += ph - pka
        logs.append(total + minus_log_gamma * ((top - number) ** 2 - top * top))
    largest = max(logs)
    weights = [10.0 ** (value - largest) for value in logs]
    whole = sum(weights)
    return tuple(weight / whole for weight in weights)
