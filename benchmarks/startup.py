"""How long the command line takes to answer, against a bare Python in the same run.

    python benchmarks/startup.py [RUNS]

It prints and asserts nothing: times on shared machines vary, their ratios less.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 15
# An installed package has its bytecode; where writing it is switched off, a checkout would be compiled at every start.
ENVIRONMENT = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
SOUND = """\
formula: a gel for timing
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu, us]
phases:
  water:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Phenoxyethanol, percent: 0.8}
      - {material: Allantoin, percent: 0.2}
      - {material: Glycerin, percent: 3}
      - {material: Xanthan Gum, percent: 0.3}
      - {material: Citric Acid, percent: 0.3, function: pH adjuster}
      - {material: Sodium Citrate, percent: 0.5, function: pH adjuster}
"""
# An acid gel under two opinions on acids: each break is told with the change that mends it, which takes its time.
BROKEN = """\
formula: an acid gel for timing
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu, us]
phases:
  water:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Sodium Benzoate, percent: 0.4}
      - {material: Allantoin, percent: 0.3}
      - {material: Lactic Acid, percent: 3.96}
      - {material: Sodium Hydroxide, percent: 1.08}
"""


def milliseconds(command: list[str]) -> float:
    """Wall time of one run; the exit code of a review with findings is 1, and 2 means that nothing was timed."""
    start = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False, env=ENVIRONMENT)
    spent = 1000 * (time.perf_counter() - start)
    if done.returncode not in (0, 1) or done.stderr:
        raise SystemExit(f"{' '.join(command)} failed: {done.stderr.decode(errors='replace')}")
    return spent


def main() -> None:
    """Time them in turns, so that what else the machine does falls on all of them."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else RUNS
    with tempfile.TemporaryDirectory() as folder:
        sound, broken = Path(folder) / "sound.yaml", Path(folder) / "broken.yaml"
        sound.write_text(SOUND, encoding="utf-8")
        broken.write_text(BROKEN, encoding="utf-8")
        python, watchglass = [sys.executable], [sys.executable, "-m", "watchglass"]
        commands = {
            "python -c pass": [*python, "-c", "pass"],
            "watchglass --help": [*watchglass, "--help"],
            "watchglass review of one file": [*watchglass, "review", str(sound)],
            "the same with breaks and mends": [*watchglass, "review", str(broken)],
        }
        aims = {"watchglass --help": 6, "watchglass review of one file": 12}
        times: dict[str, list[float]] = {name: [] for name in commands}
        for command in commands.values():
            milliseconds(command)  # fills the caches of the disk and of the rulebook
        for _ in range(runs):
            for name, command in commands.items():
                times[name].append(milliseconds(command))
    bare = statistics.median(times["python -c pass"])
    print(f"median of {runs} runs, Python {sys.version.split()[0]}")
    for name, spent in times.items():
        median = statistics.median(spent)
        aim = f"   aim: at most {aims[name]}x" if name in aims else ""
        print(f"{name:31} {median:7.1f} ms   {median / bare:5.1f}x{aim}")


if __name__ == "__main__":
    main()
