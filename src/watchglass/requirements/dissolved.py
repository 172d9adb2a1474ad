"""dissolved: every powder that is meant to dissolve does, in the liquid that is really there.

`in: finished` looks at the whole product at its final pH, where a salt can drop out again as the free acid;
`in: phase` looks at each phase by itself, as it is made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import Interval, Limit
from watchglass.requirements import Case, Check, Judgement, Verdict, largest
from watchglass.solution.liquid import Liquid, liquid_of
from watchglass.solution.solubility import Dissolution, as_acid, is_as_in_plain_water, must_dissolve, own
from watchglass.substances import Substance, Substances

VERDICTS: dict[str, Verdict] = {"dissolves": "meets", "exceeds": "breaks", "unsure": "undecided"}
UNIT = "g per 100 g water"


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `dissolved` requirement: {in: finished | phase}."""
    judge = _in_finished if parameters["in"] == "finished" else _in_phases

    def checked(case: Case, _: Limit) -> list[Judgement]:
        return judge(case) if case.solution.has_water else []

    return Check(checked)


def undissolved(case: Case) -> list[str]:
    """The substances that stay undissolved in the finished product."""
    return [name for found in _in_finished(case) if found.verdict == "breaks" for name in found.substances]


def _in_finished(case: Case) -> list[Judgement]:
    water = case.solution.mixture.water_g
    liquid = liquid_of(case.composition.portions, case.solution.temperature_c, water)
    found = []
    for acid, portions in _acids(case).items():
        dissolution = as_acid(case.solution, case.substances[acid], liquid, case.model, _slack(portions))
        if dissolution is not None:
            found.append(_judgement(case, dissolution, portions, liquid, "the finished product"))
    for substance, portions in _powders(case.composition.portions):
        if substance.intrinsic_solubility is not None:
            continue  # judged above with its salts, at the pH of the product
        dissolution = own(substance, _amount(portions), liquid, case.model)
        if (
            dissolution.standing == "exceeds"
            and substance.steps
            and not is_as_in_plain_water(case.solution, substance, case.model)
        ):
            because = "ionised it dissolves better than this figure for plain water says"
            dissolution = dissolution._replace(standing="unsure", because=because)
        found.append(_judgement(case, dissolution, portions, liquid, "the finished product"))
    return found + _oil_soluble(case, liquid)


def _in_phases(case: Case) -> list[Judgement]:
    """Each phase with water of its own; a hot phase is judged in the finished product, when it is cold."""
    found = []
    by_phase: dict[str, list[Portion]] = {}
    for portion in case.composition.portions:
        by_phase.setdefault(portion.line.phase, []).append(portion)
    for phase in case.formula.phases:
        hot = phase.temperature is not None and float(phase.temperature) > case.model.solubility_valid_c[1]
        portions = by_phase.get(phase.name, [])
        temperature = case.solution.temperature_c if phase.temperature is None else float(phase.temperature)
        liquid = liquid_of(portions, temperature)
        if hot or liquid.water_g < case.model.no_water_below_percent:
            continue
        ionising = {p.substance.name for p in portions if p.substance.gives or p.substance.steps}
        for substance, own_portions in _powders(portions):
            if substance.steps and ionising - {substance.name}:
                continue  # neutralised on the way; judged in the finished product
            dissolution = own(substance, _amount(own_portions), liquid, case.model)
            if dissolution.standing != "unsure":  # what is open here is open in the finished product too
                found.append(_judgement(case, dissolution, own_portions, liquid, f'phase "{phase.name}"'))
    return found


def _oil_soluble(case: Case, liquid: Liquid) -> list[Judgement]:
    """Powders for the oil in a product that has neither oil nor solvent nor anything that takes them up."""
    if liquid.helped_by(case.model) is not None:
        return []
    found = []
    for substance, portions in _grouped(case.composition.portions):
        if substance.dissolves == "in oil" and substance.state == "solid" and substance.water_solubility is not None:
            dissolution = own(substance, _amount(portions), liquid, case.model)
            found.append(_judgement(case, dissolution, portions, liquid, "the finished product"))
    return found


def _acids(case: Case) -> dict[str, list[Portion]]:
    """Each acid with a known S0, and the lines that bring it: as such or as a salt."""
    acids: dict[str, list[Portion]] = {}
    for portion in case.composition.portions:
        if portion.percent.high == 0:
            continue
        for part in (portion.substance.name, *portion.substance.gives):
            if case.substances.find(part) and case.substances[part].intrinsic_solubility is not None:
                acids.setdefault(part, []).append(portion)
    return acids


def _powders(portions: Iterable[Portion]) -> Iterator[tuple[Substance, list[Portion]]]:
    for substance, own_portions in _grouped(portions):
        if must_dissolve(substance) and any(portion.percent.high > 0 for portion in own_portions):
            yield substance, own_portions


def _grouped(portions: Iterable[Portion]) -> list[tuple[Substance, list[Portion]]]:
    grouped: dict[str, list[Portion]] = {}
    for portion in portions:
        grouped.setdefault(portion.substance.name, []).append(portion)
    return [(own_portions[0].substance, own_portions) for own_portions in grouped.values()]


def _amount(portions: list[Portion]) -> tuple[float, float]:
    low = sum(float(portion.percent.low) for portion in portions)
    return low, sum(float(portion.percent.high) for portion in portions)


def _slack(portions: list[Portion]) -> float:
    low, high = _amount(portions)
    return (high - low) / (high + low) if high + low else 0.0


def _judgement(case: Case, found: Dissolution, portions: list[Portion], liquid: Liquid, there: str) -> Judgement:
    low, high = case.model.solubility_valid_c
    standing = found.standing
    because = f"; {found.because}" if found.because else ""
    if not low <= liquid.temperature_c <= high and standing != "unsure":
        standing, because = "unsure", f"; the figures hold from {low:g} to {high:g} C"
    name = found.substance.name
    amount = _figures(found.amount)
    message = f"{name} in {there}: {amount} {UNIT}"
    if found.limit is not None:
        message += f"; dissolves {_figures(found.limit)}"
    message += because
    pointed = largest(portions).line
    verdict = VERDICTS[standing]
    needs: tuple[str, ...] = ()
    if verdict == "undecided":
        open_ph = found.limit is None and found.solubility is not None
        needs = (
            ("measure the final pH",)
            if open_ph
            else (f"a small trial: does {name} dissolve, and does it stay so for some days in the cold?",)
        )
    limit = None if found.limit is None else Limit(max=_decimal(found.limit[1]))
    value = Interval(_decimal(found.amount[0]), _decimal(found.amount[1]))
    quiet = found.limit is None and found.solubility is None
    return Judgement(verdict, message, pointed.place, pointed.where, (name,), value, UNIT, limit, needs, quiet=quiet)


def _figures(ends: tuple[float, float]) -> str:
    low, high = (f"{_decimal(end):f}" for end in ends)
    return low if low == high else f"{low} to {high}"


def _decimal(value: float) -> Decimal:
    """Three significant figures: more would be false."""
    return Decimal(f"{value:.3g}").normalize() + 0
