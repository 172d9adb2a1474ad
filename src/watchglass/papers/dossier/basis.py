"""What the document rests on: each rule's figure, each constant, each source and how it was read."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from watchglass.cite import unit_of, value_in_words
from watchglass.dossier import Dossier
from watchglass.dossier.evidence import Constant, Evidence
from watchglass.interval import Limit
from watchglass.papers.dossier.blocks import Block, Cell, Link, Table, Words

NOTHING = "-"
HOW = (
    "primary: read in the text itself. secondary: read in another text that restates it. memory: not read; such a "
    "figure gives no error and never counts as met."
)


def evidence(dossier: Dossier) -> Iterator[Block]:
    """Rules, constants of chemistry, then every source once."""
    yield Words(f"How each figure was read: {HOW}")
    yield Table(
        f"Rules that had a say on {dossier.review.on}",
        ("Rule", "What it is about", "Figure", "Source and place in it", "Binding", "Read"),
        [_rule(item) for item in dossier.evidence],
        (5, 5, 4, 7, 3, 3),
    )
    if dossier.constants:
        yield Table(
            "Constants of chemistry",
            ("Substance", "Quantity", "Figure", "Source", "Read"),
            [_constant(constant) for constant in dossier.constants],
            (4, 4, 4, 7, 3),
        )
    sources = {source["title"]: source for source in _sources(dossier)}
    yield Table(
        "Sources",
        ("Title", "Body", "Published", "Read on", "Link"),
        [_source(sources[title]) for title in sorted(sources)],
        (7, 4, 3, 3, 5),
    )


def _rule(item: Evidence) -> tuple[str, ...]:
    rule = item.rule
    unit = unit_of(rule)
    told = [value_in_words(value, unit) for value in item.values if value != Limit()]
    place = rule.source.get("at", "")
    at = f"{item.source['title']}{', ' if place else ''}{place}"
    return rule.address, rule.title, " or ".join(dict.fromkeys(told)) or NOTHING, at, rule.binding, rule.read


def _constant(constant: Constant) -> tuple[str, ...]:
    at = f", {constant.at}" if constant.at else ""
    return constant.substance, constant.quantity, constant.figure, f"{constant.source['title']}{at}", constant.read


def _sources(dossier: Dossier) -> Iterator[Mapping[str, Any]]:
    yield from (item.source for item in dossier.evidence)
    yield from (constant.source for constant in dossier.constants)


def _source(source: Mapping[str, Any]) -> tuple[Cell, ...]:
    link = source.get("link", "")
    return (
        source["title"],
        source["body"],
        str(source.get("published", NOTHING)),
        str(source.get("read_on", NOTHING)),
        Link(link, link) if link else NOTHING,
    )
