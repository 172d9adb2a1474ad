"""handling: the step that holds a dangerous material has a note on how to do it.

The limit in force says from which strength of the material, as it is handled, the caution is due. The caution itself is
told whatever the verdict.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from watchglass.composition import Portion
from watchglass.formula import Material
from watchglass.interval import Interval, Limit, shown_interval
from watchglass.nearest import folded
from watchglass.requirements import Case, Check, Judgement, Verdict, chosen, enumerated, largest, names_of
from watchglass.solution.heat import Rise
from watchglass.solution.heat import of_dissolving as heat_of_dissolving
from watchglass.solution.heat import of_neutralising as heat_of_neutralising
from watchglass.solution.model import Model
from watchglass.substances import Substance, Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `handling` requirement: {of, beside, caution, heat}."""
    names = frozenset(substances.resolve(parameters["of"]))
    beside = frozenset(substances.resolve(parameters["beside"])) if "beside" in parameters else None
    caution, heat = parameters["caution"], parameters.get("heat")

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        notes = {phase.name: phase.note for phase in case.formula.phases}
        judgements = []
        for phase, portions in _by_phase(case, names, limit).items():
            others = _by_phase(case, beside, limit).get(phase) if beside is not None else None
            if beside is None or others:
                handled = [*portions, *(others or ())]
                told = any(_says(note) for note in (notes[phase], *(portion.line.note for portion in handled)))
                warming = _warming(case, phase, heat)
                judgements.append(_judgement(phase, handled, told, (caution, *warming)))
        return judgements

    return Check(judge, names)


def _warming(case: Case, phase: str, heat: str | None) -> tuple[str, ...]:
    """How warm it gets: when a stock is made, or when base and acid meet in the phase."""
    model = case.model
    if heat == "neutralising":
        inside = [portion for portion in case.composition.portions if portion.line.phase == phase]
        parts = [(portion.substance, float(portion.percent.high)) for portion in inside]
        rise = heat_of_neutralising(parts, sum(grams for _, grams in parts), model)
        return () if rise is None else (f'neutralising in phase "{phase}" warms it by {rise}, if no heat is lost',)
    if heat == "dissolving":
        lines = next(found for found in case.formula.phases if found.name == phase).lines
        known = {folded(name): material for name, material in case.formula.materials.items()}
        stocks = {line.material: known.get(folded(line.material)) for line in lines}
        found = {
            f'the stock "{name}"': heat_of_dissolving(_parts(case, stock), model)
            for name, stock in stocks.items()
            if stock is not None and stock.made
        }
        found[f'phase "{phase}"'] = heat_of_dissolving(_dry_in(case, phase), model)
        return tuple(
            f"{what} warms by {rise} when the caustic dissolves: from {model.room_c:g} to {_ends(rise, model)}; let it "
            "cool before the next step"
            for what, rise in found.items()
            if rise is not None
        )
    return ()


def _ends(rise: Rise, model: Model) -> str:
    """Where a rise ends from room temperature."""
    low, high = model.room_c + rise.low, model.room_c + rise.high
    if low >= model.boiling_c:
        return "boiling: it would spit; make it weaker, or on ice in many portions"
    return (
        f"about {low:.0f} °C or more, it may boil" if high >= model.boiling_c else f"about {low:.0f} to {high:.0f} °C"
    )


def _dry_in(case: Case, phase: str) -> list[tuple[Substance, float]]:
    """What is weighed into a phase under its own name, % w/w of the phase."""
    inside = [portion for portion in case.composition.portions if portion.line.phase == phase]
    whole = sum(float(portion.percent.high) for portion in inside) or 1.0
    neat = [portion for portion in inside if case.substances.find(portion.line.material) == portion.substance]
    return [(portion.substance, 100 * float(portion.percent.high) / whole) for portion in neat]


def _parts(case: Case, stock: Material) -> list[tuple[Substance, float]]:
    """The substances of a premix that it names itself, % w/w."""
    found = [(case.substances.find(name), share) for name, share in stock.parts.items()]
    return [(part, float(share)) for part, share in found if part is not None and isinstance(share, Decimal)]


def _by_phase(case: Case, names: frozenset[str], limit: Limit) -> dict[str, list[Portion]]:
    """The portions of a strength that counts, by phase."""
    phases: dict[str, list[Portion]] = {}
    for portion in chosen(case, names, {}):
        if limit.holds(portion.strength.high):
            phases.setdefault(portion.line.phase, []).append(portion)
    return phases


def _says(note: str | None) -> bool:
    return note is not None and bool(note.strip())


def _judgement(phase: str, portions: list[Portion], told: bool, cautions: tuple[str, ...]) -> Judgement:
    pointed = largest(portions)
    names = names_of(portions)
    strength = pointed.strength
    where = f"phases.{phase}"
    called = enumerated(dict.fromkeys(f"{p.substance.name} of {_strength(p.strength)}" for p in portions))
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
        cautions=cautions,
    )


def _strength(strength: Interval) -> str:
    return f"{shown_interval(strength)} %"
