"""`watchglass review`: the main job."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path

import click

from watchglass.cli.progress import Account, watched
from watchglass.dates import is_date
from watchglass.errors import CannotRun, one_line
from watchglass.files import SUFFIXES, Input, inputs
from watchglass.findings import Review
from watchglass.jobs import FEW, Order, processors, reviews_of
from watchglass.nearest import did_you_mean
from watchglass.output import colour_wanted, terminal_width, write_file, write_out
from watchglass.reports import counts, plural
from watchglass.rulebook import Rulebook, load
from watchglass.schema import words

FORMATS = ("text", "json", "jsonl", "sarif", "junit", "github", "gitlab")
FAIL_AT = ("error", "undecided", "warning", "note")


@click.command("review")
@click.argument("paths", nargs=-1, metavar="PATH...")
@click.option("--on", "on", metavar="DATE", help="Judge by the law of this day, year-month-day. Default: today.")
@click.option("--market", "markets", multiple=True, metavar="MARKET", help="Instead of the formula's own; repeatable.")
@click.option(
    "--fail-at", default="undecided", metavar="LEVEL", help="Exit 1 at: error, undecided (default), warning, note."
)
@click.option(
    "--format", "form", default="text", metavar="FORMAT", help=f"{FORMATS[0]} (default), {', '.join(FORMATS[1:])}."
)
@click.option("--output", type=click.Path(path_type=Path), help="Write the report to a file, whole or not at all.")
@click.option("--stdin-filename", default="-", metavar="NAME", help="What to call the formula read from '-'.")
@click.option("--color", "colour", default="auto", metavar="WHEN", help="auto (default), always or never.")
@click.option("-q", "--quiet", count=True, help="Findings alone; -qq: nothing, the exit code says it.")
@click.option("-v", "--verbose", is_flag=True, help="On standard error: what was passed over, and times.")
@click.option("--jobs", type=int, metavar="N", help=f"Processes for more than {FEW} files. Default: the processors.")
def command(
    paths: tuple[str, ...],
    on: str | None,
    markets: tuple[str, ...],
    fail_at: str,
    form: str,
    output: Path | None,
    stdin_filename: str,
    colour: str,
    quiet: int,
    verbose: bool,
    jobs: int | None,
) -> None:
    """Review formulas against dated, cited rules.

    PATH is a formula, a folder of them, or - for standard input. Exit 0: nothing at or above the --fail-at level;
    1: something; 2: the review could not run or there was nothing to review.
    """
    if not paths:
        raise click.UsageError(
            "nothing to review: name a formula or a folder, for example 'watchglass review formulas'"
        )
    _known("--fail-at", fail_at, FAIL_AT)
    _known("--format", form, FORMATS)
    _known("--color", colour, ("auto", "always", "never"))
    for market in markets:
        _known("--market", market, words("market"))
    if jobs is not None and jobs < 1:
        raise click.UsageError(f"--jobs is {jobs}; it takes one process at least")
    date = date_of(on)
    account = Account(verbose)
    book = load()
    account.tell_time(f"rulebook {book.hash} loaded, {len(book.rules)} rules and rows of tables")
    sought = inputs(paths, stdin_filename)
    if output is not None:
        _refuse_to_overwrite(output, sought)
    found = reviews_of(sought, book, Order(date, markets), jobs or processors())
    reviews = _formulas_of(sought, watched(found, len(sought), not quiet), account)
    if not reviews:
        raise CannotRun(f"only shelves in {one_line(', '.join(paths))}, no formula: nothing was reviewed")
    account.tell_time(f"reviewed {plural(len(reviews), 'formula')}")
    if output is not None or quiet < 2:
        _deliver(_report(reviews, book, date, form, colour, output, quiet > 0), output)
        account.tell_time(f"written as {form}")
    raise click.exceptions.Exit(int(fails(reviews, fail_at)))


def _formulas_of(sought: Sequence[Input], found: Iterable[Review | None], account: Account) -> list[Review]:
    """The reviews of formulas; shelves found beside them are passed over."""
    reviews = []
    for item, review in zip(sought, found, strict=True):
        if review is None:
            account.tell(f"{item.shown}: passed over, a shelf of materials and no formula")
        else:
            reviews.append(review)
    return reviews


def fails(reviews: Sequence[Review], fail_at: str) -> bool:
    """Whether something lies at or above the level."""
    total = counts(reviews)
    if total["error"]:
        return True
    if fail_at == "error":
        return False
    if any(found.outcome == "cannot tell" for found in reviews):
        return True
    return (fail_at in ("warning", "note") and bool(total["warning"])) or (fail_at == "note" and bool(total["note"]))


def _refuse_to_overwrite(output: Path, sought: Sequence[Input]) -> None:
    """A formula, a shelf or any other sheet that is there already is not written over."""
    is_input = os.path.realpath(output) in {os.path.realpath(item.path) for item in sought}
    if is_input or (output.name.lower().endswith(SUFFIXES) and output.exists()):
        what = "one of the formulas to review" if is_input else "a sheet that is there already"
        raise CannotRun(f"{one_line(str(output))} is {what}; nothing of yours is written over: name another file")


def _known(option: str, word: str, known: Sequence[str]) -> None:
    if word not in known:
        hint = did_you_mean(word, known) or f"; known: {', '.join(known)}"
        raise click.UsageError(f'{option} is "{word}"{hint}')


def date_of(on: str | None) -> str:
    """The date that was asked for, else today."""
    if on is None:
        import datetime

        return datetime.datetime.now().astimezone().date().isoformat()
    if not is_date(on):
        raise click.UsageError(f'--on is "{on}"; a date reads year-month-day, for example 2026-11-25')
    return on


def _report(
    reviews: Sequence[Review], book: Rulebook, on: str, form: str, colour: str, output: Path | None, quiet: bool
) -> str:
    if form == "text":
        from watchglass.reports import text

        if output is not None:
            return text.write(reviews, book, on, colour == "always", None, quiet)
        return text.write(reviews, book, on, colour_wanted(colour), terminal_width(), quiet)
    import importlib

    written: str = importlib.import_module(f"watchglass.reports.{form}").write(reviews, book, on)
    return written


def _deliver(report: str, output: Path | None) -> None:
    if output is not None:
        write_file(output, report)
    else:
        write_out(report)
