"""What a paper is made of, whatever prints it: sections of words, facts, tables and pictures, as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, TypeAlias

from watchglass.errors import one_line


class Link(NamedTuple):
    """Words that lead to the place of a source; only https is one."""

    words: str
    href: str


Cell: TypeAlias = str | Link


class Words(NamedTuple):
    """A paragraph."""

    words: str


class Listing(NamedTuple):
    """Items without an order."""

    items: Sequence[str]


class Facts(NamedTuple):
    """Names with what they are."""

    rows: Sequence[tuple[str, Cell]]


class Entry(NamedTuple):
    """Something that is told at length."""

    title: str
    rows: Sequence[tuple[str, Cell]]


class Table(NamedTuple):
    """Rows under headings; the first cell names its row. `widths`: how the columns share the paper."""

    caption: str
    head: Sequence[str]
    rows: Sequence[Sequence[Cell]]
    widths: Sequence[int]


class Picture(NamedTuple):
    """An SVG document, and the same in words."""

    svg: str
    description: str


class Blanks(NamedTuple):
    """Lines to be filled in by hand."""

    labels: Sequence[str]


Block: TypeAlias = Words | Listing | Facts | Entry | Table | Picture | Blanks


class Section(NamedTuple):
    """A heading with what stands under it."""

    title: str
    blocks: Sequence[Block]


class Paper(NamedTuple):
    """A whole paper; `on` is its date."""

    title: str
    subtitle: str
    on: str
    sections: Sequence[Section]


def plain(paper: Paper) -> dict[str, Any]:
    """The same as maps, lists and texts; every text in one line, so that nothing in it moves what stands about it."""
    return {
        "title": one_line(paper.title),
        "subtitle": one_line(paper.subtitle),
        "on": paper.on,
        "sections": [
            {"title": one_line(section.title), "blocks": [_block(block) for block in section.blocks]}
            for section in paper.sections
        ],
    }


def _block(block: Block) -> dict[str, Any]:
    fields = {key: _value(value) for key, value in block._asdict().items() if key != "svg"}
    kept = {"svg": block.svg} if isinstance(block, Picture) else {}
    return {"kind": type(block).__name__.lower(), **fields, **kept}


def _value(value: Any) -> Any:
    if isinstance(value, Link):
        words = one_line(value.words)
        return {"words": words, "href": value.href} if _leads_on(value.href) else words
    if isinstance(value, str):
        return one_line(value)
    if isinstance(value, Mapping):
        return {key: _value(item) for key, item in value.items()}
    return [_value(item) for item in value] if isinstance(value, Sequence) else value


def _leads_on(href: str) -> bool:
    return href.startswith("https://") and href.isascii() and href.isprintable() and " " not in href
