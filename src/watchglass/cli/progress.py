"""What a long run tells while it goes on, on standard error: a bar on a terminal, and times for those who ask."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator
from typing import TypeVar

import click

from watchglass.errors import one_line

MANY = 200  # fewer are done before a bar can be read

Item = TypeVar("Item")


def watched(items: Iterable[Item], number: int, wanted: bool) -> Iterator[Item]:
    """The items, with a bar on standard error if that is a terminal and there are many of them."""
    if not wanted or number < MANY or sys.stderr is None or not sys.stderr.isatty():
        yield from items
        return
    steps = max(number // 100, 1)
    with click.progressbar(items, length=number, label="reviewing", file=sys.stderr, update_min_steps=steps) as bar:
        yield from bar


class Account:
    """Says on standard error what was done and how long it took; nothing unless it is wanted."""

    def __init__(self, wanted: bool) -> None:
        self._wanted = wanted
        self._since = time.perf_counter()

    def tell(self, what: str) -> None:
        """One line."""
        if self._wanted:
            click.echo(f"watchglass: {one_line(what)}", err=True)

    def tell_time(self, what: str) -> None:
        """One line with the time since the last one of this kind."""
        now = time.perf_counter()
        self.tell(f"{what}: {now - self._since:.2f} s")
        self._since = now
