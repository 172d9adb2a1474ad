"""Rises in temperature against heats of solution and neutralisation of the handbooks (recalled, not read)."""

from __future__ import annotations

import pytest

from jar import substance
from watchglass.rulebook import load
from watchglass.solution.heat import Rise, of_dissolving, of_neutralising

MODEL = load().model
WATER = substance("Aqua")


def held(rise: Rise | None, celsius: float) -> bool:
    return rise is not None and rise.low <= celsius <= rise.high


def test_a_weak_lye_warms_as_its_heat_of_solution_says() -> None:
    # CRC Handbook, enthalpies of solution: NaOH -44.5 kJ/mol. 4 g in 96 g of water, 4.2 kJ/kg/K: 10.6 degrees.
    rise = of_dissolving([(substance("Sodium Hydroxide"), 4.0), (WATER, 96.0)], MODEL)
    assert held(rise, 44.5 * 0.1 / (0.1 * 4.2))


def test_a_potash_lye_warms_more_for_each_mol() -> None:
    # CRC Handbook, enthalpies of solution: KOH -57.6 kJ/mol.
    rise = of_dissolving([(substance("Potassium Hydroxide"), 5.61), (WATER, 94.39)], MODEL)
    assert held(rise, 57.6 * 0.1 / (0.1 * 4.2))


def test_a_strong_lye_comes_near_the_boil() -> None:
    rise = of_dissolving([(substance("Sodium Hydroxide"), 30.0), (WATER, 70.0)], MODEL)
    assert rise is not None
    assert rise.low > 55
    assert rise.high > 78  # from 22 °C on it may boil


def test_half_molar_acid_and_lye_in_equal_parts_warm_by_the_heat_of_neutralisation() -> None:
    # The school experiment: 0.25 mol of water made in a litre, 55.8 kJ/mol, 4.18 kJ/kg/K: 3.3 degrees.
    acid, base = substance("Formic Acid"), substance("Sodium Hydroxide")
    rise = of_neutralising([(acid, 0.025 * 46.03), (base, 0.025 * 40.0)], 100, MODEL)
    assert held(rise, 0.025 * 55.8 / (0.1 * 4.18))


def test_what_is_left_over_gives_off_nothing() -> None:
    acid, base = substance("Glycolic Acid"), substance("Sodium Hydroxide")
    even = of_neutralising([(acid, 7.6), (base, 2.0)], 100, MODEL)
    assert of_neutralising([(acid, 20.0), (base, 2.0)], 100, MODEL) == even


@pytest.mark.parametrize("parts", [{"Glycolic Acid": 10.0}, {"Sodium Hydroxide": 2.0}, {"Glycerin": 5.0}])
def test_without_both_acid_and_base_nothing_is_neutralised(parts: dict[str, float]) -> None:
    assert of_neutralising([(substance(name), grams) for name, grams in parts.items()], 100, MODEL) is None


def test_water_alone_gives_off_no_heat_of_solution() -> None:
    assert of_dissolving([(WATER, 100.0)], MODEL) is None
