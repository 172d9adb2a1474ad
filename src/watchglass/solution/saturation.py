"""What happens when an acid cannot all dissolve: its free form stays at S0, and the rest lies on the bottom."""

from __future__ import annotations

import math
from typing import NamedTuple

from watchglass.solution.crossing import crossing
from watchglass.solution.equilibrium import CLOSE_ENOUGH, Equilibrium, NoConvergenceError
from watchglass.solution.mixture import Mixture
from watchglass.solution.model import Model
from watchglass.substances import Substance

MOST_ROUNDS = 200


class Saturated(NamedTuple):
    """A mixture of which only so much is dissolved as can be.

    Attributes:
        mixture: What is dissolved.
        equilibrium: Of what is dissolved.
        undissolved: The acids of which some is not.
    """

    mixture: Mixture
    equilibrium: Equilibrium
    undissolved: tuple[str, ...]


LOW, MIDDLE, HIGH = -1, 0, 1


def saturate(mixture: Mixture, model: Model, bias: float = MIDDLE) -> Saturated:
    """Let every acid with a known S0 dissolve as far as it can.

    Args:
        mixture: All of it.
        model: The constants.
        bias: LOW or HIGH for the lower or upper end of S0's range; infinite: as if everything dissolved.

    Raises:
        NoConvergenceError: No answer within the step limit.
    """
    limits = [free_limit(parent, model, bias) for parent in mixture.parents]
    dissolved, found = mixture, mixture.solved(model)
    for _ in range(MOST_ROUNDS):
        moved = 0.0
        for number, limit in enumerate(limits):
            if limit is None or not _is_bound(mixture, dissolved, found, number, limit):
                continue
            before = dissolved.acids[number].molality_mol_per_kg
            dissolved = _with_free(mixture, dissolved, number, limit, model)
            found = dissolved.solved(model)
            moved = max(moved, abs(dissolved.acids[number].molality_mol_per_kg / before - 1))
        if moved < CLOSE_ENOUGH:
            pairs = zip(dissolved.acids, mixture.acids, strict=True)
            return Saturated(dissolved, found, tuple(part.name for part, whole in pairs if part != whole))
    raise NoConvergenceError("the dissolved part did not settle")


def may_stay_undissolved(found: Saturated, model: Model) -> bool:
    """Whether some acid would not all dissolve at the lower end of its S0."""
    limits = (free_limit(parent, model, LOW) for parent in found.mixture.parents)
    pairs = zip(found.mixture.acids, found.equilibrium.fractions, limits, strict=True)
    return any(limit is not None and acid.molality_mol_per_kg * shares[0] > limit for acid, shares, limit in pairs)


def _is_bound(mixture: Mixture, dissolved: Mixture, found: Equilibrium, number: int, limit: float) -> bool:
    """Whether S0 binds this acid: too much of it is free, or some of it was taken out before."""
    acid = dissolved.acids[number]
    is_over = acid.molality_mol_per_kg * found.fractions[number][0] > limit * (1 + CLOSE_ENOUGH)
    return is_over or acid != mixture.acids[number]


def _with_free(mixture: Mixture, dissolved: Mixture, number: int, limit: float, model: Model) -> Mixture:
    """So much of one acid dissolved that S0 of it is free; all of it where that is less.

    The free part grows with the dissolved total, which lies between S0 and all there is; logarithms make it a line.
    """

    def over(log_total: float) -> float:
        trial = _with_total(dissolved, number, math.exp(log_total))
        free = trial.acids[number].molality_mol_per_kg * trial.solved(model).fractions[number][0]
        return math.log(max(free, 1e-300) / limit)

    everything = mixture.acids[number].molality_mol_per_kg
    if everything <= limit or over(math.log(everything)) <= 0:
        return _with_total(dissolved, number, everything)
    total = crossing(over, math.log(limit), math.log(everything), CLOSE_ENOUGH)
    return _with_total(dissolved, number, everything if total is None else math.exp(total))


def _with_total(mixture: Mixture, number: int, total: float) -> Mixture:
    acids = list(mixture.acids)
    acids[number] = acids[number]._replace(molality_mol_per_kg=total)
    return mixture._replace(acids=tuple(acids))


def free_limit(parent: Substance, model: Model, bias: float = MIDDLE) -> float | None:
    """S0 in mol per kg of water, at an end of its range; grams per litre counted as grams per kg."""
    figure = parent.intrinsic_solubility
    if figure is None or parent.molar_mass is None or parent.charge != 0:
        return None
    factor = float(model.solubility_factor[figure.read] ** bias)
    return factor * figure.grams_per_100_g_water * 10 / float(parent.molar_mass)
