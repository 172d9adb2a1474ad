"""How much a step at the bench warms what is in the beaker, if no heat is lost.

The heat is shared by all that is there; what is strong gives off less than its figure for much water, and a solution
holds less heat than water does. Both are taken as ranges, so a rise is one too.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from watchglass.solution.model import Model
from watchglass.substances import Substance


class Rise(NamedTuple):
    """A rise in temperature, lowest and highest, in °C."""

    low: float
    high: float

    def __str__(self) -> str:
        return f"{self.low:.0f} to {self.high:.0f} °C"


def of_dissolving(parts: Iterable[tuple[Substance, float]], model: Model) -> Rise | None:
    """The rise when a stock is made; None where nothing of it is known to give off heat.

    Args:
        parts: The substances of the stock and their % w/w of it.
        model: The constants.
    """
    kj = sum(
        percent / float(part.molar_mass) * part.heat_of_solution_kj_per_mol
        for part, percent in parts
        if part.heat_of_solution_kj_per_mol is not None and part.molar_mass is not None
    )
    least, most = model.share_of_solution_heat
    return _rise(kj * least, kj * most, 100, model) if kj else None


def of_neutralising(parts: Iterable[tuple[Substance, float]], grams: float, model: Model) -> Rise | None:
    """The rise when strong base and acid meet in one vessel; None where one of them is not there.

    Args:
        parts: What is in the vessel, in grams.
        grams: All that is in it.
        model: The constants.
    """
    acid = base = 0.0
    for part, weight in parts:
        if part.molar_mass is None:
            continue
        moles = weight / float(part.molar_mass)
        if part.heat_of_solution_kj_per_mol is not None:
            base += moles
        elif part.charge == 0:
            acid += moles * sum(step.pka < model.free_acid_first_pka_below for step in part.steps)
    moles = min(acid, base)
    least, most = model.neutralisation_kj_per_mol
    return _rise(moles * least, moles * most, grams, model) if moles and grams else None


def _rise(least_kj: float, most_kj: float, grams: float, model: Model) -> Rise:
    least, most = model.heat_capacity_kj_per_kg_k
    return Rise(1000 * least_kj / (grams * most), 1000 * most_kj / (grams * least))
