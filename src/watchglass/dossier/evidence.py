"""What a review rests on: each rule that had a say with its figure and source, and each constant of chemistry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

from watchglass.findings import Review
from watchglass.formula import Formula
from watchglass.requirements import Case
from watchglass.rulebook import Rule, Rulebook, Value, id_of


class Evidence(NamedTuple):
    """One rule as it stood on the day.

    Attributes:
        rule: The rule, or the row of a table.
        values: What could hold for the product that day; several where its kind is open.
        source: The act, opinion or paper, as `rules/sources.yaml` has it.
    """

    rule: Rule
    values: tuple[Value, ...]
    source: Mapping[str, Any]


class Constant(NamedTuple):
    """One figure of chemistry; `read`: primary, secondary or memory."""

    substance: str
    quantity: str
    figure: str
    source: Mapping[str, Any]
    at: str
    read: str


def evidence_of(review: Review, book: Rulebook) -> tuple[Evidence, ...]:
    """Every rule of a review but those that do not apply, in the order of their addresses."""
    assert review.formula is not None
    named = {*review.meets, *review.not_in_force, *(finding.address for finding in review.findings)}
    rules = {rule.address: rule for address in sorted(named) for rule in _rules_at(address, book)}
    return tuple(
        Evidence(rule, tuple(_values(rule, review.on, review.formula)), book.sources[rule.source["ref"]])
        for _, rule in sorted(rules.items())
    )


def constants_of(case: Case, book: Rulebook) -> tuple[Constant, ...]:
    """The pKa values of the acids and bases in the water, and the solubilities that are known of what is in it."""
    parents = {parent.name: parent for parent in case.solution.mixture.parents}
    present = parents | {portion.substance.name: portion.substance for portion in case.composition.portions}
    return tuple(
        constant for name in sorted(present) for constant in _constants(name, present[name].facts, book.sources)
    )


def _rules_at(address: str, book: Rulebook) -> Iterable[Rule]:
    """The rule of an address; a preservative system is an entry of its rule."""
    return book.find(address) or (book.find(id_of(address)) if address in book.systems else [])


def _values(rule: Rule, on: str, formula: Formula) -> Iterator[Value]:
    for tier in rule.tiers:
        fits = tier.fits(formula.product)
        value = tier.series.on(on, formula.on_market_since) if fits is not False else None
        if value is not None:
            yield value
        if fits:
            return


def _constants(name: str, facts: Mapping[str, Any], sources: Mapping[str, Mapping[str, Any]]) -> Iterator[Constant]:
    for number, step in enumerate(facts.get("ionisation", {}).get("steps", ()), start=1):
        yield _constant(name, f"pKa {number} at 25 °C", f"{step['pka']} ± {step['uncertainty']}", step, sources)
    known = facts.get("water_solubility")
    if known is not None:
        between = f" ({known['low']} to {known['high']})" if "low" in known else ""
        figure = f"{known['grams_per_100_g_water']}{between} g in 100 g of water"
        yield _constant(name, f"solubility at {known['at_c']} °C", figure, known, sources)


def _constant(
    name: str, quantity: str, figure: str, facts: Mapping[str, Any], sources: Mapping[str, Mapping[str, Any]]
) -> Constant:
    source = facts["source"]
    return Constant(name, quantity, figure, sources[source["ref"]], source.get("at", ""), source["read"])
