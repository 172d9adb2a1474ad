"""`watchglass review`: the main job."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

import click

from watchglass.dates import is_date
from watchglass.errors import START, CannotRun, Unreadable, one_line
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of, is_shelf
from watchglass.nearest import did_you_mean
from watchglass.output import colour_wanted, terminal_width, write_file, write_out
from watchglass.reports import counts
from watchglass.review import review
from watchglass.rulebook import Rulebook, load
from watchglass.schema import words
from watchglass.sheet import MOST_BYTES

FORMATS = ("text", "json")
FAIL_AT = ("error", "undecided", "warning", "note")
SUFFIXES = (".yaml", ".yml")
STDIN = "-"


@click.command("review")
@click.argument("paths", nargs=-1, metavar="PATH...")
@click.option("--on", "on", metavar="DATE", help="Judge by the law of this day, year-month-day. Default: today.")
@click.option("--market", "markets", multiple=True, metavar="MARKET", help="Instead of the formula's own; repeatable.")
@click.option(
    "--fail-at", default="undecided", metavar="LEVEL", help="Exit 1 at: error, undecided (default), warning, note."
)
@click.option("--format", "form", default="text", metavar="FORMAT", help="text (default) or json.")
@click.option("--output", type=click.Path(path_type=Path), help="Write the report to a file, whole or not at all.")
@click.option("--stdin-filename", default="-", metavar="NAME", help="What to call the formula read from '-'.")
@click.option("--color", "colour", default="auto", metavar="WHEN", help="auto (default), always or never.")
def command(
    paths: tuple[str, ...],
    on: str | None,
    markets: tuple[str, ...],
    fail_at: str,
    form: str,
    output: Path | None,
    stdin_filename: str,
    colour: str,
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
    date = _date(on)
    book = load()
    inputs = _inputs(paths, stdin_filename)
    if output is not None:
        _refuse_to_overwrite(output, inputs)
    reviewed = [_reviewed(item, book, date, markets) for item in inputs]
    reviews = [review for review in reviewed if review is not None]
    if not reviews:
        raise CannotRun(f"only shelves in {one_line(', '.join(paths))}, no formula: nothing was reviewed")
    _deliver(_report(reviews, book, date, form, colour, output), output)
    raise click.exceptions.Exit(int(fails(reviews, fail_at)))


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


def _refuse_to_overwrite(output: Path, inputs: Sequence[_Input]) -> None:
    """A formula, a shelf or any other sheet that is there already is not written over."""
    is_input = os.path.realpath(output) in {os.path.realpath(item.path) for item in inputs}
    if is_input or (output.name.lower().endswith(SUFFIXES) and output.exists()):
        what = "one of the formulas to review" if is_input else "a sheet that is there already"
        raise CannotRun(f"{one_line(str(output))} is {what}; nothing of yours is written over: name another file")


def _known(option: str, word: str, known: Sequence[str]) -> None:
    if word not in known:
        hint = did_you_mean(word, known) or f"; known: {', '.join(known)}"
        raise click.UsageError(f'{option} is "{word}"{hint}')


def _date(on: str | None) -> str:
    if on is None:
        import datetime

        return datetime.datetime.now().astimezone().date().isoformat()
    if not is_date(on):
        raise click.UsageError(f'--on is "{on}"; a date reads year-month-day, for example 2026-11-25')
    return on


class _Input(NamedTuple):
    """One thing to review: where it is, what it is called, whether it was named or found in a folder."""

    path: str
    shown: str
    named: bool
    trouble: str | None = None


def _inputs(paths: Sequence[str], stdin_name: str) -> list[_Input]:
    """Every file once, sorted by the name it goes by."""
    found: dict[str, _Input] = {}
    for path in paths:
        if path == STDIN:
            found[STDIN] = _Input(STDIN, stdin_name, True)
        elif not os.path.lexists(path):
            raise CannotRun(f"{one_line(path)}: there is no such file or folder")
        elif os.path.isdir(path):
            for inner in _in_folder(path):
                found.setdefault(inner.path, inner)
        else:
            where = os.path.abspath(path)
            found[where] = _Input(where, _shown(Path(path)), True)
    if not found:
        raise CannotRun(f"no formulas (*.yaml, *.yml) in {one_line(', '.join(paths))}: nothing was reviewed")
    return sorted(found.values(), key=lambda item: item.shown)


def _in_folder(folder: str) -> Iterator[_Input]:
    """The YAML files of a folder and below, links followed once; hidden ones are passed over, closed ones told."""
    closed: list[OSError] = []
    seen: set[str] = set()
    for path, folders, files in os.walk(folder, onerror=closed.append, followlinks=True):
        if os.path.realpath(path) in seen:
            folders.clear()
            continue
        seen.add(os.path.realpath(path))
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in files:
            if name.lower().endswith(SUFFIXES) and not name.startswith("."):
                file = Path(path) / name
                yield _Input(os.path.abspath(file), _shown(file), False)
    for error in closed:
        trouble = f"the folder cannot be opened: {error.strerror}"
        yield _Input(os.path.abspath(error.filename), _shown(Path(error.filename)), False, trouble)


def _shown(file: Path) -> str:
    """Relative to the working folder where that is shorter, with forward slashes."""
    try:
        relative = os.path.relpath(file)
    except ValueError:
        return file.as_posix()
    return Path(relative).as_posix() if not relative.startswith("..") else file.as_posix()


def _reviewed(item: _Input, book: Rulebook, on: str, markets: tuple[str, ...]) -> Review | None:
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


def _report(reviews: Sequence[Review], book: Rulebook, on: str, form: str, colour: str, output: Path | None) -> str:
    if form == "text":
        from watchglass.reports import text

        if output is not None:
            return text.write(reviews, book, on, colour == "always")
        return text.write(reviews, book, on, colour_wanted(colour), terminal_width())
    import importlib

    written: str = importlib.import_module(f"watchglass.reports.{form}").write(reviews, book, on)
    return written


def _deliver(report: str, output: Path | None) -> None:
    if output is not None:
        write_file(output, report)
    else:
        write_out(report)
