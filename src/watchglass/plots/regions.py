"""Areas of a plane that are allowed, open or not, one panel beside the other; told apart by pattern, not by colour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from watchglass.plots import LEFT, WIDTH, Axes, Box, frame, opening, text

ACROSS = 2  # panels in a row
PANEL_HEIGHT = 300
HEAD, FOOT = 44, 34
BAR = 9  # width of the bar along the y axis
TICKS = 6


class Area(NamedTuple):
    """A rectangle in the units of the axes, and which pattern fills it."""

    x: tuple[float, float]
    y: tuple[float, float]
    pattern: str


class Panel(NamedTuple):
    """One plane with its name."""

    label: str
    areas: Sequence[Area]


class Point(NamedTuple):
    """A point with the intervals that it lies in, and what to call it."""

    x: tuple[float, float]
    y: tuple[float, float]
    label: str


class Key(NamedTuple):
    """What the patterns and the bar mean: each pattern's label, in order, then the bar's."""

    patterns: Sequence[tuple[str, str]]
    bar: str


# How each pattern is drawn; blank paper is one of them.
PATTERNS = {
    "blank": '<rect width="8" height="8" fill="#ffffff"/>',
    "dots": '<rect width="8" height="8" fill="#ffffff"/><circle cx="4" cy="4" r="1.2" fill="#444444"/>',
    "lines": '<rect width="8" height="8" fill="#dddddd"/><path d="M-2 2 L2 -2 M0 8 L8 0 M6 10 L10 6" '
    'stroke="#555555" stroke-width="1.2"/>',
}


def regions(
    name: str,
    panels: Sequence[Panel],
    axes: Axes,
    point: Point | None,
    bars: Sequence[tuple[float, float]],
    key: Key,
    words: tuple[str, str],
) -> str:
    """Panels of one plane, as an SVG document.

    Args:
        name: Of the picture in its page; a word of letters.
        panels: At least one.
        axes: Labels and ends, of every panel.
        point: The same in every panel.
        bars: Stretches of the y axis that are drawn as a bar beside each panel.
        key: What the patterns and the bar mean.
        words: Title, and the same in words with its numbers.
    """
    rows = math.ceil(len(panels) / ACROSS)
    height = HEAD + rows * PANEL_HEIGHT + FOOT
    parts = opening(name, *words, height)
    parts.append("<defs>")
    for pattern, drawn in PATTERNS.items():
        parts.append(f'<pattern id="{name}-{pattern}" width="8" height="8" patternUnits="userSpaceOnUse">')
        parts.append(f"{drawn}</pattern>")
    parts.append("</defs>")
    for number, panel in enumerate(panels):
        placed = axes._replace(box=_box(number))
        parts += _panel(name, panel, placed, bars)
        parts += _point(point, placed) if point is not None else []
    return "\n".join([*parts, *_key(name, key, height - 14), "</svg>\n"])


def _box(number: int) -> Box:
    width = WIDTH / ACROSS
    left = (number % ACROSS) * width
    top = HEAD + (number // ACROSS) * PANEL_HEIGHT
    return Box(left + LEFT, left + width - 26, top + 24, top + PANEL_HEIGHT - 54)


def _panel(name: str, panel: Panel, axes: Axes, bars: Sequence[tuple[float, float]]) -> list[str]:
    box = axes.box
    parts = [f'<text x="{box.left:.1f}" y="{box.top - 8:.1f}" font-weight="bold">{text(panel.label)}</text>']
    for area in panel.areas:
        (low, high), (left, right) = _within(area.y, axes.y), _within(area.x, axes.x)
        if high > low and right > left:
            parts.append(_rectangle(axes, (left, right), (low, high), f'fill="url(#{name}-{area.pattern})"'))
            if area.pattern == "blank":
                outline = 'fill="none" stroke="#000000" stroke-width="1.5"'
                parts.append(_rectangle(axes, (left, right), (low, high), outline))
    for bar in bars:
        low, high = _within(bar, axes.y)
        if high > low:
            _, top = axes.at(0, high)
            _, bottom = axes.at(0, low)
            parts.append(
                f'<rect x="{box.right + 4:.1f}" y="{top:.1f}" width="{BAR}" height="{bottom - top:.1f}" '
                'fill="#1f4e79"/>'
            )
    return [*parts, *frame(axes, TICKS)]


def _rectangle(axes: Axes, x: tuple[float, float], y: tuple[float, float], style: str) -> str:
    left, top = axes.at(x[0], y[1])
    right, bottom = axes.at(x[1], y[0])
    return f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{bottom - top:.1f}" {style}/>'


def _within(stretch: tuple[float, float], axis: tuple[float, float]) -> tuple[float, float]:
    return max(stretch[0], axis[0]), min(stretch[1], axis[1])


def _point(point: Point, axes: Axes) -> list[str]:
    left, top = axes.at(point.x[0], point.y[1])
    right, bottom = axes.at(point.x[1], point.y[0])
    x, y = (left + right) / 2, (top + bottom) / 2
    is_late = x > (axes.box.left + axes.box.right) / 2
    anchor, shift = ("end", -9) if is_late else ("start", 9)
    return [
        f'<path d="M{left:.1f} {y:.1f} H{right:.1f} M{x:.1f} {top:.1f} V{bottom:.1f}" stroke="#000000" '
        'stroke-width="2"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="#ffffff" stroke="#000000" stroke-width="2"/>',
        f'<text x="{x + shift:.1f}" y="{y - 8:.1f}" text-anchor="{anchor}" font-weight="bold" stroke="#ffffff" '
        f'stroke-width="4" paint-order="stroke" stroke-linejoin="round">{text(point.label)}</text>',
    ]


def _key(name: str, key: Key, y: float) -> list[str]:
    parts = []
    x = float(LEFT)
    room = (WIDTH - LEFT) / (len(key.patterns) + 1)
    for pattern, label in key.patterns:
        parts.append(
            f'<rect x="{x:.1f}" y="{y - 11:.1f}" width="22" height="13" fill="url(#{name}-{pattern})" '
            'stroke="#000000"/>'
        )
        parts.append(f'<text x="{x + 28:.1f}" y="{y:.1f}">{text(label)}</text>')
        x += room
    parts.append(f'<rect x="{x:.1f}" y="{y - 11:.1f}" width="{BAR}" height="13" fill="#1f4e79"/>')
    parts.append(f'<text x="{x + 16:.1f}" y="{y:.1f}">{text(key.bar)}</text>')
    return parts
