"""`watchglass review`: the main job."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any

import click

from watchglass.cli.given import day
from watchglass.cli.progress import Account, watched
from watchglass.dates import is_horizon
from watchglass.errors import CannotRun, one_line
from watchglass.files import STDIN, SUFFIXES, Input
from watchglass.findings import Review
from watchglass.jobs import FEW, processors
from watchglass.known import HEAD
from watchglass.nearest import did_you_mean
from watchglass.output import colour_wanted, terminal_width, write_file, write_out
from watchglass.reports import plural
from watchglass.rulebook import Rulebook
from watchglass.runs import Run, known_list, review
from watchglass.schema import words
from watchglass.settings import FAIL_AT, Options, settings_for

FORMATS = ("text", "json", "jsonl", "sarif", "junit", "github", "gitlab")
SHOW_MENDS = ("text", "json", "jsonl")
_FILE = click.Path(path_type=Path)

# Options that the Python interface knows by the same name.
_SAME = ("markets", "fail_at", "rules", "config", "isolated", "known", "horizon", "against")


@click.command("review")
@click.argument("paths", nargs=-1, metavar="PATH...")
@click.option("--on", "on", metavar="DATE", help="Judge by the law of this day, year-month-day. Default: today.")
@click.option("--market", "markets", multiple=True, metavar="MARKET", help="Instead of the formula's own; repeatable.")
@click.option("--fail-at", metavar="LEVEL", help="Exit 1 at: error, undecided (default), warning, note.")
@click.option("--horizon", metavar="TIME", help="List the days within 36m, 3y ... on which the verdict changes.")
@click.option("--against", metavar="FILE", help="Tell what changed since this earlier version of the one formula.")
@click.option("--known", type=_FILE, metavar="FILE", help="Known findings: told and counted, they fail nothing.")
@click.option("--write-known", type=_FILE, metavar="FILE", help="Write what is found now as known findings.")
@click.option(
    "--rules", multiple=True, type=_FILE, metavar="FOLDER", help="House rules beside the shipped; repeatable."
)
@click.option("--config", type=_FILE, metavar="FILE", help="Instead of the nearest watchglass.yaml above a formula.")
@click.option("--isolated", is_flag=True, help="Read no configuration file.")
@click.option("--show-config", is_flag=True, help="Show each setting and where it comes from; review nothing.")
@click.option(
    "--format", "form", default="text", metavar="FORMAT", help=f"{FORMATS[0]} (default), {', '.join(FORMATS[1:])}."
)
@click.option("--output", type=_FILE, help="Write the report to a file, whole or not at all.")
@click.option("--mend-to", type=_FILE, metavar="FILE", help="Write a mended copy of the one formula: a new file.")
@click.option("--stdin-filename", default="-", metavar="NAME", help="What to call the formula read from '-'.")
@click.option("--color", "colour", default="auto", metavar="WHEN", help="auto (default), always or never.")
@click.option("-q", "--quiet", count=True, help="Findings alone; -qq: nothing, the exit code says it.")
@click.option("-v", "--verbose", is_flag=True, help="On standard error: what was passed over, and times.")
@click.option("--jobs", type=int, metavar="N", help=f"Processes for more than {FEW} files. Default: the processors.")
def command(paths: tuple[str, ...], **options: Any) -> None:
    """Review formulas against dated, cited rules.

    PATH is a formula, a folder of them, or - for standard input. Exit 0: nothing at or above the --fail-at level;
    1: something; 2: the review could not run or there was nothing to review.
    """
    _refuse_misspelt(options)
    if options["show_config"]:
        write_out(_settings(paths, options))
        return
    if not paths:
        raise click.UsageError(
            "nothing to review: name a formula or a folder, for example 'watchglass review formulas'"
        )
    if options["mend_to"] is not None:
        _refuse_to_replace(options["mend_to"], options["output"])
    account = Account(options["verbose"])
    run = review(
        *paths,
        on=day(options["on"]),
        stdin_name=options["stdin_filename"],
        jobs=options["jobs"] or processors(),
        watch=_watch(account, options["quiet"]),
        **{name: options[name] for name in _SAME},
    )
    account.tell_time(f"reviewed {plural(len(run.reviews), 'formula')}")
    _write_known(run, options["write_known"])
    for entry in run.gone:
        told = f"no longer found, take its line out of {options['known']}: {entry.called}"
        click.echo(f"watchglass: {one_line(told)}", err=True)
    if options["output"] is not None or options["quiet"] < 2:
        _deliver(run, options)
        account.tell_time(f"written as {options['form']}")
    if options["mend_to"] is not None:
        _write_mended(run, options["mend_to"])
    raise click.exceptions.Exit(int(run.fails()))


def _watch(account: Account, quiet: int) -> Any:
    """What is told while the reviews pass."""

    def watch(found: Iterator[Review | None], files: Sequence[Input], book: Rulebook) -> Iterable[Review | None]:
        account.tell_time(f"rulebook {book.hash} loaded, {len(book.rules)} rules and rows of tables")
        for item, made in zip(files, watched(found, len(files), not quiet), strict=True):
            if made is None:
                account.tell(f"{item.shown}: passed over, a shelf of materials and no formula")
            yield made

    return watch


def _refuse_misspelt(options: dict[str, Any]) -> None:
    """What cannot be, told with the option's name before anything is read."""
    _known("--format", options["form"], FORMATS)
    _known("--color", options["colour"], ("auto", "always", "never"))
    if options["fail_at"] is not None:
        _known("--fail-at", options["fail_at"], FAIL_AT)
    for market in options["markets"]:
        _known("--market", market, words("market"))
    on, horizon, jobs = options["on"], options["horizon"], options["jobs"]
    day(on)
    if horizon is not None and not is_horizon(horizon):
        raise click.UsageError(f'--horizon is "{horizon}"; it reads in months or years, for example 36m or 3y')
    if jobs is not None and jobs < 1:
        raise click.UsageError(f"--jobs is {jobs}; it takes one process at least")
    if options["config"] is not None and options["isolated"]:
        raise click.UsageError("--config names a configuration and --isolated reads none; give one of them")


