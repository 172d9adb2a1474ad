"""total: the sheet adds up: the product and each material to 100, grams to the batch, and every name is known."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import MOST_SUGGESTIONS
from watchglass.interval import Interval, Limit, shown
from watchglass.nearest import did_you_mean
from watchglass.requirements import Case, Check, Judgement, Verdict
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `total` requirement: {of: product | material | batch | names}."""
    about = parameters["of"]

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        found = [_sum(total, limit) for total in case.composition.totals if total.about == about]
        verdict: Verdict = "undecided" if about == "names" else "breaks"
        for complaint in case.composition.complaints:
            if complaint.about == about:
                needs = ("the right name, or what the material contains",) if about == "names" else ()
                found.append(Judgement(verdict, complaint.message, complaint.place, complaint.where, needs=needs))
        if about == "names":
            found += _unknown_words(case)
        if not found and about in ("product", "names"):
            place = case.formula.place("phases")
            message = "every name is known" if about == "names" else "the qs line makes the formula up to 100 %"
            found.append(Judgement("meets", message, place, "phases"))
        return found

    return Check(judge)


def _sum(total: Any, limit: Limit) -> Judgement:
    value = Interval.exactly(total.value)
    rounded = value if total.about != "batch" else value.rounded(4)
    inside = limit.standing(rounded) == "inside"
    off = total.value - 100
    side = "over" if off > 0 else "short"
    if total.about == "batch":
        message = total.called
        message += "" if inside else f": {shown(abs(rounded.low - 100))} % {side}"
        return Judgement("meets" if inside else "breaks", message, total.place, total.where, value=rounded, unit="%")
    message = f"{total.called} make {shown(total.value)} %"
    if not inside:
        message += f"; they must make 100: {shown(abs(off))} % {side}"
    verdict: Verdict = "meets" if inside else "breaks"
    return Judgement(verdict, message, total.place, total.where, value=value, unit="% w/w", limit=limit)


def _unknown_words(case: Case) -> list[Judgement]:
    """Statement ids and supplier facts that no rule knows; a misspelt one would mend nothing."""
    found = []
    for number, (statement, place) in enumerate(case.formula.statement_places.items()):
        if statement not in case.statements:
            hint = did_you_mean(statement, case.statements) if number < MOST_SUGGESTIONS else ""
            hint = hint or "; 'watchglass cite RULE' shows what a rule asks for"
            message = f'unknown statement "{statement}"{hint}'
            found.append(
                Judgement(
                    "undecided", message, place, f"label.statements[{number}]", needs=("the id of the statement",)
                )
            )
    for name, material in case.formula.materials.items():
        for fact in material.declares:
            if fact not in case.facts:
                message = f'unknown supplier fact "{fact}"{did_you_mean(fact, case.facts) or "; no rule asks for it"}'
                place = case.formula.place("shelf") if material.on_shelf else material.place
                needs = ("the name of the fact",)
                found.append(Judgement("undecided", message, place, f"materials.{name}.declares", needs=needs))
    return found
