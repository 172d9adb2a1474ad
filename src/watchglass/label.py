"""What goes on the label of a market: the ingredient declaration in its legal order, the statements, what is left.

Names are those of the materials as they are added; what perfumes inside a mixture goes by the mixture's name, unless it
must be named itself. Nothing here says that a label is complete: each market asks for more than a formula holds.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal
from itertools import pairwise
from typing import Any, Literal, NamedTuple

from watchglass.conditions import WIDER_MARKET
from watchglass.errors import CannotRun
from watchglass.findings import Finding, Review
from watchglass.formula import Formula
from watchglass.interval import Interval, Limit
from watchglass.judge import case_of, review
from watchglass.nearest import did_you_mean
from watchglass.requirements import Case
from watchglass.requirements.declared import printed_amounts
from watchglass.rulebook import Rulebook

Group = Literal["ordered", "free", "colourant"]
COLOURANT: Group = "colourant"
COLOUR_INDEX = re.compile(r"CI [0-9]{5}")
ABOUT_THE_LABEL = ("statement", "declared", "claim")


class Item(NamedTuple):
    """One ingredient of the declaration.

    Attributes:
        name: As it is printed.
        percent: Of the product, as added.
        group: In order of weight; so little that the order is free; a colourant, last.
        because: Why it is named though it is inside a mixture; None: it is an ingredient of its own.
    """

    name: str
    percent: Interval
    group: Group
    because: str | None = None


class Required(NamedTuple):
    """A statement that a rule asks for.

    Attributes:
        any_of: Ids of statements of which one will do.
        texts: What each must say.
        carried: Whether the formula's label has it.
        finding: The duty, with its rule, reason and source, as if nothing were on the label.
    """

    any_of: tuple[str, ...]
    texts: Mapping[str, str]
    carried: bool
    finding: Finding


class LabelCopy(NamedTuple):
    """All that can be said of a label.

    Attributes:
        market: For which.
        on: The date of the rules.
        title: Of the formula.
        code: The maker's own.
        heading: Before the list.
        items: The declaration, in order.
        open_order: Pairs whose order the tolerances leave open.
        required: Statements.
        lacking: What the label in the file lacks or says too much.
        left: What the maker adds.
        sources: Of the order of the list and of what is left.
    """

    market: str
    on: str
    title: str
    code: str | None
    heading: str
    items: tuple[Item, ...]
    open_order: tuple[tuple[str, str], ...]
    required: tuple[Required, ...]
    lacking: tuple[Finding, ...]
    left: tuple[str, ...]
    sources: tuple[Mapping[str, Any], Mapping[str, Any]]


def label_copy(formula: Formula, book: Rulebook, on: str, market: str) -> LabelCopy:
    """What goes on the label.

    Args:
        formula: As written.
        book: For the rules and what each market wants.
        on: The date.
        market: One of the closed list; a state's label is that of its country, with the state's own duties.

    Raises:
        CannotRun: Nothing is known of the market's labels, or a material is not known.
    """
    facts = book.labels.get(market) or book.labels.get(WIDER_MARKET.get(market, ""))
    if facts is None:
        raise CannotRun(f'no label for the market "{market}"{did_you_mean(market, book.labels)}')
    case = case_of(formula, book)
    if case.composition.complaints:
        first = case.composition.complaints[0]
        raise CannotRun(f"line {first.place.line}: {first.message}; mend the sheet first, see 'watchglass review'")
    reviewed = review(formula, book, on, markets=(market,))
    without = formula._replace(statements=(), statement_places={}, ingredients=(), ingredient_places={})
    bare = review(without, book, on, markets=(market,))
    items = tuple(_items(case, dict(_to_be_named(bare, book)), facts))
    return LabelCopy(
        market=market,
        on=on,
        title=formula.title,
        code=formula.code,
        heading=facts["heading"],
        items=items,
        open_order=tuple(_open_order(items)),
        required=tuple(_required(bare, formula)),
        lacking=tuple(f for f in reviewed.findings if f.requirement in ABOUT_THE_LABEL and f.verdict != "deviation"),
        left=tuple(facts["left"]),
        sources=(_cited(facts["source"], book), _cited(facts["left_source"], book)),
    )


# -- the declaration ---------------------------------------------------------------------------------------------


def _items(case: Case, to_be_named: Mapping[str, str], facts: Mapping[str, Any]) -> Iterator[Item]:
    colourants = {p.printed for p in case.composition.portions if p.function == COLOURANT}
    amounts = printed_amounts(case)
    named: dict[str, tuple[Interval, str | None]] = {name: (amount, None) for name, amount in amounts.items()}
    for name, reason in to_be_named.items():
        named.setdefault(name, (case.composition.percent([name]), reason))
    free = _free_below(facts)
    groups: dict[Group, list[Item]] = {"ordered": [], "free": [], "colourant": []}
    for name, (percent, because) in named.items():
        group: Group = "colourant" if name in colourants else "free" if free.holds(percent.middle) else "ordered"
        called = facts.get("call", {}).get(name, name)
        groups[group].append(Item(_number_of(name, case) if group == COLOURANT else called, percent, group, because))
    for items in groups.values():
        yield from sorted(items, key=lambda item: (-item.percent.middle, item.name))


def _number_of(name: str, case: Case) -> str:
    """A colourant goes by its Colour Index number, where it has one."""
    substance = case.substances.find(name)
    words = (name, *(substance.facts.get("synonyms", ()) if substance is not None else ()))
    return next((word for word in words if COLOUR_INDEX.fullmatch(word)), name)


def _to_be_named(bare: Review, book: Rulebook) -> Iterator[tuple[str, str]]:
    """What a rule wants named though it is inside a mixture, and which rule."""
    for finding in bare.findings:
        if finding.requirement == "declared" and finding.substances and finding.verdict == "breaks":
            rule = book.find(finding.address)[0]
            yield rule.parameters.get("called", finding.substances[0]), finding.address


def _free_below(facts: Mapping[str, Any]) -> Limit:
    if "free_below" in facts:
        return Limit(below=Decimal(str(facts["free_below"])))
    return Limit(max=Decimal(str(facts["free_up_to"])))


def _open_order(items: Sequence[Item]) -> Iterator[tuple[str, str]]:
    """Neighbours whose amounts overlap: which of them is more depends on the lot."""
    ordered = [item for item in items if item.group == "ordered"]
    for one, other in pairwise(ordered):
        if other.percent.high > one.percent.low and not (one.percent.is_exact and other.percent.is_exact):
            yield one.name, other.name


# -- statements --------------------------------------------------------------------------------------------------


def _required(bare: Review, formula: Formula) -> Iterator[Required]:
    """Each duty once, whoever asks for it first."""
    seen: set[tuple[str, ...]] = set()
    for finding in bare.findings:
        if finding.statements and finding.statements not in seen:
            seen.add(finding.statements)
            carried = any(statement in formula.statements for statement in finding.statements)
            yield Required(finding.statements, finding.texts, carried, finding)


def _cited(source: Mapping[str, str], book: Rulebook) -> Mapping[str, Any]:
    return {"ref": source["ref"], "title": book.sources[source["ref"]]["title"], **source}
