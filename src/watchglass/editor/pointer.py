"""What stands under the pointer: a line of the formula with its material."""

from __future__ import annotations

from watchglass.editor.page import Page
from watchglass.errors import Place
from watchglass.formula import Line


def line_at(page: Page, place: Place) -> Line | None:
    """The weighing that a place lies in: the last one that starts before it, up to the next thing in the text."""
    if page.formula is None:
        return None
    before = [line for line in page.formula.lines if line.place <= Place(place.line, place.column + 2)]
    if not before:
        return None
    line = max(before, key=lambda line: line.place)
    return line if place.line == line.place.line or _belongs(page, line, place) else None


def _belongs(page: Page, line: Line, place: Place) -> bool:
    """Whether a place on a later line still lies in a weighing: all between is indented at least as far."""
    indent = line.place.column - 1
    between = page.lines[line.place.line : place.line]
    return all(not text.strip() or len(text) - len(text.lstrip()) >= indent for text in between)
