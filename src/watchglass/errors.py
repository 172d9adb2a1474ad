"""What can go wrong, as classes with fields; the one line a user sees is built in one place."""

from __future__ import annotations

from typing import NamedTuple


class Place(NamedTuple):
    """A position in a text: line and column count from 1, columns in Unicode code points."""

    line: int
    column: int


START = Place(1, 1)


class WatchglassError(Exception):
    """Anything that Watchglass raises on purpose."""


class Unreadable(WatchglassError):
    """A YAML text that cannot be read: where reading stopped, and why.

    The command line turns it into a finding for a formula (exit 1) and into a refusal for a rule (exit 2).
    """

    def __init__(self, place: Place, message: str) -> None:
        super().__init__(message)
        self.place = place
        self.message = message


class CannotRun(WatchglassError):
    """Nothing could be reviewed: a usage mistake, a broken rule file, an output that cannot be written (exit 2)."""


def one_line(text: str) -> str:
    r"""A text in which nothing ends a line, moves a cursor or turns the direction of writing: such characters escaped.

    >>> one_line("a" + chr(10) + "b"), one_line("naïve")
    ('a\\nb', 'naïve')
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode("ascii") for c in text)


def located(path: str, place: Place, message: str) -> str:
    """One line that starts as the GNU coding standards put it.

    >>> located("a.yaml", Place(3, 5), "unknown key 'perecnt'")
    "a.yaml:3:5: unknown key 'perecnt'"
    """
    return f"{path}:{place.line}:{place.column}: {message}"
