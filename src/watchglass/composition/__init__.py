"""Materials and premixes expanded, recursively, to substances: what is really in the jar.

Amounts are exact decimals in % w/w of the finished product; a stated tolerance makes an interval of them, and so does
the balance where its division is stated: every weighing is good to half of it. What cannot be expanded (an unknown
name, a cycle, two rests) is kept as a complaint with its place and never dropped.
"""

from __future__ import annotations

from watchglass.composition.expansion import MOST_OPENED, MOST_PREMIX_DEPTH, MOST_SUGGESTIONS, expand
from watchglass.composition.records import SCENTS, Complaint, Composition, Portion, Total, Unknown, What

__all__ = [
    "MOST_OPENED",
    "MOST_PREMIX_DEPTH",
    "MOST_SUGGESTIONS",
    "SCENTS",
    "Complaint",
    "Composition",
    "Portion",
    "Total",
    "Unknown",
    "What",
    "expand",
]
