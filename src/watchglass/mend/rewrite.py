"""A mended copy of a formula's text: other numbers, every other byte as it was.

A reading of the pH belongs to the jar that it was taken from, so it is set behind a # where an amount changed; a stale
reading would pass what nobody has measured.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

from watchglass.errors import CannotRun, Place
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.interval import shown

_TOKEN = re.compile(r"[^\s,\]}#]+")
_BATCH = re.compile(r"""(batch["']?\s*:\s*["']?)([0-9]+(?:\.[0-9]+)?)(\s*)(k?g)""")
_MARK = b"\xef\xbb\xbf"


def rewritten(data: bytes, before: Formula, after: Formula, folder: Path) -> bytes:
    """The text of a formula with the amounts of another.

    Args:
        data: The text, as it was read.
        before: The formula that it is.
        after: The same formula with other amounts.
        folder: Where the copy is going to lie: its shelf is looked for from there.

    Raises:
        CannotRun: The copy would not be read as that formula.
    """
    mark, text = (_MARK, data[len(_MARK) :]) if data.startswith(_MARK) else (b"", data)
    lines = re.split(r"(?<=\n)|(?<=\r)(?!\n)", text.decode("utf-8"))
    edits = [*_amounts(before, after)]
    if before.batch_grams != after.batch_grams and after.batch_grams is not None:
        _write_batch(lines, before.place("batch"), after.batch_grams)
    for place, value in sorted(edits, reverse=True):
        _write_number(lines, place, value)
    if before.measured is not None and after.measured is None:
        _set_aside(lines, before)
    copy = mark + "".join(lines).encode("utf-8")
    _prove(copy, after, folder)
    return copy


def _amounts(before: Formula, after: Formula) -> Iterator[tuple[Place, Decimal]]:
    for old, new in zip(before.lines, after.lines, strict=True):
        amount = new.percent if new.grams is None else new.grams
        if (old.percent, old.grams) != (new.percent, new.grams) and isinstance(amount, Decimal):
            yield old.amount_place, amount


def _write_number(lines: list[str], place: Place, value: Decimal) -> None:
    """Another number where one stands, with as many decimals as it had, or more."""
    line, start = lines[place.line - 1], place.column - 1
    found = _TOKEN.match(line, start)
    assert found is not None
    decimals = len(found.group().partition(".")[2]) if re.fullmatch(r"[0-9]+\.[0-9]+", found.group()) else 0
    least = Decimal(1).scaleb(-decimals)
    figure = f"{value.quantize(least):f}" if value == value.quantize(least) else shown(value)
    lines[place.line - 1] = line[:start] + figure + line[found.end() :]


def _write_batch(lines: list[str], place: Place, grams: Decimal) -> None:
    for number in range(place.line - 1, len(lines)):
        found = _BATCH.search(lines[number], place.column - 1 if number == place.line - 1 else 0)
        if found is not None:
            value = shown(grams / 1000 if found.group(4) == "kg" else grams)
            lines[number] = lines[number][: found.start(2)] + value + lines[number][found.end(2) :]
            return


def _set_aside(lines: list[str], formula: Formula) -> None:
    """The reading as a comment, from its key to the line before the next key."""
    start = formula.place("measured")
    later = [place.line for place in formula.places.values() if place > start]
    end = min(later, default=len(lines) + 1) - 1
    while end > start.line and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    if lines[start.line - 1][: start.column - 1].strip() or any(line == start.line for line in later):
        raise CannotRun(
            "the reading (measured) belongs to the jar as it was and stands on one line with other keys: "
            "take it out of the formula first"
        )
    for number in range(start.line - 1, end):
        if lines[number].strip():
            lines[number] = "# " + lines[number]


def _prove(copy: bytes, after: Formula, folder: Path) -> None:
    """Read the copy: it must be the mended formula and nothing else."""
    found = formula_of(copy, folder)
    if isinstance(found, list):
        raise CannotRun(f"the mended copy could not be read where it is going to lie: {found[0].message}")
    if _without_places(found) != _without_places(after):
        raise CannotRun("the mended copy would not read as the mended formula; nothing was written")


def _without_places(formula: Formula) -> tuple[object, ...]:
    lines = [(line.where, line.material, line.percent, line.grams, line.function) for line in formula.lines]
    reading = None if formula.measured is None else formula.measured.ph
    return lines, formula.batch_grams, reading, formula.statements, formula.title, formula.product, formula.markets
