"""`watchglass neutralise`: how much of a stock brings a formula to a pH."""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from pathlib import Path

import click

from watchglass.cli.given import formula_at, today
from watchglass.errors import CannotRun, one_line
from watchglass.formula import Formula
from watchglass.judge import review
from watchglass.nearest import did_you_mean
from watchglass.neutralise import neutralise
from watchglass.output import terminal_width, write_file, write_out

FORMATS = ("text", "json")
LOWEST_PH, HIGHEST_PH = 0, 14


@click.command("neutralise")
@click.argument("formula", metavar="FORMULA")
@click.option("--to", "target", metavar="PH", help="The pH to reach. Default: the middle of the formula's target.")
@click.option(
    "--with", "stock", metavar="MATERIAL", help="The stock, dry base or acid; default: the only one there is."
)
@click.option("--read", "read", metavar="PH", help="A reading after some of it was added: how much is still to come.")
@click.option("--plot", type=click.Path(path_type=Path), help="Write the curve to a file as SVG, whole or not at all.")
@click.option("--format", "form", default="text", metavar="FORMAT", help="text (default) or json.")
def command(
    formula: str, target: str | None, stock: str | None, read: str | None, plot: Path | None, form: str
) -> None:
    """Find how much of a stock brings a formula to a pH.

    The stock takes the place of water in the qs line; the formula itself is not changed. The pH is predicted: add the
    first portion, read the meter, and go on from there with --read.
    """
    if form not in FORMATS:
        raise click.UsageError(f'--format is "{form}"{did_you_mean(form, FORMATS) or "; known: text, json"}')
    read_formula, book = formula_at(formula)
    to = _ph("--to", target) if target is not None else _middle(read_formula, formula)
    read_ph = _ph("--read", read) if read is not None else None
    if plot is not None and (plot.exists() and plot.suffix.lower() != ".svg"):
        raise CannotRun(f"{one_line(str(plot))} is there already and is no .svg: name another file")
    try:
        found = neutralise(read_formula, book, to, stock, read_ph)
    except CannotRun as error:
        raise CannotRun(f"{one_line(formula)}: {error}") from None
    from watchglass.papers import neutralisation

    cautions = review(found.formula, book, today()).cautions
    report = (
        neutralisation.json_of(found) if form == "json" else neutralisation.text_of(found, cautions, terminal_width())
    )
    if plot is not None:
        write_file(plot, neutralisation.picture_of(found))
    write_out(report)


def _ph(option: str, word: str) -> Decimal:
    try:
        value = Decimal(word)
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or not LOWEST_PH <= value <= HIGHEST_PH:
        hint = ", with a point and not a comma" if "," in word else ""
        raise click.UsageError(f'{option} is "{word}"; a pH is a number from {LOWEST_PH} to {HIGHEST_PH}{hint}')
    return value


def _middle(formula: Formula, path: str) -> Decimal:
    """Of the maker's own window."""
    target = formula.target
    ends = [] if target is None else [end for end in (target.min, target.max) if end is not None]
    if not ends:
        raise click.UsageError(f"{one_line(path)} has no target.ph; say which pH to reach, for example '--to 4.0'")
    return sum(ends, Decimal(0)) / len(ends)
