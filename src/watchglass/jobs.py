"""The reviews of many files."""

from __future__ import annotations

import sys
from pathlib import Path

from watchglass.errors import START, Unreadable
from watchglass.files import STDIN, Input
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of, is_shelf
from watchglass.review import review
from watchglass.rulebook import Rulebook
from watchglass.sheet import MOST_BYTES


def reviewed(item: Input, book: Rulebook, on: str, markets: tuple[str, ...]) -> Review | None:
    """The review of one input; None for a shelf that was found beside the formulas that name it."""
    if item.trouble is not None:
        return unreadable(item.shown, on, [(START, "", item.trouble)])
    try:
        text = _standard_input() if item.path == STDIN else bytes_of(Path(item.path))
    except Unreadable as error:
        return unreadable(item.shown, on, [(error.place, "", error.message)])
    except OSError as error:
        return unreadable(item.shown, on, [(START, "", f"standard input cannot be read: {error.strerror}")])
    folder = Path.cwd() if item.path == STDIN else Path(item.path).parent
    found = formula_of(text, folder)
    if isinstance(found, Formula):
        return review(found, book, on, item.shown, markets)
    if not item.named and is_shelf(text):
        return None
    return unreadable(item.shown, on, found)


def _standard_input() -> bytes:
    """Standard input, no more of it than can be read."""
    if sys.stdin is None:
        raise Unreadable(START, "standard input is closed")
    text = sys.stdin.buffer.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise Unreadable(START, f"standard input has more than {MOST_BYTES:,} bytes; at most {MOST_BYTES:,} are read")
    return text
