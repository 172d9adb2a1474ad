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
            own["rows"] = [*own["rows"], *_taken_over(own["rows"], tables[follows["rule"]]["rows"], follows)]
        whole.append(own)
    return whole


def _taken_over(
    own: Sequence[Mapping[str, Any]], rows: Sequence[Mapping[str, Any]], follows: Mapping[str, Any]
) -> Iterator[dict[str, Any]]:
    """The rows up to an entry, but for those that the table has itself and those that were worded anew later."""
    kept_out = {row["entry"] for row in own} | set(follows["but"])
    for row in rows:
        number = re.match(r"[0-9]+", row["entry"])
        if number is None or int(number[0]) > follows["up_to"] or row["entry"] in kept_out:
            continue
        yield _dated({key: value for key, value in row.items() if key not in _OWN}, follows["since"])


def _dated(row: dict[str, Any], since: str) -> dict[str, Any]:
    """A series that starts on a known day keeps it; one only known from some day on holds since the take-over."""
    if "tiers" in row:
        return row | {"tiers": [_dated(tier, since) for tier in row["tiers"]]}
    if "known_from" not in row:
        return row
    last = row["values"][max(row["values"])]
    rest = {key: value for key, value in row.items() if key not in _SERIES}
    return rest | {"values": {since: last}, "known_from": since}
