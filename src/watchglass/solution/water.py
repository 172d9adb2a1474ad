"""Water at a temperature: ion product, and the activity coefficients of what is dissolved in it."""

from __future__ import annotations

import math

from watchglass.solution.model import Model

KELVIN = 273.15


def pkw(temperature_c: float, model: Model) -> float:
    """-log10 of the ion product of water on the molal scale, infinite dilution.

    Args:
        temperature_c: °C, 0 to 60.
        model: The constants; their sources stand in `rules/model.yaml`.
    """
    a, b, c, d, e = model.log_kw
    t = temperature_c + KELVIN
    return -(a + b * t + c / t + d * math.log10(t) + e * t * t)


def debye_huckel_slope(temperature_c: float, model: Model) -> float:
    """The A of the Debye-Hückel law in kg^0.5 mol^-0.5; about 0.51 at 25 °C."""
    a, b, c, d = model.dielectric
    t = temperature_c
    dielectric = a + b * t + c * t * t + d * t**3
    thermal = dielectric * (t + KELVIN)
    return 1e6 * model.debye_huckel_prefactor * math.sqrt(_density(t, model)) / (thermal * math.sqrt(thermal))


def davies(ionic_strength: float, slope: float, model: Model) -> float:
    """-log10 gamma of an ion of charge 1; times z^2 for charge z, 0 for what is uncharged.

    Args:
        ionic_strength: mol/kg, not negative.
        slope: From `debye_huckel_slope`.
        model: Holds the coefficient 0.3 (Davies 1962).
    """
    root = math.sqrt(ionic_strength)
    return slope * (root / (1 + root) - model.davies_coefficient * ionic_strength)


def pka_at(pka: float, enthalpy_kj: float | None, heat_capacity_j: float | None, t_c: float, model: Model) -> float:
    """A pKa moved from 25 °C by van 't Hoff's law with a constant heat capacity.

    Without an enthalpy it stays as it is (the band is widened instead).
    """
    if enthalpy_kj is None or t_c == model.reference_temperature_c:
        return pka
    reference, t = model.reference_temperature_c + KELVIN, t_c + KELVIN
    heat_capacity = heat_capacity_j or 0.0
    enthalpy = enthalpy_kj * 1000 - heat_capacity * reference
    ln_ratio = enthalpy / model.gas_constant * (1 / reference - 1 / t)
    ln_ratio += heat_capacity / model.gas_constant * math.log(t / reference)
    return pka - ln_ratio / math.log(10)


def _density(temperature_c: float, model: Model) -> float:
    a, b, c, d = model.density
    t = temperature_c
    return 1 - (t + a) ** 2 * (t + b) / (c * (t + d))
