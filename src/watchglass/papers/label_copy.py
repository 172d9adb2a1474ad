"""The label copy: for the designer and the printer, with where each part comes from; as text or as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from typing import Any

from watchglass.errors import one_line
from watchglass.interval import shown_interval
from watchglass.label import Item, LabelCopy, Required

USUAL_WIDTH, LEAST_WIDTH = 96, 40
ENDING = (
    "This is a draft from the formula: the law of the day, its wording and the type size are read at the source before "
    "printing. Watchglass advises; it certifies nothing."
)


def text_of(copy: LabelCopy, width: int | None) -> str:
    """For a reader.

    Args:
        copy: What was worked out.
        width: Columns of a terminal; None: not a terminal.
    """
    columns = max(width or USUAL_WIDTH, LEAST_WIDTH)
    code = f" [{copy.code}]" if copy.code else ""
    lines = textwrap.wrap(one_line(f"Label copy of {copy.title}{code} for {copy.market}, rules of {copy.on}"), columns)
    lines.append("")
    lines += textwrap.wrap(one_line(declaration(copy)), columns, break_long_words=False, break_on_hyphens=False)
    lines += ["", *_wrapped("The order", order_in_words(copy), columns)]
    lines += ["", "Must be said:" if copy.required else "No statement is asked for by the rules at hand."]
    for required in copy.required:
        lines += _statement(required, columns)
    lines += ["", "Left for you:"]
    for words in copy.left:
        lines += _wrapped("[ ]", words, columns)
    lines += _source(copy.sources[1], columns)
    if copy.lacking:
        lines += ["", "The label in the file:"]
        for finding in copy.lacking:
            at = f"line {finding.place.line}, {finding.address}, {finding.verdict}:"
            lines += _wrapped(at, finding.message, columns)
    return "\n".join([*lines, "", *textwrap.wrap(ENDING, columns)]) + "\n"


def json_of(copy: LabelCopy) -> str:
    """For programs."""
    document: dict[str, Any] = {
        "schema_version": 1,
        "market": copy.market,
        "on": copy.on,
        "formula": copy.title,
        "code": copy.code,
        "declaration": declaration(copy),
        "ingredients": [
            {"name": item.name, "percent": shown_interval(item.percent), "group": item.group, "because": item.because}
            for item in copy.items
        ],
        "open_order": [list(pair) for pair in copy.open_order],
        "statements": [
            {
                "any_of": list(required.any_of),
                "texts": dict(required.texts),
                "carried": required.carried,
                "rule": required.finding.address,
                "verdict": required.finding.verdict,
                "changes_on": required.finding.changes_on,
                "source": required.finding.source,
            }
            for required in copy.required
        ],
        "lacking": [{"rule": f.address, "verdict": f.verdict, "message": f.message} for f in copy.lacking],
        "left": list(copy.left),
        "sources": [dict(source) for source in copy.sources],
    }
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def declaration(copy: LabelCopy) -> str:
    """The list as it is printed."""
    return f"{copy.heading}: {', '.join(item.name for item in copy.items)}"


def order_in_words(copy: LabelCopy) -> str:
    """How the list is ordered, and where it need not be."""
    source = copy.sources[0]
    words = "by weight as added, the largest first"
    free = [item for item in copy.items if item.group == "free"]
    if free:
        words += f"; from {free[0].name} on so little that any order will do"
    colours = [item.name for item in copy.items if item.group == "colourant"]
    if colours:
        words += f"; colourants last, in any order: {', '.join(colours)}"
    for one, other in copy.open_order:
        words += f"; {one} and {other} may change places within their tolerances"
    named = [_named(item) for item in copy.items if item.because]
    if named:
        words += f"; named although inside a mixture: {', '.join(named)}"
    return f"{words} ({_cited(source)})"


def _named(item: Item) -> str:
    return f"{item.name} {shown_interval(item.percent)} % by {item.because}"


def _statement(required: Required, columns: int) -> Iterator[str]:
    finding = required.finding
    mark = "on the label" if required.carried else "NOT on the label"
    if finding.verdict == "coming":
        mark += f", due from {finding.changes_on}"
    elif finding.verdict == "undecided":
        mark += "; whether it is due is open"
    for number, statement in enumerate(required.any_of):
        words = f"{required.texts[statement]} [{statement}; {mark}]"
        yield from _wrapped("  or" if number else "  -", words, columns)
    yield from _wrapped("     ", f"{finding.address}: {finding.why} ({_cited(finding.source)})", columns)


def _source(source: Any, columns: int) -> list[str]:
    return _wrapped("   ", f"({_cited(source)})", columns)


def _cited(source: Any) -> str:
    at = f", {source['at']}" if source.get("at") else ""
    return f"{source['title']}{at}; read: {source['read']}"


def _wrapped(name: str, words: str, columns: int) -> list[str]:
    """A paragraph after a mark, its further lines under its first word."""
    told = one_line(" ".join(words.split()))
    indent = " " * (len(name) - len(name.lstrip()) + 2)
    return textwrap.wrap(
        f"{name} {told}", columns, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False
    )
