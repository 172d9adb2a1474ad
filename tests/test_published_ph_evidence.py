"""The model against the evidence tables that lie beside a checkout; the published sources stand in each row."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from jar import solution, substance

TABLES = Path(__file__).parents[2] / "shared" / "evidence" / "ph-tables.yaml"
pytestmark = pytest.mark.skipif(not TABLES.is_file(), reason="the evidence tables do not lie beside this checkout")

RMS_OF_WEAK_BUFFERS = 0.022  # up to an ionic strength of 0.1 mol/kg
RMS_OF_ALL = 0.05
# Printed to a tenth of a pH, nominal, or acids without salt, where traces decide: they count in the whole and towards
# their own error, not towards the agreement of dilute buffer tables to hundredths. Borate above 0.02 mol/kg forms
# polyborates: the engine gives no prediction there.
COARSE = (
    "approximate pH",
    "pure acid",
    "pure malic acid",
    "pharmacopoeia buffer",
    "ascorbic acid",
    "Clark-Lubs borate",
)


@cache
def evidence() -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load(TABLES.read_text("utf-8"))
    return found


def percents(row: dict[str, Any]) -> dict[str, float]:
    """A row's composition in % w/w; amounts in a litre with the kilograms of water that stand in it."""
    parts = row["composition"]
    if parts[0]["unit"] == "g/100g":
        return {part["substance"]: part["amount"] for part in parts}
    water = 1000 * row.get("water_kg_per_l", 1.0)
    grams = {part["substance"]: part["amount"] * float(substance(part["substance"]).molar_mass or 0) for part in parts}
    whole = water + sum(grams.values())
    return {name: 100 * weight / whole for name, weight in grams.items()}


@cache
def gates() -> list[tuple[dict[str, Any], float, float]]:
    """Each gate row with calculated minus published pH and the ionic strength."""
    compared = []
    for row in evidence()["rows"]:
        if row["use"] != "gate":
            continue
        found = solution(percents(row), temperature_c=row["temperature_c"], analytical=True)
        assert found.equilibrium is not None, row["name"]
        published = row["ph"] + row.get("ph_scale_offset", 0.0)
        compared.append((row, found.equilibrium.ph - published, found.equilibrium.ionic_strength))
    return compared


def rms(values: list[float]) -> float:
    return math.sqrt(sum(value * value for value in values) / len(values))


def test_every_substance_of_the_tables_is_known_with_its_molar_mass() -> None:
    for name, facts in evidence()["substances"].items():
        mass = substance(name).molar_mass
        assert mass is not None, name
        assert float(mass) == pytest.approx(facts["molar_mass"], abs=0.05), name


def test_all_gate_rows_agree_to_five_hundredths_on_the_whole() -> None:
    assert len(gates()) >= 140
    assert rms([off for _, off, _ in gates()]) <= RMS_OF_ALL


def test_dilute_buffers_among_the_gate_rows_agree_to_two_hundredths_on_the_whole() -> None:
    weak = [off for row, off, strength in gates() if strength <= 0.1 and not row["name"].startswith(COARSE)]

    assert len(weak) >= 60
    assert rms(weak) <= RMS_OF_WEAK_BUFFERS


def test_at_most_one_gate_row_in_a_hundred_lies_outside_its_stated_error() -> None:
    outside = [row["name"] for row, off, _ in gates() if abs(off) > row["expected_model_error"]]

    assert len(outside) <= len(gates()) / 100, outside
