"""Several curves in one picture: each has a dash of its own and its name beside it, so no colour is needed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import cycle, pairwise
from typing import NamedTuple

from watchglass.plots import HEIGHT, WIDTH, Axes, Box, frame, opening, text

DASHES = ("none", "9 4", "2 4", "12 4 2 4", "5 3", "1 3 6 3", "16 5", "3 6")
LABELS_WIDTH = 200
LABEL_STEP = 26.0
UNDER_TITLE = 60.0


class Line(NamedTuple):
    """One curve: points in order of x, and what to call it."""

    points: Sequence[tuple[float, float]]
    label: str


class Rule(NamedTuple):
    """A stretch of x that is marked across the picture, and what to call it."""

    low: float
    high: float
    label: str


def lines(name: str, curves: Sequence[Line], axes: Axes, marked: Rule | None, words: tuple[str, str]) -> str:
    """Curves that fall from left to right, as an SVG document; names stand at the right, with a leader to each.

    Args:
        name: Of the picture in its page; a word of letters.
        curves: That of the name on top falls last; past eight the dashes begin again, the names tell them apart.
        axes: Labels and ends.
        marked: A stretch of x.
        words: Title, and the same in words with its numbers.
    """
    box = Box(right=WIDTH - LABELS_WIDTH, top=UNDER_TITLE)
    axes = axes._replace(box=box)
    parts = opening(name, *words, HEIGHT)
    if marked is not None:
        left, right = axes.at(marked.low, 0)[0], axes.at(marked.high, 0)[0]
        parts.append(
            f'<rect x="{left:.1f}" y="{box.top:.1f}" width="{max(right - left, 2):.1f}" '
            f'height="{box.bottom - box.top:.1f}" fill="#d5d5d5"/>'
        )
        parts.append(
            f'<text x="{(left + right) / 2:.1f}" y="{box.top - 4:.1f}" text-anchor="middle">{text(marked.label)}</text>'
        )
    parts += frame(axes)
    for number, (curve, dash) in enumerate(zip(curves, cycle(DASHES), strict=False)):
        drawn = " ".join(f"{x:.1f},{y:.1f}" for x, y in (axes.at(*point) for point in curve.points))
        style = f'stroke="#1f4e79" stroke-width="2" stroke-dasharray="{dash}"'
        parts.append(f'<polyline points="{drawn}" fill="none" {style}/>')
        parts += _named(curve, box.top + 16 + LABEL_STEP * (len(curves) - 1 - number), axes, style)
    return "\n".join([*parts, "</svg>\n"])


def _crossed_at(curve: Line, level: float, end: float) -> float:
    """Where a falling curve comes down to a level; its end where it never does."""
    for (left, before), (right, after) in pairwise(curve.points):
        if after <= level:
            share = (before - level) / (before - after) if before > after else 0.0
            return left + (right - left) * min(max(share, 0.0), 1.0)
    return end


def _named(curve: Line, y: float, axes: Axes, style: str) -> list[str]:
    """The name at the right, a sample of the dash before it, a thin leader to the curve at the same height."""
    level = axes.y[1] - (y - axes.box.top) / (axes.box.bottom - axes.box.top) * (axes.y[1] - axes.y[0])
    start, _ = axes.at(_crossed_at(curve, level, axes.x[1]), level)
    right = axes.box.right
    return [
        f'<path d="M{start:.1f} {y:.1f} H{right + 4:.1f}" stroke="#888888" stroke-width="0.7"/>',
        f'<circle cx="{start:.1f}" cy="{y:.1f}" r="2.5" fill="#1f4e79"/>',
        f'<path d="M{right + 6:.1f} {y:.1f} h28" {style}/>',
        f'<text x="{right + 40:.1f}" y="{y + 4:.1f}">{text(curve.label)}</text>',
    ]
