"""Where a material is described: in the formula itself or on its shelf."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from watchglass.editor.page import Page, shelf_path
from watchglass.editor.pointer import line_at
from watchglass.editor.text import end_of
from watchglass.errors import START, Place


class Spot(NamedTuple):
    """A place in a file; no path: in the text itself."""

    path: Path | None
    start: Place


def definition_at(page: Page, place: Place) -> Spot | None:
    """The material of the line, or the shelf file where its name stands."""
    shelf = shelf_path(page.tree, page.home)
    if shelf is not None:
        named, path = shelf
        if named.place <= place < end_of(page.lines, named.place):
            return Spot(path, START) if page.formula is not None else None
    line = line_at(page, place)
    if line is None or page.formula is None:
        return None
    material = page.formula.materials.get(line.material)
    if material is None:
        return None
    if material.on_shelf is None:
        return Spot(None, material.place)
    if shelf is not None:
        return Spot(shelf[1], material.place)
    return Spot((page.home.defaults.folder / material.on_shelf).resolve(), material.place)
