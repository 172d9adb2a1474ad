"""The undissociated share of each acid and preservative of a formula against pH."""

from __future__ import annotations

from typing import NamedTuple

from watchglass.solution import Solution, undissociated
from watchglass.solution.model import Model

LOWEST_PH, HIGHEST_PH = 2.0, 9.0
STEPS_PER_PH = 10
LEAST_PERCENT = 0.005  # of the product; less is 0.00 in print


class Share(NamedTuple):
    """One acid: its share that holds every proton, 0 to 1, at each pH; and what it is at the pH of the product."""

    substance: str
    total_percent: float
    points: tuple[tuple[float, float], ...]
    here: tuple[float, float, float]


def shares_of(solution: Solution, model: Model) -> tuple[Share, ...]:
    """The acids whose share changes between the ends, the strongest first; none without a pH."""
    phs = [LOWEST_PH + step / STEPS_PER_PH for step in range(round((HIGHEST_PH - LOWEST_PH) * STEPS_PER_PH) + 1)]
    curves = [undissociated(solution.mixture, ph, model) for ph in phs] if solution.forms else []
    found = [
        Share(
            form.substance,
            form.total_percent,
            tuple((ph, curve[form.substance]) for ph, curve in zip(phs, curves, strict=True)),
            form.uncharged_share,
        )
        for form in sorted(solution.forms, key=lambda form: (form.first_pka, form.substance))
        if form.is_acid and LOWEST_PH < form.first_pka < HIGHEST_PH and form.total_percent >= LEAST_PERCENT
    ]
    return tuple(found)
