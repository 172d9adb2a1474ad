"""The rule folder: where it is, the hash that names its state, and its files as plain data.

The folder is YAML, written for people. Read, checked and indexed once, it is kept as one file of JSON in the user's
cache folder under the hash of every byte of it, so a changed rule is never overlooked and an unchanged one is never
read twice. A formula is about a few of the thousands of names, substances and rows, so they are kept in drawers, each a
line of that file, and a drawer is parsed when something in it is asked for.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import stat
import zlib
from collections.abc import Iterator, Mapping
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

from watchglass import __version__
from watchglass.errors import CannotRun, Unreadable, located, one_line
from watchglass.identity import names_of
from watchglass.index import indexed
from watchglass.nearest import did_you_mean, folded
from watchglass.proofread import proofread
from watchglass.schema import faults
from watchglass.sheet import Mapping as Map
from watchglass.sheet import plain, read
from watchglass.tables import followed

# The files that are not lists of rules, with their schemas.
_SCHEMAS: dict[str, str | None] = {
    "sources.yaml": "sources",
    "statements.yaml": "statements",
    "atomic-weights.yaml": "atomic-weights",
    "kinds.yaml": "kinds",
    "labels.yaml": "labels",
    "product-types.yaml": "product-types",
    "not-covered.yaml": "not-covered",
    "model.yaml": None,  # the engine's own constants: the code that reads them is their schema
}


# The files among them that house rules may have too.
_HOUSE = ("sources.yaml", "statements.yaml")
# The modules that decide what the kept file holds.
_MAKERS = ("identity", "index", "library", "nearest", "proofread", "schema", "sheet", "tables")
# The parts of the indexed data that are kept in drawers, and how many drawers each has.
_IN_DRAWERS = ("names", "substances", "rules", "rows", "about")
_DRAWERS = 256

MOST_KEPT = 6
_OURS = re.compile(r"rules-[0-9.]+-[0-9a-f]{8}-[0-9a-f]{16}\.json")


def rules_folder() -> Path:
    """The folder `rules`: inside the installed package, else beside `src` in a checkout.

    Raises:
        CannotRun: The package was installed without it.
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "rules", here.parents[1] / "rules"):
        if (folder / "sources.yaml").is_file():
            return folder
    raise CannotRun("the rule folder is missing from the installation: install watchglass again")


@cache
def rules_hash(house: tuple[Path, ...] = ()) -> str:
    """A short hash of every rule file: two reviews with the same hash used the same rules.

    Args:
        house: Folders of house rules beside the shipped ones.
    """
    return hash_of(rules_folder(), *house)


def hash_of(*folders: Path) -> str:
    """A short hash of the names and bytes of all YAML files in some folders, the rule folder first."""
    digest = hashlib.sha256()
    for number, folder in enumerate(folders):
        for path in _files_of(folder):
            name = path.relative_to(folder).as_posix()
            try:
                digest.update(b"\0" * number + name.encode() + b"\0" + path.read_bytes() + b"\0")
            except OSError as error:
                raise CannotRun(f"{_called(path, folder, number > 0)}: {error.strerror}") from None
    return digest.hexdigest()[:16]


