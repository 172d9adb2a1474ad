"""A text and the shelf it names, to a formula, or to the faults that keep it from being one."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from watchglass import schema
from watchglass.errors import START, Unreadable, located, one_line
from watchglass.formula import Formula, Material, check, materials, model
from watchglass.schema import Fault
from watchglass.sheet import MOST_BYTES, Mapping, Node, Scalar, Sequence, read


class Defaults(NamedTuple):
    """What holds for formulas that do not say it themselves.

    Attributes:
        nodes: Keys of a formula with what stands there when the formula has no such key.
        folder: Where a shelf among them is looked for.
    """

    nodes: dict[str, Node] = {}  # noqa: RUF012 - never written to
    folder: Path = Path()


NO_DEFAULTS = Defaults()


def formula_of(text: str | bytes, folder: Path, defaults: Defaults = NO_DEFAULTS) -> Formula | list[Fault]:
    """Read one formula.

    Args:
        text: The YAML text.
        folder: Where the file lies; a shelf is looked for from here and must lie in it or in its repository.
        defaults: For the keys that the formula does not have.

    Returns:
        The formula, or what is wrong with it, each with its place.
    """
    try:
        node = read(text)
        own_shelf = isinstance(node, Mapping) and "shelf" in node.items
        if isinstance(node, Mapping):
            node = Mapping(_relevant(defaults.nodes, node) | node.items, node.keys, node.place)
        found = check(node)
        if found:
            return found
        assert isinstance(node, Mapping)
        return model(node, _shelf(node, folder if own_shelf else defaults.folder))
    except Unreadable as error:
        return [Fault(error.place, "", error.message)]


def _relevant(nodes: dict[str, Node], formula: Mapping) -> dict[str, Node]:
    """A balance says nothing of a formula that is not weighed: one without a batch and without grams."""
    return {key: node for key, node in nodes.items() if key != "balance" or _is_weighed(formula)}


def _is_weighed(formula: Mapping) -> bool:
    phases = formula.items.get("phases")
    listings = [
        phase.items.get("lines")
        for phase in (phases.items.values() if isinstance(phases, Mapping) else ())
        if isinstance(phase, Mapping)
    ]
    lines = [line for listing in listings if isinstance(listing, Sequence) for line in listing.items]
    return "batch" in formula.items or any(isinstance(line, Mapping) and "grams" in line.items for line in lines)


def is_shelf(text: str | bytes) -> bool:
    """Whether a text is a sound shelf of materials and no formula."""
    try:
        node = read(text)
    except Unreadable:
        return False
    return isinstance(node, Mapping) and "materials" in node.items and not schema.faults(node, "shelf")


def bytes_of(path: Path) -> bytes:
    """The bytes of a file, no more than can be read.

    Raises:
        Unreadable: It cannot be opened, or is no plain file, or is too large.
    """
    try:
        if path.is_dir():
            raise Unreadable(START, "this is a folder, not a file")
        if not path.is_file():
            raise Unreadable(START, "there is no such file" if not path.exists() else "this is not a plain file")
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise Unreadable(START, f"the file has {size:,} bytes; at most {MOST_BYTES:,} are read")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)  # it may have grown, and some files of the system have no size
    except OSError as error:
        raise Unreadable(START, f"the file cannot be opened: {error.strerror}") from None
    if len(data) > MOST_BYTES:
        raise Unreadable(START, f"the file has more than {MOST_BYTES:,} bytes; at most {MOST_BYTES:,} are read")
    return data


def _shelf(node: Mapping, folder: Path) -> dict[str, Material]:
    """The materials of the shelf file; a fault in it is told at the key `shelf` of the formula."""
    named = node.items.get("shelf")
    if not isinstance(named, Scalar):
        return {}
    try:
        return shelf_at(str(named.value), folder, home_of(folder))
    except Unreadable as error:
        raise Unreadable(named.place, error.message) from None


def shelf_at(name: str, folder: Path, home: Path) -> dict[str, Material]:
    """The materials of a shelf file.

    Args:
        name: Its path from the folder.
        folder: Of the file that names it.
        home: The folder that it must lie in.

    Raises:
        Unreadable: It lies elsewhere or is no shelf.
    """
    try:
        path = (folder / name).resolve()
        changed_ns = path.stat().st_mtime_ns if path.is_file() else 0
    except (OSError, RuntimeError, ValueError):
        raise Unreadable(START, f'the shelf "{one_line(name)}" is no path that leads anywhere') from None
    if Path(name).is_absolute() or not path.is_relative_to(home):
        raise Unreadable(
            START, f'the shelf "{one_line(name)}" lies outside the folder of the formula and its repository'
        )
    try:
        return _shelf_file(path, name, changed_ns)
    except Unreadable as error:
        raise Unreadable(START, located(one_line(name), error.place, error.message)) from None


@lru_cache(maxsize=64)
def _shelf_file(path: Path, name: str, changed_ns: int) -> dict[str, Material]:
    """The materials of one shelf, read once for all formulas that name it, and again when the file has changed."""
    shelf = read(bytes_of(path))
    found = schema.faults(shelf, "shelf")
    if found:
        raise Unreadable(found[0].place, found[0].message)
    assert isinstance(shelf, Mapping)
    return materials(shelf, on_shelf=name)


@lru_cache(maxsize=256)
def home_of(folder: Path) -> Path:
    """The repository that a folder lies in, else the folder."""
    folder = folder.resolve()
    return next((parent for parent in (folder, *folder.parents) if (parent / ".git").exists()), folder)
