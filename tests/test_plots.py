"""Pictures frozen by content: each was rendered and looked at; a change shows as a difference of its SVG text.

`WATCHGLASS_DRAW=1 pytest tests/test_plots.py` draws them anew: look before you keep them. All data are invented.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from watchglass.plots import Axes, Band, Mark, curve
from watchglass.plots.lines import Line, Rule, lines
from watchglass.plots.regions import Area, Key, Panel, Point, regions
from watchglass.plots.timeline import Day, timeline

PICTURES = Path(__file__).parent / "data" / "pictures"
RISING = [(0.0, 2.2), (1.0, 3.0), (2.0, 3.4), (3.0, 3.7), (4.0, 4.0), (5.0, 4.4), (6.0, 5.2)]
FALLING = [(2.0, 99.0), (3.0, 90.0), (4.0, 45.0), (5.0, 8.0), (6.0, 1.0), (7.0, 0.1)]
LATER = [(x + 1, y) for x, y in FALLING[:-1]]


def neutralising() -> str:
    axes = Axes("stock, % of the product", "predicted pH", (0, 6), (2, 6))
    return curve(RISING, axes, "Stock to pH 4", "pH 4.0 at 4 %.", Mark(4, 4, "4 %, pH 4.00"), Band(3.8, 4.2, "band"))


def shares() -> str:
    axes = Axes("pH", "undissociated, %", (2, 8), (0, 100))
    curves = [Line(LATER, "the weaker acid"), Line(FALLING, "the stronger acid")]
    return lines("shares", curves, axes, Rule(3.8, 4.2, "this formula"), ("Undissociated share", "Half at pH 4."))


def window() -> str:
    axes = Axes("acid, % w/w", "pH", (0, 12), (1, 7))
    areas = [Area((0, 10), (3.5, 7), "blank"), Area((10, 12), (1, 7), "lines"), Area((0, 10), (1, 3.5), "lines")]
    key = Key([("blank", "no limit passed"), ("dots", "open"), ("lines", "a limit passed")], "preservative can work")
    point = Point((4, 4), (3.9, 4.1), "this formula")
    panels = [Panel("one market", areas), Panel("another", [Area((0, 12), (1, 7), "dots")])]
    return regions("window", panels, axes, point, [(1, 5)], key, ("Operating window", "4 % at pH 4."))


def calendar() -> str:
    days = [Day("2027-05-01", "a limit falls"), Day("2028-07-31", "a name is due on the label")]
    return timeline("calendar", "2026-11-25", "2029-11-25", days, ("What will change", "Two days."))


DRAWN: dict[str, Callable[[], str]] = {
    "calendar": calendar, "neutralising": neutralising, "shares": shares, "window": window,
}  # fmt: skip


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_is_the_one_that_was_looked_at(name: str) -> None:
    kept, drawn = PICTURES / f"{name}.svg", DRAWN[name]()
    if os.environ.get("WATCHGLASS_DRAW"):
        kept.write_text(drawn, "utf-8")

    assert drawn == kept.read_text("utf-8")


@pytest.mark.parametrize("name", DRAWN)
def test_a_picture_says_in_words_what_it_shows(name: str) -> None:
    root = ET.fromstring(DRAWN[name]())
    names = {"svg": "http://www.w3.org/2000/svg"}

    assert root.get("role") == "img"
    assert root.findtext("svg:title", namespaces=names)
    assert root.findtext("svg:desc", namespaces=names)


def test_no_picture_is_kept_that_is_not_drawn() -> None:
    assert {path.stem for path in PICTURES.glob("*.svg")} == set(DRAWN)
