"""The operating window: where, in pH and amount of acid, the rules of each market let a formula be.

The engine itself is asked. A verdict turns only where a figure of a rule is passed. On the pH axis those figures are
read from the rules, so each stretch between two of them is asked once; along the amount they are found by halving.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from functools import cached_property
from itertools import chain, pairwise
from typing import Any, Literal, NamedTuple

from watchglass.composition import Portion
from watchglass.conditions import with_wider
from watchglass.errors import CannotRun
from watchglass.findings import Finding
from watchglass.formula import QS, Formula, Line
from watchglass.interval import NOTHING, Interval, Limit
from watchglass.judge import FIGURE, case_of, review
from watchglass.requirements import Case
from watchglass.rulebook import Rule, Rulebook, id_of
from watchglass.solution import Ph

Standing = Literal["no limit passed", "open", "a limit passed"]
INSIDE: Standing = "no limit passed"
OPEN: Standing = "open"
OUTSIDE: Standing = "a limit passed"

WORDS = ("percent", "ph", "preserved")
# What is scaled: the acid that works; where there is none, what preserves.
SCALED = ("exfoliant", "preservative")
LOWEST_PH, HIGHEST_PH = Decimal(0), Decimal(14)
AROUND_PH = 2  # what the picture shows on either side of the formula
MOST_TIMES = Decimal(3)  # the amount of the formula, at the end of the axis
STEPS, HALVINGS = 24, 14


class Region(NamedTuple):
    """A rectangle of the picture, and how the formula would stand in it.

    Attributes:
        percent: From and to, of what is scaled, % w/w of the product.
        ph: From and to.
        standing: For one market.
        rules: The rules that keep it from standing inside.
    """

    percent: tuple[float, float]
    ph: tuple[float, float]
    standing: Standing
    rules: tuple[str, ...]


class Window(NamedTuple):
    """The picture's numbers.

    Attributes:
        scaled: What is scaled, by its function.
        substances: The same by name.
        percent: Where the formula stands.
        ph: The same; None where its pH is not known.
        by_market: Regions that tile the picture, for each market.
        preserved: The stretches of pH in which the preservation of the formula as it stands breaks no rule.
        percent_axis: From nothing to this.
        ph_axis: From and to.
    """

    scaled: str
    substances: tuple[str, ...]
    percent: Interval
    ph: Ph | None
    by_market: tuple[tuple[str, tuple[Region, ...]], ...]
    preserved: tuple[tuple[float, float], ...]
    percent_axis: float
    ph_axis: tuple[float, float]


def window_of(formula: Formula, case: Case, book: Rulebook, on: str, markets: Sequence[str]) -> Window:
    """Ask the engine where the rules let a formula be.

    Args:
        formula: As written.
        case: The same, worked out.
        book: Of these the rules on amounts, pH and preservation are asked.
        on: The day.
        markets: Each gets its own regions.

    Raises:
        CannotRun: It has no pH to speak of, or nothing that could be scaled.
    """
    if not case.solution.has_water:
        raise CannotRun(case.solution.why_not or "there is no water to have a pH")
    bench = _Bench(formula, case, book, on, tuple(markets))
    by_market = tuple((market, tuple(bench.regions(with_wider([market])))) for market in markets)
    preserved = tuple(bench.preserved())
    return Window(
        scaled=bench.scaled,
        substances=bench.names,
        percent=bench.percent_at(Decimal(1)),
        ph=case.solution.ph,
        by_market=by_market,
        preserved=preserved,
        percent_axis=float(bench.percent_at(bench.most).middle),
        ph_axis=_axis(by_market, case.solution.ph),
    )


class _Bench:
    """One formula whose acid can be scaled and whose pH can be set."""

    def __init__(self, formula: Formula, case: Case, book: Rulebook, on: str, markets: tuple[str, ...]) -> None:
        self._on, self._markets = on, markets
        self.scaled, self._lines, self.names = _scalable(case)
        self.most = _most_times(case, self._lines)
        present = {portion.substance.name for portion in case.composition.portions if portion.percent.high > 0}
        self._rules = [rule for rule in book.rules.touching(present) if _is_asked(rule, markets)]
        ids = {rule.id for rule in self._rules}
        own = tuple(deviation for deviation in formula.deviations if id_of(deviation.rule) in ids)
        self._formula = formula._replace(deviations=own)
        self._book = self._book_of(book, WORDS)
        self._amounts = self._book_of(book, ("percent", "preserved"))
        self._preservation = self._book_of(book, ("preserved",))
        self._cases: dict[Decimal, Case] = {}
        self._found: dict[tuple[Decimal, Decimal], tuple[Finding, ...]] = {}

    def _book_of(self, book: Rulebook, words: Iterable[str]) -> Rulebook:
        return book._replace(rules=book.rules.alone(*(rule for rule in self._rules if rule.word in words)))

    def case_at(self, times: Decimal) -> Case:
        """With so many times its acid; water gives way where a line is qs."""
        if times not in self._cases:
            self._cases[times] = case_of(_scaled(self._formula, self._lines, times), self._book)
        return self._cases[times]

    def percent_at(self, times: Decimal) -> Interval:
        """How much acid that is."""
        portions = self.case_at(times).composition.portions
        where = {line.where for line in self._lines}
        own = [p.percent for p in portions if p.line.where in where and p.substance.name in self.names]
        return sum(own, NOTHING)

    def regions(self, reach: frozenset[str]) -> Iterator[Region]:
        """How the formula would stand in each part of the picture, by the rules of one market."""
        columns: list[list[Region]] = []
        for left, right in pairwise(self._edges):
            column = list(self._column(left, right, reach))
            if columns and [region[1:] for region in columns[-1]] == [region[1:] for region in column]:
                columns[-1] = [_widened(region, column[0].percent[1]) for region in columns[-1]]
            else:
                columns.append(column)
        yield from chain.from_iterable(columns)

    def _column(self, left: Decimal, right: Decimal, reach: frozenset[str]) -> Iterator[Region]:
        percent = float(self.percent_at(left).middle), float(self.percent_at(right).middle)
        open_one: Region | None = None
        for low, high in pairwise(self._ph_edges):
            standing, rules = _standing(self._at((left + right) / 2, (low + high) / 2), reach)
            if open_one is not None and (open_one.standing, open_one.rules) == (standing, rules):
                open_one = open_one._replace(ph=(open_one.ph[0], float(high)))
                continue
            if open_one is not None:
                yield open_one
            open_one = Region(percent, (float(low), float(high)), standing, rules)
        if open_one is not None:
            yield open_one

    def preserved(self) -> Iterator[tuple[float, float]]:
        """The stretches of pH in which the preservation of the formula as it stands breaks no rule."""
        rows = [
            (float(low), float(high))
            for low, high in pairwise(self._ph_edges)
            if self._preservation.rules
            and not _is_broken(self._asked(Decimal(1), (low + high) / 2, self._preservation))
        ]
        starts = [low for low, _ in rows if low not in {high for _, high in rows}]
        ends = [high for _, high in rows if high not in {low for low, _ in rows}]
        yield from zip(starts, ends, strict=True)

    def _at(self, times: Decimal, ph: Decimal) -> tuple[Finding, ...]:
        if (times, ph) not in self._found:
            self._found[times, ph] = self._asked(times, ph, self._book)
        return self._found[times, ph]

    def _asked(self, times: Decimal, ph: Decimal, book: Rulebook) -> tuple[Finding, ...]:
        """What the rules find at a point."""
        # The verdicts of these words hang on the pH itself; the forms of the acids are only told beside it.
        case = self.case_at(times)
        reading = Ph(ph, Interval.exactly(ph), "measured")
        case = case._replace(solution=case.solution._replace(ph=reading))
        found = review(case.formula, book, self._on, markets=self._markets, case=case)
        return tuple(finding for finding in found.findings if finding.requirement in WORDS)

    @cached_property
    def _edges(self) -> list[Decimal]:
        """The times at which a verdict on an amount turns, with both ends of the axis."""
        middle = (LOWEST_PH + HIGHEST_PH) / 2

        def told(times: Decimal) -> frozenset[tuple[Any, ...]]:
            found = self._asked(times, middle, self._amounts)
            return frozenset((finding.address, finding.market, finding.verdict) for finding in found)

        steps = [self.most * number / STEPS for number in range(1, STEPS + 1)]
        turns = [turn for low, high in pairwise(steps) for turn in _turns(told, low, high)]
        return [Decimal(0), *turns, self.most]

    @cached_property
    def _ph_edges(self) -> list[Decimal]:
        """Every pH that a rule names, with both ends of the axis."""
        named = {bound for rule in self._rules for bound in _phs_of(rule) if LOWEST_PH < bound < HIGHEST_PH}
        return [LOWEST_PH, *sorted(named), HIGHEST_PH]


def _scalable(case: Case) -> tuple[str, tuple[Line, ...], tuple[str, ...]]:
    for function in SCALED:
        portions = [
            portion for portion in case.composition.portions if portion.function == function and _is_active(portion)
        ]
        if portions:
            lines = tuple({portion.line.where: portion.line for portion in portions}.values())
            return function, lines, tuple(dict.fromkeys(portion.substance.name for portion in portions))
    raise CannotRun(f"no line is there as {' or '.join(SCALED)}")


def _is_active(portion: Portion) -> bool:
    """What is in a material to work, and not the water that it is sold in."""
    return portion.line.percent != QS and portion.percent.high > 0 and portion.substance.medium != "water"


def _most_times(case: Case, lines: Iterable[Line]) -> Decimal:
    """As often as there is water that can give way, and no more than is of use."""
    where = {line.where for line in lines}
    rest = sum((p.percent.middle for p in case.composition.portions if p.line.percent == QS), Decimal(0))
    own = sum((p.percent.middle for p in case.composition.portions if p.line.where in where), Decimal(0))
    has_rest = any(line.percent == QS for line in case.formula.lines)
    return min(MOST_TIMES, 1 + rest / own) if has_rest and own else MOST_TIMES


def _scaled(formula: Formula, lines: Iterable[Line], times: Decimal) -> Formula:
    where = {line.where for line in lines}

    def changed(line: Line) -> Line:
        if line.where not in where:
            return line
        if isinstance(line.percent, Decimal):
            return line._replace(percent=line.percent * times)
        return line._replace(grams=None if line.grams is None else line.grams * times)

    return formula._replace(
        phases=tuple(phase._replace(lines=tuple(map(changed, phase.lines))) for phase in formula.phases)
    )


def _is_asked(rule: Rule, markets: Iterable[str]) -> bool:
    """Rules of a law or a custom; the maker's own target is no limit."""
    reached = rule.markets is None or bool(rule.markets & with_wider(markets))
    return rule.word in WORDS and "against" not in rule.parameters and reached


