"""A text in an editor, and what it comes to: a formula with its review, a shelf, or what keeps it from being either."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Literal, NamedTuple

from watchglass import schema
from watchglass.editor.text import lines_of
from watchglass.errors import START, Place, Unreadable, one_line
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import NO_DEFAULTS, Defaults, formula_of
from watchglass.judge import review
from watchglass.rulebook import Rulebook
from watchglass.schema import Fault
from watchglass.sheet import Mapping, Node, Scalar, read

Kind = Literal["formula", "shelf", "other"]

# What only a formula or a shelf has: an editor opens other YAML files too, and nothing is said of those.
_KEYS = re.compile(r"^[\"']?(formula|phases|markets|product|materials)[\"']?\s*:", re.MULTILINE)
_NAMED_SCHEMA = re.compile(r"^#.*\$schema=\S*\b(formula|shelf)\.schema\.json", re.MULTILINE)
_CONTENT = re.compile(r"^\s*[^\s#]", re.MULTILINE)
_MODELINE = re.compile(r"#.*\$schema=(?P<address>[a-z][a-z0-9+.-]*://\S+)", re.IGNORECASE)


class Home(NamedTuple):
    """Where a text belongs.

    Attributes:
        name: What it is called in messages.
        folder: Shelves are looked for from here; None for a text that was never saved.
        roots: The open folders; no shelf outside of them is read.
        defaults: What the configuration says of formulas that do not say it themselves.
        trouble: What is wrong with the configuration.
    """

    name: str
    folder: Path | None
    roots: tuple[Path, ...] = ()
    defaults: Defaults = NO_DEFAULTS
    trouble: str | None = None

    def holds(self, path: Path) -> bool:
        """Whether a path lies in one of the open folders; everything does where none is open."""
        return not self.roots or any(path.resolve().is_relative_to(root) for root in self.roots)


class Page(NamedTuple):
    """What a text comes to.

    Attributes:
        review: Of a formula, or of a text that cannot be read as one; None for a sound shelf.
        remarks: What is said of the text beside its review.
    """

    lines: list[str]
    kind: Kind
    tree: Node | None
    formula: Formula | None
    review: Review | None
    remarks: tuple[Fault, ...]
    home: Home


def page_of(text: str, home: Home, book: Rulebook, on: str) -> Page:
    """Read and review a text as it stands."""
    lines, kind = lines_of(text), kind_of(text)
    tree: Node | None = None
    found: Formula | list[Fault] = []
    if kind != "other" and _CONTENT.search(text):
        try:
            tree = read(text)
            found = schema.faults(tree, "shelf") if kind == "shelf" else _formula(text, tree, home)
        except Unreadable as error:
            found = [Fault(error.place, "", error.message)]
    reviewed, formula = None, None
    if isinstance(found, Formula):
        formula, reviewed = found, review(found, book, on, home.name)
    elif found:
        reviewed = unreadable(home.name, on, found)
    return Page(lines, kind, tree, formula, reviewed, _remarks(lines, home, kind), home)


def kind_of(text: str) -> Kind:
    """Whether a text is meant to be a formula or a shelf: by the schema that it names, else by its keys.

    An empty text, or one that holds a single word, is a formula that is about to be written.
    """
    named = _NAMED_SCHEMA.search(text)
    if named:
        return "shelf" if named[1] == "shelf" else "formula"
    keys = set(_KEYS.findall(text))
    if keys - {"materials"} or _is_begun(text):
        return "formula"
    return "shelf" if keys else "other"


def _is_begun(text: str) -> bool:
    """Whether nothing, or no more than the beginning of a first key, is there."""
    written = [line for line in lines_of(text) if line.strip() and not line.lstrip().startswith("#")]
    return not written or (len(written) == 1 and written[0].isalpha())


def _formula(text: str, tree: Node, home: Home) -> Formula | list[Fault]:
    outside = _shelf_outside(tree, home)
    return formula_of(text, home.folder or Path.cwd(), home.defaults) if outside is None else [outside]


def shelf_path(tree: Node | None, home: Home) -> tuple[Scalar, Path] | None:
    """The shelf that a formula names: where it says so, and where that leads; None where it names none."""
    named = tree.items.get("shelf") if isinstance(tree, Mapping) else None
    if not isinstance(named, Scalar) or not isinstance(named.value, str):
        return None
    try:
        return named, ((home.folder or Path.cwd()) / named.value).resolve()
    except (OSError, RuntimeError, ValueError):
        return None


def _shelf_outside(tree: Node | None, home: Home) -> Fault | None:
    """A shelf outside of the open folders is not read; the review itself keeps it inside the repository."""
    found = shelf_path(tree, home)
    if found is None:
        return None
    named, path = found
    if home.folder is None:
        return Fault(named.place, "shelf", "save the file first: a shelf is looked for from its folder")
    if home.holds(path):
        return None
    message = f'the shelf "{one_line(named.raw)}" lies outside the folders that are open here; open the one it is in'
    return Fault(named.place, "shelf", message)


def _remarks(lines: list[str], home: Home, kind: Kind) -> tuple[Fault, ...]:
    """What is wrong with the configuration; a schema somewhere on the network, which is named and never fetched."""
    if home.trouble is not None and kind == "formula":
        return (Fault(START, "", f"the configuration is not used: {one_line(home.trouble)}"),)
    for number, line in enumerate(lines[:5], start=1):
        found = _MODELINE.search(line)
        if found and not found["address"].lower().startswith("file:"):
            message = "a schema is not fetched from elsewhere; the one that ships with Watchglass is used"
            return (Fault(Place(number, found.start("address") + 1), "", message),)
    return ()
