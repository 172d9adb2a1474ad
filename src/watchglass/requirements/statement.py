"""statement: the label carries a statement while a substance is present.

The limit in force says from which amount the statement is due. A duty whose statement is not there breaks, also when
the formula has no label yet: it is not ready to sell, and the mend is the statement to add.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import Limit, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, largest, listed, names_of, settled
from watchglass.requirements.percent import amount_as, in_unit
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `statement` requirement: {say, of, as, only_as, not_as, unless}."""
    names = frozenset(substances.resolve(parameters["of"]))
    say = tuple(parameters["say"])

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        return settled(case, names, parameters, lambda portions: _due(case, limit, portions, say, parameters))

    return Check(judge, names)


def _due(
    case: Case, limit: Limit, portions: list[Portion], say: tuple[str, ...], parameters: Mapping[str, Any]
) -> list[Judgement]:
    found, pointed = names_of(portions), largest(portions).line
    target, fact = parameters.get("as", "supplied"), parameters.get("unless")
    value = amount_as(portions, target, case.substances)
    due = "straddles" if value is None else limit.standing(value)
    sources = {portion.line.where for portion in portions}
    if due == "outside" or (fact and len(sources) == 1 and all(fact in portion.declares for portion in portions)):
        return []
    amount = "" if value is None else f" at {shown_interval(value)} {in_unit(target)}"
    wanted = f"the statement {' or '.join(say)}"
    there = next((statement for statement in say if statement in case.formula.statements), None)
    if there is not None:
        place = case.formula.statement_places.get(there, pointed.place)
        message = f"the label carries {there} for {listed(found)}"
        return [Judgement("meets", message, place, "label.statements", found, value, in_unit(target), limit)]
    message = f"{listed(found)}{amount} asks for {wanted}, which the label does not carry"
    needs: tuple[str, ...] = (
        f"add {say[0]} to label.statements",
        f"or declare {fact} on the material, if the supplier confirms it",
    )
    if fact and len(sources) > 1:
        message += f"; {fact} of one material says nothing of the total of {len(sources)}"
        needs = (needs[0], "or have the total measured in the product")
    elif fact:
        message += f"; not due if the supplier declares {fact}"
    else:
        needs = needs[:1]
    open_question = due == "straddles" or fact is not None
    verdict: Verdict = "undecided" if open_question else "breaks"
    return [
        Judgement(
            verdict, message, pointed.place, pointed.where, found, value, in_unit(target), limit, needs, statements=say
        )
    ]