def _known(option: str, word: str, known: Sequence[str]) -> None:
    if word not in known:
        hint = did_you_mean(word, known) or f"; known: {', '.join(known)}"
        raise click.UsageError(f'{option} is "{word}"{hint}')


def _settings(paths: Sequence[str], options: dict[str, Any]) -> str:
    """The settings for each path, or for the working folder; equal ones once."""
    given = Options(**{name: options[name] for name in Options._fields})
    blocks: dict[str, None] = {}
    for path in paths or (".",):
        at = Path(path).absolute()
        blocks["\n".join(settings_for(at if at.is_dir() else at.parent, given).in_words(given))] = None
    return "\n\n".join(blocks) + "\n"


def _write_known(run: Run, file: Path | None) -> None:
    if file is None:
        return
    _refuse_to_overwrite(file, run.files)
    if file.is_file() and file.stat().st_size and not file.read_bytes().startswith(HEAD.encode()):
        raise CannotRun(f"{one_line(str(file))} is there already and is no list of known findings; name another file")
    write_file(file, known_list(run, file.absolute().parent))


def _refuse_to_overwrite(file: Path, sought: Sequence[Input]) -> None:
    """A formula, a shelf or any other sheet that is there already is not written over."""
    is_input = os.path.realpath(file) in {os.path.realpath(item.path) for item in sought}
    if is_input or (file.name.lower().endswith(SUFFIXES) and file.exists()):
        what = "one of the formulas to review" if is_input else "a sheet that is there already"
        raise CannotRun(f"{one_line(str(file))} is {what}; nothing of yours is written over: name another file")


def _refuse_to_replace(copy: Path, output: Path | None) -> None:
    """A mended copy is a new file."""
    if os.path.lexists(copy) or (output is not None and os.path.realpath(copy) == os.path.realpath(output)):
        raise CannotRun(f"{one_line(str(copy))} is taken; nothing of yours is written over: name another file")


def _write_mended(run: Run, copy: Path) -> None:
    if len(run.files) != 1 or run.files[0].path == STDIN:
        raise click.UsageError("--mend-to writes the mended copy of one formula file: name one")
    from watchglass.cli.mending import write_copy

    write_copy(copy, run.files[0], run.reviews[0], run.book)


def _deliver(run: Run, options: dict[str, Any]) -> None:
    if options["form"] in SHOW_MENDS and (options["form"] != "text" or not options["quiet"]):
        run = run.with_mends()
    output: Path | None = options["output"]
    if output is None:
        write_out(_report(run, options))
        return
    _refuse_to_overwrite(output, run.files)
    write_file(output, _report(run, options))


def _report(run: Run, options: dict[str, Any]) -> str:
    form, colour, is_quiet = options["form"], options["colour"], options["quiet"] > 0
    if form == "text":
        from watchglass.reports import text

        if options["output"] is not None:
            return text.write(run.reviews, run.book, run.on, colour == "always", None, is_quiet)
        return text.write(run.reviews, run.book, run.on, colour_wanted(colour), terminal_width(), is_quiet)
    import importlib

    written: str = importlib.import_module(f"watchglass.reports.{form}").write(run.reviews, run.book, run.on)
    return written
