"""How many solutions of four acids are solved in a second, against PHREEQC in the same run.

    python benchmarks/solver.py [MIXTURES]

It prints and asserts nothing. PHREEQC (phreeqpython) gets a database with these four acids alone, its fastest case.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from phreeqpython import PhreeqPython  # type: ignore[import-untyped]  # it ships no types

from watchglass.rulebook import load
from watchglass.solution.batch import solve_together
from watchglass.solution.equilibrium import Acid, Equilibrium, WholeIons
from watchglass.solution.mixture import Mixture

MIXTURES = 4000
ROUNDS = 3
DATABASE = """\
SOLUTION_MASTER_SPECIES
H H+ -1.0 H 1.008
H(0) H2 0 H
H(1) H+ -1.0 0.0
E e- 0 0.0 0.0
O H2O 0 O 15.999
O(0) O2 0 O
O(-2) H2O 0 0.0
Na Na+ 0 Na 22.99
Xa Xa- 0 Xa 100
Xb Xb- 0 Xb 100
Xc Xc-3 0 Xc 100
Xd Xd- 0 Xd 100
SOLUTION_SPECIES
H+ = H+
 log_k 0
e- = e-
 log_k 0
H2O = H2O
 log_k 0
Na+ = Na+
 log_k 0
H2O = OH- + H+
 log_k -13.9948
2 H2O = O2 + 4 H+ + 4 e-
 log_k -86.08
2 H+ + 2 e- = H2
 log_k -3.15
Xa- = Xa-
 log_k 0
Xa- + H+ = HXa
 log_k 3.831
 -gamma 5 0
Xb- = Xb-
 log_k 0
Xb- + H+ = HXb
 log_k 3.86
 -gamma 5 0
Xc-3 = Xc-3
 log_k 0
Xc-3 + H+ = HXc-2
 log_k 6.396
Xc-3 + 2H+ = H2Xc-
 log_k 11.157
Xc-3 + 3H+ = H3Xc
 log_k 14.285
 -gamma 5 0
Xd- = Xd-
 log_k 0
Xd- + H+ = HXd
 log_k 4.2
 -gamma 5 0
END
"""


def mixtures(count: int) -> list[tuple[list[Acid], float]]:
    """Glycolic, lactic, citric and benzoic acid, each time with another amount of sodium."""
    return [
        (
            [
                Acid("a", 0.7, 0, (3.831,)),
                Acid("b", 0.3, 0, (3.86,)),
                Acid("c", 0.05, 0, (3.128, 4.761, 6.396)),
                Acid("d", 0.03, 0, (4.2,)),
            ],
            0.1 + 0.8 * number / count,
        )
        for number in range(count)
    ]


def main() -> None:
    """Count the processor time of both in turns and keep the best of each: a shared machine only ever takes away."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else MIXTURES
    model, made = load().model, mixtures(count)
    ours = [Mixture(100, 100, tuple(acids), (), WholeIons(((sodium, 1),)), {}, {}, 25.0) for acids, sodium in made]
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "four.dat").write_text(DATABASE, encoding="utf-8")
        other = PhreeqPython(database="four.dat", database_directory=Path(folder))
        speeds: dict[str, list[float]] = {"watchglass": [], "PHREEQC": []}
        apart = 0.0
        for _ in range(ROUNDS):
            start = time.process_time()
            found = solve_together(ours, model)
            speeds["watchglass"].append(count / (time.process_time() - start))
            start = time.process_time()
            theirs = []
            for acids, sodium in made:
                totals = dict(zip(("Xa", "Xb", "Xc", "Xd"), (acid.molality_mol_per_kg for acid in acids), strict=True))
                solved = other.add_solution({"units": "mol/kgw", "temp": 25, "pH": "7 charge", "Na": sodium} | totals)
                theirs.append(solved.pH)
                solved.forget()
            speeds["PHREEQC"].append(count / (time.process_time() - start))
            apart = max(
                abs(one.ph - other_ph)
                for one, other_ph in zip(found, theirs, strict=True)
                if isinstance(one, Equilibrium)
            )
    for name, runs in speeds.items():
        print(f"{name:12} {max(runs):8.0f} solutions/s")
    print(f"ratio        {max(speeds['watchglass']) / max(speeds['PHREEQC']):8.2f}")
    print(f"most apart   {apart:8.5f} pH")


if __name__ == "__main__":
    main()
