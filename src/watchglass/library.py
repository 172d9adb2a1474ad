"""The rule folder: where it is, the hash that names its state, and its files as plain data.

The folder is YAML, written for people. Read and checked once, it is kept as one JSON file in the user's cache folder
under the hash of every byte of it, so a changed rule is never overlooked and an unchanged one is never read twice.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
from functools import cache
from pathlib import Path
from typing import Any

from watchglass import __version__
from watchglass.errors import CannotRun, Unreadable, located
from watchglass.nearest import folded
from watchglass.schema import faults
from watchglass.sheet import plain, read

# The files that are not lists of rules, with their schemas; None: constants that only the engine reads.
_SCHEMAS: dict[str, str | None] = {
    "sources.yaml": "sources",
    "statements.yaml": "statements",
    "atomic-weights.yaml": None,
    "model.yaml": None,
    "kinds.yaml": None,
}


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
    for path in sorted(folder.rglob("*.yaml")):
        digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


@cache
def load() -> dict[str, Any]:
    """All rule files as plain data, under the keys rules, substances and the names of the other files.

    Raises:
        CannotRun: A file cannot be read or does not fit its schema.
    """
    kept = _cache_file(rules_hash())
    with contextlib.suppress(OSError, ValueError):
        data: dict[str, Any] = json.loads(kept.read_text("utf-8"))
        return data
    data = read_folder(rules_folder())
    _keep(data, kept)
    return data


def read_folder(folder: Path) -> dict[str, Any]:
    """Read and check every file of a rule folder.

    Raises:
        CannotRun: One line for each fault, with its place.
    """
    data: dict[str, Any] = {"rules": [], "substances": []}
    for path in sorted(folder.rglob("*.yaml")):
        name = path.relative_to(folder).as_posix()
        if name in _SCHEMAS:
            data[name.removesuffix(".yaml")] = _read_file(path, name, _SCHEMAS[name])
        elif name.startswith("substances/"):
            data["substances"] += _read_file(path, name, "substances")
        else:
            data["rules"] += [rule | {"file": name} for rule in _read_file(path, name, "rules")]
    data["names"] = names_of(data["substances"])
    return data


def names_of(entries: list[dict[str, Any]]) -> dict[str, str]:
    """Every name, CAS number and synonym, folded, to the INCI name that it means; the first entry has it."""
    names: dict[str, str] = {}
    for entry in entries:
        for word in (entry["substance"], *entry.get("cas", ()), *entry.get("synonyms", ())):
            names.setdefault(folded(word), entry["substance"])
    return names


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


def _cache_file(state: str) -> Path:
    home = os.environ.get("XDG_CACHE_HOME") or os.path.join(os.path.expanduser("~"), ".cache")
    shape = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()[:8]  # this module decides what the file holds
    return Path(home) / "watchglass" / f"rules-{__version__}-{shape}-{state}.json"


def _keep(data: dict[str, Any], kept: Path) -> None:
    """Write the cache whole, or not at all; without a writable cache folder everything works, only slower."""
    import tempfile

    with contextlib.suppress(OSError):
        kept.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("w", encoding="utf-8", dir=kept.parent, delete=False) as file:
            json.dump(data, file, ensure_ascii=False)
        os.replace(file.name, kept)
        for older in kept.parent.glob("rules-*.json"):
            if older != kept:
                older.unlink(missing_ok=True)
