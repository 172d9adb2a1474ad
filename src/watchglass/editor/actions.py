"""What can be done about a finding by one choice in a menu: a change of the text, offered and never made unasked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from watchglass.editor.marks import Mark
from watchglass.editor.page import Page
from watchglass.editor.text import end_of
from watchglass.errors import CannotRun, Place
from watchglass.findings import FIRM
from watchglass.reports import mend_in_words
from watchglass.rulebook import Rulebook
from watchglass.sheet import Mapping, Node, Scalar, Sequence


class Edit(NamedTuple):
    """A piece of the text and what takes its place; start and end are equal for an insertion."""

    start: Place
    end: Place
    text: str


class Action(NamedTuple):
    """A change that answers one mark, in one place or several. `mends` is false for a change that only accepts it."""

    title: str
    edits: tuple[Edit, ...]
    mark: Mark
    mends: bool


def actions_for(page: Page, mark: Mark, book: Rulebook) -> Iterator[Action]:
    """What can be done about one mark, the mend first."""
    finding = mark.finding
    if finding is None or page.formula is None:
        return
    for name in finding.statements:
        edit = _added(page, ("label", "statements"), name)
        if edit is not None:
            yield Action(f"Put the statement {name} on the label", (edit,), mark, True)
    yield from _other_names(page, mark, book)
    yield from _other_amounts(page, mark, book)
    if finding.verdict == "breaks" and finding.binding not in FIRM and finding.requirement != "sheet":
        edit = _added(page, ("deviations",), f'{{rule: {finding.address}, reason: "", by: ""}}')
        if edit is not None:
            yield Action(f"Depart from {finding.address} knowingly: a reason is to be filled in", (edit,), mark, False)


def _other_names(page: Page, mark: Mark, book: Rulebook) -> Iterator[Action]:
    """Known names in the place of an unknown one."""
    composition = page.review.composition if page.review is not None else None
    for unknown in composition.unknown if composition is not None else ():
        node = _material(page, unknown.line.place) if unknown.line.material == unknown.name else None
        if node is None or mark.start not in (unknown.line.place, node.place):
            continue
        for name in book.substances.nearest(unknown.name):
            edit = Edit(node.place, end_of(page.lines, node.place), json.dumps(name, ensure_ascii=False))
            yield Action(f"Write {name}", (edit,), mark, True)


def _other_amounts(page: Page, mark: Mark, book: Rulebook) -> Iterator[Action]:
    """The least change of amounts that mends a break; it is looked for only when the menu is asked for."""
    from watchglass.mend import mend_of
    from watchglass.mend.rewrite import rewritten

    formula, review, finding = page.formula, page.review, mark.finding
    if formula is None or review is None or finding is None:
        return
    found = mend_of(finding, review, book)
    if found is None:
        return
    mend, after = found
    text = "\n".join(page.lines)
    try:
        copy = rewritten(text.encode(), formula, after, page.home.folder or Path()).decode()
    except (CannotRun, UnicodeError):
        return  # what cannot be written without disturbing the text is not offered
    words = mend_in_words(mend)
    yield Action(words[0].upper() + words[1:], tuple(_changed_lines(page.lines, copy.split("\n"))), mark, True)


def _changed_lines(before: list[str], after: list[str]) -> Iterator[Edit]:
    """The lines that a mend writes anew; it neither adds nor takes out any."""
    for number, (old, new) in enumerate(zip(before, after, strict=True), start=1):
        if old != new:
            yield Edit(Place(number, 1), Place(number, len(old) + 1), new)


def _material(page: Page, line: Place) -> Scalar | None:
    """The name of the material in the weighing that starts at a place."""
    phases = page.tree.items.get("phases") if isinstance(page.tree, Mapping) else None
    for phase in phases.items.values() if isinstance(phases, Mapping) else ():
        lines = phase.items.get("lines") if isinstance(phase, Mapping) else None
        for entry in lines.items if isinstance(lines, Sequence) else ():
            if entry.place == line and isinstance(entry, Mapping):
                name = entry.items.get("material")
                return name if isinstance(name, Scalar) else None
    return None


def _added(page: Page, keys: tuple[str, ...], item: str) -> Edit | None:
    """The insertion that makes `item` the first of the list under some keys, which are made where they are lacking."""
    node: Node | None = page.tree
    for depth, key in enumerate(keys):
        if not isinstance(node, Mapping):
            return None
        if key not in node.items:
            return _with_keys(page, node, keys[depth:], item, is_root=depth == 0)
        node = node.items[key]
    if not isinstance(node, Sequence):
        return None
    if _is_flow(page, node):
        return _insertion(node.place.line, node.place.column + 1, f"{item}, " if node.items else item)
    return _insertion(*node.place, f"- {item}\n{' ' * (node.place.column - 1)}")


def _with_keys(page: Page, node: Mapping, keys: tuple[str, ...], item: str, is_root: bool) -> Edit | None:
    inner = f"[{item}]"
    for key in reversed(keys[1:]):
        inner = f"{{{key}: {inner}}}"
    if _is_flow(page, node):
        return _insertion(node.place.line, node.place.column + 1, f"{keys[0]}: {inner}{', ' if node.items else ''}")
    if not is_root:
        return _insertion(*node.place, f"{keys[0]}: {inner}\n{' ' * (node.place.column - 1)}")
    if "..." in page.lines:  # the document ends before the text does
        return None
    last = page.lines[-1]
    text = f"{keys[0]}: {inner}\n" if len(keys) > 1 else f"{keys[0]}:\n  - {item}\n"
    return _insertion(len(page.lines), len(last) + 1, text if not last.strip() else f"\n{text}")


def _is_flow(page: Page, node: Node) -> bool:
    return page.lines[node.place.line - 1][node.place.column - 1 : node.place.column] in ("[", "{")


def _insertion(line: int, column: int, text: str) -> Edit:
    return Edit(Place(line, column), Place(line, column), text)
