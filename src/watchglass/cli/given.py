"""What commands about one formula are given: the formula of a path and its rules, a day, an amount with its unit."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import click

from watchglass.dates import is_date
from watchglass.errors import CannotRun, Unreadable, located, one_line
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of
from watchglass.rulebook import Rulebook
from watchglass.settings import settings_for

_GRAMS = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?) ?(g|kg)")


def formula_at(path: str) -> tuple[Formula, Rulebook]:
    """The formula of a file and the rules of its folder, both with what the configuration says of them.

    Raises:
        CannotRun: With one line for each fault that keeps it from being one.
    """
    folder = Path(path).absolute().parent
    settings = settings_for(folder)
    try:
        found = formula_of(bytes_of(Path(path)), folder, settings.defaults)
    except Unreadable as error:
        raise CannotRun(located(one_line(path), error.place, error.message)) from None
    if not isinstance(found, Formula):
        raise CannotRun("\n".join(located(one_line(path), fault.place, fault.message) for fault in found))
    return found, settings.book()


def day(on: str | None) -> str:
    """The day that was given, else today."""
    if on is None:
        return today()
    if not is_date(on):
        raise click.UsageError(f'--on is "{on}"; a date reads year-month-day, for example 2026-11-25')
    return on


def today() -> str:
    """The one look at the clock."""
    import datetime

    return datetime.datetime.now().astimezone().date().isoformat()


def grams(option: str, word: str | None) -> Decimal | None:
    """A weight with its unit, in grams."""
    if word is None:
        return None
    found = _GRAMS.fullmatch(word.strip())
    weight = Decimal(found[1]) * (1000 if found[2] == "kg" else 1) if found is not None else Decimal(0)
    if not weight:
        raise click.UsageError(f'{option} is "{word}"; a weight is a number with its unit, for example 500g or 2.5kg')
    return weight
