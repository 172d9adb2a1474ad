"""A predicted pH with its whole band: the model's part, what is not modelled, what does not dissolve, tolerances."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from watchglass.composition import Composition
from watchglass.solution.equilibrium import NoConvergenceError
from watchglass.solution.liquid import Liquid
from watchglass.solution.mixture import USUAL, Lot, Mixture, is_moist, latent_of, mix, uncertain
from watchglass.solution.model import Model
from watchglass.solution.saturation import HIGH, LOW, MIDDLE, Saturated, saturate
from watchglass.solution.trust import NOWHERE, Band, Reach, band
from watchglass.substances import Substances

ANYWHERE = Reach(14.0, 14.0)  # a shift that could not be worked out may be anything


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
    if max(unmodelled) > model.unmodelled_most_shift_ph:
        conditional, unmodelled = tuple(mixture.unmodelled), NOWHERE
    whole = own._replace(
        unmodelled=unmodelled,
        undissolved=_undissolved_shift(mixture, found, liquid, model),
        materials=_materials_shift(composition, substances, mixture, ph, model),
    )
    return Prediction(ph, whole, conditional, _fresh(composition, substances, mixture, model))


def _unmodelled_shift(mixture: Mixture, found: Saturated, model: Model) -> Reach:
    """The most that unmodelled materials could move the pH: all their weight as acid groups, or as base groups."""
    grams = sum(mixture.unmodelled.values())
    if not grams:
        return NOWHERE
    charge = grams / mixture.water_g * model.unmodelled_capacity_mol_per_kg
    most = model.unmodelled_most_shift_ph
    # A buffer capacity changes by at most a factor of ten in a pH, so this much is beyond the most without solving it.
    if charge > most * 10**most * found.equilibrium.buffer_capacity:
        return ANYWHERE
    ph = found.equilibrium.ph
    return _furthest(_shift(mixture.with_charge(signed), ph, model) for signed in (charge, -charge))


def _undissolved_shift(mixture: Mixture, found: Saturated, liquid: Liquid, model: Model) -> Reach:
    """What the uncertainty of S0 does; where a solvent may take the acid up, how far the pH would fall then."""
    if not found.undissolved:
        return NOWHERE
    ph = found.equilibrium.ph
    shifts = [_shift(mixture, ph, model, bias) for bias in (LOW, HIGH)]
    if liquid.helped_by(model) is not None:
        shifts.append(_shift(mixture, ph, model, math.inf))
    return _furthest(shifts)


def _materials_shift(
    composition: Composition, substances: Substances, mixture: Mixture, ph: float, model: Model
) -> Reach:
    """Worst case of what the materials may hold: stated tolerances, poor or pure grades, acid that does not act.

    The pH rises or falls with each amount, so it is furthest off where all that raise it lean one way together, and
    where all that lower it do. Which way each leans is seen from moving it alone.
    """
    lowest = highest = USUAL
    for lot in _lots(composition, substances):
        own = _shift(mix(composition, substances, model, mixture.temperature_c, lot), ph, model)
        if own.up > own.down:
            highest = _together(highest, lot)
        elif own.down > 0:
            lowest = _together(lowest, lot)
    ends = [
        mix(composition, substances, model, mixture.temperature_c, lot) for lot in (lowest, highest) if lot != USUAL
    ]
    return _furthest(_shift(end, ph, model) for end in ends)


def _lots(composition: Composition, substances: Substances) -> Iterator[Lot]:
    """Each end of each thing that is open, alone."""
    for name, ends in uncertain(composition).items():
        if substances[name].acidity is None and not substances[name].is_water:  # others move no pH of themselves
            yield from (Lot({name: float(end)}) for end in (ends.low, ends.high))
    if is_moist(composition):
        yield from (Lot(purity=0.0), Lot(purity=1.0))
    for name, latent in latent_of(composition).items():
        yield Lot(latent={name: latent.settled})


def _together(one: Lot, other: Lot) -> Lot:
    """Both at once; `other` moves one thing."""
    purity = other.purity if other.purity != USUAL.purity else one.purity
    return Lot({**one.percents, **other.percents}, purity, {**one.latent, **other.latent})


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


def _furthest(shifts: Iterable[Reach]) -> Reach:
    found = NOWHERE
    for shift in shifts:
        found = found.further(shift)
    return found


def _shift(other: Mixture, ph: float, model: Model, bias: float = MIDDLE) -> Reach:
    """How far another mixture, or another solubility, moves the pH."""
    try:
        moved = saturate(other, model, bias).equilibrium.ph - ph
    except NoConvergenceError:
        return ANYWHERE
    return Reach(max(-moved, 0.0), max(moved, 0.0))
