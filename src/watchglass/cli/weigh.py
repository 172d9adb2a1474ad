"""`watchglass weigh`: the weigh sheet of a batch."""

from __future__ import annotations

from pathlib import Path

import click

from watchglass.cli.given import day, formula_at, grams
from watchglass.errors import CannotRun, one_line
from watchglass.nearest import did_you_mean
from watchglass.output import write_file, write_out
from watchglass.rulebook import load
from watchglass.weigh import weigh

FORMATS = ("text", "json")


@click.command("weigh")
@click.argument("formula", metavar="FORMULA")
@click.option("--batch", metavar="WEIGHT", help="How much to make, for example 2.5kg. Default: the formula's batch.")
@click.option("--balance", metavar="WEIGHT", help="What the balance shows, for example 0.1g. Default: the formula's.")
@click.option("--on", metavar="DATE", help="Look at the rules of this day. Default: today.")
@click.option("--format", "form", default="text", metavar="FORMAT", help="text (default) or json.")
@click.option("--output", type=click.Path(path_type=Path), help="Write to a file that is not there yet.")
def command(
    formula: str, batch: str | None, balance: str | None, on: str | None, form: str, output: Path | None
) -> None:
    """Write the weigh sheet of a batch.

    Premixes come first, each phase in grams that the balance can show and that add up to the batch, with the cautions
    where they matter and room for the weights, lots and initials. Rounding that moves a verdict is told.
    """
    if form not in FORMATS:
        raise click.UsageError(f'--format is "{form}"{did_you_mean(form, FORMATS) or "; known: text, json"}')
    if output is not None and output.exists():
        raise CannotRun(f"{one_line(str(output))} is there already; nothing is written over: name another file")
    made, divisions, date = grams("--batch", batch), grams("--balance", balance), day(on)
    read = formula_at(formula)
    try:
        sheet = weigh(read, load(), date, made, divisions)
    except CannotRun as error:
        raise CannotRun(f"{one_line(formula)}: {error}") from None
    from watchglass.papers import weigh_sheet

    written = weigh_sheet.json_of(sheet) if form == "json" else weigh_sheet.text_of(sheet)
    if output is not None:
        write_file(output, written)
    else:
        write_out(written)
