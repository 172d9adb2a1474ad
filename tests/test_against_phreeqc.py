"""The solver against PHREEQC (Parkhurst and Appelo, USGS), an independent program for solution equilibria.

Both get the same constants and the same activity model (Davies with 0.3; uncharged species gamma = 1, which PHREEQC
needs to be told). What is left between them comes from the dielectric constant behind the slope of Debye and Hückel.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from pathlib import Path

import pytest
from phreeqpython import PhreeqPython  # type: ignore[import-untyped]  # it ships no types

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
SYMBOLS = [f"X{letter}" for letter in "abcdefghijklmnopqrstuvwxyz"]  # each acid is an element of its own
HEAD = """\
SOLUTION_MASTER_SPECIES
H H+ -1.0 H 1.008
H(0) H2 0 H
H(1) H+ -1.0 0.0
E e- 0 0.0 0.0
O H2O 0 O 15.999
O(0) O2 0 O
O(-2) H2O 0 0.0
Na Na+ 0 Na 22.99
Cl Cl- 0 Cl 35.45
"""
SPECIES = """\
SOLUTION_SPECIES
H+ = H+
 log_k 0
e- = e-
 log_k 0
H2O = H2O
 log_k 0
Na+ = Na+
 log_k 0
Cl- = Cl-
 log_k 0
H2O = OH- + H+
 log_k {minus_pkw:.8f}
2 H2O = O2 + 4 H+ + 4 e-
 log_k -86.08
 -gamma 5 0
2 H+ + 2 e- = H2
 log_k -3.15
 -gamma 5 0
"""


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


def charge_of(charge: int) -> str:
    return "" if charge == 0 else f"{charge:+d}"


def database(acids: Sequence[Acid], pkw_here: float) -> str:
    """The species of a mixture: the bare form of each acid is its master, protons are added one by one."""
    masters, species = HEAD, SPECIES.format(minus_pkw=-pkw_here)
    for symbol, acid in zip(SYMBOLS, acids, strict=False):
        bare = acid.charge - len(acid.pkas)
        master = f"{symbol}{charge_of(bare)}"
        masters += f"{symbol} {master} 0 {symbol} 100\n"
        species += f"{master} = {master}\n log_k 0\n" + (" -gamma 5 0\n" if bare == 0 else "")
        log_k = 0.0
        for count, pka in enumerate(reversed(acid.pkas), start=1):
            log_k += pka
            charge = bare + count
            protons = "" if count == 1 else str(count)
            form = f"H{protons}{symbol}{charge_of(charge)}"
            species += f"{master} + {protons}H+ = {form}\n log_k {log_k:.8f}\n" + (" -gamma 5 0\n" * (charge == 0))
    return masters + species + "END\n"


def phreeqc_ph(acids: Sequence[Acid], sodium: float, chloride: float, celsius: float, folder: Path) -> float:
    path = folder / "mixture.dat"
    path.write_text(database(acids, pkw(celsius, MODEL)), "utf-8")
    totals = {symbol: acid.molality_mol_per_kg for symbol, acid in zip(SYMBOLS, acids, strict=False)}
    other = PhreeqPython(database=path.name, database_directory=folder)
    solved = other.add_solution(
        {"units": "mol/kgw", "temp": celsius, "pH": "7 charge", "Na": sodium, "Cl": chloride} | totals
    )
    return float(solved.pH)


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
        theirs = phreeqc_ph(acids, sodium, chloride, celsius, tmp_path)
        assert ours.ph == pytest.approx(theirs, abs=MOST_APART), [acid.name for acid in acids]
