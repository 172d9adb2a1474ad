"""Many solutions in one call: what only hangs on the temperature is worked out once for all of them."""

from __future__ import annotations

from collections.abc import Iterable

from watchglass.solution.equilibrium import Equilibrium, NoConvergenceError, solve
from watchglass.solution.mixture import Mixture
from watchglass.solution.model import Model
from watchglass.solution.water import debye_huckel_slope, pkw


def solve_together(mixtures: Iterable[Mixture], model: Model) -> list[Equilibrium | NoConvergenceError]:
    """The equilibrium of each mixture, in order; where one does not settle, the reason stands in its place.

    Args:
        mixtures: As `mix` makes them, at any temperatures; everything in them counts as dissolved.
        model: The constants.
    """
    water: dict[float, tuple[float, float]] = {}
    found: list[Equilibrium | NoConvergenceError] = []
    for mixture in mixtures:
        celsius = mixture.temperature_c
        if celsius not in water:
            water[celsius] = pkw(celsius, model), debye_huckel_slope(celsius, model)
        try:
            found.append(solve(mixture.acids, mixture.ions, *water[celsius], model))
        except NoConvergenceError as error:
            found.append(error)
    return found
