"""Which files are reviewed: named ones, and the YAML files of folders, each once and in one order."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from watchglass.errors import CannotRun, one_line

SUFFIXES = (".yaml", ".yml")
CONFIGURATION = "watchglass.yaml"
STDIN = "-"


class Input(NamedTuple):
    """One thing to review.

    Attributes:
        path: Where it is, absolute; - for standard input.
        shown: What it is called in a report.
        named: Whether it was named; else it was found in a folder.
        trouble: Why it cannot be looked into, where that is known already.
    """

    path: str
    shown: str
    named: bool
    trouble: str | None = None

    @property
    def folder(self) -> Path:
        """Where it lies; a formula from standard input lies where its name says, else in the working folder."""
        return Path(self.shown if self.path == STDIN else self.path).absolute().parent


def inputs(paths: Sequence[str], stdin_name: str) -> list[Input]:
    """Every file once, sorted by the name it goes by.

    Args:
        paths: Files, folders, or - for standard input.
        stdin_name: What to call the formula read from standard input.

    Raises:
        CannotRun: A path is not there, or nothing to review was found.
    """
    found: dict[str, Input] = {}
    for path in paths:
        if path == STDIN:
            found[STDIN] = Input(STDIN, stdin_name, True)
        elif not os.path.lexists(path):
            raise CannotRun(f"{one_line(path)}: there is no such file or folder")
        elif os.path.isdir(path):
            for inner in _in_folder(path):
                found.setdefault(inner.path, inner)
        else:
            where = os.path.abspath(path)
            found[where] = Input(where, shown(Path(path)), True)
    if not found:
        raise CannotRun(f"no formulas (*.yaml, *.yml) in {one_line(', '.join(paths))}: nothing was reviewed")
    return sorted(found.values(), key=lambda item: item.shown)


def _in_folder(folder: str) -> Iterator[Input]:
    """The YAML files of a folder and below, links followed once.

    Hidden ones and the configuration are passed over, closed ones told.
    """
    closed: list[OSError] = []
    seen: set[str] = set()
    for path, folders, files in os.walk(folder, onerror=closed.append, followlinks=True):
        if os.path.realpath(path) in seen:
            folders.clear()
            continue
        seen.add(os.path.realpath(path))
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in files:
            if name.lower().endswith(SUFFIXES) and not name.startswith(".") and name != CONFIGURATION:
                file = Path(path) / name
                yield Input(os.path.abspath(file), shown(file), False)
    for error in closed:
        trouble = f"the folder cannot be opened: {error.strerror}"
        yield Input(os.path.abspath(error.filename), shown(Path(error.filename)), False, trouble)


def shown(file: Path) -> str:
    """Relative to the working folder where that is shorter, with forward slashes."""
    try:
        relative = os.path.relpath(file)
    except ValueError:
        return file.as_posix()
    return Path(relative).as_posix() if not relative.startswith("..") else file.as_posix()
