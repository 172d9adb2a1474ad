"""A text and the shelf it names, to a formula, or to the faults that keep it from being one."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from watchglass import schema
from watchglass.errors import START, Unreadable, located, one_line
from watchglass.formula import Formula, Material, check, materials, model
from watchglass.schema import Fault
from watchglass.sheet import MOST_BYTES, Mapping, Scalar, read


def formula_of(text: str | bytes, folder: Path) -> Formula | list[Fault]:
    """Read one formula.

    Args:
        text: The YAML text.
        folder: Where the file lies; a shelf is looked for from here and must lie in it or in its repository.

    Returns:
        The formula, or what is wrong with it, each with its place.
    """
    try:
        node = read(text)
        found = check(node)
        if found:
            return found
        assert isinstance(node, Mapping)
        return model(node, _shelf(node, folder))
    except Unreadable as error:
        return [Fault(error.place, "", error.message)]


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
        return path.read_bytes()
    except OSError as error:
        raise Unreadable(START, f"the file cannot be opened: {error.strerror}") from None


def _shelf(node: Mapping, folder: Path) -> dict[str, Material]:
    """The materials of the shelf file; a fault in it is told at the key `shelf` of the formula."""
    named = node.items.get("shelf")
    if not isinstance(named, Scalar):
        return {}
    place, name = named.place, str(named.value)
    try:
        path = (folder / name).resolve()
        changed_ns = path.stat().st_mtime_ns if path.is_file() else 0
    except (OSError, RuntimeError, ValueError):
        raise Unreadable(place, f'the shelf "{one_line(name)}" is no path that leads anywhere') from None
    home = _home(folder)
    if Path(name).is_absolute() or not path.is_relative_to(home):
        raise Unreadable(
            place, f'the shelf "{one_line(name)}" lies outside the folder of the formula and its repository'
        )
    try:
        return _shelf_file(path, name, changed_ns)
    except Unreadable as error:
        raise Unreadable(place, located(one_line(name), error.place, error.message)) from None


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
def _home(folder: Path) -> Path:
    """The repository that a folder lies in, else the folder."""
    folder = folder.resolve()
    return next((parent for parent in (folder, *folder.parents) if (parent / ".git").exists()), folder)
