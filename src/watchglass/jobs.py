"""The reviews of many files, in one process or in several; in the order of the files either way."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from watchglass.errors import START, CannotRun, Unreadable
from watchglass.files import STDIN, Input
from watchglass.findings import Calendar, Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of, is_shelf
from watchglass.judge import review
from watchglass.rulebook import Rulebook, load
from watchglass.settings import Settings
from watchglass.sheet import MOST_BYTES

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor

# Up to so many files the start of further processes costs more than they save.
FEW = 500
_CHUNK = 50


class Order(NamedTuple):
    """What all files of a run are reviewed by.

    Attributes:
        on: The date.
        markets: Instead of the formulas' own.
        until: The last day of a calendar of changes; None where none is asked for.
    """

    on: str
    markets: tuple[str, ...] = ()
    until: str | None = None


class Task(NamedTuple):
    """A file and what holds for it."""

    item: Input
    settings: Settings


def reviews_of(tasks: Sequence[Task], order: Order, jobs: int) -> Iterator[Review | None]:
    """The reviews of files, in their order, each as soon as it is there.

    Args:
        tasks: The files; one set of rules holds for all of them.
        order: The date and the markets.
        jobs: At most so many processes; up to `FEW` files are reviewed in this one whatever it says.

    Yields:
        For each file its review, or None for a shelf that was found beside the formulas that name it.

    Raises:
        CannotRun: A process came to an end of its own.
    """
    pool = _pool(jobs, tasks[0].settings.rules) if jobs > 1 and len(tasks) > FEW else None
    if pool is None:
        yield from (reviewed(task, order) for task in tasks)
        return
    from concurrent.futures.process import BrokenProcessPool

    try:
        chunks = [tasks[start : start + _CHUNK] for start in range(0, len(tasks), _CHUNK)]
        found = [pool.submit(_reviewed_there, chunk, order) for chunk in chunks]
        for chunk, future in zip(chunks, found, strict=True):
            for task, review_ in zip(chunk, future.result(), strict=True):
                # Standard input is not there in other processes.
                yield reviewed(task, order) if task.item.path == STDIN else review_
    except BrokenProcessPool:
        raise CannotRun("a process of the review was ended from outside; --jobs 1 reviews in one process") from None
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _pool(jobs: int, rules: tuple[Path, ...]) -> ProcessPoolExecutor | None:
    """Processes to review in; None where the system gives none."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    try:
        spawn = multiprocessing.get_context("spawn")
        return ProcessPoolExecutor(jobs, mp_context=spawn, initializer=_begin, initargs=(rules,))
    except (ImportError, NotImplementedError, OSError):  # no semaphores or no processes here: one process does it all
        return None


def _begin(rules: tuple[Path, ...]) -> None:
    """A new process: the rules read once; a stop from the keyboard is left to the process that started it."""
    import gc
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if rules:
        load(rules)
    else:
        load()
    gc.freeze()


def _reviewed_there(chunk: Sequence[Task], order: Order) -> list[Review | None]:
    return [None if task.item.path == STDIN else reviewed(task, order) for task in chunk]


def reviewed(task: Task, order: Order) -> Review | None:
    """The review of one input; None for a shelf that was found beside the formulas that name it."""
    item, on = task.item, order.on
    if item.trouble is not None:
        return unreadable(item.shown, on, [(START, "", item.trouble)])
    try:
        text = _standard_input() if item.path == STDIN else bytes_of(Path(item.path))
    except Unreadable as error:
        return unreadable(item.shown, on, [(error.place, "", error.message)])
    except OSError as error:
        return unreadable(item.shown, on, [(START, "", f"standard input cannot be read: {error.strerror}")])
    found = formula_of(text, item.folder, task.settings.defaults)
    if isinstance(found, Formula):
        book = task.settings.book()
        made = review(found, book, on, item.shown, order.markets)
        return made if order.until is None else made._replace(calendar=_calendar(found, book, made, order.until))
    if not item.named and is_shelf(text):
        return None
    return unreadable(item.shown, on, found)


def _calendar(formula: Formula, book: Rulebook, made: Review, until: str) -> Calendar:
    from watchglass.calendar import calendar_of

    return calendar_of(formula, book, made, until)


def _standard_input() -> bytes:
    """Standard input, no more of it than can be read."""
    if sys.stdin is None:
        raise Unreadable(START, "standard input is closed")
    text = sys.stdin.buffer.read(MOST_BYTES + 1)
    if len(text) > MOST_BYTES:
        raise Unreadable(START, f"standard input has more than {MOST_BYTES:,} bytes; at most {MOST_BYTES:,} are read")
    return text
