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
from watchglass.errors import CannotRun, Unreadable, located
from watchglass.identity import names_of
from watchglass.index import indexed
from watchglass.nearest import did_you_mean
from watchglass.proofread import proofread
from watchglass.schema import faults
from watchglass.sheet import plain, read
from watchglass.tables import followed

# The files that are not lists of rules, with their schemas.
_SCHEMAS: dict[str, str | None] = {
    "sources.yaml": "sources",
    "statements.yaml": "statements",
    "atomic-weights.yaml": "atomic-weights",
    "kinds.yaml": "kinds",
    "product-types.yaml": "product-types",
    "not-covered.yaml": "not-covered",
    "model.yaml": None,  # the engine's own constants: the code that reads them is their schema
}


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
def rules_hash() -> str:
    """A short hash of every rule file: two reviews with the same hash used the same rules."""
    return hash_of(rules_folder())


def hash_of(folder: Path) -> str:
    """A short hash of the names and bytes of all YAML files in a folder."""
    digest = hashlib.sha256()
    for path in _files_of(folder):
        try:
            digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
        except OSError as error:
            raise CannotRun(f"rules/{path.relative_to(folder).as_posix()}: {error.strerror}") from None
    return digest.hexdigest()[:16]


def _files_of(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*.yaml") if path.is_file())


@cache
def load() -> dict[str, Any]:
    """All rule files as indexed data, see `index.indexed`, and under the names of the other files what they hold.

    Raises:
        CannotRun: A file is missing, cannot be read or does not fit its schema.
    """
    kept = _cache_file(rules_hash())
    data = None if kept is None else _kept(kept)
    if data is None:
        data = indexed(read_folder(rules_folder()))
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


def read_folder(folder: Path) -> dict[str, Any]:
    """Read and check every file of a rule folder.

    Returns:
        Lists of entries under rules and substances, what the other files hold under their names, and the names of all
        substances.

    Raises:
        CannotRun: One line for each fault, with its place.
    """
    data: dict[str, Any] = {"rules": [], "substances": []}
    for path in _files_of(folder):
        name = path.relative_to(folder).as_posix()
        if name in _SCHEMAS:
            data[name.removesuffix(".yaml")] = _read_file(path, name, _SCHEMAS[name])
        elif name.startswith("substances/"):
            data["substances"] += _read_file(path, name, "substances")
        else:
            data["rules"] += [rule | {"file": name} for rule in _read_file(path, name, "rules")]
    data["rules"] = followed(_joined(data["rules"]))
    missing = [name for name in _SCHEMAS if name.removesuffix(".yaml") not in data]
    if missing:
        raise CannotRun(f"the rule folder lacks {', '.join(f'rules/{name}' for name in missing)}")
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
            raise CannotRun(f"rules/{part['file']}: rows of {part['rows_of']}, which is no table{hint}")
        whole[part["rows_of"]]["rows"] += part["rows"]
    return [rule for rule in rules if "rule" in rule]


def _read_file(path: Path, name: str, schema: str | None) -> Any:
    shown = f"rules/{name}"
    try:
        node = read(path.read_bytes())
    except OSError as error:
        raise CannotRun(f"{shown}: {error.strerror}") from None
    except Unreadable as error:
        raise CannotRun(located(shown, error.place, error.message)) from None
    found = faults(node, schema) if schema else []
    if found:
        raise CannotRun("\n".join(located(shown, fault.place, fault.message) for fault in found))
    return plain(node)


def _cache_file(state: str) -> Path | None:
    """Where the data of a state of the rules is kept; None where there is no place for it."""
    home = os.environ.get("XDG_CACHE_HOME") or os.path.expanduser("~/.cache")
    if not os.path.isabs(home):
        return None
    here = Path(__file__).resolve().parent
    makers = [
        here / f"{name}.py" for name in ("identity", "index", "library", "nearest", "proofread", "schema", "sheet")
    ]
    shape = hashlib.sha256()  # of all that decides what the file holds
    for path in (*makers, *sorted((here / "schemas").glob("*.json"))):
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
