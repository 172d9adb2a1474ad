"""The aqueous part of a composition in mol per kg of the water that is really there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from watchglass.composition import Composition, Portion
from watchglass.interval import Interval
from watchglass.solution.equilibrium import Acid, Equilibrium, WholeIons, solve
from watchglass.solution.model import Model
from watchglass.solution.water import debye_huckel_slope, pka_at, pkw
from watchglass.substances import WATER, Latent, Step, Substance, Substances, ion_charge


class Lot(NamedTuple):
    """What the materials at hand are taken to be, where the sheet leaves it open.

    Attributes:
        percents: Substance name to another percent than the middle of its interval.
        purity: Where in its range what is sold under a substance's name lies, from 0, the poorest, to 1.
        latent: Substance name to the share of it that is in a form that does not act as its acid.
    """

    percents: Mapping[str, float] = {}
    purity: float = 0.5
    latent: Mapping[str, float] = {}


USUAL = Lot()


class Mixture(NamedTuple):
    """What is dissolved, per 100 g of product and per kg of water.

    Attributes:
        water_g: Grams of water in 100 g: trade water, hydrates, water that hydroxides make.
        liquid_water_g: Grams of it that are poured as water; a dry salt's crystal water is not.
        acids: Every acid and base, all its forms together.
        parents: The substances that `acids` are, in the same order.
        ions: The ions that stay whole.
        media_g: Grams in 100 g of each liquid that is not water, by medium.
        unmodelled: Name to grams in 100 g of what takes part in the pH in a way that is not modelled.
        temperature_c: °C.
    """

    water_g: float
    liquid_water_g: float
    acids: tuple[Acid, ...]
    parents: tuple[Substance, ...]
    ions: WholeIons
    media_g: Mapping[str, float]
    unmodelled: Mapping[str, float]
    temperature_c: float

    @property
    def water_phase_g(self) -> float:
        """Grams in 100 g of water and of all that mixes with it."""
        return self.water_g + sum(
            self.media_g.get(medium, 0.0) for medium in ("ethanol", "glycerin", "glycol", "solvent")
        )

    def with_charge(self, mol_per_kg: float) -> Mixture:
        """The same with so much strong base (positive) or acid (negative) in it."""
        ion = (abs(mol_per_kg), 1 if mol_per_kg > 0 else -1)
        return self._replace(ions=WholeIons((*self.ions.molalities, ion)))

    def alone(self, number: int) -> Mixture:
        """One of its acids or bases by itself in the same water."""
        return self._replace(
            acids=(self.acids[number],), parents=(self.parents[number],), ions=WholeIons(()), unmodelled={}
        )

    def solved(self, model: Model) -> Equilibrium:
        """Its equilibrium.

        Raises:
            NoConvergenceError: No answer within the step limit.
        """
        kw, slope = pkw(self.temperature_c, model), debye_huckel_slope(self.temperature_c, model)
        return solve(self.acids, self.ions, kw, slope, model)


def mix(
    composition: Composition, substances: Substances, model: Model, temperature_c: float, lot: Lot = USUAL
) -> Mixture:
    """The mixture that a composition makes.

    Args:
        composition: The finished product.
        substances: Where the parts of salts are looked up.
        model: The constants.
        temperature_c: °C.
        lot: What the materials are taken to be.
    """
    moles: dict[str, float] = {}
    ions: dict[str, float] = {}
    media: dict[str, float] = {}
    unmodelled: dict[str, float] = {}
    water = poured = 0.0
    for substance, percent, moisture, strong in _amounts(composition, lot):
        water += moisture
        medium = substance.medium
        if medium == "water":
            water += percent
            poured += percent
        elif medium is not None:
            media[medium] = media.get(medium, 0.0) + percent
        if substance.acidity == "none" or percent == 0:
            continue
        if substance.acidity == "unmodelled" or substance.molar_mass is None:
            unmodelled[substance.name] = unmodelled.get(substance.name, 0.0) + percent
            continue
        hidden = strong * lot.latent.get(substance.name, 0.0)
        if hidden and substance.latent is not None and substance.latent.into is not None:
            into = substance.latent.into
            moles[into] = moles.get(into, 0.0) + hidden / float(substance.molar_mass) * substance.latent.units
        amount = (percent - moisture - hidden) / float(substance.molar_mass)
        for part, count in substance.gives.items() if substance.gives else ((substance.name, 1),):
            if ion_charge(part) is not None:
                ions[part] = ions.get(part, 0.0) + amount * float(count)
            elif part == WATER:
                water += amount * float(count) * model.water_molar_mass
            else:
                moles[part] = moles.get(part, 0.0) + amount * float(count)
    kg = water / 1000
    parents = tuple(substances[name] for name in moles) if kg > 0 else ()
    return Mixture(
        water_g=max(water, 0.0),
        liquid_water_g=poured,
        acids=tuple(_acid(parent, moles[parent.name] / kg, model, temperature_c) for parent in parents),
        parents=parents,
        ions=WholeIons(tuple((amount / kg, ion_charge(ion) or 0) for ion, amount in ions.items()) if kg > 0 else ()),
        media_g=media,
        unmodelled=unmodelled,
        temperature_c=temperature_c,
    )


def latent_of(composition: Composition) -> dict[str, Latent]:
    """The substances of which a part may not act as their acid, with what is known of that part."""
    found: dict[str, Latent] = {}
    for portion in composition.portions:
        latent = portion.substance.latent
        if latent is not None and portion.percent.high > 0 and portion.strength.high >= latent.from_strength:
            found[portion.substance.name] = latent
    return found


def is_moist(composition: Composition) -> bool:
    """Whether something is weighed under its own name that is sold less than pure."""
    return any(portion.substance.as_sold and not portion.assayed for portion in composition.portions)


def uncertain(composition: Composition) -> dict[str, Interval]:
    """The substances whose amount is an interval, with its ends in percent."""
    return {name: percent for name, percent in composition.by_substance().items() if not percent.is_exact}


class _Amount(NamedTuple):
    """All of one substance, % w/w: as weighed; the moisture in it; what of it comes in a strong material."""

    substance: Substance
    percent: float
    moisture: float
    strong: float


def _amounts(composition: Composition, lot: Lot) -> list[_Amount]:
    sums: dict[str, _Amount] = {}
    for portion in composition.portions:
        substance, middle = portion.substance, _middle(portion)
        before = sums.get(substance.name) or _Amount(substance, 0.0, 0.0, 0.0)
        latent = substance.latent
        is_strong = latent is not None and portion.strength.high >= latent.from_strength
        sums[substance.name] = _Amount(
            substance,
            before.percent + middle,
            before.moisture + middle * _moisture(portion, lot),
            before.strong + (middle if is_strong else 0.0),
        )
    return [_moved_to(amount, lot.percents) for amount in sums.values()]


def _moisture(portion: Portion, lot: Lot) -> float:
    """The share of what is weighed under a substance's own name that is not the substance."""
    sold = portion.substance.as_sold
    if sold is None or portion.assayed:
        return 0.0
    return 1 - (sold.low + lot.purity * (sold.high - sold.low)) / 100


def _moved_to(amount: _Amount, percents: Mapping[str, float]) -> _Amount:
    percent = percents.get(amount.substance.name)
    if percent is None or not amount.percent:
        return amount
    factor = percent / amount.percent
    return _Amount(amount.substance, percent, amount.moisture * factor, amount.strong * factor)


def _middle(portion: Portion) -> float:
    return (float(portion.percent.low) + float(portion.percent.high)) / 2


def _acid(parent: Substance, molality: float, model: Model, temperature_c: float) -> Acid:
    return Acid(
        parent.name, molality, parent.charge, tuple(_moved(step, model, temperature_c) for step in parent.steps)
    )


def _moved(step: Step, model: Model, temperature_c: float) -> float:
    return pka_at(step.pka, step.enthalpy_kj_per_mol, step.heat_capacity_j_per_mol_k, temperature_c, model)
