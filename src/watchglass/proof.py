"""A rule's examples, run: each small formula is reviewed with that rule alone, and the verdict compared."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any, NamedTuple

from watchglass.conditions import Kinds, alternatives_of, of_type
from watchglass.findings import Review
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import case_of, review
from watchglass.proofread import VERDICTS
from watchglass.requirements import Case
from watchglass.rulebook import Rule, Rulebook

PRODUCT = {"use": "leave-on", "site": "face", "form": "liquid", "audience": "adults", "applied_by": "consumer"}
USUAL_DATE = "2026-11-25"
HOLDER_PERCENT = 1  # of the product, for a material that an example puts a substance inside of


class Example(NamedTuple):
    """One example of a rule or of a row.

    Attributes:
        rule: The rule or row that it proves.
        facts: The example as its file has it.
        verdict: What it says must come out.
    """

    rule: Rule
    facts: Mapping[str, Any]
    verdict: str

    @property
    def name(self) -> str:
        """For a test report."""
        amounts = ", ".join(f"{name} {percent}" for name, percent in self.facts[self.verdict].items())
        other = {key: value for key, value in self.facts.items() if key not in (self.verdict, "says")}
        return f"{self.rule.address}: {amounts}{f' {other}' if other else ''} {self.verdict}"


class Outcome(NamedTuple):
    """What came out of an example: verdicts, and everything that the maker is told."""

    verdicts: frozenset[str]
    messages: tuple[str, ...]

    def proves(self, example: Example) -> bool:
        """Whether the verdict came out and the message holds the words that it must."""
        told = " ".join(self.messages)
        words = example.facts.get("says", ())
        return example.verdict in self.verdicts and all(_is_said(word, told) for word in words)


def _is_said(word: str, told: str) -> bool:
    """Whether a word stands there by itself: 10 is not said by 10.01."""
    return re.search(rf"(?<![\w.]){re.escape(word)}(?![\w]|\.[0-9])", told) is not None


def examples(book: Rulebook) -> Iterator[Example]:
    """Every example of every rule and row."""
    for rule in book.rules:
        shared = rule.facts.get("examples", ())
        own = shared if rule.row is None else [facts for facts in shared if facts.get("entry") == rule.entry]
        for facts in [*own, *(rule.row.get("examples", ()) if rule.row is not None else ())]:
            verdict = next(verdict for verdict in VERDICTS if verdict in facts)
            yield Example(rule, facts, verdict)


def run(example: Example, book: Rulebook) -> Outcome:
    """Review the example's formula with its rule alone.

    Raises:
        ValueError: The example is not a formula.
    """
    return hold(trial(example, book), book, example.rule)


class Trial(NamedTuple):
    """An example's formula, worked out, to be held against its rule, and against the rule as it is not."""

    case: Case
    on: str


def trial(example: Example, book: Rulebook) -> Trial:
    """Work out the example's formula.

    Raises:
        ValueError: The example is not a formula.
    """
    formula = formula_of(_text(example, book.kinds), Path())
    if not isinstance(formula, Formula):
        raise ValueError(f"{example.name}: {formula[0].message}")
    return Trial(case_of(formula, book), example.facts.get("on", USUAL_DATE))


def hold(tried: Trial, book: Rulebook, rule: Rule) -> Outcome:
    """Review a formula with a rule alone, as the rule's facts and row say it."""
    alone = book._replace(rules=book.rules.alone(rule))
    found = review(tried.case.formula, alone, tried.on, case=tried.case)
    messages = tuple(finding.message for finding in found.findings)
    return Outcome(_verdicts(found, rule), messages + found.cautions)


def _verdicts(found: Review, rule: Rule) -> frozenset[str]:
    verdicts = {finding.verdict for finding in found.findings if finding.rule == rule.id}
    if verdicts:
        return frozenset(verdicts)
    if found.meets:
        return frozenset({"meets"})
    return frozenset({"not_in_force" if found.not_in_force else "does_not_apply"})


def _text(example: Example, kinds: Kinds) -> str:
    """The example as the YAML text of a formula, so that it goes the way of every formula."""
    import json

    facts = example.facts
    product, market = _product(example, kinds)
    amounts = facts[example.verdict]
    materials = _materials(facts, amounts)
    names = dict(zip(amounts, materials, strict=True)) if materials else {name: name for name in amounts}
    shares = {name: HOLDER_PERCENT if "inside" in facts else percent for name, percent in amounts.items()}
    lines: list[dict[str, Any]] = [{"material": names[name], "percent": share} for name, share in shares.items()]
    if "function" in facts:
        lines = [line | {"function": facts["function"]} for line in lines]
    if sum(amounts.values()) < 100 and "Aqua" not in amounts:
        lines.append({"material": "Aqua", "percent": "qs"})
    phase: dict[str, Any] = {"lines": lines}
    phase.update({key: facts[key] for key in ("note", "temperature") if key in facts})
    document: dict[str, Any] = {
        "formula": "an example",
        "product": product,
        "markets": [market],
        "phases": {"one": phase},
    }
    if "ph" in facts:
        document["measured"] = {"ph": facts["ph"], "tolerance": 0}
    if "on_market_since" in facts:
        document["on_market_since"] = facts["on_market_since"]
    label = {key: facts[key] for key in ("statements", "claims") if key in facts}
    if label:
        document["label"] = label
    if materials:
        document["materials"] = materials
    return json.dumps(document | facts.get("sheet", {}))


def _materials(facts: Mapping[str, Any], amounts: Mapping[str, float]) -> dict[str, Any]:
    """The materials that bring the substances of an example, where it says something of them."""
    if not {"declares", "inside"} & facts.keys():
        return {}
    materials = {}
    for number, (name, percent) in enumerate(amounts.items()):
        parts: dict[str, Any] = {name: 100}
        if "inside" in facts:
            share = float(Decimal(str(percent)) * 100 / HOLDER_PERCENT)
            parts = {facts["inside"]: "qs", name: share}
        materials[f"material {number}"] = {"contains": parts, "declares": facts.get("declares", [])}
    return materials


def _product(example: Example, kinds: Kinds) -> tuple[dict[str, Any], str]:
    """The first product that the rule applies to, changed as the example says, and the market."""
    product: dict[str, Any] = dict(PRODUCT)
    market = "eu"
    for block in (example.rule.facts.get("applies"), (example.rule.row or {}).get("applies")):
        first = alternatives_of(block)[0] if block is not None else {}
        if "type" in first:
            named = first["type"] if isinstance(first["type"], str) else first["type"][0]
            first = {**of_type(named, kinds)[0], **{key: value for key, value in first.items() if key != "type"}}
        for key, value in first.items():
            word = value if isinstance(value, str) else next(iter(value))
            if key == "markets":
                market = word
            elif key not in ("not", "stated"):
                product[key] = word
    return product | example.facts.get("product", {}), example.facts.get("market", market)
