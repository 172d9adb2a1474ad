"""The aqueous part of a product: pH, the forms of each acid and base, ionic strength, what stays undissolved.

Pure functions: facts come as arguments, nothing here reads a file, a clock or YAML.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from watchglass.composition import Composition
from watchglass.interval import Interval
from watchglass.solution.equilibrium import Equilibrium, NoConvergenceError, activity_at_ph, shares
from watchglass.solution.mixture import Mixture, mix, uncertain
from watchglass.solution.model import Model
from watchglass.solution.trust import SOAP, Band, band, is_soap, refusal, undissolved_acid
from watchglass.solution.water import debye_huckel_slope, pkw
from watchglass.substances import Substances

PH_PLACES = 3


@dataclass(frozen=True, slots=True)
class Ph:
    """A pH with the interval in which it lies and where it comes from."""

    value: Decimal
    interval: Interval
    origin: Literal["measured", "predicted"]


@dataclass(frozen=True, slots=True)
class Forms:
    """One acid or base: how much of it is uncharged.

    Attributes:
        substance: INCI name of the acid or base.
        is_acid: Whether the uncharged form is the acid (else the free base or the inner salt).
        total_percent: All forms together, counted as that substance, % w/w of the product.
        uncharged_share: Lowest, middle and highest share that is uncharged, 0 to 1.
    """

    substance: str
    is_acid: bool
    total_percent: float
    uncharged_share: tuple[float, float, float]

    @property
    def uncharged_percent(self) -> tuple[float, float, float]:
        """Lowest, middle and highest % w/w of the product that is uncharged."""
        low, middle, high = self.uncharged_share
        return low * self.total_percent, middle * self.total_percent, high * self.total_percent


@dataclass(frozen=True, slots=True)
class Solution:
    """What is in the water.

    Attributes:
        mixture: The aqueous part in mol/kg.
        has_water: False for a balm, an oil, a dry powder: pH means nothing there.
        temperature_c: At which a predicted pH is meant.
        equilibrium: The solved mixture, None when it could not be solved.
        predicted: The predicted pH, None with `why_not`.
        why_not: Why no prediction is given.
        conditional_on: Materials that could move the predicted pH and are not modelled; it then decides nothing.
        band: The half-widths behind the prediction.
        ph: What the rules look at: the reading, else an unconditional prediction, else None.
        forms: The acids and bases at that pH; empty when there is none.
    """

    mixture: Mixture
    has_water: bool
    temperature_c: float
    equilibrium: Equilibrium | None
    predicted: Ph | None
    why_not: str | None
    conditional_on: tuple[str, ...]
    band: Band | None
    ph: Ph | None
    forms: tuple[Forms, ...]

    @property
    def ionic_strength(self) -> float | None:
        """mol/kg, None when the mixture could not be solved."""
        return None if self.equilibrium is None else self.equilibrium.ionic_strength

    def form(self, substance: str) -> Forms | None:
        """The forms of one acid or base."""
        return next((forms for forms in self.forms if forms.substance == substance), None)


def dissolve(
    composition: Composition,
    substances: Substances,
    model: Model,
    temperature_c: float = 25.0,
    reading: Interval | None = None,
) -> Solution:
    """The solution that a composition makes.

    Args:
        composition: The finished product, substances in % w/w.
        substances: The library.
        model: The constants.
        temperature_c: °C at which a predicted pH is meant.
        reading: The measured pH with its tolerance; it wins over the prediction.
    """
    mixture = mix(composition, substances, model, temperature_c)
    if mixture.water_g < model.no_water_below_percent:
        why = f"water is {mixture.water_g:.2g} %: there is no water to have a pH"
        return Solution(mixture, False, temperature_c, None, None, why, (), None, None, ())
    found, why_not = _solved(mixture, model)
    if found is None and is_soap(mixture, model, _caustic_percent(composition)):
        why_not = SOAP
    predicted: Ph | None = None
    width: Band | None = None
    conditional: tuple[str, ...] = ()
    if found is not None:
        why_not = (
            _unknown(composition)
            or refusal(mixture, found, model, _caustic_percent(composition))
            or undissolved_acid(mixture, found, model)
        )
        if why_not is None:
            width, conditional = _band(composition, substances, mixture, found, model)
            predicted = _predicted(found.ph, width.half_width)
    ph = _measured(reading) if reading is not None else None if conditional else predicted
    forms = _forms(mixture, ph, model) if ph is not None else ()
    return Solution(mixture, True, temperature_c, found, predicted, why_not, conditional, width, ph, forms)


def _solved(mixture: Mixture, model: Model) -> tuple[Equilibrium | None, str | None]:
    try:
        return mixture.solved(model), None
    except NoConvergenceError as error:
        return None, str(error)


def _unknown(composition: Composition) -> str | None:
    names = list(dict.fromkeys(unknown.name for unknown in composition.unknown))
    return f"what {', '.join(names[:3])} does to the pH is not known" if names else None


def _band(
    composition: Composition, substances: Substances, mixture: Mixture, found: Equilibrium, model: Model
) -> tuple[Band, tuple[str, ...]]:
    own = band(mixture, found, model)
    unmodelled = _unmodelled_shift(mixture, found, model)
    tolerances = _tolerance_shift(composition, substances, mixture, found, model)
    conditional: tuple[str, ...] = ()
    if unmodelled > model.unmodelled_most_shift_ph:
        conditional, unmodelled = tuple(mixture.unmodelled), 0.0
    width = Band(own.activity, own.constants, own.temperature, own.solvents, unmodelled, tolerances)
    return width, conditional


def _unmodelled_shift(mixture: Mixture, found: Equilibrium, model: Model) -> float:
    """The most that unmodelled materials could move the pH: all their weight as acid groups, or as base groups."""
    grams = sum(mixture.unmodelled.values())
    if not grams:
        return 0.0
    charge = grams / mixture.water_g * model.unmodelled_capacity_mol_per_kg
    shifts = []
    for signed in (charge, -charge):
        moved, _ = _solved(mixture.with_charge(signed), model)
        shifts.append(abs(moved.ph - found.ph) if moved else 14.0)
    return max(shifts)


def _tolerance_shift(
    composition: Composition, substances: Substances, mixture: Mixture, found: Equilibrium, model: Model
) -> float:
    """Worst case of the stated tolerances: the larger shift of each substance, added up."""
    total = 0.0
    for name, ends in uncertain(composition).items():
        if substances[name].is_water:
            continue
        shifts = []
        for end in (ends.low, ends.high):
            other = mix(composition, substances, model, mixture.temperature_c, {name: float(end)})
            moved, _ = _solved(other, model)
            shifts.append(abs(moved.ph - found.ph) if moved else 14.0)
        total += max(shifts)
    return total


def _predicted(ph: float, half_width: float) -> Ph:
    middle, width = Decimal(repr(ph)), Decimal(repr(half_width))
    interval = Interval(middle - width, middle + width).rounded(PH_PLACES)
    return Ph(Interval.exactly(middle).rounded(PH_PLACES).low, interval, "predicted")


def _measured(reading: Interval) -> Ph:
    return Ph((reading.low + reading.high) / 2, reading, "measured")


def _caustic_percent(composition: Composition) -> float:
    return sum(float(p.percent.high) for p in composition.portions if "caustics" in p.substance.groups)


def _forms(mixture: Mixture, ph: Ph, model: Model) -> tuple[Forms, ...]:
    kw, slope = pkw(mixture.temperature_c, model), debye_huckel_slope(mixture.temperature_c, model)
    middle = float(ph.value)
    activity = activity_at_ph(mixture.acids, mixture.ions, middle, kw, slope, model)
    forms = []
    for acid, parent in zip(mixture.acids, mixture.parents, strict=True):
        unsure = max(step.uncertainty for step in parent.steps)
        share, *ends = (
            _uncharged(parent.charge, shares(acid, activity, value))
            for value in (middle, float(ph.interval.low) - unsure, float(ph.interval.high) + unsure)
        )
        mass = float(parent.molar_mass) if parent.molar_mass is not None else 0.0
        percent = acid.molality_mol_per_kg * mixture.water_g / 1000 * mass
        low, high = min(share, *ends), max(share, *ends)
        forms.append(Forms(parent.name, parent.charge == 0, percent, (low, share, high)))
    return tuple(sorted(forms, key=lambda form: form.substance))


def _uncharged(charge: int, fractions: tuple[float, ...]) -> float:
    return fractions[charge] if 0 <= charge < len(fractions) else 0.0


__all__ = ["Band", "Forms", "Mixture", "Model", "Ph", "Solution", "dissolve"]
