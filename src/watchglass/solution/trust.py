"""How far a predicted pH may be trusted.

The parts of the model's own band (activity, constants, temperature, solvents) are independent and add in quadrature;
what the materials at hand may hold is a bound and adds linearly on top.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from watchglass.solution.equilibrium import LN10, Equilibrium
from watchglass.solution.mixture import Mixture
from watchglass.solution.model import Model


class Reach(NamedTuple):
    """How far something can move a pH, down and up, neither negative."""

    down: float = 0.0
    up: float = 0.0

    def __add__(self, other: Reach) -> Reach:  # type: ignore[override]  # both ways are added, not strung together
        return Reach(self.down + other.down, self.up + other.up)

    def further(self, other: Reach) -> Reach:
        """The further of two each way: one of them happens, not both."""
        return Reach(max(self.down, other.down), max(self.up, other.up))


NOWHERE = Reach()


class Band(NamedTuple):
    """How far the pH may lie from the prediction, by cause: half-widths of the model, about 95 %, then bounds."""

    activity: float
    constants: float
    temperature: float
    solvents: float
    unmodelled: Reach = NOWHERE
    undissolved: Reach = NOWHERE
    materials: Reach = NOWHERE

    @property
    def model(self) -> float:
        """The half-width of the model itself."""
        return math.hypot(self.activity, self.constants, self.temperature, self.solvents)

    @property
    def whole(self) -> Reach:
        """All of it."""
        return Reach(self.model, self.model) + self.unmodelled + self.undissolved + self.materials


def band(mixture: Mixture, found: Equilibrium, model: Model) -> Band:
    """The band of the model itself, without stated tolerances and unmodelled materials."""
    shares = _shares_of_buffering(mixture, found)
    constants = temperature = 0.0
    off = abs(mixture.temperature_c - model.reference_temperature_c)
    for parent, acid_shares in zip(mixture.parents, shares, strict=True):
        for step, share in zip(parent.steps, acid_shares, strict=True):
            constants += (share * step.uncertainty) ** 2
            if step.enthalpy_kj_per_mol is None:
                per_degree = model.amine_per_degree if parent.charge > 0 else model.acid_per_degree
                temperature += share * per_degree * off
    return Band(_activity(mixture, found, model), math.sqrt(constants), temperature, _solvents(mixture, model))


def _activity(mixture: Mixture, found: Equilibrium, model: Model) -> float:
    rows = model.band_by_ionic_strength
    number = next((n for n, (up_to, _) in enumerate(rows) if found.ionic_strength <= up_to), len(rows) - 1)
    if has_two_charges(mixture) and found.ionic_strength > model.band_next_row_above:
        number = min(number + 1, len(rows) - 1)
    return rows[number][1]


def has_two_charges(mixture: Mixture) -> bool:
    """Whether an acid that takes two negative charges is there."""
    return any(acid.charge - len(acid.pkas) <= -2 and acid.molality_mol_per_kg > 0 for acid in mixture.acids)


def _shares_of_buffering(mixture: Mixture, found: Equilibrium) -> list[list[float]]:
    """For each acid and step how much the pH moves with that step's pKa: its share of the buffer capacity."""
    shares = []
    for acid, fractions in zip(mixture.acids, found.fractions, strict=True):
        steps = []
        for number in range(1, len(fractions)):
            below = sum(fractions[:number])
            steps.append(LN10 * acid.molality_mol_per_kg * below * (1 - below) / found.buffer_capacity)
        shares.append(steps)
    return shares


def _solvents(mixture: Mixture, model: Model) -> float:
    phase = mixture.water_phase_g or 1.0
    ethanol = 100 * mixture.media_g.get("ethanol", 0.0) / phase
    up_to, per_percent, then = model.ethanol_per_percent
    width = per_percent * min(ethanol, up_to) + then * max(ethanol - up_to, 0.0)
    width += model.glycerin_per_percent * 100 * mixture.media_g.get("glycerin", 0.0) / phase
    glycols = mixture.media_g.get("glycol", 0.0) + mixture.media_g.get("solvent", 0.0)
    return width + model.glycol_per_percent * 100 * glycols / phase
