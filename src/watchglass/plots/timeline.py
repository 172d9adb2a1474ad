"""Days on a line, each with its words."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import NamedTuple

from watchglass.plots import LEFT, RIGHT, WIDTH, opening, text

ROW, HEAD, FOOT = 24, 44, 44


class Day(NamedTuple):
    """A day, year-month-day, and a few words."""

    on: str
    label: str


def timeline(name: str, start: str, end: str, days: Sequence[Day], words: tuple[str, str]) -> str:
    """Days between two ends, as an SVG document.

    Args:
        name: Of the picture in its page; a word of letters.
        start: The first day of the axis.
        end: The last.
        days: In order; each gets a row of its own, so no words cover others.
        words: Title, and the same in words with its dates.
    """
    height = HEAD + ROW * max(len(days), 1) + FOOT
    base = float(height - FOOT)
    first, last = (datetime.date.fromisoformat(day).toordinal() for day in (start, end))

    def across(day: int) -> float:
        return LEFT + (day - first) / ((last - first) or 1) * (WIDTH - LEFT - RIGHT)

    parts = opening(name, *words, height)
    parts.append(f'<path d="M{LEFT} {base:.1f} H{WIDTH - RIGHT}" stroke="#444444" fill="none"/>')
    for year in range(int(start[:4]), int(end[:4]) + 1):
        day = datetime.date(year, 1, 1).toordinal()
        if first <= day <= last:
            x = across(day)
            parts.append(f'<path d="M{x:.1f} {base:.1f} v6" stroke="#444444"/>')
            parts.append(f'<text x="{x:.1f}" y="{base + 20:.1f}" text-anchor="middle">{year}</text>')
    for end_of_axis, anchor in ((start, "start"), (end, "end")):
        x = across(datetime.date.fromisoformat(end_of_axis).toordinal())
        parts.append(
            f'<text x="{x:.1f}" y="{base + 38:.1f}" text-anchor="{anchor}" font-size="11">{end_of_axis}</text>'
        )
    for number, day_told in enumerate(days):
        x, y = across(datetime.date.fromisoformat(day_told.on).toordinal()), HEAD + ROW * number + 4.0
        parts.append(f'<path d="M{x:.1f} {y:.1f} V{base:.1f}" stroke="#888888" stroke-dasharray="2 3"/>')
        parts.append(f'<path d="M{x:.1f} {base - 6:.1f} l6 6 l-6 6 l-6 -6 z" fill="#1f4e79"/>')
        is_late = x > WIDTH / 2
        anchor, shift = ("end", -8) if is_late else ("start", 8)
        label = f"{day_told.on} {day_told.label}"
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="#1f4e79"/>')
        parts.append(f'<text x="{x + shift:.1f}" y="{y + 4:.1f}" text-anchor="{anchor}">{text(label)}</text>')
    return "\n".join([*parts, "</svg>\n"])
