"""The mended copy of a formula: written as a new file, or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import click

from watchglass.errors import CannotRun, one_line
from watchglass.files import Input
from watchglass.findings import Review
from watchglass.formula import Formula
from watchglass.intake import bytes_of
from watchglass.interval import shown
from watchglass.judge import review
from watchglass.mend import mended
from watchglass.mend.amounts import amount_of
from watchglass.mend.rewrite import rewritten
from watchglass.output import write_file
from watchglass.requirements import enumerated
from watchglass.rulebook import Rulebook


def write_copy(copy: Path, item: Input, found: Review, book: Rulebook) -> None:
    """Write the mended copy of a reviewed formula, and say on standard error what is in it and what is left.

    Raises:
        CannotRun: The copy cannot be written, or would not be read as the mended formula.
    """
    called = one_line(str(copy))
    after = mended(found, book)
    if found.formula is None or after is None:
        _say(f"no break that a change of amounts mends; {called} was not written")
        return
    text = rewritten(bytes_of(Path(item.path)), found.formula, after, copy.parent).decode("utf-8")
    if os.path.lexists(copy):
        raise CannotRun(f"{called} is taken; nothing of yours is written over: name another file")
    write_file(copy, text, "the mended copy")
    _say(f"{called}: {'; '.join(_changes(found.formula, after))}")
    again = review(after, book, found.on, called, found.markets)
    left = dict.fromkeys(finding.address for finding in again.findings if finding.verdict == "breaks")
    if left:
        _say(f"left for you in {called}: {enumerated(left)}")
    if found.formula.measured is not None and after.measured is None:
        _say("the reading was of the old jar and is a comment in the copy: make it, and read the pH again")


def _changes(before: Formula, after: Formula) -> list[str]:
    """What differs, line by line."""
    told = []
    for old, new in zip(before.lines, after.lines, strict=True):
        was, is_now = amount_of(old), amount_of(new)
        if was is not None and is_now is not None and was != is_now:
            told.append(f"{old.material} {shown(was)} to {shown(is_now)} {'%' if old.grams is None else 'g'}")
    if before.batch_grams is not None and after.batch_grams is not None and before.batch_grams != after.batch_grams:
        told.append(f"batch {shown(before.batch_grams)} to {shown(after.batch_grams)} g")
    return told


def _say(message: str) -> None:
    click.echo(f"watchglass: {one_line(message)}", err=True)
