"""What changes with time, and what changed between two versions: as sentences, and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from watchglass.errors import one_line
from watchglass.findings import Calendar, Change, Comparison, Shift, Turn
from watchglass.interval import Interval, shown_interval
from watchglass.solution import Ph

NONE = "none"


def calendar_in_words(calendar: Calendar, on: str) -> Iterator[str]:
    """One line for the span, then for each day its outcome and what changes, with the source."""
    turns = calendar.turns
    number = "no day" if not turns else f"{len(turns)} day{'s' if len(turns) > 1 else ''}"
    yield f"after {on} and up to {calendar.until} the verdict changes on {number}, by the dates known today"
    for turn in turns:
        yield f"{turn.on}: {_turned(turn.was, turn.now)}"
        yield from (f"  {line}" for change in turn.changes for line in _change(change))


def comparison_in_words(comparison: Comparison) -> Iterator[str]:
    """What changed since the earlier version: composition, pH, verdicts, outcome."""
    yield f"against {one_line(comparison.path)}:"
    if not comparison.shifts:
        yield "  composition: the same"
    for shift in comparison.shifts:
        yield one_line(f"  {shift.substance}: from {_share(shift.was)} to {_share(shift.now)}{_by(shift)}")
    was, now = _ph(comparison.ph_was), _ph(comparison.ph_now)
    yield f"  pH: {f'{was}, unchanged' if was == now else f'from {was} to {now}'}"
    if not comparison.changes:
        yield "  verdicts: the same"
    for change in comparison.changes:
        yield from (f"  {line}" for line in _change(change))
    yield f"  {_turned(comparison.was, comparison.now)}"


def of_calendar(calendar: Calendar) -> dict[str, Any]:
    """The same as plain data."""
    return {"until": calendar.until, "turns": [_turn(turn) for turn in calendar.turns]}


def of_comparison(comparison: Comparison) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "path": comparison.path,
        "composition": [
            {"substance": shift.substance, "was": _figures(shift.was), "now": _figures(shift.now)}
            for shift in comparison.shifts
        ],
        "ph": {"was": _ph_figures(comparison.ph_was), "now": _ph_figures(comparison.ph_now)},
        "changes": [_of_change(change) for change in comparison.changes],
        "outcome": {"was": comparison.was, "now": comparison.now},
    }


def _turned(was: str, now: str) -> str:
    return f"the outcome stays {now}" if was == now else f"the outcome turns from {was} to {now}"


def _change(change: Change) -> Iterator[str]:
    market = f" ({change.market})" if change.market else ""
    finding = change.finding
    line = f"{change.rule}{market}: from {change.was} to {change.now}"
    if finding is None:
        yield one_line(line)
        return
    yield one_line(f"{line}; {'' if _is_there(change) else 'it was: '}{finding.message}")
    if finding.requirement != "sheet":
        at = f", {finding.source['at']}" if finding.source["at"] else ""
        yield one_line(f"  source: {finding.source['title']}{at} ({finding.binding}, read: {finding.read})")


def _is_there(change: Change) -> bool:
    """Whether the finding of a change is still one after it."""
    finding = change.finding
    return finding is not None and change.now == f"{finding.verdict}, {finding.severity}"


def _share(share: Interval | None) -> str:
    return NONE if share is None else f"{shown_interval(share)} %"


def _by(shift: Shift) -> str:
    """By how much, where both are exact."""
    if shift.was is None or shift.now is None or not (shift.was.is_exact and shift.now.is_exact):
        return ""
    return f" ({shift.now.low - shift.was.low:+f})"


def _ph(ph: Ph | None) -> str:
    if ph is None:
        return NONE
    return f"{ph.value:.2f} ({ph.interval.low:.2f} to {ph.interval.high:.2f}, {ph.origin})"


def _turn(turn: Turn) -> dict[str, Any]:
    return {"on": turn.on, "was": turn.was, "now": turn.now, "changes": [_of_change(change) for change in turn.changes]}


def _of_change(change: Change) -> dict[str, Any]:
    finding = change.finding
    rule, _, entry = change.rule.partition("#")
    return {
        "rule": rule,
        "entry": entry or None,
        "market": change.market,
        "was": change.was,
        "now": change.now,
        "message": None if finding is None else finding.message,
        "source": None if finding is None else finding.source,
    }


def _figures(share: Interval | None) -> dict[str, str] | None:
    return None if share is None else {"low": f"{share.low:f}", "high": f"{share.high:f}"}


def _ph_figures(ph: Ph | None) -> dict[str, Any] | None:
    if ph is None:
        return None
    low, high = float(ph.interval.low), float(ph.interval.high)
    return {"value": float(ph.value), "low": low, "high": high, "origin": ph.origin}
