"""Limits and intervals on every side of every bound."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchglass.interval import EXACT, NOTHING, Interval, Limit, shown, shown_interval

JUST = Decimal("0.000000000001")
SIX = Decimal(6)
NUMBERS = st.decimals(min_value=0, max_value=1000, places=6)
WIDTHS = st.decimals(min_value=Decimal("0.000001"), max_value=1000, places=6)


def between(low: str, high: str) -> Interval:
    return Interval(Decimal(low), Decimal(high))


# -- one value against one bound -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("limit", "under", "on", "over"),
    [
        (Limit(min=SIX), False, True, True),
        (Limit(max=SIX), True, True, False),
        (Limit(above=SIX), False, False, True),
        (Limit(below=SIX), True, False, False),
        (Limit(), True, True, True),
    ],
)
def test_a_bound_holds_on_the_sides_that_it_includes(limit: Limit, under: bool, on: bool, over: bool) -> None:
    assert [limit.holds(SIX - JUST), limit.holds(SIX), limit.holds(SIX + JUST)] == [under, on, over]
    exactly = [limit.standing(Interval.exactly(value)) for value in (SIX - JUST, SIX, SIX + JUST)]
    assert exactly == ["inside" if holds else "outside" for holds in (under, on, over)]


@pytest.mark.parametrize(
    ("limit", "value", "standing"),
    [
        # at least 6
        (Limit(min=SIX), between("6", "7"), "inside"),
        (Limit(min=SIX), between("5.9", "6"), "straddles"),
        (Limit(min=SIX), between("5", "5.999"), "outside"),
        # above 6
        (Limit(above=SIX), between("6.001", "7"), "inside"),
        (Limit(above=SIX), between("6", "7"), "straddles"),
        (Limit(above=SIX), between("5", "6"), "outside"),
        # at most 6
        (Limit(max=SIX), between("5", "6"), "inside"),
        (Limit(max=SIX), between("6", "6.001"), "straddles"),
        (Limit(max=SIX), between("6.001", "7"), "outside"),
        # below 6
        (Limit(below=SIX), between("5", "5.999"), "inside"),
        (Limit(below=SIX), between("5", "6"), "straddles"),
        (Limit(below=SIX), between("6", "7"), "outside"),
    ],
)
def test_an_interval_against_one_bound(limit: Limit, value: Interval, standing: str) -> None:
    assert limit.standing(value) == standing


WINDOW = Limit(min=Decimal("3.5"), max=Decimal("4.5"))
OPEN_WINDOW = Limit(above=Decimal("3.5"), below=Decimal("4.5"))


@pytest.mark.parametrize(
    ("value", "closed", "opened"),
    [
        (between("3.5", "4.5"), "inside", "straddles"),
        (between("3.6", "4.4"), "inside", "inside"),
        (between("3.4", "4"), "straddles", "straddles"),
        (between("4", "4.6"), "straddles", "straddles"),
        (between("3", "5"), "straddles", "straddles"),  # both ends outside, on opposite sides
        (between("3", "3.4"), "outside", "outside"),
        (between("4.6", "5"), "outside", "outside"),
        (between("3", "3.5"), "straddles", "outside"),
        (between("4.5", "5"), "straddles", "outside"),
    ],
)
def test_an_interval_against_a_window(value: Interval, closed: str, opened: str) -> None:
    assert WINDOW.standing(value) == closed
    assert OPEN_WINDOW.standing(value) == opened


def test_a_window_of_one_figure_takes_that_figure_only() -> None:
    one = Limit(min=SIX, max=SIX)
    assert one.standing(Interval.exactly(6)) == "inside"
    assert one.standing(Interval.exactly("6.0000001")) == "outside"
    assert one.standing(between("5", "7")) == "straddles"


@given(NUMBERS, WIDTHS, NUMBERS, NUMBERS, st.booleans())
def test_the_standing_is_what_every_value_of_the_interval_says(
    floor: Decimal, width: Decimal, low: Decimal, length: Decimal, closed: bool
) -> None:
    ceiling, high = floor + width, low + length
    limit = Limit(min=floor, max=ceiling) if closed else Limit(above=floor, below=ceiling)
    middle = (max(low, floor) + min(high, ceiling)) / 2  # lies in both, when anything does
    probes = [low, high, *([middle] if low <= middle <= high else [])]
    said = {limit.holds(value) for value in probes}
    expected = "straddles" if len(said) == 2 else "inside" if said == {True} else "outside"
    assert limit.standing(Interval(low, high)) == expected


# -- arithmetic ------------------------------------------------------------------------------------------------------


def test_intervals_add_end_by_end() -> None:
    assert between("1", "2") + between("0.1", "0.3") == between("1.1", "2.3")
    assert NOTHING + between("1", "2") == between("1", "2")


def test_an_interval_times_a_factor_keeps_its_ends_in_order() -> None:
    assert between("1", "2").times(Decimal("0.5")) == between("0.5", "1.0")
    assert between("1", "2").times(Decimal(0)) == NOTHING


def test_one_value_is_exact_and_two_are_not() -> None:
    assert Interval.exactly("0.1").is_exact
    assert Interval.exactly(1) == Interval(Decimal(1), Decimal(1))
    assert not between("0.1", "0.2").is_exact
    assert between("1", "1.0").is_exact


@given(st.lists(st.decimals(min_value=0, max_value=100, places=12), min_size=1, max_size=30))
def test_sums_of_twelve_decimals_are_exact(values: list[Decimal]) -> None:
    total = NOTHING
    for value in values:
        total = total + Interval.exactly(value)
    by_hand = sum(int(value.scaleb(12)) for value in values)
    assert total == Interval.exactly(Decimal(by_hand).scaleb(-12))


@pytest.mark.parametrize(
    ("value", "places", "expected"),
    [
        ("0.50004", 4, "0.5000"),
        ("0.50005", 4, "0.5000"),  # half to even
        ("0.50015", 4, "0.5002"),
        ("0.500050001", 4, "0.5001"),
        ("3.9995", 3, "4.000"),
        ("3.9985", 3, "3.998"),
        ("10", 3, "10.000"),
    ],
)
def test_rounding_is_half_to_even(value: str, places: int, expected: str) -> None:
    rounded = Interval.exactly(value).rounded(places)
    assert f"{rounded.low:f}" == expected
    assert rounded.is_exact


def test_a_third_is_rounded_once_in_sixty_digits() -> None:
    third = EXACT.divide(Decimal(100), Decimal(3))
    assert abs(third * 3 - 100) < Decimal("1e-24")
    assert Interval.exactly(third).rounded(4).low == Decimal("33.3333")


# -- in words --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("10.50", "10.5"),
        ("1E+2", "100"),
        ("0", "0"),
        ("-0", "0"),
        ("0.000", "0"),
        ("-0.10", "-0.1"),
        ("100", "100"),
        ("1E-12", "0.000000000001"),
    ],
)
def test_a_decimal_is_shown_without_exponent_and_idle_zeros(value: str, text: str) -> None:
    assert shown(Decimal(value)) == text


def test_an_interval_is_shown_as_one_figure_or_as_two() -> None:
    assert shown_interval(Interval.exactly("4.50")) == "4.5"
    assert shown_interval(between("4.50", "5.0")) == "4.5 to 5"


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (Limit(max=Decimal("0.5")), "at most 0.5"),
        (Limit(min=Decimal("3.5"), max=Decimal("4.50")), "at least 3.5 and at most 4.5"),
        (Limit(above=Decimal(3), below=Decimal(6)), "above 3 and below 6"),
        (Limit(), ""),
    ],
)
def test_a_limit_is_said_in_words(limit: Limit, words: str) -> None:
    assert limit.in_words() == words
