"""A predicted pH with its whole band: the model's part, what is not modelled, what does not dissolve, tolerances."""

from __future__ import annotations

import math
from typing import NamedTuple

from watchglass.composition import Composition
from watchglass.solution.equilibrium import NoConvergenceError
from watchglass.solution.liquid import Liquid
from watchglass.solution.mixture import Mixture, mix, uncertain
from watchglass.solution.model import Model
from watchglass.solution.saturation import HIGH, LOW, MIDDLE, Saturated, saturate
from watchglass.solution.trust import Band, band
from watchglass.substances import Substances

WHOLE_SCALE = 14.0  # a shift that could not be worked out may be anything


class Prediction(NamedTuple):
    """A pH, its band, and the materials that could move it further and are not modelled."""

    ph: float
    band: Band
    conditional_on: tuple[str, ...]


def predict(
    composition: Composition, substances: Substances, mixture: Mixture, found: Saturated, liquid: Liquid, model: Model
) -> Prediction:
    """The prediction that a solved mixture makes.

    Args:
        composition: The finished product, for its stated tolerances.
        substances: The library.
        mixture: All of it, dissolved or not.
        found: What of it is dissolved, at equilibrium.
        liquid: What could dissolve more than water does.
        model: The constants.
    """
    own = band(found.mixture, found.equilibrium, model)
    ph = found.equilibrium.ph
    unmodelled = _unmodelled_shift(mixture, found, model)
    conditional: tuple[str, ...] = ()
    if unmodelled > model.unmodelled_most_shift_ph:
        conditional, unmodelled = tuple(mixture.unmodelled), 0.0
    whole = own._replace(
        unmodelled=unmodelled,
        undissolved=_undissolved_shift(mixture, found, liquid, model),
        tolerances=_tolerance_shift(composition, substances, mixture, ph, model),
    )
    return Prediction(ph, whole, conditional)


def _unmodelled_shift(mixture: Mixture, found: Saturated, model: Model) -> float:
    """The most that unmodelled materials could move the pH: all their weight as acid groups, or as base groups."""
    grams = sum(mixture.unmodelled.values())
    if not grams:
        return 0.0
    charge = grams / mixture.water_g * model.unmodelled_capacity_mol_per_kg
    most = model.unmodelled_most_shift_ph
    # A buffer capacity changes by at most a factor of ten in a pH, so this much is beyond the most without solving it.
    if charge > most * 10**most * found.equilibrium.buffer_capacity:
        return WHOLE_SCALE
    ph = found.equilibrium.ph
    return max(_shift(mixture.with_charge(signed), ph, model) for signed in (charge, -charge))


def _undissolved_shift(mixture: Mixture, found: Saturated, liquid: Liquid, model: Model) -> float:
    """What the uncertainty of S0 does; where a solvent may take the acid up, how far the pH would fall then."""
    if not found.undissolved:
        return 0.0
    ph = found.equilibrium.ph
    shifts = [_shift(mixture, ph, model, bias) for bias in (LOW, HIGH)]
    if liquid.helped_by(model) is not None:
        shifts.append(_shift(mixture, ph, model, math.inf))
    return max(shifts)


def _tolerance_shift(
    composition: Composition, substances: Substances, mixture: Mixture, ph: float, model: Model
) -> float:
    """Worst case of the stated tolerances: the larger shift of each substance, added up."""
    total = 0.0
    for name, ends in uncertain(composition).items():
        if substances[name].is_water:
            continue
        others = [
            mix(composition, substances, model, mixture.temperature_c, {name: float(end)})
            for end in (ends.low, ends.high)
        ]
        total += max(_shift(other, ph, model) for other in others)
    return total


def _shift(other: Mixture, ph: float, model: Model, bias: float = MIDDLE) -> float:
    """How far another mixture, or another solubility, moves the pH."""
    try:
        return abs(saturate(other, model, bias).equilibrium.ph - ph)
    except NoConvergenceError:
        return WHOLE_SCALE