def _files_of(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*.yaml") if path.is_file())


@cache
def load(house: tuple[Path, ...] = ()) -> dict[str, Any]:
    """All rule files as indexed data, see `index.indexed`, and under the names of the other files what they hold.

    Args:
        house: Folders of house rules beside the shipped ones.

    Raises:
        CannotRun: A file is missing, cannot be read or does not fit its schema.
    """
    for folder in house:
        _refuse_no_rules(folder)
    kept = _cache_file(rules_hash(house))
    data = None if kept is None else _kept(kept)
    if data is None:
        data = indexed(read_folder(rules_folder(), house))
        if kept is not None:
            _keep(data, kept)
    return data


def _kept(kept: Path) -> dict[str, Any] | None:
    """What was kept, if it is whole and our own; anything else counts as nothing kept."""
    try:
        state = kept.lstat()
        if not stat.S_ISREG(state.st_mode) or (hasattr(os, "getuid") and state.st_uid != os.getuid()):
            return None
        digest, _, body = kept.read_bytes().partition(b"\n")
        if hashlib.sha256(body).hexdigest().encode() != digest:
            return None
        head, *lines = body.split(b"\n")
        data: dict[str, Any] = json.loads(head)
    except (OSError, ValueError, RecursionError):
        return None
    texts = iter(lines)
    return data | {part: _Drawers(list(islice(texts, _DRAWERS))) for part in _IN_DRAWERS}


class _Drawers(Mapping[str, Any]):
    """Things by their key; each drawer is JSON until something in it is asked for."""

    def __init__(self, texts: list[bytes]) -> None:
        self._texts = texts
        self._opened: dict[int, dict[str, Any]] = {}

    def __getitem__(self, key: str) -> Any:
        return self._drawer(_drawer_of(key))[key]

    def __iter__(self) -> Iterator[str]:
        for number in range(_DRAWERS):
            yield from self._drawer(number)

    def __len__(self) -> int:
        return sum(len(self._drawer(number)) for number in range(_DRAWERS))

    def _drawer(self, number: int) -> dict[str, Any]:
        if number not in self._opened:
            self._opened[number] = json.loads(self._texts[number])
        return self._opened[number]


def _drawer_of(key: str) -> int:
    return zlib.crc32(key.encode()) % _DRAWERS


def _in_drawers(things: Mapping[str, Any]) -> list[dict[str, Any]]:
    drawers: list[dict[str, Any]] = [{} for _ in range(_DRAWERS)]
    for key, thing in things.items():
        drawers[_drawer_of(key)][key] = thing
    return drawers


def read_folder(folder: Path, house: tuple[Path, ...] = ()) -> dict[str, Any]:
    """Read and check every file of a rule folder, and of the folders of house rules that are added to it.

    Args:
        folder: The rule folder.
        house: Folders with rules, and with sources, statements and substances of their own.

    Returns:
        Lists of entries under rules and substances, what the other files hold under their names, and the names of all
        substances.

    Raises:
        CannotRun: One line for each fault, with its place.
    """
    data: dict[str, Any] = {"rules": [], "substances": []}
    for path in _files_of(folder):
        _add(data, path, path.relative_to(folder).as_posix(), _called(path, folder, False))
    data["rules"] = followed(_joined(data["rules"]))
    missing = [name for name in _SCHEMAS if name.removesuffix(".yaml") not in data]
    if missing:
        raise CannotRun(f"the rule folder lacks {', '.join(f'rules/{name}' for name in missing)}")
    for own in house:
        _add_house(data, own)
    data["names"] = names_of(data["substances"], data["rules"])
    found = proofread(data)
    if found:
        raise CannotRun("\n".join(found))
    return data


def _joined(rules: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The rules with the rows that further files give to their tables, in the order of the files.

    Raises:
        CannotRun: There is no such table.
    """
    whole = {rule["rule"]: rule for rule in rules if "rows" in rule and "rule" in rule}
    for part in rules:
        if "rows_of" not in part:
            continue
        if part["rows_of"] not in whole:
            hint = did_you_mean(part["rows_of"], whole)
            raise CannotRun(f"{part['file']}: rows of {part['rows_of']}, which is no table{hint}")
        whole[part["rows_of"]]["rows"] += part["rows"]
    return [rule for rule in rules if "rule" in rule]


def _refuse_no_rules(folder: Path) -> None:
    """A folder that holds nothing that is read would let every formula pass the rules that were meant."""
    shown = f"the house rules {_called(folder, folder, True)}"
    if not folder.is_dir():
        raise CannotRun(f"{shown}: there is no such folder")
    other = sorted(path.name for path in folder.rglob("*.yml"))
    if other:
        raise CannotRun(f"{shown}: {one_line(other[0])} would not be read; name it with .yaml at the end")
    if not _files_of(folder):
        raise CannotRun(f"{shown}: there is no file *.yaml in this folder")


def _add_house(data: dict[str, Any], folder: Path) -> None:
    """House rules: a folder like the shipped one, without what the engine is made of; its tables are its own."""
    shipped, data["rules"] = data["rules"], []
    for path in _files_of(folder):
        name, shown = path.relative_to(folder).as_posix(), _called(path, folder, True)
        if name in _SCHEMAS and name not in _HOUSE:
            raise CannotRun(f"{shown}: house rules are rules, {', '.join(_HOUSE)} and substances/; name it otherwise")
        before = len(data["substances"])
        _add(data, path, name, shown)
        known = names_of(data["substances"][:before], ())
        for entry in data["substances"][before:]:
            for word in (entry["substance"], *entry.get("cas", ())):
                if folded(word) in known:
                    raise CannotRun(
                        f"{shown}: {word} is {known[folded(word)]}, which is there already and stays as it is"
                    )
    data["rules"] = followed([*shipped, *_joined(data["rules"])])


def _add(data: dict[str, Any], path: Path, name: str, shown: str) -> None:
    """What one file holds, to what the files before it held; nothing is taken away from those."""
    if name in _SCHEMAS:
        part = name.removesuffix(".yaml")
        node = _read_file(path, shown, _SCHEMAS[name])
        if isinstance(node, Map):
            for key in node.keys.keys() & data.get(part, {}).keys():
                raise CannotRun(located(shown, node.keys[key], f"{key} is there already; give yours another name"))
        data[part] = data[part] | plain(node) if part in data else plain(node)
    elif name.startswith("substances/"):
        data["substances"] += plain(_read_file(path, shown, "substances"))
    else:
        node = _read_file(path, shown, "rules")
        for item in node.items:
            data["rules"].append(plain(item) | {"file": shown, "line": item.place.line, "column": item.place.column})


def _called(path: Path, folder: Path, is_house: bool) -> str:
    """How a rule file is called in messages: from the rule folder on, or where the house rules lie."""
    if not is_house:
        return f"rules/{path.relative_to(folder).as_posix()}"
    here = Path.cwd()
    return one_line((path.relative_to(here) if path.is_relative_to(here) else path).as_posix())


def _read_file(path: Path, shown: str, schema: str | None) -> Any:
    """The tree of a rule file."""
    try:
        node = read(path.read_bytes())
    except OSError as error:
        raise CannotRun(f"{shown}: {error.strerror}") from None
    except Unreadable as error:
        raise CannotRun(located(shown, error.place, error.message)) from None
    found = faults(node, schema) if schema else []
    if found:
        raise CannotRun("\n".join(located(shown, fault.place, fault.message) for fault in found))
    return node


def _cache_file(state: str) -> Path | None:
    """Where the data of a state of the rules is kept; None where there is no place for it."""
    home = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    if not os.path.isabs(home):
        return None
    here = Path(__file__).resolve().parent
    shape = hashlib.sha256()  # of all that decides what the file holds
    for path in (*(here / f"{name}.py" for name in _MAKERS), *sorted((here / "schemas").glob("*.json"))):
        shape.update(path.read_bytes())
    return Path(home) / "watchglass" / f"rules-{__version__}-{shape.hexdigest()[:8]}-{state}.json"


def _keep(data: dict[str, Any], kept: Path) -> None:
    """Write the cache whole, or not at all; without a writable cache folder everything works, only slower."""
    import tempfile

    head = {key: thing for key, thing in data.items() if key not in _IN_DRAWERS}
    lines = (head, *(drawer for part in _IN_DRAWERS for drawer in _in_drawers(data[part])))
    body = "\n".join(json.dumps(line, ensure_ascii=False) for line in lines).encode()
    unfinished: str | None = None
    try:
        kept.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=kept.parent, delete=False) as file:
            unfinished = file.name
            file.write(hashlib.sha256(body).hexdigest().encode() + b"\n" + body)
        os.replace(unfinished, kept)
        _forget_old(kept.parent)
    except OSError:
        if unfinished is not None:
            with contextlib.suppress(OSError):
                os.unlink(unfinished)


def _forget_old(folder: Path) -> None:
    """Keep the newest few states: two checkouts take turns, and a day of work on rules leaves no heap."""
    ours = [path for path in folder.iterdir() if _OURS.fullmatch(path.name)]
    for path in sorted(ours, key=lambda path: path.stat().st_mtime_ns)[:-MOST_KEPT]:
        path.unlink(missing_ok=True)
