"""Pictures as SVG: drawn from the numbers alone, with a title and a description for those who cannot look."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape
from typing import NamedTuple

WIDTH, HEIGHT = 640, 400
LEFT, RIGHT, TOP, BOTTOM = 64, 24, 40, 56
TICKS = 6  # about so many
CLOSE = 1e-9


class Mark(NamedTuple):
    """A point to look at, and what to call it."""

    x: float
    y: float
    label: str


class Band(NamedTuple):
    """A stretch of the y axis that is shaded, and what to call it."""

    low: float
    high: float
    label: str


class Box(NamedTuple):
    """Where the axes lie on the paper."""

    left: float = LEFT
    right: float = WIDTH - RIGHT
    top: float = TOP
    bottom: float = HEIGHT - BOTTOM


class Axes(NamedTuple):
    """What the axes are, and how far they reach."""

    x_label: str
    y_label: str
    x: tuple[float, float]
    y: tuple[float, float]
    box: Box = Box()

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where a point lies in the picture."""
        across = (x - self.x[0]) / ((self.x[1] - self.x[0]) or 1)
        up = (y - self.y[0]) / ((self.y[1] - self.y[0]) or 1)
        box = self.box
        return box.left + across * (box.right - box.left), box.bottom - up * (box.bottom - box.top)


def curve(
    points: Sequence[tuple[float, float]],
    axes: Axes,
    title: str,
    description: str,
    mark: Mark | None = None,
    band: Band | None = None,
    name: str = "curve",
) -> str:
    """A line through points, as an SVG document.

    Args:
        points: x and y, in order of x.
        axes: Labels and ends.
        title: What the picture is.
        description: The same in words, with its numbers.
        mark: A point that is named.
        band: A stretch of y that is shaded, and named.
        name: Of the picture in a page that holds several; a word of letters.
    """
    parts = opening(name, title, description)
    if band is not None:
        parts += _shaded(band, axes)
    parts += frame(axes)
    drawn = " ".join(f"{x:.1f},{y:.1f}" for x, y in (axes.at(*point) for point in points))
    parts.append(f'<polyline points="{drawn}" fill="none" stroke="#1f4e79" stroke-width="2"/>')
    if mark is not None:
        x, y = axes.at(mark.x, mark.y)
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="#ffffff" stroke="#1f4e79" stroke-width="2"/>')
        parts.append(f'<text x="{x + 9:.1f}" y="{y + 18:.1f}" fill="#222222">{text(mark.label)}</text>')
    return "\n".join([*parts, "</svg>\n"])


def opening(name: str, title: str, description: str, height: int = HEIGHT) -> list[str]:
    """How every picture begins: white paper, what it is, and the same in words."""
    return [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" '
        f'aria-labelledby="{name}-title {name}-description" font-family="sans-serif" font-size="13">',
        f'<title id="{name}-title">{text(title)}</title>',
        f'<desc id="{name}-description">{text(description)}</desc>',
        f'<rect width="{WIDTH}" height="{height}" fill="#ffffff"/>',
        f'<text x="{LEFT}" y="24" font-size="15" fill="#222222">{text(title)}</text>',
    ]


def _shaded(band: Band, axes: Axes) -> list[str]:
    left, top = axes.at(axes.x[0], min(band.high, axes.y[1]))
    right, bottom = axes.at(axes.x[1], max(band.low, axes.y[0]))
    return [
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{right - left:.1f}" height="{max(bottom - top, 1):.1f}" '
        'fill="#e3e3e3"/>',
        f'<text x="{right - 6:.1f}" y="{top - 5:.1f}" text-anchor="end" fill="#444444">{text(band.label)}</text>',
    ]


def frame(axes: Axes, ticks: int = TICKS) -> list[str]:
    """The axes with their figures and what they are."""
    left, bottom = axes.at(axes.x[0], axes.y[0])
    right, top = axes.at(axes.x[1], axes.y[1])
    parts = [f'<path d="M{left:.1f} {top:.1f} V{bottom:.1f} H{right:.1f}" fill="none" stroke="#444444"/>']
    for x in round_figures(*axes.x, ticks):
        across = axes.at(x, axes.y[0])[0]
        parts.append(f'<path d="M{across:.1f} {bottom:.1f} v4" stroke="#444444"/>')
        parts.append(f'<text x="{across:.1f}" y="{bottom + 18:.1f}" text-anchor="middle">{x:g}</text>')
    for y in round_figures(*axes.y, ticks):
        up = axes.at(axes.x[0], y)[1]
        parts.append(f'<path d="M{left:.1f} {up:.1f} h-4" stroke="#444444"/>')
        parts.append(f'<text x="{left - 8:.1f}" y="{up + 4:.1f}" text-anchor="end">{y:g}</text>')
    middle = (left + right) / 2
    parts.append(f'<text x="{middle:.1f}" y="{bottom + 44:.1f}" text-anchor="middle">{text(axes.x_label)}</text>')
    half = (top + bottom) / 2
    parts.append(
        f'<text x="{left - 46:.1f}" y="{half:.1f}" text-anchor="middle" '
        f'transform="rotate(-90 {left - 46:.1f} {half:.1f})">'
        f"{text(axes.y_label)}</text>"
    )
    return parts


def round_figures(low: float, high: float, about: int) -> list[float]:
    """Figures between two ends that are read at a glance: steps of 1, 2 or 5 in some place.

    >>> round_figures(0, 11.9, 4), round_figures(1, 7, 6)
    ([0.0, 5.0, 10.0], [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0])
    """
    span = (high - low) or 1.0
    place = 10.0 ** math.floor(math.log10(span / about))
    step = next(step * place for step in (1, 2, 5, 10) if span / (step * place) <= about + CLOSE)
    first, last = math.ceil(low / step - CLOSE), math.floor(high / step + CLOSE)
    return [float(f"{number * step:.6g}") for number in range(first, last + 1)]


def text(words: str) -> str:
    """Safe in XML: no markup, and no control characters, which no reader accepts."""
    return escape("".join(letter for letter in words if letter.isprintable()))
