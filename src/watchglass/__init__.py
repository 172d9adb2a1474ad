"""Watchglass: a linter for cosmetic formulas, on top of a computation of what is really in the jar."""

__version__ = "0.1.0"
