"""How many solutions of four acids are solved in a second, against PHREEQC in the same run.

    python benchmarks/solver.py [MIXTURES]

It prints and asserts nothing. PHREEQC (phreeqpython) gets a database with these four acids alone, its fastest case.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from phreeqc import Phreeqc
from watchglass.rulebook import load
from watchglass.solution.batch import solve_together
from watchglass.solution.equilibrium import Acid, Equilibrium, WholeIons
from watchglass.solution.mixture import Mixture
from watchglass.solution.water import pkw

MIXTURES = 4000
ROUNDS = 3


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
        other = Phreeqc(made[0][0], pkw(25, model), 25, Path(folder))
        speeds: dict[str, list[float]] = {"watchglass": [], "PHREEQC": []}
        apart = 0.0
        for _ in range(ROUNDS):
            start = time.process_time()
            found = solve_together(ours, model)
            speeds["watchglass"].append(count / (time.process_time() - start))
            start = time.process_time()
            theirs = [other.ph(acids, sodium) for acids, sodium in made]
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
