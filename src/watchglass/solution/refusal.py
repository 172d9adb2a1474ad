"""Where no prediction of the pH is given, and why."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

from watchglass.solution.equilibrium import Equilibrium
from watchglass.solution.mixture import Mixture
from watchglass.solution.model import Model
from watchglass.solution.trust import has_two_charges

SOAP = "oils with strong base make soap, and saponification is not modelled"


def refusal(mixture: Mixture, found: Equilibrium, model: Model, caustic_percent: float) -> str | None:
    """Why no prediction is given, in one sentence; None when one is.

    Args:
        mixture: The aqueous part.
        found: Its equilibrium.
        model: The constants.
        caustic_percent: Sodium and potassium hydroxide in the product, % w/w.
    """
    if is_soap(mixture, model, caustic_percent) and found.ph > model.refuse.soap_above_ph:
        return SOAP
    return next(chain(_of_the_liquids(mixture, model), _of_the_solutes(mixture, found, model)), None)


def _of_the_liquids(mixture: Mixture, model: Model) -> Iterator[str]:
    limits, media = model.refuse, mixture.media_g
    ethanol, oil = media.get("ethanol", 0.0), media.get("oil", 0.0)
    glycols = sum(media.get(medium, 0.0) for medium in ("glycerin", "glycol", "solvent"))
    if mixture.water_g < limits.water_below_percent:
        yield (
            f"water is {mixture.water_g:.4g} % of the product; below {limits.water_below_percent:g} % "
            "it is no longer an aqueous solution"
        )
    if ethanol > limits.ethanol_above_percent:
        yield f"ethanol is {ethanol:.4g} %, above {limits.ethanol_above_percent:g} %"
    if glycols > limits.glycols_above_percent:
        yield f"glycerin, glycols and other solvents are {glycols:.4g} %, above {limits.glycols_above_percent:g} %"
    lipophilic = [name for name in limits.lipophilic_acids if _molality(mixture, name) > 0]
    if lipophilic and oil > limits.oil_above_percent_with_lipophilic_acid:
        yield f"{', '.join(lipophilic)} moves into the oil, which is {oil:.4g} %"


def _of_the_solutes(mixture: Mixture, found: Equilibrium, model: Model) -> Iterator[str]:
    limits, strength = model.refuse, found.ionic_strength
    with_two_charges = limits.ionic_strength_above_with_two_charges
    free_acid = _free_acid_percent(mixture, found, model)
    boron = sum(_molality(mixture, name) for name in limits.boron_acids)
    if strength > limits.ionic_strength_above:
        yield f"the ionic strength is above {limits.ionic_strength_above:g} mol/kg"
    if has_two_charges(mixture) and strength > with_two_charges:
        yield (
            f"the ionic strength is {strength:.4g} mol/kg, above {with_two_charges:g} beside an acid of several charges"
        )
    if free_acid > limits.free_acid_above_percent_of_water_phase:
        yield (
            f"free acid is {free_acid:.4g} % of the water phase, above "
            f"{limits.free_acid_above_percent_of_water_phase:g} %"
        )
    if found.ph < limits.ph_below:
        yield f"the pH would be {found.ph:.3f}, below {limits.ph_below:g}"
    if boron > limits.boron_above_mol_per_kg:
        yield f"borate is {boron:.4g} mol/kg, above {limits.boron_above_mol_per_kg:g}: polyborates form"
    if found.buffer_capacity < limits.buffer_capacity_below:
        yield (
            f"hardly anything holds the pH: {_traces(mixture)} decide it "
            f"(buffer capacity {found.buffer_capacity:.2g} mol/kg/pH)"
        )


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


def _molality(mixture: Mixture, name: str) -> float:
    return sum(acid.molality_mol_per_kg for acid in mixture.acids if acid.name == name)


def _free_acid_percent(mixture: Mixture, found: Equilibrium, model: Model) -> float:
    grams = 0.0
    for acid, parent, fractions in zip(mixture.acids, mixture.parents, found.fractions, strict=True):
        if (
            parent.charge <= 0
            and parent.molar_mass is not None
            and parent.steps[0].pka < model.free_acid_first_pka_below
        ):
            moles = acid.molality_mol_per_kg * mixture.water_g / 1000
            grams += moles * fractions[0] * float(parent.molar_mass)
    return 100 * grams / (mixture.water_phase_g + grams) if grams else 0.0
