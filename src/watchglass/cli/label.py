"""`watchglass label`: the label copy for a market."""

from __future__ import annotations

from pathlib import Path

import click

from watchglass.cli.given import day, formula_at
from watchglass.errors import CannotRun, one_line
from watchglass.label import label_copy
from watchglass.nearest import did_you_mean
from watchglass.output import terminal_width, write_file, write_out
from watchglass.schema import words

FORMATS = ("text", "json")


@click.command("label")
@click.argument("formula", metavar="FORMULA")
@click.option("--market", metavar="MARKET", help="For which market. Default: the formula's, where it names one only.")
@click.option("--on", metavar="DATE", help="By the rules of this day. Default: today.")
@click.option("--format", "form", default="text", metavar="FORMAT", help="text (default) or json.")
@click.option("--output", type=click.Path(path_type=Path), help="Write to a file that is not there yet.")
def command(formula: str, market: str | None, on: str | None, form: str, output: Path | None) -> None:
    """Write the label copy for a market.

    The ingredient declaration in its legal order, the statements that the rules ask for with their sources, what the
    label in the file lacks, and what is left for the maker to add.
    """
    if form not in FORMATS:
        raise click.UsageError(f'--format is "{form}"{did_you_mean(form, FORMATS) or "; known: text, json"}')
    if market is not None and market not in words("market"):
        known = words("market")
        raise click.UsageError(f'--market is "{market}"{did_you_mean(market, known) or "; known: " + ", ".join(known)}')
    if output is not None and output.exists():
        raise CannotRun(f"{one_line(str(output))} is there already; nothing is written over: name another file")
    date = day(on)
    read, book = formula_at(formula)
    if market is None and len(read.markets) != 1:
        raise click.UsageError(f"{one_line(formula)} is for {', '.join(read.markets)}: say which with --market")
    try:
        copy = label_copy(read, book, date, market or read.markets[0])
    except CannotRun as error:
        raise CannotRun(f"{one_line(formula)}: {error}") from None
    from watchglass.papers import label_copy as paper

    width = terminal_width() if output is None else None
    written = paper.json_of(copy) if form == "json" else paper.text_of(copy, width)
    if output is not None:
        write_file(output, written)
    else:
        write_out(written)
