"""Where a function crosses zero: one bracketed secant for every amount and total that is looked for."""

from __future__ import annotations

from collections.abc import Callable

MOST_ROUNDS = 200


def crossing(function: Callable[[float], float], low: float, high: float, close: float) -> float | None:
    """The argument between `low` and `high` at which a function crosses zero.

    A secant whose stale end is halved (the Illinois rule): it never leaves the bracket and needs no slope.

    Args:
        function: Continuous; rising or falling between the ends.
        low: One end.
        high: The other.
        close: How near to zero the function, or to each other the ends, must come.

    Returns:
        The argument; None where both ends lie on the same side of zero, or where the function has no value.
    """
    at_low, at_high = function(low), function(high)
    if abs(at_low) < close:
        return low
    if abs(at_high) < close:
        return high
    if not at_low * at_high < 0:  # no value at an end is no crossing either
        return None
    side = 0
    for _ in range(MOST_ROUNDS):
        middle = low - at_low * (high - low) / (at_high - at_low)
        at_middle = function(middle)
        if abs(at_middle) < close or abs(high - low) < close:
            return middle
        if (at_middle > 0) == (at_low > 0):
            low, at_low = middle, at_middle
            at_high = at_high / 2 if side < 0 else at_high
            side = -1
        else:
            high, at_high = middle, at_middle
            at_low = at_low / 2 if side > 0 else at_low
            side = 1
    return None
