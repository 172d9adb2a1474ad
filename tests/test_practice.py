"""The practice rules against the collected facts of the trade: each pair, window and temperature is one that is judged.

The collection lies beside the checkout and is no part of the project; without it these tests are skipped.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from helpers import ON, formula_from, sheet
from watchglass.findings import Finding
from watchglass.judge import review
from watchglass.rulebook import load

COLLECTED = Path(__file__).parents[2] / "shared" / "evidence" / "practice.yaml"
FACTS: dict[str, Any] = yaml.safe_load(COLLECTED.read_text("utf-8")) if COLLECTED.is_file() else {}
pytestmark = pytest.mark.skipif(not FACTS, reason="the collected facts of the trade are not beside the checkout")

# Each collected pair with the rule that judges it.
PAIRS = {
    "benzoate-ascorbic": "practice-pairs#benzoate-and-ascorbic",
    "paraben-nonionic": "practice-weakened-pairs#paraben-and-ethoxylate",
    "sorbic-nonionic": "practice-weakened-pairs#sorbate-and-ethoxylate",
    "quat-soap": "practice-pairs#quaternary-germicide-and-anionic",
    "quat-nonionic": "practice-weakened-pairs#quaternary-germicide-and-nonionic",
    "cationic-carbomer": "practice-pairs#cationic-and-anionic-polymer",
    "cationic-anionic-surfactant": "practice-pairs#cationic-and-anionic-surfactant",
    "benzoic-acrylates": "practice-weakened-pairs#benzoate-and-acrylate",
    "sorbic-nylon": "practice-weakened-pairs#sorbate-and-nylon",
    "paraben-proteins": "practice-weakened-pairs#paraben-and-protein",
    "releasers-amines": "practice-pairs#nitrosating-agent-and-amine",
    "mi-thiols": "practice-pairs#isothiazolinone-and-thiol",
    "phenoxyethanol-peg": "practice-weakened-pairs#phenoxyethanol-and-ethoxylate",
    "acid-preservative-clays": "practice-weakened-pairs#acid-preservative-and-clay",
    "iron-chelating": "practice-pairs#iron-and-chelating-acid",
    "calcium-carbomer": "practice-pairs#anionic-thickener-and-polyvalent-salt",
    "acid-carbonate": "practice-pairs#acid-and-carbonate",
    "niacinamide-low-ph": "practice-active-ph#niacinamide",
    "copper-peptide": "practice-pairs#copper-peptide-and-chelator",
    "aha-retinol": "practice-weakened-pairs#exfoliant-and-retinoid",
}

# What a collected name means in the library, where it is not one INCI name.
MEANT = {
    "Peptides (palmitoyl and acetyl types)": "Acetyl Hexapeptide-8",
    "Papain, Bromelain": "Papain",
    "Licorice (Dipotassium Glycyrrhizate)": "Dipotassium Glycyrrhizate",
}

WINDOWS = ("practice-active-ph", "practice-exfoliant-ph", "practice-thickener-ph")
FAR = 2.5  # pH units: farther outside than any two collections differ


def windows() -> Iterator[Any]:
    """Each collected window; where one substance has several, from the lowest to the highest figure."""
    spans: dict[str, tuple[float, float]] = {}
    for fact in [*FACTS.get("active_ph_windows", ()), *FACTS.get("gellants", ())]:
        low, high = spans.get(fact["inci"], (14, 0))
        spans[fact["inci"]] = min(low, fact["ph_min"]), max(high, fact["ph_max"])
    for name, (low, high) in spans.items():
        yield pytest.param(MEANT.get(name, name), low, high, id=name)


def broken_at(ph: float, name: str) -> list[Finding]:
    text = sheet(f"{name} 0.5 as exfoliant", "Aqua qs", extra=f"measured: {{ph: {ph:.2f}, tolerance: 0}}")
    found = review(formula_from(text), load(), ON)
    return [finding for finding in found.findings if finding.rule in WINDOWS and finding.verdict == "breaks"]


def test_every_collected_pair_is_judged_by_a_rule_that_exists() -> None:
    assert {fact["id"] for fact in FACTS["preservative_incompatibilities"]} == set(PAIRS)
    assert set(PAIRS.values()) <= set(load().addresses)


@pytest.mark.parametrize(("name", "low", "high"), list(windows()))
def test_in_the_middle_of_a_collected_window_nothing_breaks_and_far_outside_it_does(
    name: str, low: float, high: float
) -> None:
    assert broken_at((low + high) / 2, name) == []
    assert broken_at(high + FAR, name) or high + FAR > 14
    assert broken_at(low - FAR, name) or low - FAR < 0


@pytest.mark.parametrize(
    "fact", [fact for fact in FACTS.get("preservatives", ()) if "max_addition_temp_c" in fact], ids=lambda f: f["id"]
)
def test_a_preservative_is_held_to_a_collected_temperature_of_addition(fact: dict[str, Any]) -> None:
    def hot(temperature: int) -> set[str]:
        text = sheet(f"{fact['inci'][0]} 0.1", "Aqua qs").replace("one:\n", f"one:\n    temperature: {temperature}\n")
        found = review(formula_from(text), load(), ON)
        return {finding.verdict for finding in found.findings if finding.rule == "practice-addition-temperature"}

    most = fact["max_addition_temp_c"]
    assert hot(81) == {"breaks"}
    assert hot(most - 10) == {"undecided"}
