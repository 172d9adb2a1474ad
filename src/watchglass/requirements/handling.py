"""handling: the step that holds a dangerous material has a note on how to do it.

The limit in force says from which strength of the material, as it is handled, the caution is due. The caution itself is
told whatever the verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import Interval, Limit, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, chosen, largest, listed, names_of
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `handling` requirement: {of, beside, caution}."""
    names = frozenset(substances.resolve(parameters["of"]))
    beside = frozenset(substances.resolve(parameters["beside"])) if "beside" in parameters else None
    caution = parameters["caution"]

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        notes = {phase.name: phase.note for phase in case.formula.phases}
        judgements = []
        for phase, portions in _by_phase(case, names, limit).items():
            others = _by_phase(case, beside, limit).get(phase) if beside is not None else None
            if beside is None or others:
                handled = [*portions, *(others or ())]
                told = any(_says(note) for note in (notes[phase], *(portion.line.note for portion in handled)))
                judgements.append(_judgement(phase, handled, told, caution))
        return judgements

    return Check(judge, names)


def _by_phase(case: Case, names: frozenset[str], limit: Limit) -> dict[str, list[Portion]]:
    """The portions of a strength that counts, by phase."""
    phases: dict[str, list[Portion]] = {}
    for portion in chosen(case, names, {}):
        if limit.holds(portion.strength.high):
            phases.setdefault(portion.line.phase, []).append(portion)
    return phases


def _says(note: str | None) -> bool:
    return note is not None and bool(note.strip())


def _judgement(phase: str, portions: list[Portion], told: bool, caution: str) -> Judgement:
    pointed = largest(portions)
    names = names_of(portions)
    strength = pointed.strength
    where = f"phases.{phase}"
    called = listed(dict.fromkeys(f"{p.substance.name} of {_strength(p.strength)}" for p in portions))
    message = f'{called} is handled in phase "{phase}", which has {"a" if told else "no"} note on how'
    verdict: Verdict = "meets" if told else "breaks"
    needs = () if told else (f"add a note to phase {phase}",)
    return Judgement(
        verdict,
        message,
        pointed.line.place,
        where,
        names,
        strength,
        "% w/w of the material",
        None,
        needs,
        caution=caution,
    )


def _strength(strength: Interval) -> str:
    return f"{shown_interval(strength)} %"
