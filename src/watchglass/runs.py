"""A run: formulas from files and folders, each under the settings of its folder, and what comes of all of them."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple, TypeAlias

from watchglass import known as known_findings
from watchglass.dates import after, is_date, is_horizon
from watchglass.errors import CannotRun, located, one_line
from watchglass.files import STDIN, Input, inputs
from watchglass.findings import Outcome, Review, outcome_of
from watchglass.jobs import Order, Task, reviews_of
from watchglass.nearest import did_you_mean
from watchglass.reports import counts, overall
from watchglass.rulebook import Rulebook
from watchglass.schema import words
from watchglass.settings import FAIL_AT, Options, settings_for

# Sees every review pass, a shelf as None, with the files and the rules: for a bar, or an account of times.
Watch: TypeAlias = Callable[[Iterator[Review | None], Sequence[Input], Rulebook], Iterable[Review | None]]


def unwatched(found: Iterator[Review | None], files: Sequence[Input], book: Rulebook) -> Iterable[Review | None]:
    """Let the reviews pass."""
    return found


class Run(NamedTuple):
    """The reviews of one run.

    Attributes:
        on: The date.
        book: The rules that all formulas were held against.
        reviews: One for each formula, sorted by path.
        files: Where each of them came from.
        fail_at: The level of each of them.
        gone: The known findings that are no longer found.
    """

    on: str
    book: Rulebook
    reviews: tuple[Review, ...]
    files: tuple[Input, ...]
    fail_at: tuple[str, ...]
    gone: tuple[known_findings.Entry, ...] = ()

    @property
    def outcome(self) -> Outcome:
        """The worst outcome of all reviews; what is known before does not soften it."""
        return overall(self.reviews)

    @property
    def counts(self) -> dict[str, int]:
        """Files, breaks by severity, and the other verdicts, as in the JSON report."""
        return counts(self.reviews)

    def fails(self) -> bool:
        """Whether something that was not known before lies at or above the level: exit code 1."""
        return any(fails(review, level) for review, level in zip(self.reviews, self.fail_at, strict=True))

    def with_mends(self) -> Run:
        """With what would mend each break; the search is not even imported for a run without any."""
        if not any(finding.verdict == "breaks" for review in self.reviews for finding in review.findings):
            return self
        from watchglass.mend import with_mends

        return self._replace(reviews=tuple(with_mends(review, self.book) for review in self.reviews))

    def text(self) -> str:
        """The report for people."""
        from watchglass.reports import text

        return text.write(self.with_mends().reviews, self.book, self.on)

    def json(self) -> str:
        """The report for programs, by `watchglass schema review`."""
        from watchglass.reports import json

        return json.write(self.with_mends().reviews, self.book, self.on)


def review(
    *paths: str | Path,
    on: object,
    markets: Iterable[str] = (),
    fail_at: str | None = None,
    rules: Iterable[str | Path] = (),
    config: str | Path | None = None,
    isolated: bool = False,
    known: str | Path | None = None,
    horizon: str | None = None,
    against: str | Path | None = None,
    stdin_name: str = STDIN,
    jobs: int = 1,
    watch: Watch = unwatched,
) -> Run:
    """Review formulas against dated, cited rules.

    Args:
        paths: Formulas, folders of them, or - for standard input.
        on: Judge by the law of this day: a `datetime.date`, or year-month-day.
        markets: Review for these, instead of each formula's own.
        fail_at: error, undecided, warning or note, instead of the configuration's; undecided is usual.
        rules: Folders of house rules, instead of the configuration's.
        config: A configuration file, instead of the nearest one above each formula.
        isolated: Read no configuration file.
        known: A list of known findings; they fail no run.
        horizon: List the days within so many months or years (36m, 3y) on which each verdict changes.
        against: An earlier version, to tell what changed since; then there is one path, of one formula.
        stdin_name: What to call the formula from standard input.
        jobs: At most so many processes, for very many files.
        watch: Sees every review pass.

    Returns:
        The reviews, sorted by path. A file that is no formula is a review that says so.

    Raises:
        CannotRun: An argument, a rule or a configuration is at fault, or there is nothing to review.
    """
    day = _checked(str(on), tuple(markets), fail_at, horizon)
    options = Options(
        markets=tuple(markets),
        rules=tuple(Path(folder) for folder in rules),
        fail_at=fail_at,
        config=None if config is None else Path(config),
        isolated=isolated,
    )
    listed = () if known is None else tuple(known_findings.read(Path(known)))
    tasks = _tasks(list(map(str, paths)), stdin_name, options)
    run = _run(tasks, Order(day, options.markets, _until(day, horizon)), jobs, watch)
    if against is not None:
        run = run._replace(reviews=(_compared(run, str(against), options),))
    if known is None:
        return run
    folder = Path(known).absolute().parent
    places = [place_in(item, folder) for item in run.files]
    reviews = tuple(known_findings.marked(run.reviews, places, listed))
    return run._replace(reviews=reviews, gone=tuple(known_findings.gone(reviews, places, listed, folder)))


def fails(review: Review, fail_at: str) -> bool:
    """Whether something in a review that was not known before lies at or above the level."""
    new = [finding for finding in review.findings if not finding.known]
    outcome = outcome_of(new)
    if outcome == "breaks" or (outcome == "cannot tell" and fail_at != "error"):
        return True
    failing = {"warning": ("warning",), "note": ("warning", "note")}.get(fail_at, ())
    return any(finding.verdict == "breaks" and finding.severity in failing for finding in new)


def place_in(item: Input, folder: Path) -> str:
    """How a list of known findings in a folder calls a file: from that folder on, with forward slashes."""
    path = item.shown if item.path == STDIN else item.path
    try:
        return Path(os.path.relpath(path, folder)).as_posix()
    except ValueError:  # on another drive
        return Path(path).as_posix()


def known_list(run: Run, folder: Path) -> str:
    """The text of a list of all findings of a run that may be known, for a file in a folder."""
    return known_findings.text_of(
        entry
        for item, review in zip(run.files, run.reviews, strict=True)
        for entry in known_findings.entries_of(review, place_in(item, folder))
    )


def _checked(on: str, markets: Sequence[str], fail_at: str | None, horizon: str | None) -> str:
    if not is_date(on):
        raise CannotRun(f'on is "{one_line(on)}"; a date reads year-month-day, for example 2026-11-25')
    for market in markets:
        check_word("market", market, words("market"))
    if fail_at is not None:
        check_word("fail_at", fail_at, FAIL_AT)
    if horizon is not None and not is_horizon(horizon):
        raise CannotRun(f'horizon is "{one_line(horizon)}"; it reads in months or years, for example 36m or 3y')
    return on


def check_word(name: str, word: str, known: Sequence[str]) -> None:
    """Refuse a word that is none of the known ones.

    Raises:
        CannotRun: With the nearest known one.
    """
    if word not in known:
        hint = did_you_mean(word, known) or f"; known: {', '.join(known)}"
        raise CannotRun(f'{name} is "{one_line(word)}"{hint}')


def _until(on: str, horizon: str | None) -> str | None:
    try:
        return None if horizon is None else after(on, horizon)
    except ValueError as error:
        raise CannotRun(f"the horizon {error}") from None


def _tasks(paths: Sequence[str], stdin_name: str, options: Options) -> list[Task]:
    """The files with their settings; house rules found among the formulas are no formulas."""
    files = inputs(paths, stdin_name)
    settings = {folder: settings_for(folder, options) for folder in dict.fromkeys(item.folder for item in files)}
    found = [Task(item, settings[item.folder]) for item in files]
    tasks = [task for task in found if task.item.named or not _is_house_rule(task)]
    if not tasks:
        raise CannotRun(f"only house rules in {one_line(', '.join(paths))}, no formula: nothing was reviewed")
    for task in tasks:
        if task.settings.rules != tasks[0].settings.rules:
            names = f"{one_line(tasks[0].item.shown)} and {one_line(task.item.shown)}"
            raise CannotRun(f"{names} have different house rules; review them in two runs")
    return tasks


def _is_house_rule(task: Task) -> bool:
    return any(Path(task.item.path).is_relative_to(folder) for folder in task.settings.rules)


def _run(tasks: Sequence[Task], order: Order, jobs: int, watch: Watch) -> Run:
    files = [task.item for task in tasks]
    book = tasks[0].settings.book()
    found = watch(reviews_of(tasks, order, jobs), files, book)
    kept = [(review, task) for review, task in zip(found, tasks, strict=True) if review is not None]
    if not kept:
        names = ", ".join(one_line(item.shown) for item in files)
        raise CannotRun(f"only shelves in {names}, no formula: nothing was reviewed")
    return Run(
        on=order.on,
        book=book,
        reviews=tuple(review for review, _ in kept),
        files=tuple(task.item for _, task in kept),
        fail_at=tuple(task.settings.fail_at for _, task in kept),
    )


def _compared(run: Run, against: str, options: Options) -> Review:
    from watchglass.comparison import compared

    if len(run.reviews) != 1:
        raise CannotRun(f"one formula is compared with one earlier version, not {len(run.reviews)} formulas")
    earlier = _run(_tasks([against], STDIN, options), Order(run.on, options.markets), 1, unwatched)
    if len(earlier.reviews) != 1:
        raise CannotRun(f"{one_line(against)} holds {len(earlier.reviews)} formulas; compare with one file")
    for made in (*run.reviews, *earlier.reviews):
        if made.formula is None:
            fault = made.findings[0]
            raise CannotRun(f"nothing to compare: {located(one_line(made.path), fault.place, fault.message)}")
    return run.reviews[0]._replace(comparison=compared(run.reviews[0], earlier.reviews[0]))
