"""What could stand at the cursor: keys and words of the schemas, names of substances, materials, rules, statements.

The text before the cursor is read with a mark in the place of the word that is being typed and with the brackets
closed that are open; where the mark comes to lie in the tree says what is asked for. So nothing but the sheet reads
YAML here either, and what stands behind the cursor may be broken.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from itertools import islice, product
from typing import Any, Literal, NamedTuple

from watchglass import schema
from watchglass.editor.page import Page
from watchglass.errors import Place, Unreadable
from watchglass.nearest import folded
from watchglass.rulebook import Rulebook
from watchglass.sheet import Mapping as Map
from watchglass.sheet import Node, Scalar, Step, read

MOST = 200
_MARK = "\ue000cursor"  # of the private use area: no author means anything by it
_CLOSINGS = ("", "}", "]", "}]", "]}", "}}", "}]}", "}}}")
_INDENT = re.compile(r" *(?:- +)*")
_NEEDS_QUOTES = re.compile(r"""[,\[\]{}#:&*!|>'"%@`]|^[-?]|^\s|\s$""")

Sort = Literal["key", "word", "substance", "material", "rule", "statement"]


class Item(NamedTuple):
    """One thing that could stand there: what is shown, what is written, what it is, what is said of it."""

    label: str
    text: str
    sort: Sort
    detail: str = ""
    told: str = ""


class Offer(NamedTuple):
    """The items, what they replace up to the cursor, and whether there are more than are shown."""

    start: Place
    items: list[Item]
    is_incomplete: bool = False


class _Spot(NamedTuple):
    """Where the mark lies: the path to the map or list around it or to the value itself."""

    path: list[Step]
    is_key: bool
    present: tuple[str, ...]


def completion_at(page: Page, place: Place, book: Rulebook) -> Offer:
    """What could stand at a place."""
    line = page.lines[place.line - 1][: place.column - 1] if place.line <= len(page.lines) else ""
    start = _start_of_token(line)
    token = line[start:]
    quote = token[:1] if token[:1] in ('"', "'") else ""
    before = "\n".join([*page.lines[: place.line - 1], line[:start]])
    spot, tree = _spot(before) if page.kind != "other" else (None, None)
    begins = Place(place.line, start + 1)
    if spot is None:
        return Offer(begins, [])
    behind = page.lines[place.line - 1][place.column - 1 :]
    word = folded(token[len(quote) :])
    items = (item for item in _items(spot, tree, page, book, word, behind) if word in folded(item.label))
    found = list(islice(items, MOST + 1))
    first = sorted(found[:MOST], key=lambda item: not folded(item.label).startswith(word))
    if quote:
        closing = "" if behind.startswith(quote) else quote
        first = [item._replace(text=f"{quote}{item.label}{closing}") for item in first if item.sort != "key"]
    return Offer(begins, first, len(found) > MOST)


def _start_of_token(line: str) -> int:
    """Where the word begins that is being typed: behind the last colon, comma, bracket or dash.

    >>> _start_of_token("  - {material: Aqua, per"), _start_of_token("  site: "), _start_of_token("pha")
    (21, 8, 0)
    """
    starts = [_INDENT.match(line).end()]  # type: ignore[union-attr]  # it matches every line
    starts += [at + len(sign) for sign in (": ", ", ", "[", "{") if (at := line.rfind(sign)) >= 0]
    start = max(starts)
    return start + len(line[start:]) - len(line[start:].lstrip())


def _spot(before: str) -> tuple[_Spot | None, Node | None]:
    for closing, colon in product(_CLOSINGS, ("", ":")):
        try:
            tree = read(f"{before}{_MARK}{colon}{closing}")
        except Unreadable:
            continue
        spot = _find(tree, [])
        if spot is not None:
            return spot, tree
    return None, None


def _find(node: Node, path: list[Step]) -> _Spot | None:
    if isinstance(node, Scalar):
        return _Spot(path, False, ()) if node.raw == _MARK else None
    inner: Iterable[tuple[Step, Node]] = node.items.items() if isinstance(node, Map) else enumerate(node.items)
    for step, item in inner:
        if step == _MARK:
            assert isinstance(node, Map)
            return _Spot(path, True, tuple(key for key in node.items if key != _MARK))
        found = _find(item, [*path, step])
        if found is not None:
            return found
    return None


# -- what the schema allows ----------------------------------------------------------------------------------------


def _items(spot: _Spot, tree: Node | None, page: Page, book: Rulebook, word: str, behind: str) -> Iterator[Item]:
    root = schema.load(page.kind)
    fitting = list(_at(root, root, spot.path))
    if not spot.is_key:
        yield from _names(spot.path, page, tree, book, word)
        for part in fitting:
            yield from _words(part)
    elif spot.path and spot.path[-1] in ("contains", "premix", "tolerance"):
        for item in _substances(book, word):
            if item.label not in spot.present:
                yield item._replace(text=f"{item.text}: ")
    colon = "" if behind.lstrip().startswith(":") else ": "
    for part in fitting:
        for key, facts in part.get("properties", {}).items():
            if key not in spot.present:
                facts = _resolved(root, facts)
                needed = "needed" if key in part.get("required", ()) else ""
                yield Item(key, f"{key}{colon}", "key", needed, _told(facts))


def _at(root: Mapping[str, Any], part: Mapping[str, Any], path: list[Step]) -> Iterator[Mapping[str, Any]]:
    """The parts of a schema that a path leads to: more than one where it leaves a choice."""
    part = _resolved(root, part)
    for choice in (*part.get("anyOf", ()), *(c for c in part.get("oneOf", ()) if "properties" in c)):
        yield from _at(root, choice, path)
    if not path:
        yield part
        return
    step, rest = path[0], path[1:]
    inner = part.get("items") if isinstance(step, int) else part.get("properties", {}).get(step)
    if inner is None and not isinstance(step, int) and isinstance(part.get("additionalProperties"), dict):
        inner = part["additionalProperties"]
    if isinstance(inner, dict):
        yield from _at(root, inner, rest)


def _resolved(root: Mapping[str, Any], part: Mapping[str, Any]) -> Mapping[str, Any]:
    """A part with its references opened; its own words win over those that it refers to."""
    merged: dict[str, Any] = {}
    for reference in (part, *part.get("allOf", ())):
        if "$ref" in reference:
            merged |= _resolved(root, root["$defs"][reference["$ref"].rsplit("/", 1)[-1]])
    return merged | {key: value for key, value in part.items() if key not in ("$ref", "allOf")}


def _words(part: Mapping[str, Any]) -> Iterator[Item]:
    words = [*part.get("enum", ()), *([part["const"]] if "const" in part else [])]
    for word in words:
        yield Item(str(word), str(word), "word", part.get("title", ""), _told(part))


def _told(part: Mapping[str, Any]) -> str:
    told = str(part.get("description", ""))
    examples = part.get("examples", ())
    if not examples:
        return told
    example = examples[0] if isinstance(examples[0], str) else json.dumps(examples[0], ensure_ascii=False)
    return f"{told}\nFor example: {example}"


# -- names ---------------------------------------------------------------------------------------------------------


def _names(path: list[Step], page: Page, tree: Node | None, book: Rulebook, word: str) -> Iterator[Item]:
    """Names that no schema lists."""
    words = [step for step in path if isinstance(step, str)]
    match words:
        case ["phases", _, "lines", "material"]:
            yield from _materials(page, tree)
            yield from _substances(book, word)
        case ["label", "ingredients"]:
            yield from _substances(book, word)
        case ["label", "statements"]:
            for name, facts in book.statements.items():
                yield Item(name, name, "statement", facts["title"])
        case ["deviations", "rule"]:
            for address in book.addresses:
                yield Item(address, _quoted(address) if " " in address else address, "rule")
        case ["materials", _, "declares"]:
            for fact in sorted(book.facts):
                yield Item(fact, fact, "word", "supplier fact")


def _materials(page: Page, tree: Node | None) -> Iterator[Item]:
    known = page.formula.materials if page.formula is not None else {}
    for name, material in known.items():
        where = f"on {material.on_shelf}" if material.on_shelf else "in this file"
        parts = ", ".join(f"{part} {amount}" for part, amount in material.parts.items())
        yield Item(name, _quoted(name), "material", where, parts)
    listed = tree.items.get("materials") if isinstance(tree, Map) else None
    for name in listed.items if isinstance(listed, Map) else ():
        if name not in known:
            yield Item(name, _quoted(name), "material", "in this file")


def _substances(book: Rulebook, word: str) -> Iterator[Item]:
    """Those that hold the word, the ones that begin with it first; facts are looked up only of these."""
    found = (name for name in book.substances if word in folded(name))
    for name in sorted(found, key=lambda name: (not folded(name).startswith(word), folded(name))):
        yield Item(name, _quoted(name), "substance", ", ".join(book.substances[name].functions[:2]))


def _quoted(name: str) -> str:
    """A name as it can stand in a sheet.

    >>> _quoted("Aqua"), _quoted("1,2-Hexanediol")
    ('Aqua', '"1,2-Hexanediol"')
    """
    return json.dumps(name, ensure_ascii=False) if _NEEDS_QUOTES.search(name) else name