def _phs_of(rule: Rule) -> Iterator[Decimal]:
    if rule.word == "ph":
        for tier in rule.tiers:
            for _, value in (*tier.series.values, *tier.series.stock):
                yield from (bound for bound in value if isinstance(bound, Decimal)) if isinstance(value, Limit) else ()
    elif rule.word == "preserved":
        nature = rule.parameters["by_nature"]
        stated = [bound for system in rule.parameters["systems"] for bound in system["ph"].values()]
        stated += [nature[key] for key in ("ph_at_most", "ph_at_least") if key in nature]
        stated += [nature["product"]["ph_at_least"]] if "product" in nature else []
        yield from (Decimal(str(bound)) for bound in stated)


def _turns(told: Callable[[Decimal], frozenset[tuple[Any, ...]]], low: Decimal, high: Decimal) -> Iterator[Decimal]:
    """Where what is told changes between two amounts, each by halving."""
    last = told(high)
    while (before := told(low)) != last:
        near, far = low, high
        for _ in range(HALVINGS):
            middle = (near + far) / 2
            near, far = (middle, far) if told(middle) == before else (near, middle)
        yield (near + far) / 2
        low = far


def _widened(region: Region, right: float) -> Region:
    return region._replace(percent=(region.percent[0], right))


def _standing(findings: Iterable[Finding], reach: frozenset[str]) -> tuple[Standing, tuple[str, ...]]:
    """For one market; what is open only because a figure was not read at its source counts as that figure."""
    own = [finding for finding in findings if finding.market is None or finding.market in reach]
    broken = [finding.address for finding in own if finding.verdict == "breaks"]
    if broken:
        return OUTSIDE, tuple(dict.fromkeys(broken))
    unsettled = [finding.address for finding in own if finding.verdict == "undecided" and not _is_remembered(finding)]
    return (OPEN, tuple(dict.fromkeys(unsettled))) if unsettled else (INSIDE, ())


def _is_broken(findings: Iterable[Finding]) -> bool:
    return any(finding.verdict == "breaks" for finding in findings)


def _is_remembered(finding: Finding) -> bool:
    """Under its figure, and open only because that was not read at its source; a figure that is missing is not."""
    has_figure = finding.limit is not None or finding.requirement == "preserved"
    return finding.severity == "note" and finding.needs == (FIGURE,) and has_figure


def _axis(by_market: Iterable[tuple[str, Iterable[Region]]], ph: Ph | None) -> tuple[float, float]:
    """As much of the pH as is of interest: about the formula, else about every turn."""
    if ph is None:
        ends = {end for _, regions in by_market for region in regions for end in region.ph}
        turns = [end for end in ends if LOWEST_PH < end < HIGHEST_PH]
        low, high = min(turns, default=float(LOWEST_PH)), max(turns, default=float(HIGHEST_PH))
    else:
        low, high = float(ph.interval.low), float(ph.interval.high)
    return (
        max(float(math.floor(low) - AROUND_PH), float(LOWEST_PH)),
        min(float(math.ceil(high) + AROUND_PH), float(HIGHEST_PH)),
    )
