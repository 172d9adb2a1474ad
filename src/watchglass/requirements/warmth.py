"""warmth: how warm the phase may be in which a substance is weighed.

A phase that states no temperature is judged only where the product cannot be made cold: something in it has to melt,
or another phase is too hot for the substance.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.formula import Phase
from watchglass.interval import Interval, Limit, shown
from watchglass.requirements import Case, Check, Judgement, enumerated, largest, names_of, settled
from watchglass.requirements.percent import VERDICTS, limit_in_words
from watchglass.substances import Substances

UNIT = "°C"

# What gives a product its body and is solid: it has to be melted. An active of the same kind dissolves in cold oil.
MELTED = {"emulsifier", "thickener", "emollient"}


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `warmth` requirement: {of, only_as, not_as}."""
    names = frozenset(substances.resolve(parameters["of"]))

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        def of(portions: list[Portion]) -> list[Judgement]:
            by_phase: dict[str, list[Portion]] = {}
            for portion in portions:
                by_phase.setdefault(portion.line.phase, []).append(portion)
            phases = {phase.name: phase for phase in case.formula.phases}
            judged = (_judgement(case, limit, phases[name], own) for name, own in by_phase.items())
            return [judgement for judgement in judged if judgement is not None]

        return settled(case, names, parameters, of)

    return Check(judge, names)


def _judgement(case: Case, limit: Limit, phase: Phase, portions: list[Portion]) -> Judgement | None:
    names, pointed = names_of(portions), largest(portions).line
    where, told = f"phases.{phase.name}", f'{enumerated(names)} goes into phase "{phase.name}"'
    if phase.temperature is not None:
        value = Interval.exactly(phase.temperature)
        message = f"{told} at {shown(phase.temperature)} {UNIT}{limit_in_words(limit)}"
        return Judgement(
            VERDICTS[limit.standing(value)], message, pointed.place, where, names, value, UNIT, limit,
            ("move it into a phase that has cooled down",) if limit.standing(value) == "outside" else (),
        )  # fmt: skip
    why = _needs_heat(case, limit)
    if why is None:
        return None
    message = f"{told}, whose temperature is not stated; {why}{limit_in_words(limit)}"
    needs = (f"state the temperature of phase {phase.name}",)
    return Judgement("undecided", message, pointed.place, where, names, None, UNIT, limit, needs)


def _needs_heat(case: Case, limit: Limit) -> str | None:
    """Why the product cannot be taken for one that is made cold."""
    for phase in case.formula.phases:
        if phase.temperature is not None and not limit.holds(phase.temperature):
            return f'phase "{phase.name}" is at {shown(phase.temperature)} {UNIT}'
    for portion in case.composition.portions:
        substance = portion.substance
        is_fat = substance.state == "solid" and substance.dissolves == "in oil" and MELTED & set(substance.functions)
        if is_fat and portion.percent.high > 0:
            return f"{substance.name} has to melt"
    return None
