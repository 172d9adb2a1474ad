"""The least change of a line that makes a broken rule meet without breaking another."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import NamedTuple

from watchglass.findings import Finding
from watchglass.mend.amounts import Grid, Option, grid
from watchglass.mend.trial import Bench, Standing

STEPS_AWAY = 2  # so many steps in a row that widen the gap: the wrong direction
GROWTH = 4
LOOKS_FURTHER = 8  # points beyond the least change at which another break may be gone again


class Found(NamedTuple):
    """A changed amount that makes the rule meet, and what it breaks instead."""

    option: Option
    after: Decimal
    broken: tuple[Finding, ...]
    others: dict[str, Decimal]

    @property
    def amounts(self) -> dict[str, Decimal]:
        """What to write for which line."""
        return self.others | self.option.amounts(self.after)

    @property
    def size(self) -> Decimal:
        """Of this change, in % of the product."""
        return self.option.size(self.after)


class Search:
    """The search for one broken rule."""

    def __init__(self, bench: Bench, target: Finding, others: dict[str, Decimal] | None = None) -> None:
        """A search.

        Args:
            bench: The formula.
            target: What is to be met.
            others: Amounts that have been changed already.
        """
        self.bench, self.target, self.others = bench, target, others or {}
        self.too_narrow: tuple[Option, Decimal] | None = None  # where the window is narrower than what is known
        self.left_open: tuple[Option, Decimal, Finding] | None = None  # where the break is gone and a question left

    def changes(self, options: Iterable[Option]) -> list[Found]:
        """The least change of each line, up or down, that makes the rule meet; the smallest first."""
        found = [change for option in options for up in (False, True) for change in self._of_line(option, up)]
        return sorted(found, key=lambda change: (change.size, change.option.line.where))

    def _of_line(self, option: Option, up: bool) -> Iterator[Found]:
        """At most one: in the coarsest steps that reach it."""
        near: Decimal | None = None
        for step in option.steps:
            points = grid(option, up, step)
            if points is None:
                continue
            walk = _Walk(self.bench, self.target, self.others, option, points)
            number = walk.first_not_short(1 if near is None else points.number(near))
            if number is None:
                return
            standing, finding = walk.at(number)
            if standing != "there":
                self._note(option, points.at(number), finding)
                near = points.at(number - 1) if number > 1 else None
                beyond = walk.first_known(number)
                number = walk.first_not_short(beyond) if beyond is not None else None
                if number is None or walk.at(number)[0] != "there":
                    continue
            yield self._unbroken(option, walk, number)
            return

    def _note(self, option: Option, after: Decimal, finding: Finding | None) -> None:
        """Why a line does not do: it leaves the rule open, or the window is passed over at once."""
        if finding is None or finding.value is None:
            return
        if finding.limit is None or finding.unit != self.target.unit:
            self.left_open = self.left_open or (option, after, finding)
        elif self.too_narrow is None:
            self.too_narrow = (option, after)

    def _unbroken(self, option: Option, walk: _Walk, number: int) -> Found:
        """The least change, or a larger one that breaks nothing where there is one."""
        first = self.found(option, walk.points.at(number))
        if not first.broken:
            return first
        bad = number
        for further in _further(number, walk.points.points):
            if walk.at(further)[0] != "there":
                continue
            if not self.found(option, walk.points.at(further)).broken:
                good = further
                while good - bad > 1:
                    middle = (good + bad) // 2
                    is_met = walk.at(middle)[0] == "there"
                    is_good = is_met and not self.found(option, walk.points.at(middle)).broken
                    good, bad = (middle, bad) if is_good else (good, middle)
                return self.found(option, walk.points.at(good))
            bad = further
        return first

    def found(self, option: Option, after: Decimal) -> Found:
        """A change with what it breaks."""
        amounts = self.others | option.amounts(after)
        return Found(option, after, tuple(self.bench.new_breaks(amounts)), self.others)


class _Walk:
    """Figures of one line, further and further from what it is now, each judged once."""

    def __init__(
        self, bench: Bench, target: Finding, others: Mapping[str, Decimal], option: Option, points: Grid
    ) -> None:
        self._bench, self._target, self._others, self._option, self.points = bench, target, others, option, points
        self._known: dict[int, tuple[Standing, Finding | None]] = {}

    def at(self, number: int) -> tuple[Standing, Finding | None]:
        """Where a figure leaves the rule."""
        if number not in self._known:
            amounts = {**self._others, **self._option.amounts(self.points.at(number))}
            self._known[number] = self._bench.standing(self._target, amounts)
        return self._known[number]

    def first_not_short(self, first: int) -> int | None:
        """The least number that is not short, all before `first` being so: growing steps, then halves.

        None where there is none, or where step after step leads away from the limit.
        """
        low, high, away, before = first - 1, first, 0, -math.inf
        while self.at(high)[0] == "short":
            gap = _gap(self.at(high)[1])
            away = away + 1 if gap > before > -math.inf else 0
            if high == self.points.points or away == STEPS_AWAY:
                return None
            before = gap
            low, high = high, min(GROWTH * high, self.points.points)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.at(middle)[0] == "short" else (low, middle)
        return high

    def first_known(self, number: int) -> int | None:
        """The least number beyond one of which nobody can tell where it leaves the rule; None where there is none.

        Close to neutral nothing holds the pH, and no prediction is given; further on there may be one again.
        """
        low, high = number, number
        for further in _further(number, self.points.points):
            low, high = high, further
            if not self._is_unknown(high):
                break
        if self._is_unknown(high) or not self._is_unknown(number):
            return None
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self._is_unknown(middle) else (low, middle)
        return high

    def _is_unknown(self, number: int) -> bool:
        standing, finding = self.at(number)
        is_told = finding is not None and finding.value is not None and finding.limit is not None
        return standing == "past" and finding is not None and not is_told


def _gap(finding: Finding | None) -> float:
    """How far outside its limit a figure lies."""
    if finding is None or finding.value is None or finding.limit is None:
        return -math.inf
    value, limit = finding.value, finding.limit
    gaps = [float(floor - value.low) for floor in (limit.min, limit.above) if floor is not None]
    gaps += [float(value.high - ceiling) for ceiling in (limit.max, limit.below) if ceiling is not None]
    return max(gaps, default=-math.inf)


def _further(number: int, count: int) -> Iterator[int]:
    """Numbers beyond one, further and further apart, the last of all among them."""
    step = 1
    for _ in range(LOOKS_FURTHER):
        number += step
        if number >= count:
            break
        yield number
        step *= GROWTH
    yield count
