"""Tables of rows that follow the table of another market: the law that one market took over from another on a day.

What was taken over are the entries, with what they are about and on what they hang. Its own dates, source and proofs a
table has for itself, and where it has a row of its own for an entry, that row holds.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from watchglass.errors import CannotRun
from watchglass.nearest import did_you_mean

_SERIES = ("values", "stock", "known_from", "tiers")
# What a row says of its own text and proof, which is not that of the table that follows.
_OWN = ("at", "read", "examples")


def followed(rules: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The rules, with the rows that a table takes over from another; `follows` is gone then.

    Raises:
        CannotRun: There is no such table.
    """
    tables = {rule["rule"]: rule for rule in rules if "rows" in rule}
    whole = []
    for rule in rules:
        own = dict(rule)
        follows = own.pop("follows", None)
        if follows is not None:
            if follows["rule"] not in tables:
                hint = did_you_mean(follows["rule"], tables)
                raise CannotRun(f"{rule['file']}: {rule['rule']} follows {follows['rule']}, no table{hint}")
            own["rows"] = [*own["rows"], *_taken_over(own["rows"], tables[follows["rule"]], follows)]
        whole.append(own)
    return whole


def _taken_over(
    own: Sequence[Mapping[str, Any]], table: Mapping[str, Any], follows: Mapping[str, Any]
) -> Iterator[dict[str, Any]]:
    """The rows up to an entry, but for those that the table has itself and those that are not its own at all.

    Rows that came in or were worded anew later are left out; or, where the table says what is not known of them, taken
    over without their figures.
    """
    kept_out = {row["entry"] for row in own} | set(follows["but"])
    for row in table["rows"]:
        if row["entry"] in kept_out:
            continue
        about = {key: value for key, value in row.items() if key not in _OWN}
        if not _came_later(row["entry"], follows):
            yield _dated(about, follows["since"], table.get("known_from"))
        elif "later" in follows:
            yield _without_figures(about, follows["since"], table.get("known_from"), follows["later"]["unread"])


def _came_later(entry: str, follows: Mapping[str, Any]) -> bool:
    number = re.match(r"[0-9]+", entry)
    beyond = number is not None and int(number[0]) > follows["up_to"]
    return beyond or entry in follows.get("later", {}).get("entries", ())


def _dated(row: dict[str, Any], since: str, known_from: str | None) -> dict[str, Any]:
    """A series that starts on a known day keeps it; one only known from some day on holds since the take-over."""
    known_from = row.get("known_from", known_from)
    if "tiers" in row:
        own = {key: value for key, value in row.items() if key != "known_from"}
        return own | {"tiers": [_dated(tier, since, known_from) for tier in row["tiers"]]}
    if known_from is None or "values" not in row or min(row["values"]) < known_from:
        return row
    in_force = row["values"][max(start for start in row["values"] if start <= known_from)]
    return _without_series(row) | {"values": {since: in_force}, "known_from": since}


def _without_figures(row: dict[str, Any], since: str, known_from: str | None, reason: str) -> dict[str, Any]:
    """The same products, of which it is not known what holds; asked from the day on which the followed table starts."""
    known_from = row.get("known_from", known_from)
    if "tiers" in row:
        if "applies" in row["tiers"][-1]:
            tiers = [_without_figures(tier, since, known_from, reason) for tier in row["tiers"]]
            return _without_series(row) | {"tiers": tiers}
        row = row | row["tiers"][-1]  # the tiers leave nothing out, and none has a figure now
    starts = min(row["values"])
    if starts == known_from or starts < since:
        return _without_series(row) | {"values": {since: {"unread": reason}}, "known_from": since}
    return _without_series(row) | {"values": {starts: {"unread": reason}}}


def _without_series(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key not in _SERIES}
