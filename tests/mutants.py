"""Rules that say something slightly else: each number, date, comparison and product type changed by one step.

A rule is proved where its examples notice each of these.
"""

from __future__ import annotations

import copy
import datetime
from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, NamedTuple, TypeAlias

from watchglass.rulebook import ALWAYS, Rule

Path: TypeAlias = tuple[str | int, ...]
OTHER = {"max": "below", "below": "max", "min": "above", "above": "min"}


class Mutant(NamedTuple):
    """A rule with one thing changed, and what was changed."""

    rule: Rule
    change: str

    @property
    def name(self) -> str:
        return f"{self.rule.address}: {self.change}"


def mutants(rule: Rule) -> Iterator[Mutant]:
    """Every mutant of a rule or row."""
    for path, change, tree in _changed({"facts": rule.facts, "row": rule.row}):
        where = ".".join(map(str, path[1:]))
        yield Mutant(rule._replace(facts=tree["facts"], row=tree["row"]), f"{where} {change}")


def _changed(tree: Mapping[str, Any]) -> Iterator[tuple[Path, str, Any]]:
    own = tree["row"] or {}
    dated = "row" if {"values", "tiers"} & own.keys() else "facts"
    for path in _series_paths(tree[dated], (dated,)):
        yield from _of_series(tree, path)
    if "known_from" in own or "known_from" in tree["facts"]:
        place = "row" if "known_from" in own else "facts"
        for days in _known_steps(tree[dated], tree[place]["known_from"]):
            path = (place, "known_from")
            yield path, f"{days:+d} day", _with(tree, path, _day(tree[place]["known_from"], days))
    for place in ("facts", "row"):
        if tree[place] and "applies" in tree[place]:
            yield from _of_conditions(tree, (place, "applies"))


def _series_paths(facts: Mapping[str, Any], start: Path) -> Iterator[Path]:
    yield start
    for number in range(len(facts.get("tiers", ()))):
        yield (*start, "tiers", number)


def _of_series(tree: Any, path: Path) -> Iterator[tuple[Path, str, Any]]:
    """Days, figures and comparisons of one place, and the products that it is for."""
    facts = _at(tree, path)
    for key in ("values", "stock"):
        for day, limit in facts.get(key, {}).items():
            yield from _of_day(tree, (*path, key), day, _known_from(tree, facts))
            for comparison, figure in (limit or {}).items() if "unread" not in (limit or {}) else ():
                here = (*path, key, day)
                for step in (-1, 1) if figure else (1,):  # no amount is less than nothing
                    yield (
                        here,
                        f"{comparison} {_stepped(figure, step)}",
                        _with(tree, (*here, comparison), _stepped(figure, step)),
                    )
                if not figure:
                    continue  # what is there is more than nothing, so to include it or not says the same
                rest = {word: other for word, other in limit.items() if word != comparison}
                yield here, f"{OTHER[comparison]} {figure}", _with(tree, here, rest | {OTHER[comparison]: figure})
    if len(path) > 1:
        if "known_from" in facts:
            for days in _known_steps(facts, facts["known_from"]):
                yield (
                    (*path, "known_from"),
                    f"{days:+d} day",
                    _with(tree, (*path, "known_from"), _day(facts["known_from"], days)),
                )
        if "applies" in facts:
            yield from _of_conditions(tree, (*path, "applies"))


def _known_from(tree: Any, facts: Any) -> str | None:
    places = (facts, tree["row"] or {}, tree["facts"])
    return next((str(place["known_from"]) for place in places if "known_from" in place), None)


def _known_steps(facts: Any, known_from: str) -> tuple[int, ...]:
    """Where the figure of the day was not read, the days before and after it are open alike."""
    limit = facts.get("values", {}).get(known_from) or {}
    return (-1,) if "unread" in limit else (-1, 1)


def _of_day(tree: Any, path: Path, day: str, known_from: str | None) -> Iterator[tuple[Path, str, Any]]:
    if day == ALWAYS:
        return
    for days in (-1, 1) if day != known_from else (1,):  # what is known from a day on is open before, whatever starts
        moved = {(_day(start, days) if start == day else start): limit for start, limit in _at(tree, path).items()}
        yield (*path, day), f"{days:+d} day", _with(tree, path, moved)


def _of_conditions(tree: Any, path: Path) -> Iterator[tuple[Path, str, Any]]:
    """Each alternative gone, each condition gone, each word of a condition gone; markets are held by another test."""
    block = _at(tree, path)
    if isinstance(block, Mapping):
        yield from _of_alternative(tree, path)
        return
    for number in range(len(block)):
        if len(block) > 1:
            yield (*path, number), "gone", _with(tree, path, [*block[:number], *block[number + 1 :]])
        yield from _of_alternative(tree, (*path, number))


def _of_alternative(tree: Any, path: Path) -> Iterator[tuple[Path, str, Any]]:
    for key, value in _at(tree, path).items():
        here = (*path, key)
        if key == "markets":
            continue
        yield here, "gone", _with(tree, path, {other: word for other, word in _at(tree, path).items() if other != key})
        if key == "not":
            yield from _of_alternative(tree, here)
        elif isinstance(value, list) and len(value) > 1:
            for word in value:
                yield here, f"without {word}", _with(tree, here, [other for other in value if other != word])


def _at(tree: Any, path: Path) -> Any:
    for key in path:
        tree = tree[key]
    return tree


def _with(tree: Any, path: Path, value: Any) -> Any:
    """The tree with another value at a place."""
    changed = copy.deepcopy(tree)
    _at(changed, path[:-1])[path[-1]] = value
    return changed


def _day(day: str, days: int) -> str:
    return (datetime.date.fromisoformat(day) + datetime.timedelta(days=days)).isoformat()


def _stepped(figure: Any, step: int) -> Any:
    """One step up or down in the last place that the figure has."""
    written = Decimal(str(figure))
    moved = written + step * Decimal(1).scaleb(int(written.as_tuple().exponent))
    return int(moved) if isinstance(figure, int) else type(figure)(moved)
