"""The constants of the model, as numbers with names; they come from `rules/model.yaml`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple


class Refusals(NamedTuple):
    """Beyond these a prediction is not given."""

    ionic_strength_above: float
    ionic_strength_above_with_two_charges: float
    free_acid_above_percent_of_water_phase: float
    ph_below: float
    water_below_percent: float
    ethanol_above_percent: float
    glycols_above_percent: float
    buffer_capacity_below: float
    boron_above_mol_per_kg: float
    boron_acids: tuple[str, ...]
    oil_above_percent_with_lipophilic_acid: float
    lipophilic_acids: tuple[str, ...]
    soap_above_ph: float
    soap_above_oil_percent: float


class Model(NamedTuple):
    """All constants of the solution model; units are in the names or in `rules/model.yaml`."""

    water_molar_mass: float
    log_kw: tuple[float, ...]
    dielectric: tuple[float, ...]
    density: tuple[float, ...]
    davies_coefficient: float
    water_activity_per_mol_per_kg: float
    debye_huckel_prefactor: float
    gas_constant: float
    reference_temperature_c: float
    band_by_ionic_strength: tuple[tuple[float, float], ...]
    band_next_row_above: float
    amine_per_degree: float
    acid_per_degree: float
    ethanol_per_percent: tuple[float, float, float]
    glycerin_per_percent: float
    glycol_per_percent: float
    unmodelled_capacity_mol_per_kg: float
    unmodelled_most_shift_ph: float
    refuse: Refusals
    free_acid_first_pka_below: float
    no_water_below_percent: float
    solubility_factor: Mapping[str, float]
    solubility_valid_c: tuple[float, float]
    cosolvent_from_percent: float
    glycerin_from_percent: float
    solubiliser_from_percent: float
    much_cosolvent_percent: float
    ample: float
    as_in_plain_water: float
    neutralisation_kj_per_mol: tuple[float, float]
    share_of_solution_heat: tuple[float, float]
    heat_capacity_kj_per_kg_k: tuple[float, float]
    room_c: float
    boiling_c: float
    first_portion: float
    widest_mended_ph: float
    sample_grams: float
    overage_percent: float
    coarse_from_percent: float
    weight_off_percent: float
    reading_tolerance: Mapping[str, float]
    reading_temperature_within_c: float

    @classmethod
    def of(cls, facts: Mapping[str, Any]) -> Model:
        """The model whose constants are the facts of `rules/model.yaml`."""
        water, band, unmodelled, solubility = facts["water"], facts["band"], facts["unmodelled"], facts["solubility"]
        degree, ethanol = band["without_enthalpy_per_degree"], band["ethanol_per_percent"]
        refuse: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value
            for key, value in facts["refuse"].items()
            if key != "source"
        }
        return cls(
            water_molar_mass=water["molar_mass_g_per_mol"],
            log_kw=tuple(water["ion_product"]["coefficients"].values()),
            dielectric=tuple(water["dielectric_constant"]["coefficients"].values()),
            density=tuple(water["density"]["coefficients"].values()),
            davies_coefficient=facts["activity"]["davies_coefficient"],
            water_activity_per_mol_per_kg=facts["activity"]["water_activity_per_mol_per_kg"],
            debye_huckel_prefactor=facts["activity"]["debye_huckel_prefactor"],
            gas_constant=facts["gas_constant_j_per_mol_k"],
            reference_temperature_c=facts["reference_temperature_c"],
            band_by_ionic_strength=tuple((row["up_to"], row["ph"]) for row in band["by_ionic_strength"]),
            band_next_row_above=band["next_row_above_ionic_strength"],
            amine_per_degree=degree["amine"],
            acid_per_degree=degree["acid"],
            ethanol_per_percent=(ethanol["up_to"], ethanol["ph"], ethanol["then"]),
            glycerin_per_percent=band["glycerin_per_percent"],
            glycol_per_percent=band["glycol_per_percent"],
            unmodelled_capacity_mol_per_kg=unmodelled["capacity_mol_per_kg"],
            unmodelled_most_shift_ph=unmodelled["most_shift_ph"],
            refuse=Refusals(**refuse),
            free_acid_first_pka_below=facts["free_acid_first_pka_below"],
            no_water_below_percent=facts["no_water_below_percent"],
            solubility_factor=solubility["factor"],
            solubility_valid_c=(solubility["valid_c"]["min"], solubility["valid_c"]["max"]),
            cosolvent_from_percent=solubility["cosolvent_from_percent"],
            glycerin_from_percent=solubility["glycerin_from_percent"],
            solubiliser_from_percent=solubility["solubiliser_from_percent"],
            much_cosolvent_percent=solubility["much_cosolvent_percent"],
            ample=solubility["ample"],
            as_in_plain_water=solubility["as_in_plain_water"],
            neutralisation_kj_per_mol=_ends(facts["heat"]["neutralisation_kj_per_mol"]),
            share_of_solution_heat=_ends(facts["heat"]["share_of_solution_heat"]),
            heat_capacity_kj_per_kg_k=_ends(facts["heat"]["capacity_kj_per_kg_k"]),
            room_c=facts["heat"]["room_c"],
            boiling_c=facts["heat"]["boiling_c"],
            first_portion=facts["neutralising"]["first_portion"],
            widest_mended_ph=facts["mending"]["widest_ph"],
            sample_grams=facts["weighing"]["sample_grams"],
            overage_percent=facts["weighing"]["overage_percent"],
            coarse_from_percent=facts["weighing"]["coarse_from_percent"],
            weight_off_percent=facts["weighing"]["weight_off_percent"],
            reading_tolerance={by: facts["reading"][by] for by in ("meter", "strip")},
            reading_temperature_within_c=facts["reading"]["temperature_within_c"],
        )


def _ends(facts: Mapping[str, float]) -> tuple[float, float]:
    return facts["min"], facts["max"]
