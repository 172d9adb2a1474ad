"""A predicted pH with its whole band: the model's part, what is not modelled, what does not dissolve, tolerances."""

from __future__ import annotations

import math
from typing import NamedTuple

from watchglass.composition import Composition
from watchglass.solution.equilibrium import NoConvergenceError
from watchglass.solution.liquid import Liquid
from watchglass.solution.mixture import Lot, Mixture, is_moist, latent_of, mix, uncertain
from watchglass.solution.model import Model
from watchglass.solution.saturation import HIGH, LOW, MIDDLE, Saturated, saturate
from watchglass.solution.trust import Band, band
from watchglass.substances import Substances

WHOLE_SCALE = 14.0  # a shift that could not be worked out may be anything


class Fresh(NamedTuple):
    """The pH just after making, while something still opens in the water.

    Attributes:
        ph: While nothing of it has opened, or not more than base opens at once.
        opening: The substances that open.
        hours: After which the pH is settled.
    """

    ph: float
    opening: tuple[str, ...]
    hours: float


class Prediction(NamedTuple):
    """A pH, its band, the materials that could move it further and are not modelled, and how it begins."""

    ph: float
    band: Band
    conditional_on: tuple[str, ...]
    fresh: Fresh | None = None


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
        lots=_lot_shift(composition, substances, mixture, ph, model),
        tolerances=_tolerance_shift(composition, substances, mixture, ph, model),
    )
    return Prediction(ph, whole, conditional, _fresh(composition, substances, mixture, model))


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


def _lot_shift(composition: Composition, substances: Substances, mixture: Mixture, ph: float, model: Model) -> float:
    """What the lots at hand may do: poor or pure grades, and acid that stays in a form that does not act."""
    lots = [Lot(purity=0.0), Lot(purity=1.0)] if is_moist(composition) else []
    settled = {name: latent.settled for name, latent in latent_of(composition).items()}
    total = max(
        (_shift(mix(composition, substances, model, mixture.temperature_c, lot), ph, model) for lot in lots),
        default=0.0,
    )
    if settled:
        total += _shift(mix(composition, substances, model, mixture.temperature_c, Lot(latent=settled)), ph, model)
    return total


def _fresh(composition: Composition, substances: Substances, mixture: Mixture, model: Model) -> Fresh | None:
    """How the pH begins, where something opens that matters."""
    opening = {name: latent for name, latent in latent_of(composition).items() if latent.fresh > latent.settled}
    if not opening:
        return None
    lot = Lot(latent={name: latent.fresh for name, latent in opening.items()})
    try:
        began = saturate(mix(composition, substances, model, mixture.temperature_c, lot), model)
    except NoConvergenceError:
        return None
    most = min(latent.quick_above_ph for latent in opening.values())
    return Fresh(min(began.equilibrium.ph, most), tuple(opening), max(latent.hours for latent in opening.values()))


def _tolerance_shift(
    composition: Composition, substances: Substances, mixture: Mixture, ph: float, model: Model
) -> float:
    """Worst case of the stated tolerances and of the weighing: the larger shift of each substance, added up."""
    total = 0.0
    for name, ends in uncertain(composition).items():
        if substances[name].acidity in ("none", "unmodelled") or substances[name].is_water:
            continue  # of itself it moves no pH
        others = [
            mix(composition, substances, model, mixture.temperature_c, Lot({name: float(end)}))
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
