"""How far a predicted pH may be trusted, and where no prediction is given.

The parts of the model's own band (activity, constants, temperature, solvents) are independent and add in quadrature;
stated tolerances are bounds and add linearly on top.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from watchglass.solution.equilibrium import LN10, Equilibrium
from watchglass.solution.mixture import Mixture
from watchglass.solution.model import Model

SOAP = "oils with strong base make soap, and saponification is not modelled"


class Band(NamedTuple):
    """Half-widths in pH, about 95 %, by cause."""

    activity: float
    constants: float
    temperature: float
    solvents: float
    unmodelled: float = 0.0
    undissolved: float = 0.0
    tolerances: float = 0.0

    @property
    def half_width(self) -> float:
        """The whole band."""
        own = math.hypot(self.activity, self.constants, self.temperature, self.solvents)
        return own + self.unmodelled + self.undissolved + self.tolerances

    @property
    def widest(self) -> str:
        """What makes most of it, in words."""
        causes = {
            "the activity model": self.activity,
            "the acid constants": self.constants,
            "the temperature": self.temperature,
            "the solvents": self.solvents,
            "what is not modelled": self.unmodelled,
            "what does not dissolve": self.undissolved,
            "the stated tolerances": self.tolerances,
        }
        return max(causes, key=lambda cause: causes[cause])


def band(mixture: Mixture, found: Equilibrium, model: Model) -> Band:
    """The band of the model itself, without stated tolerances and unmodelled materials."""
    shares = _shares_of_buffering(mixture, found)
    constants = temperature = 0.0
    off = abs(mixture.temperature_c - 25)
    for parent, acid_shares in zip(mixture.parents, shares, strict=True):
        for step, share in zip(parent.steps, acid_shares, strict=True):
            constants += (share * step.uncertainty) ** 2
            if step.enthalpy_kj_per_mol is None:
                per_degree = model.amine_per_degree if parent.charge > 0 else model.acid_per_degree
                temperature += share * per_degree * off
    return Band(_activity(mixture, found, model), math.sqrt(constants), temperature, _solvents(mixture, model))


def refusal(mixture: Mixture, found: Equilibrium, model: Model, caustic_percent: float) -> str | None:
    """Why no prediction is given, in one sentence; None when one is.

    Args:
        mixture: The aqueous part.
        found: Its equilibrium.
        model: The constants.
        caustic_percent: Sodium and potassium hydroxide in the product, % w/w.
    """
    limits = model.refuse
    media = mixture.media_g
    oil = media.get("oil", 0.0)
    glycols = sum(media.get(medium, 0.0) for medium in ("glycerin", "glycol", "solvent"))
    strength = found.ionic_strength
    lipophilic = [
        acid.name for acid in mixture.acids if acid.name in limits.lipophilic_acids and acid.molality_mol_per_kg > 0
    ]
    boron = sum(acid.molality_mol_per_kg for acid in mixture.acids if acid.name == "Boric Acid")
    reasons = (
        (is_soap(mixture, model, caustic_percent) and found.ph > limits.soap_above_ph, SOAP),
        (
            mixture.water_g < limits.water_below_percent,
            f"water is {mixture.water_g:.4g} % of the product; below {limits.water_below_percent:g} % "
            "it is no longer an aqueous solution",
        ),
        (
            media.get("ethanol", 0.0) > limits.ethanol_above_percent,
            f"ethanol is {media.get('ethanol', 0.0):.4g} %, above {limits.ethanol_above_percent:g} %",
        ),
        (
            glycols > limits.glycols_above_percent,
            f"glycerin, glycols and other solvents are {glycols:.4g} %, above {limits.glycols_above_percent:g} %",
        ),
        (
            bool(lipophilic) and oil > limits.oil_above_percent_with_lipophilic_acid,
            f"{', '.join(lipophilic)} moves into the oil, which is {oil:.4g} %",
        ),
        (
            strength > limits.ionic_strength_above,
            f"the ionic strength is above {limits.ionic_strength_above:g} mol/kg",
        ),
        (
            _two_charges(mixture) and strength > limits.ionic_strength_above_with_two_charges,
            f"the ionic strength is {strength:.4g} mol/kg, above "
            f"{limits.ionic_strength_above_with_two_charges:g} beside an acid of several charges",
        ),
        (
            _free_acid_percent(mixture, found) > limits.free_acid_above_percent_of_water_phase,
            f"free acid is {_free_acid_percent(mixture, found):.4g} % of the water phase, above "
            f"{limits.free_acid_above_percent_of_water_phase:g} %",
        ),
        (found.ph < limits.ph_below, f"the pH would be {found.ph:.3f}, below {limits.ph_below:g}"),
        (
            boron > limits.boron_above_mol_per_kg,
            f"borate is {boron:.4g} mol/kg, above {limits.boron_above_mol_per_kg:g}: polyborates form",
        ),
        (
            found.buffer_capacity < limits.buffer_capacity_below,
            f"hardly anything holds the pH: {_traces(mixture)} decide it "
            f"(buffer capacity {found.buffer_capacity:.2g} mol/kg/pH)",
        ),
    )
    return next((sentence for holds, sentence in reasons if holds), None)


def strength_of(mixture: Mixture, found: Equilibrium, model: Model, caustic_percent: float) -> float | None:
    """The ionic strength in mol/kg, where the model reaches that far."""
    limits = model.refuse
    is_beyond = (
        mixture.water_g < limits.water_below_percent
        or found.ionic_strength > limits.ionic_strength_above
        or is_soap(mixture, model, caustic_percent)
    )
    return None if is_beyond else found.ionic_strength


def is_soap(mixture: Mixture, model: Model, caustic_percent: float) -> bool:
    """Whether oil and strong base are both there; whether base is left over is the pH's answer."""
    return caustic_percent > 0 and mixture.media_g.get("oil", 0.0) >= model.refuse.soap_above_oil_percent


def _traces(mixture: Mixture) -> str:
    return " and ".join([*list(mixture.unmodelled)[:2], "carbon dioxide and traces"])


def _activity(mixture: Mixture, found: Equilibrium, model: Model) -> float:
    rows = model.band_by_ionic_strength
    number = next((n for n, (up_to, _) in enumerate(rows) if found.ionic_strength <= up_to), len(rows) - 1)
    if _two_charges(mixture) and found.ionic_strength > model.band_next_row_above:
        number = min(number + 1, len(rows) - 1)
    return rows[number][1]


def _two_charges(mixture: Mixture) -> bool:
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


def _free_acid_percent(mixture: Mixture, found: Equilibrium) -> float:
    grams = 0.0
    for acid, parent, fractions in zip(mixture.acids, mixture.parents, found.fractions, strict=True):
        if parent.charge <= 0 and parent.molar_mass is not None and parent.steps[0].pka < 7:
            moles = acid.molality_mol_per_kg * mixture.water_g / 1000
            grams += moles * fractions[0] * float(parent.molar_mass)
    return 100 * grams / (mixture.water_phase_g + grams) if grams else 0.0
