"""Exact decimals and the intervals between which a number lies."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Literal, NamedTuple

# Enough digits that sums and products of sheet numbers (12 digits each) are exact four materials deep; rounding to
# even in the sixtieth digit is far below any limit.
EXACT = Context(prec=60, rounding=ROUND_HALF_EVEN)

Standing = Literal["inside", "outside", "straddles"]


class Interval(NamedTuple):
    """All values from low to high, both included."""

    low: Decimal
    high: Decimal

    @classmethod
    def exactly(cls, value: Decimal | int | str) -> Interval:
        """An interval that holds one value."""
        value = Decimal(value)
        return cls(value, value)

    @property
    def is_exact(self) -> bool:
        """Whether it holds one value only."""
        return self.low == self.high

    @property
    def middle(self) -> Decimal:
        """The value half-way between the ends."""
        return EXACT.divide(EXACT.add(self.low, self.high), Decimal(2))

    def __add__(self, other: Interval) -> Interval:  # type: ignore[override]  # the ends are added, not strung together
        return Interval(EXACT.add(self.low, other.low), EXACT.add(self.high, other.high))

    def times(self, factor: Decimal) -> Interval:
        """Both ends times a factor that is not negative."""
        return Interval(EXACT.multiply(self.low, factor), EXACT.multiply(self.high, factor))

    def rounded(self, places: int) -> Interval:
        """Both ends rounded half to even."""
        step = Decimal(1).scaleb(-places)
        return Interval(self.low.quantize(step, context=EXACT), self.high.quantize(step, context=EXACT))


NOTHING = Interval.exactly(0)


class Limit(NamedTuple):
    """Bounds on a number: at least and at most include the figure, above and below do not."""

    min: Decimal | None = None
    max: Decimal | None = None
    above: Decimal | None = None
    below: Decimal | None = None

    def holds(self, value: Decimal) -> bool:
        """Whether one value lies inside.

        >>> Limit(below=Decimal(6)).holds(Decimal(6)), Limit(max=Decimal(6)).holds(Decimal(6))
        (False, True)
        """
        return (
            (self.min is None or value >= self.min)
            and (self.max is None or value <= self.max)
            and (self.above is None or value > self.above)
            and (self.below is None or value < self.below)
        )

    def standing(self, value: Interval) -> Standing:
        """Whether the whole interval lies inside, the whole outside, or neither."""
        low, high = self.holds(value.low), self.holds(value.high)
        if low and high:
            return "inside"
        if low or high or self._spanned_by(value):
            return "straddles"
        return "outside"

    def _spanned_by(self, value: Interval) -> bool:
        """Both ends outside, on opposite sides of a window."""
        floor = self.min if self.min is not None else self.above
        ceiling = self.max if self.max is not None else self.below
        return floor is not None and ceiling is not None and value.low <= floor and value.high >= ceiling

    def crossed_by(self, value: Interval) -> tuple[Decimal, ...]:
        """The bounds that keep an interval from lying wholly inside or wholly outside.

        >>> Limit(min=Decimal(3), max=Decimal(5)).crossed_by(Interval(Decimal("4.5"), Decimal(6)))
        (Decimal('5'),)
        """
        bounds = (self.min, self.above, self.max, self.below)
        return tuple(bound for bound in bounds if bound is not None and value.low <= bound <= value.high)

    def in_words(self) -> str:
        """For a sentence.

        >>> Limit(min=Decimal("3.5"), below=Decimal(6)).in_words()
        'at least 3.5 and below 6'
        """
        parts = []
        if self.min is not None:
            parts.append(f"at least {shown(self.min)}")
        if self.above is not None:
            parts.append(f"above {shown(self.above)}")
        if self.max is not None:
            parts.append(f"at most {shown(self.max)}")
        if self.below is not None:
            parts.append(f"below {shown(self.below)}")
        return " and ".join(parts)


def shown(value: Decimal) -> str:
    """A decimal without exponent and without zeros that say nothing.

    >>> shown(Decimal("10.50")), shown(Decimal("1E+2")), shown(Decimal("0"))
    ('10.5', '100', '0')
    """
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def crossing(limit: Limit, value: Interval) -> str:
    """Why a number decides nothing, for the end of a sentence.

    >>> crossing(Limit(min=Decimal("3.50")), Interval(Decimal("3.42"), Decimal("3.72")))
    ': the limit 3.5 lies inside 3.42 to 3.72'
    """
    bounds = limit.crossed_by(value)
    if not bounds:
        return ""
    verb = "the limit {} lies" if len(bounds) == 1 else "the limits {} lie"
    return f": {verb.format(' and '.join(map(shown, bounds)))} inside {shown_interval(value)}"


def shown_interval(value: Interval) -> str:
    """One figure, or two with "to" between them."""
    if value.is_exact:
        return shown(value.low)
    return f"{shown(value.low)} to {shown(value.high)}"
