"""The solver against PHREEQC (Parkhurst and Appelo, USGS), an independent program for solution equilibria.

Both get the same constants and the same activity model (Davies with 0.3; uncharged species gamma = 1, which PHREEQC
needs to be told). What is left between them comes from the dielectric constant behind the slope of Debye and Hückel.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import pytest

from phreeqc import Phreeqc
from watchglass.rulebook import load
from watchglass.solution.equilibrium import Acid, WholeIons, solve
from watchglass.solution.water import debye_huckel_slope, pka_at, pkw

MODEL = load().model
MIXTURES = 240
MOST_APART = 0.002  # pH
STRONGEST = 1.5  # mol/kg: beyond it the engine gives no prediction
NAMES = [
    "Glycolic Acid", "Lactic Acid", "Mandelic Acid", "Salicylic Acid", "Benzoic Acid", "Sorbic Acid", "Acetic Acid",
    "Citric Acid", "Malic Acid", "Tartaric Acid", "Phosphoric Acid", "Ascorbic Acid", "Gluconic Acid", "Azelaic Acid",
    "Boric Acid", "Carbon Dioxide", "Phthalic Acid", "EDTA", "Glycine", "Arginine", "Niacinamide", "Tromethamine",
    "Triethanolamine", "Ammonia", "Aminomethyl Propanol",
]  # fmt: skip


def acids_of(rng: random.Random, celsius: float) -> list[Acid]:
    """One to six acids and bases at their constants for the temperature."""
    found = []
    for name in rng.sample(NAMES, rng.randint(1, 6)):
        known = load().substances.find(name)
        assert known is not None, name
        pkas = tuple(
            pka_at(step.pka, step.enthalpy_kj_per_mol, step.heat_capacity_j_per_mol_k, celsius, MODEL)
            for step in known.steps
        )
        found.append(Acid(name, 10 ** rng.uniform(-3, -0.4), known.charge, pkas))
    return found


def ions_of(rng: random.Random, acids: Sequence[Acid]) -> tuple[float, float]:
    """Sodium and chloride that leave the mixture somewhere between all protonated and all but one proton gone."""
    most = sum(acid.molality_mol_per_kg * max(len(acid.pkas) - acid.charge, 0) for acid in acids)
    least = sum(acid.molality_mol_per_kg * max(acid.charge, 0) for acid in acids)
    return rng.uniform(0, 1) * most + 0.02, rng.uniform(0, 1) * least + 0.02


@pytest.mark.parametrize("seed", range(8))
def test_random_mixtures_of_acids_and_bases_come_out_as_in_phreeqc(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    compared = 0
    while compared < MIXTURES // 8:
        celsius = rng.uniform(10, 45)
        acids = acids_of(rng, celsius)
        sodium, chloride = ions_of(rng, acids)
        ours = solve(
            acids,
            WholeIons(((sodium, 1), (chloride, -1))),
            pkw(celsius, MODEL),
            debye_huckel_slope(celsius, MODEL),
            MODEL,
        )
        if ours.ionic_strength > STRONGEST:
            continue
        compared += 1
        theirs = Phreeqc(acids, pkw(celsius, MODEL), celsius, tmp_path).ph(acids, sodium, chloride)
        assert ours.ph == pytest.approx(theirs, abs=MOST_APART), [acid.name for acid in acids]
