"""A text as lines, and how long the thing is that starts at a place."""

from __future__ import annotations

import re

from watchglass.errors import Place

_BREAK = re.compile(r"\r\n|\r|\n")
_PLAIN_END = re.compile(r"[,}\]]| #|: |:$|$")
_PAIRS = {"{": "}", "[": "]"}


def lines_of(text: str) -> list[str]:
    """The lines without their ends, as the protocol and YAML 1.2 count them; at least one."""
    return _BREAK.split(text.removeprefix("\ufeff"))


def end_of(lines: list[str], place: Place) -> Place:
    """Where the key, value or bracket that starts at a place ends, on the same line.

    >>> end_of(["- {material: Aqua, percent: qs}"], Place(1, 14))
    Place(line=1, column=18)
    """
    line = lines[place.line - 1] if place.line <= len(lines) else ""
    rest = line[place.column - 1 :]
    return Place(place.line, place.column + max(len(rest[: _length(rest)].rstrip()), 1 if rest else 0))


def _length(rest: str) -> int:
    first = rest[:1]
    if first in ('"', "'"):
        closing = rest.find(first, 1)
        return closing + 1 if closing > 0 else len(rest)
    if first in _PAIRS:
        depth = 0
        for number, character in enumerate(rest):
            depth += (character == first) - (character == _PAIRS[first])
            if depth == 0:
                return number + 1
        return len(rest)
    found = _PLAIN_END.search(rest)
    return found.start() if found and found.start() else len(rest)
