"""listed: what is there as a preservative, a UV filter or a colourant is on the list of those that are allowed.

What is allowed is what another rule's table is about; the index puts it in. A line says what it is there for; what is
only usual for a substance breaks nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import Limit
from watchglass.requirements import Case, Check, Judgement, Verdict, enumerated, largest, names_of
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `listed` requirement: {function, by, also_allowed, in_part, unless}."""
    function, allowed = parameters["function"], frozenset(parameters["also_allowed"])
    fact, in_part = parameters.get("unless"), parameters.get("in_part", False)

    def judge(case: Case, _: Limit) -> list[Judgement]:
        found, unread = [], []
        for portions in _by_line(case, function):
            strangers = _strangers(portions, allowed, function)
            called = enumerated(names_of(strangers or portions))
            if not strangers:
                found.append(_judged("meets", portions, f"{called}: on the list of allowed {function}s"))
            elif fact is not None and all(fact in portion.declares for portion in strangers):
                found.append(_judged("meets", strangers, f"{called}: the supplier declares {fact}"))
            elif in_part:
                unread += strangers
            else:
                found.append(_not_listed(portions, strangers, function))
        if unread:
            found.append(_not_read(unread, function, fact))
        return found

    return Check(judge)


def _by_line(case: Case, function: str) -> list[list[Portion]]:
    """The portions of each line that says it is there for the function, or that says nothing and usually is."""
    lines: dict[str, list[Portion]] = {}
    for portion in case.composition.portions:
        if portion.function == function and portion.percent.high > 0:
            lines.setdefault(portion.line.where, []).append(portion)
    return list(lines.values())


def _strangers(portions: list[Portion], allowed: frozenset[str], function: str) -> list[Portion]:
    """What of a line is not on the list; in a blend, what only carries a listed part is no question."""
    others = [portion for portion in portions if portion.substance.name not in allowed]
    mainly = [portion for portion in others if portion.substance.usual_function == function]
    return others if not mainly and len(others) == len(portions) else mainly


def _not_listed(portions: list[Portion], strangers: list[Portion], function: str) -> Judgement:
    """Law where the line says what it is there for; else it is open what it is there for."""
    called = enumerated(names_of(strangers))
    message = f"{called}: not on the list of allowed {function}s"
    if portions[0].line.function != function:
        message += ", and the line does not say what it is there for"
        return _judged("undecided", strangers, message, (f"state the function of {called} on its line",))
    needs = (f"take one that is on the list, or state what {called} is there for, if it is something else",)
    return _judged("breaks", strangers, message, needs)


def _not_read(strangers: list[Portion], function: str, fact: str | None) -> Judgement:
    """One judgement for all lines: the list is the question."""
    called = enumerated(names_of(strangers))
    message = f"{called}: whether each is on the list of allowed {function}s, and for this use, was not read"
    needs = (f"look it up in the list{f', then declare {fact} on the material' if fact else ''}",)
    return _judged("undecided", strangers, message, needs)


def _judged(verdict: Verdict, portions: list[Portion], message: str, needs: tuple[str, ...] = ()) -> Judgement:
    line = largest(portions).line
    return Judgement(verdict, message, line.place, line.where, names_of(portions), needs=needs)
