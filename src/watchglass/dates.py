"""Days of the calendar as text, year-month-day, so that they sort as they follow each other."""

from __future__ import annotations

import re


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


def is_horizon(text: str) -> bool:
    """Whether a text is a length of time in months or years, at most a century.

    >>> is_horizon("36m"), is_horizon("3y"), is_horizon("0m"), is_horizon("36"), is_horizon("101y")
    (True, True, False, False, False)
    """
    return re.fullmatch("[0-9]{1,4}[my]", text, re.ASCII) is not None and 0 < _months(text) <= 1200


def after(date: str, horizon: str) -> str:
    """The same day so many months or years on; the last of the month where there is no such day.

    Raises:
        ValueError: That is beyond the last day that can be written.

    >>> after("2026-11-25", "36m"), after("2024-02-29", "1y"), after("2026-10-31", "1m")
    ('2029-11-25', '2025-02-28', '2026-11-30')
    """
    import calendar
    import datetime

    start = datetime.date.fromisoformat(date)
    year, month = divmod(start.year * 12 + start.month - 1 + _months(horizon), 12)
    if year > datetime.MAXYEAR:
        raise ValueError(f"{horizon} after {date} lies beyond the year {datetime.MAXYEAR}")
    return datetime.date(year, month + 1, min(start.day, calendar.monthrange(year, month + 1)[1])).isoformat()


def day_after(date: str) -> str | None:
    """The next day; None after the last that can be written.

    >>> day_after("2027-12-31"), day_after("9999-12-31")
    ('2028-01-01', None)
    """
    import datetime

    day = datetime.date.fromisoformat(date)
    return None if day == datetime.date.max else (day + datetime.timedelta(days=1)).isoformat()


def _months(horizon: str) -> int:
    return int(horizon[:-1]) * (12 if horizon.endswith("y") else 1)
