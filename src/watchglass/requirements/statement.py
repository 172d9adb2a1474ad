"""statement: the label carries a statement, because of a substance or because of what the product is.

The limit in force says from which amount of the substance the statement is due. A duty whose statement is not there
breaks, also when the formula has no label yet: it is not ready to sell, and the mend is the statement to add.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.errors import Place
from watchglass.interval import Limit, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, enumerated, largest, names_of, settled
from watchglass.requirements.percent import amount_as, in_unit
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `statement` requirement: {say, of, as, only_as, not_as, without_as, unless}."""
    say = tuple(parameters["say"])
    lifting = frozenset(parameters.get("without_as", ()))
    names = frozenset(substances.resolve(parameters["of"])) if "of" in parameters else None

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        if lifting and _there_for(case, lifting):
            return []
        if names is None:
            return _due_on_product(case, say, parameters)
        return settled(case, names, parameters, lambda portions: _due(case, limit, portions, say, parameters))

    return Check(judge, names)


def _there_for(case: Case, functions: frozenset[str]) -> list[Portion]:
    """The portions that are there for one of some functions."""
    return [
        portion for portion in case.composition.portions if portion.function in functions and portion.percent.high > 0
    ]


def _due_on_product(case: Case, say: tuple[str, ...], parameters: Mapping[str, Any]) -> list[Judgement]:
    """The duty of a product for what it is, or for holding anything of a function."""
    holding = _there_for(case, frozenset(parameters.get("only_as", ())))
    if "only_as" in parameters and not holding:
        return []
    found = names_of(holding)
    place = largest(holding).line.place if holding else case.formula.place("product")
    where = largest(holding).line.where if holding else "product"
    called = f"a product of this kind{f' with {enumerated(found)}' if found else ''}"
    carried = _carried(case, say, place, called, found)
    if carried is not None:
        return [carried]
    message = f"{called} asks for {_wanted(say)}, which the label does not carry"
    return [Judgement("breaks", message, place, where, found, needs=(_mend(say),), statements=say)]


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
    carried = _carried(case, say, pointed.place, enumerated(found), found)
    if carried is not None:
        return [carried._replace(value=value, unit=in_unit(target), limit=limit)]
    message = f"{enumerated(found)}{amount} asks for {_wanted(say)}, which the label does not carry"
    needs: tuple[str, ...] = (
        _mend(say),
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


def _carried(case: Case, say: tuple[str, ...], place: Place, called: str, found: tuple[str, ...]) -> Judgement | None:
    """What to say where the label carries one of the statements."""
    there = next((statement for statement in say if statement in case.formula.statements), None)
    if there is None:
        return None
    message = f"the label carries {there} for {called}"
    return Judgement("meets", message, case.formula.statement_places.get(there, place), "label.statements", found)


def _wanted(say: tuple[str, ...]) -> str:
    return f"the statement {' or '.join(say)}"


def _mend(say: tuple[str, ...]) -> str:
    return f"add {say[0]} to label.statements"
