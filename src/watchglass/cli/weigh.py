"""`watchglass weigh`: the weigh sheet of a batch."""

from __future__ import annotations

from pathlib import Path

import click

from watchglass.cli.given import day, formula_at, grams
from watchglass.errors import CannotRun, Unreadable, located, one_line
from watchglass.formula import Formula
from watchglass.intake import bytes_of
from watchglass.nearest import did_you_mean
from watchglass.output import write_file, write_out
from watchglass.rulebook import Rulebook
from watchglass.weigh import weigh

FORMATS = ("text", "json")


@click.command("weigh")
@click.argument("formula", metavar="FORMULA")
@click.option("--batch", metavar="WEIGHT", help="How much to make, for example 2.5kg. Default: the formula's batch.")
@click.option("--balance", metavar="WEIGHT", help="What the balance shows, for example 0.1g. Default: the formula's.")
@click.option("--record", type=click.Path(path_type=Path), help="Hold a batch record against the sheet and the rules.")
@click.option("--write-record", type=click.Path(path_type=Path), help="Write an empty batch record to fill in.")
@click.option("--on", metavar="DATE", help="Look at the rules of this day. Default: today.")
@click.option("--format", "form", default="text", metavar="FORMAT", help="text (default) or json.")
@click.option("--output", type=click.Path(path_type=Path), help="Write to a file that is not there yet.")
def command(
    formula: str,
    batch: str | None,
    balance: str | None,
    record: Path | None,
    write_record: Path | None,
    on: str | None,
    form: str,
    output: Path | None,
) -> None:
    """Write the weigh sheet of a batch.

    Premixes come first, each phase in grams that the balance can show and that add up to the batch, with the cautions
    where they matter and room for the weights, lots and initials. Rounding that moves a verdict is told.

    --write-record writes an empty record of a batch; filled in, --record holds it against the sheet and the rules, with
    exit 1 where the batch departs from its sheet or breaks a rule.
    """
    if form not in FORMATS:
        raise click.UsageError(f'--format is "{form}"{did_you_mean(form, FORMATS) or "; known: text, json"}')
    for file in (output, write_record):
        if file is not None and file.exists():
            raise CannotRun(f"{one_line(str(file))} is there already; nothing is written over: name another file")
    made, divisions, date = grams("--batch", batch), grams("--balance", balance), day(on)
    read, book = formula_at(formula)
    if record is not None:
        raise click.exceptions.Exit(_checked(record, read, book, formula, date))
    try:
        sheet = weigh(read, book, date, made, divisions)
    except CannotRun as error:
        raise CannotRun(f"{one_line(formula)}: {error}") from None
    from watchglass.papers import weigh_sheet

    if write_record is not None:
        from watchglass.batch_record import blank

        write_file(write_record, blank(read, sheet.batch_grams, date))
    written = weigh_sheet.json_of(sheet) if form == "json" else weigh_sheet.text_of(sheet)
    if output is not None:
        write_file(output, written)
    else:
        write_out(written)


def _checked(path: Path, formula: Formula, book: Rulebook, name: str, on: str) -> int:
    """Print what a batch record comes to; the exit code."""
    from watchglass.batch_record import Record, check, record_of
    from watchglass.papers import batch

    try:
        found = record_of(bytes_of(path))
    except Unreadable as error:
        raise CannotRun(located(one_line(str(path)), error.place, error.message)) from None
    if not isinstance(found, Record):
        raise CannotRun("\n".join(located(one_line(str(path)), fault.place, fault.message) for fault in found))
    checked = check(found, formula, book, on, name)
    write_out(batch.text_of(checked, found, one_line(str(path)), book))
    is_sound = not checked.departures and checked.review is not None and checked.review.outcome != "breaks"
    return 0 if is_sound else 1
