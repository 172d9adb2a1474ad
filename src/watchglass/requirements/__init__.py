"""One module for each requirement word: what a rule can ask of a formula.

A module compiles a rule's parameters once, when the rulebook loads, to a `Check`; judging is a plain function of the
case and the limit that is in force. The date, the market and the binding are the review's business, not the word's.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

from watchglass.composition import Composition, Portion
from watchglass.errors import Place
from watchglass.formula import Formula
from watchglass.interval import Interval, Limit
from watchglass.solution import Solution
from watchglass.solution.model import Model
from watchglass.substances import NOT_SAID, Substances

WORDS = (
    "absent",
    "claim",
    "declared",
    "dissolved",
    "handling",
    "listed",
    "percent",
    "ph",
    "preserved",
    "statement",
    "together",
    "total",
    "warmth",
)

Verdict = Literal["meets", "breaks", "undecided"]


class Case(NamedTuple):
    """A formula with all that was worked out from it, and the words that it may use."""

    formula: Formula
    composition: Composition
    solution: Solution
    substances: Substances
    model: Model
    statements: Mapping[str, Mapping[str, Any]] = MappingProxyType({})
    facts: frozenset[str] = frozenset()
    claim_rules: tuple[Mapping[str, Any], ...] = ()


class Judgement(NamedTuple):
    """What one requirement says of one place.

    Attributes:
        verdict: meets, breaks or undecided.
        message: One sentence with both numbers where there are numbers.
        place: Where in the text.
        where: The same as a path.
        substances: What it is about.
        value: The number that was looked at, and its unit.
        limit: The limit it was held against.
        needs: What to measure or to declare when it is undecided.
        entry: The part of a table inside the requirement, if any.
        statements: Label statements any one of which would mend it.
        cautions: What to tell the maker whatever the verdict.
        read: How the figure behind this judgement was read, where it is not the rule's own.
        quiet: A note at most: the library lacks a figure, and nothing points to trouble.
    """

    verdict: Verdict
    message: str
    place: Place
    where: str
    substances: tuple[str, ...] = ()
    value: Interval | None = None
    unit: str = ""
    limit: Limit | None = None
    needs: tuple[str, ...] = ()
    entry: str | None = None
    statements: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    read: str | None = None
    quiet: bool = False


Judge = Callable[[Case, Limit], list[Judgement]]


class Check(NamedTuple):
    """A requirement with its parameters.

    Attributes:
        judge: The function of case and limit; an empty list means that it does not apply.
        touches: The substances without which it cannot apply; None: it may always.
    """

    judge: Judge
    touches: frozenset[str] | None = None


def compile_check(word: str, parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check that a rule's requirement stands for.

    Raises:
        KeyError: It names a substance or group that is not known; the name is the argument.
        ModuleNotFoundError: There is no such word.
    """
    module = importlib.import_module(f"watchglass.requirements.{word}")
    check: Check = module.compile_check(parameters, substances)
    return check


def chosen(case: Case, names: frozenset[str], parameters: Mapping[str, Any]) -> list[Portion]:
    """The portions that a rule counts: of these substances, with (or without) certain functions, of some amount.

    A function of which nothing is known may be any.
    """
    only, not_as = parameters.get("only_as"), parameters.get("not_as", ())
    return [
        portion
        for portion in case.composition.portions
        if portion.substance.name in names
        and portion.percent.high > 0
        and (only is None or portion.function in only or portion.function == NOT_SAID)
        and portion.function not in not_as
    ]


def settled(
    case: Case, names: frozenset[str], parameters: Mapping[str, Any], judge: Callable[[list[Portion]], list[Judgement]]
) -> list[Judgement]:
    """Judge the portions that a rule counts.

    An exemption by function (`not_as`) has to be claimed on the line: where it only follows from what the substance is
    usually for, a break by that portion is open until the function is stated. So it is where the function decides and
    nothing is known of it.
    """
    exempt = parameters.get("not_as", ())
    open_to = (*exempt, NOT_SAID) if exempt or "only_as" in parameters else ()
    counted = chosen(case, names, {key: value for key, value in parameters.items() if key != "not_as"})
    counted = [portion for portion in counted if portion.line.function not in exempt]
    sure = [portion for portion in counted if portion.function not in open_to]
    found = judge(counted) if counted else []
    if len(sure) == len(counted):
        return found
    firm = {(judgement.where, judgement.verdict) for judgement in (judge(sure) if sure else ())}
    unclear = enumerated(dict.fromkeys(portion.substance.name for portion in counted if portion.function in open_to))
    return [
        judgement if (judgement.where, judgement.verdict) in firm else _hanging_on(judgement, unclear)
        for judgement in found
    ]


def _hanging_on(judgement: Judgement, unclear: str) -> Judgement:
    """A judgement that an unstated function could take away; one that is met stays so, whatever the function."""
    needs = (f"state the function of {unclear} on its line",)
    if judgement.verdict == "meets":
        return judgement._replace(needs=needs)
    message = f"{judgement.message}; it depends on what {unclear} is there for"
    return judgement._replace(verdict="undecided", message=message, needs=needs)


def largest(portions: Iterable[Portion]) -> Portion:
    """The portion that a finding points at."""
    return max(portions, key=lambda portion: portion.percent.high)


def names_of(portions: Iterable[Portion]) -> tuple[str, ...]:
    """The substances of some portions, each once, in the order of the sheet."""
    return tuple(dict.fromkeys(portion.substance.name for portion in portions))


def enumerated(names: Iterable[str]) -> str:
    """Names in a sentence.

    >>> enumerated(["a", "b", "c"]), enumerated(["a", "b", "c", "d", "e"])
    ('a, b and c', 'a, b, c and 2 more')
    """
    words = list(names)
    if len(words) > 4:
        words = [*words[:3], f"{len(words) - 3} more"]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}" if words else ""
