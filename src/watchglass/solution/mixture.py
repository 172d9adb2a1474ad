"""The aqueous part of a composition in mol per kg of the water that is really there."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from watchglass.composition import Composition, Portion
from watchglass.interval import Interval
from watchglass.solution.equilibrium import Acid, Equilibrium, WholeIons, solve
from watchglass.solution.model import Model
from watchglass.solution.water import debye_huckel_slope, pka_at, pkw
from watchglass.substances import WATER, Step, Substance, Substances, ion_charge


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
    composition: Composition,
    substances: Substances,
    model: Model,
    temperature_c: float,
    shifted: Mapping[str, float] = {},
) -> Mixture:
    """The mixture that a composition makes.

    Args:
        composition: The finished product.
        substances: Where the parts of salts are looked up.
        model: The constants.
        temperature_c: °C.
        shifted: Substance name to another percent than the middle of its interval.
    """
    moles: dict[str, float] = {}
    ions: dict[str, float] = {}
    media: dict[str, float] = {}
    unmodelled: dict[str, float] = {}
    water = poured = 0.0
    for substance, percent in _amounts(composition, shifted):
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
        amount = percent / float(substance.molar_mass)
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


def uncertain(composition: Composition) -> dict[str, Interval]:
    """The substances whose amount is an interval, with its ends in percent."""
    return {name: percent for name, percent in composition.by_substance().items() if not percent.is_exact}


def _amounts(composition: Composition, shifted: Mapping[str, float]) -> list[tuple[Substance, float]]:
    sums: dict[str, tuple[Substance, float]] = {}
    for portion in composition.portions:
        name = portion.substance.name
        before = sums[name][1] if name in sums else 0.0
        sums[name] = (portion.substance, before + _middle(portion))
    return [(substance, shifted.get(name, percent)) for name, (substance, percent) in sums.items()]


def _middle(portion: Portion) -> float:
    return (float(portion.percent.low) + float(portion.percent.high)) / 2


def _acid(parent: Substance, molality: float, model: Model, temperature_c: float) -> Acid:
    return Acid(
        parent.name, molality, parent.charge, tuple(_moved(step, model, temperature_c) for step in parent.steps)
    )


def _moved(step: Step, model: Model, temperature_c: float) -> float:
    return pka_at(step.pka, step.enthalpy_kj_per_mol, step.heat_capacity_j_per_mol_k, temperature_c, model)
