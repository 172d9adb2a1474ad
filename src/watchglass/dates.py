"""Days of the calendar as text, year-month-day, so that they sort as they follow each other."""

from __future__ import annotations


def is_date(text: str) -> bool:
    """Whether a text is a day of the calendar, year-month-day.

    >>> is_date("2024-02-29"), is_date("2025-02-29"), is_date("20250101"), is_date("2026-W48-3")
    (True, False, False, False)
    """
    import datetime

    try:
        return datetime.date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
