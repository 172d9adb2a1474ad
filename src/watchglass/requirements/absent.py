"""absent: the substance is not in the product, in no amount.

With `unless` a supplier fact excuses it: in any amount, or up to a limit that is more than nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import Limit, shown_interval
from watchglass.requirements import Case, Check, Judgement, enumerated, largest, names_of, settled
from watchglass.requirements.percent import amount_as
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of an `absent` requirement: {of, only_as, not_as, unless}."""
    names = frozenset(substances.resolve(parameters["of"]))
    fact = parameters.get("unless")

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        return settled(
            case, names, parameters, lambda found: _judgements(case, limit, found, fact, "only_as" in parameters)
        )

    return Check(judge, names)


def _unless_there_for_something_else(portions: list[Portion]) -> tuple[str, ...]:
    """What would take the break away, where the function is only what the substance is usually for."""
    unsaid = names_of(portion for portion in portions if portion.line.function is None)
    return (
        (f"state the function of {enumerated(unsaid)} on its line, if it is there for something else",)
        if unsaid
        else ()
    )


def _judgements(case: Case, limit: Limit, portions: list[Portion], fact: str | None, only_as: bool) -> list[Judgement]:
    found, pointed = names_of(portions), largest(portions).line
    value = amount_as(portions, "supplied", case.substances)
    amount = shown_interval(value) if value is not None else "some"
    excuse = "" if fact is None else f" unless the supplier declares {fact}"
    message = f"{enumerated(found)} must not be in this product{excuse}; it holds {amount} % w/w"
    if fact is None:
        needs = _unless_there_for_something_else(portions) if only_as else ()
        return [Judgement("breaks", message, pointed.amount_place, pointed.where, found, value, "% w/w", limit, needs)]
    excused = limit.standing(value) if value is not None and limit.max else "inside"
    if excused == "outside":
        message += f", and even then {limit.in_words()} is allowed"
        return [Judgement("breaks", message, pointed.amount_place, pointed.where, found, value, "% w/w", limit)]
    if excused == "inside" and all(fact in portion.declares for portion in portions):
        message = f"{enumerated(found)}: the supplier declares {fact}"
        return [Judgement("meets", message, pointed.amount_place, pointed.where, found, value, "% w/w", limit)]
    needs = (f"declare {fact} on the material, if the supplier confirms it",)
    return [Judgement("undecided", message, pointed.amount_place, pointed.where, found, value, "% w/w", limit, needs)]
