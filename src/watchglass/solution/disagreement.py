"""What would have to be wrong, and by how much, for a reading to be right that the sheet does not predict."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from watchglass.composition import Composition
from watchglass.formula import Line
from watchglass.solution import Solution
from watchglass.solution.crossing import crossing
from watchglass.solution.equilibrium import NoConvergenceError
from watchglass.solution.mixture import Lot, Mixture, mix
from watchglass.solution.model import Model
from watchglass.solution.saturation import saturate
from watchglass.substances import Substances

MOST_TOLD = 3
FURTHEST = math.log(2)  # half or twice as much is no slip of the balance
CLOSE_PH = 1e-4
MOST_LEFT_OUT = 1.0  # mol/kg


class _Slip(NamedTuple):
    """One line that would explain the reading if it brought `factor` times what it should."""

    line: Line
    factor: float


def causes(
    composition: Composition, substances: Substances, solution: Solution, reading: float, model: Model
) -> list[str]:
    """Each in words: a line that is stronger or weaker than the sheet says, a base or acid that it does not name.

    Args:
        composition: The finished product.
        substances: The library.
        solution: With its mixture.
        reading: The measured pH.
        model: The constants.

    Returns:
        The smallest slips first, then what was left out; empty where nothing in reach explains the reading.
    """
    slips = sorted(
        _slips(composition, substances, solution, reading, model), key=lambda slip: abs(math.log(slip.factor))
    )
    told = [_in_words(slip) for slip in slips[:MOST_TOLD]]
    return [*told, *_left_out(solution.mixture, reading, model)]


def _slips(
    composition: Composition, substances: Substances, solution: Solution, reading: float, model: Model
) -> Iterator[_Slip]:
    totals = {name: float(percent.middle) for name, percent in composition.by_substance().items()}
    for line in dict.fromkeys(portion.line for portion in composition.portions):
        own: dict[str, float] = {}
        for portion in composition.portions:
            if portion.line == line and portion.substance.acidity is None and not portion.substance.is_water:
                own[portion.substance.name] = own.get(portion.substance.name, 0.0) + float(portion.percent.middle)
        if not own:
            continue

        def off(log_factor: float, own: dict[str, float] = own) -> float:
            more = math.exp(log_factor) - 1
            lot = Lot({name: totals[name] + more * percent for name, percent in own.items()})
            return _ph(mix(composition, substances, model, solution.temperature_c, lot), model) - reading

        found = crossing(off, -FURTHEST, FURTHEST, CLOSE_PH)
        if found is not None:
            yield _Slip(line, math.exp(found))


def _in_words(slip: _Slip) -> str:
    share = 100 * (slip.factor - 1)
    return f"{slip.line.material} {abs(share):.2g} % {'stronger or heavier' if share > 0 else 'weaker or lighter'}"


def _left_out(mixture: Mixture, reading: float, model: Model) -> Iterator[str]:
    """What of a strong base or acid the sheet would have to lack."""
    found = crossing(
        lambda charge: _ph(mixture.with_charge(charge), model) - reading, -MOST_LEFT_OUT, MOST_LEFT_OUT, CLOSE_PH
    )
    if found is not None:
        what = "base" if found > 0 else "acid"
        mmol = abs(found) * mixture.water_g  # in 100 g of product
        yield f"{mmol:.2g} mmol of {what} in 100 g that the sheet does not name"


def _ph(mixture: Mixture, model: Model) -> float:
    try:
        return saturate(mixture, model).equilibrium.ph
    except NoConvergenceError:
        return math.nan
