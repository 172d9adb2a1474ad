"""Watchglass: a linter for cosmetic formulas, on top of a computation of what is really in the jar.

From Python it is used as on the command line:

    run = watchglass.review("formulas", on="2026-11-25", fail_at="warning")
    run.outcome, run.counts, run.fails()
    [finding.message for review in run.reviews for finding in review.findings]

The names in `__all__` are stable. What they stand for is imported when it is first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"
__all__ = ["CannotRun", "Finding", "Review", "Run", "WatchglassError", "__version__", "review"]

if TYPE_CHECKING:
    from watchglass.errors import CannotRun, WatchglassError
    from watchglass.findings import Finding, Review
    from watchglass.runs import Run, review

_HOMES = {
    "CannotRun": "errors",
    "Finding": "findings",
    "Review": "findings",
    "Run": "runs",
    "WatchglassError": "errors",
    "review": "runs",
}


def __getattr__(name: str) -> Any:
    """A name of the interface, from the module that holds it."""
    if name not in _HOMES:
        raise AttributeError(f"module 'watchglass' has no attribute {name!r}")
    import importlib

    return getattr(importlib.import_module(f"watchglass.{_HOMES[name]}"), name)
