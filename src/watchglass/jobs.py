"""The reviews of many files, in one process or in several; in the order of the files either way."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from watchglass.errors import START, CannotRun, Unreadable
from watchglass.files import STDIN, Input
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import bytes_of, formula_of, is_shelf
from watchglass.review import review
from watchglass.rulebook import Rulebook, load
from watchglass.sheet import MOST_BYTES

if TYPE_CHECKING:
    from concurrent.futures import ProcessPoolExecutor

# Up to so many files the start of further processes costs more than they save.
FEW = 500
_CHUNK = 50


class Order(NamedTuple):
    """What all files of a run are reviewed by: the date, and markets instead of the formulas' own."""

    on: str
    markets: tuple[str, ...] = ()


def reviews_of(sought: Sequence[Input], book: Rulebook, order: Order, jobs: int) -> Iterator[Review | None]:
    """The reviews of files, in their order, each as soon as it is there.

    Args:
        sought: The files.
        book: The rules.
        order: The date and the markets.
        jobs: At most so many processes; up to `FEW` files are reviewed in this one whatever it says.

    Yields:
        For each file its review, or None for a shelf that was found beside the formulas that name it.

    Raises:
        CannotRun: A process came to an end of its own.
    """
    pool = _pool(jobs) if jobs > 1 and len(sought) > FEW else None
    if pool is None:
        yield from (reviewed(item, book, order.on, order.markets) for item in sought)
        return
    from concurrent.futures.process import BrokenProcessPool

    try:
        chunks = [sought[start : start + _CHUNK] for start in range(0, len(sought), _CHUNK)]
        found = [pool.submit(_reviewed_there, chunk, order) for chunk in chunks]
        for chunk, future in zip(chunks, found, strict=True):
            for item, review_ in zip(chunk, future.result(), strict=True):
                # Standard input is not there in other processes.
                yield reviewed(item, book, order.on, order.markets) if item.path == STDIN else review_
    except BrokenProcessPool:
        raise CannotRun("a process of the review was ended from outside; --jobs 1 reviews in one process") from None
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def processors() -> int:
    """How many processors this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _pool(jobs: int) -> ProcessPoolExecutor | None:
    """Processes to review in; None where the system gives none."""
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    try:
        return ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn"), initializer=_begin)
    except (ImportError, NotImplementedError, OSError):
        return None


def _begin() -> None:
    """A new process: the rules read once; a stop from the keyboard is left to the process that started it."""
    import gc
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    load()
    gc.freeze()


def _reviewed_there(chunk: Sequence[Input], order: Order) -> list[Review | None]:
    return [None if item.path == STDIN else reviewed(item, load(), order.on, order.markets) for item in chunk]


def reviewed(item: Input, book: Rulebook, on: str, markets: tuple[str, ...]) -> Review | None:
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
