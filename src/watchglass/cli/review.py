"""`watchglass review`: the main job."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from watchglass.errors import START, CannotRun, Unreadable, one_line
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula, is_date
from watchglass.intake import bytes_of, formula_of
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
SHELF_NAMES = ("shelf.yaml", "shelf.yml")


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
    reviews = [_reviewed(path, shown, book, date, markets) for path, shown in _files(paths, stdin_filename)]
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


def _files(paths: Sequence[str], stdin_name: str) -> Iterator[tuple[str, str]]:
    """Every file to review once, sorted, with the name it goes by."""
    found: dict[str, tuple[str, str]] = {}
    for path in paths:
        if path == STDIN:
            found[STDIN] = (STDIN, stdin_name)
            continue
        if not os.path.lexists(path):
            raise CannotRun(f"{one_line(path)}: there is no such file or folder")
        for file in sorted(_in_folder(Path(path))) if os.path.isdir(path) else [Path(path)]:
            found.setdefault(os.path.abspath(file), (os.path.abspath(file), _shown(file)))
    if not found:
        raise CannotRun(f"no formulas (*.yaml, *.yml) in {one_line(', '.join(paths))}: nothing was reviewed")
    yield from sorted(found.values(), key=lambda item: item[1])


def _in_folder(folder: Path) -> Iterator[Path]:
    """The YAML files of a folder and below; hidden ones and shelves are passed over."""
    for path, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in files:
            if name.endswith(SUFFIXES) and not name.startswith(".") and name not in SHELF_NAMES:
                yield Path(path) / name


def _shown(file: Path) -> str:
    """Relative to the working folder where that is shorter, with forward slashes."""
    try:
        relative = os.path.relpath(file)
    except ValueError:
        return file.as_posix()
    return Path(relative).as_posix() if not relative.startswith("..") else file.as_posix()


def _reviewed(path: str, shown: str, book: Rulebook, on: str, markets: tuple[str, ...]) -> Review:
    try:
        text = _standard_input() if path == STDIN else bytes_of(Path(path))
    except Unreadable as error:
        return unreadable(shown, on, [(error.place, "", error.message)])
    except OSError as error:
        return unreadable(shown, on, [(START, "", f"standard input cannot be read: {error.strerror}")])
    folder = Path.cwd() if path == STDIN else Path(path).parent
    found = formula_of(text, folder)
    if isinstance(found, Formula):
        return review(found, book, on, shown, markets)
    return unreadable(shown, on, found)


def _standard_input() -> bytes:
    """Standard input, no more of it than can be read."""
    if sys.stdin is None:
        raise Unreadable(START, "standard input is closed")
    text = sys.stdin.buffer.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise Unreadable(START, f"standard input has more than {MOST_BYTES:,} bytes; at most {MOST_BYTES:,} are read")
    return text


def _report(reviews: Sequence[Review], book: Rulebook, on: str, form: str, colour: str, output: Path | None) -> str:
    if form == "json":
        from watchglass.reports import json

        return json.write(reviews, book, on)
    from watchglass.reports import text

    if output is not None:
        return text.write(reviews, book, on, colour == "always")
    return text.write(reviews, book, on, colour_wanted(colour), terminal_width())


def _deliver(report: str, output: Path | None) -> None:
    if output is not None:
        write_file(output, report)
    else:
        write_out(report)
