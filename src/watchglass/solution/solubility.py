"""What dissolves in the liquid that is there, as a range: published figures scatter, and solvents move them.

An acid's total solubility follows from that of its uncharged form: S = S0 / (share that is uncharged at the pH).
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from watchglass.solution import Solution
from watchglass.solution.liquid import Liquid
from watchglass.solution.model import Model
from watchglass.substances import UNKNOWN, Solubility, Substance

# Sold as flakes or paste, they disperse as micelles or swell; a solubility says nothing of them.
FORM_MICELLES = frozenset({"surfactant", "emulsifier", "thickener", "conditioner"})

Standing = Literal["dissolves", "exceeds", "unsure"]


class Dissolution(NamedTuple):
    """One substance against its solubility.

    Attributes:
        substance: What must dissolve.
        amount: Lowest and highest grams per 100 g of water.
        limit: Lowest and highest solubility in the same unit; None where no figure is known.
        standing: The verdict.
        because: What decided it, in words.
        solubility: The figure it rests on.
    """

    substance: Substance
    amount: tuple[float, float]
    limit: tuple[float, float] | None
    standing: Standing
    because: str
    solubility: Solubility | None


def must_dissolve(substance: Substance) -> bool:
    """Whether it is a powder that is meant to go into the water, or may be one."""
    return (
        substance.state in ("solid", UNKNOWN)
        and substance.dissolves in (None, "in water")
        and substance.medium is None
        and (substance.water_solubility is not None or substance.usual_function not in FORM_MICELLES)
        and "caustics" not in substance.groups
    )


def own(substance: Substance, amount_percent: tuple[float, float], liquid: Liquid, model: Model) -> Dissolution:
    """A powder against its own figure for plain water."""
    amount = _per_100_g_water(amount_percent, liquid)
    figure = substance.water_solubility
    if figure is None:
        return Dissolution(substance, amount, None, "unsure", "its solubility in water is not known", None)
    factor = model.solubility_factor[figure.read]
    limit = (
        min(figure.low, figure.grams_per_100_g_water / factor),
        max(figure.high, figure.grams_per_100_g_water * factor),
    )
    return _judged(substance, amount, limit, liquid, model, figure, "")


def is_as_in_plain_water(solution: Solution, substance: Substance, model: Model) -> bool:
    """Whether an acid or base is hardly more ionised here than alone in water, where its figure was measured."""
    mixture, found = solution.mixture, solution.equilibrium
    names = [acid.name for acid in mixture.acids]
    if found is None or substance.name not in names:
        return False
    number = names.index(substance.name)
    alone = mixture.alone(number).solved(model).fractions[0][substance.charge]
    forms = solution.form(substance.name)
    here = forms.uncharged_share[1] if forms is not None else found.fractions[number][substance.charge]
    return here > model.as_in_plain_water * alone


def as_acid(solution: Solution, acid: Substance, liquid: Liquid, model: Model, slack: float) -> Dissolution | None:
    """All forms of an acid together, at the pH of the product; None where its S0 is not known.

    Args:
        solution: Gives the total and the uncharged share at the pH.
        acid: The acid; its salts in the product are in the total.
        liquid: The liquid of the whole product.
        model: The constants.
        slack: Relative half-width of the amount, from stated tolerances.
    """
    figure = acid.intrinsic_solubility
    if figure is None:
        return None
    factor = model.solubility_factor[figure.read]
    forms = solution.form(acid.name)
    total = forms.total_percent if forms else _total_percent(solution, acid)
    amount = _per_100_g_water((total * (1 - slack), total * (1 + slack)), liquid)
    low, high = figure.grams_per_100_g_water / factor, figure.grams_per_100_g_water * factor
    if forms is None:
        if amount[1] <= low:
            return Dissolution(acid, amount, (low, high), "dissolves", "even as free acid", figure)
        because = "it depends on the pH, which is not known: measure the pH"
        return Dissolution(acid, amount, None, "unsure", because, figure)
    least, _, most = forms.uncharged_share
    limit = (low / max(most, 1e-12), high / max(least, 1e-12))
    if solution.ph is not None and solution.ph.origin == "predicted":
        limit = _by_saturation(solution, acid, liquid, amount, limit)
    at = f"at pH {solution.ph.value:.2f}" if solution.ph else ""
    return _judged(acid, amount, limit, liquid, model, figure, at)


def _by_saturation(
    solution: Solution, acid: Substance, liquid: Liquid, amount: tuple[float, float], limit: tuple[float, float]
) -> tuple[float, float]:
    """Without a reading the pH follows from what dissolves, so the saturated solution itself says how much that is."""
    if acid.name not in solution.dissolved:
        return max(limit[0], amount[1]), max(limit[1], amount[1])
    least, most = _per_100_g_water(solution.dissolved[acid.name], liquid)
    return least, most if most < amount[0] * (1 - 1e-6) else max(most, limit[1])


def _judged(
    substance: Substance,
    amount: tuple[float, float],
    limit: tuple[float, float],
    liquid: Liquid,
    model: Model,
    figure: Solubility,
    because: str,
) -> Dissolution:
    helped = liquid.helped_by(model)
    standing: Standing = "unsure"
    if amount[1] <= limit[0] and not _is_starved(amount, limit, liquid, model):
        standing = "dissolves"
    elif amount[1] <= limit[0]:
        because = f"{liquid.organic_percent:.0f} % of the liquid is not water"
    elif amount[0] > limit[1] and helped is None:
        standing = "exceeds"
    elif amount[0] > limit[0] and helped is not None:
        because = helped
    return Dissolution(substance, amount, limit, standing, because, figure)


def _is_starved(amount: tuple[float, float], limit: tuple[float, float], liquid: Liquid, model: Model) -> bool:
    """Much solvent takes water away from what only water dissolves; then a figure for water proves little."""
    much = liquid.organic_percent > model.much_cosolvent_percent
    return much and amount[1] * model.ample > limit[0]


def _per_100_g_water(percent: tuple[float, float], liquid: Liquid) -> tuple[float, float]:
    water = liquid.water_g or 1e-9
    return 100 * percent[0] / water, 100 * percent[1] / water


def _total_percent(solution: Solution, acid: Substance) -> float:
    mixture = solution.mixture
    mass = float(acid.molar_mass or 0)
    return sum(a.molality_mol_per_kg * mixture.water_g / 1000 * mass for a in mixture.acids if a.name == acid.name)
