"""PHREEQC (Parkhurst and Appelo, USGS) with the constants of a mixture typed in: for tests and benchmarks."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from phreeqpython import PhreeqPython  # type: ignore[import-untyped]  # it ships no types

from watchglass.solution.equilibrium import Acid

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


class Phreeqc:
    """One set of acids at one temperature, of which any amounts can be solved."""

    def __init__(self, acids: Sequence[Acid], pkw: float, celsius: float, folder: Path) -> None:
        (folder / "mixture.dat").write_text(database(acids, pkw), "utf-8")
        self._celsius = celsius
        self._other = PhreeqPython(database="mixture.dat", database_directory=folder)

    def ph(self, acids: Sequence[Acid], sodium: float, chloride: float = 0.0) -> float:
        """Of these amounts, the pH at which charges balance."""
        totals = {symbol: acid.molality_mol_per_kg for symbol, acid in zip(SYMBOLS, acids, strict=False)}
        strong = {"Na": sodium} | ({"Cl": chloride} if chloride else {})
        solved = self._other.add_solution(
            {"units": "mol/kgw", "temp": self._celsius, "pH": "7 charge"} | strong | totals
        )
        ph = float(solved.pH)
        solved.forget()
        return ph
