import re
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import ON, book_of, formula_from, rule, sheet
from watchglass import library
from watchglass.calendar import calendar_of, dates_of
from watchglass.dates import after, day_after
from watchglass.findings import Calendar, Review
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import case_of, review
from watchglass.requirements import Case
from watchglass.rulebook import load

FORMULAS = Path(__file__).parents[1] / "formulas"
FIRST, LAST = "1970-01-01", "2060-01-01"
ACID = sheet("Glycolic Acid 8", "Aqua qs")


def ceiling(values: dict[str, Any], **facts: Any) -> dict[str, Any]:
    return rule({"percent": {"of": "Glycolic Acid"}}, values=values, **facts)


def calendar(text: str, *rules: dict[str, Any], on: str = ON, until: str = LAST) -> Calendar:
    formula, book = formula_from(text), book_of(*rules)
    return calendar_of(formula, book, review(formula, book, on), until)


def told(found: Calendar) -> list[tuple[str, str, str]]:
    return [(turn.on, change.was, change.now) for turn in found.turns for change in turn.changes]


# -- what is listed ------------------------------------------------------------------------------------------------


def test_a_stricter_value_is_listed_on_its_day_with_the_finding() -> None:
    found = calendar(ACID, ceiling({"2020-01-01": {"max": 10}, "2028-05-01": {"max": 5}}))

    (turn,) = found.turns
    assert (turn.on, turn.was, turn.now) == ("2028-05-01", "meets", "breaks")
    assert told(found) == [("2028-05-01", "coming, warning", "breaks, error")]
    assert turn.changes[0].finding is not None
    assert turn.changes[0].finding.limit is not None


def test_a_repeal_is_listed_with_what_the_rule_is_then() -> None:
    found = calendar(ACID, ceiling({"2020-01-01": {"max": 5}, "2028-05-01": None}))

    assert told(found) == [("2028-05-01", "breaks, error", "not in force")]
    assert (found.turns[0].was, found.turns[0].now) == ("breaks", "meets")


def test_a_rule_that_comes_into_force_and_is_met_is_listed() -> None:
    assert told(calendar(ACID, ceiling({"2028-05-01": {"max": 10}}))) == [("2028-05-01", "not in force", "meets")]


def test_a_change_of_the_figure_that_changes_no_verdict_is_not_listed() -> None:
    assert calendar(ACID, ceiling({"2020-01-01": {"max": 10}, "2028-05-01": {"max": 9}})).turns == ()


def test_a_rule_that_does_not_concern_the_product_is_not_listed() -> None:
    assert calendar(sheet("Glycerin 5", "Aqua qs"), ceiling({"2028-05-01": {"max": 5}})).turns == ()


@pytest.mark.parametrize(("until", "number"), [("2028-04-30", 0), ("2028-05-01", 1)])
def test_the_last_day_of_the_horizon_is_in_it(until: str, number: int) -> None:
    assert len(calendar(ACID, ceiling({"2028-05-01": {"max": 5}}), until=until).turns) == number


@pytest.mark.parametrize(("on", "number"), [("2028-04-30", 1), ("2028-05-01", 0)])
def test_the_day_of_the_review_is_not_in_it(on: str, number: int) -> None:
    assert len(calendar(ACID, ceiling({"2028-05-01": {"max": 5}}), on=on).turns) == number


def test_the_day_after_a_deviation_ran_out_is_listed() -> None:
    text = f"{ACID}deviations: [{{rule: the-rule, reason: patch test, until: 2027-03-31}}]\n"
    found = calendar(text, ceiling({"always": {"max": 5}}, binding="opinion"))

    assert ("2027-04-01", "deviation, note", "breaks, warning") in told(found)


def test_goods_on_the_market_turn_on_their_own_day() -> None:
    dated = ceiling({"2020-01-01": {"max": 10}, "2027-05-01": {"max": 5}}, stock={"2028-05-01": {"max": 5}})

    assert [turn.on for turn in calendar(ACID, dated).turns] == ["2027-05-01"]
    assert [turn.on for turn in calendar(f"{ACID}on_market_since: 2024-01-01\n", dated).turns] == ["2028-05-01"]


def test_several_coming_dates_of_one_rule_are_all_listed() -> None:
    values = {"2020-01-01": {"max": 10}, "2027-01-01": {"max": 5}, "2028-01-01": None, "2029-01-01": {"max": 4}}

    assert [turn.on for turn in calendar(ACID, ceiling(values)).turns] == ["2027-01-01", "2028-01-01", "2029-01-01"]


# -- the verdict changes on no other day ----------------------------------------------------------------------------


@cache
def formulas() -> dict[str, Formula]:
    found = {file.name: formula_of(file.read_bytes(), file.parent) for file in sorted(FORMULAS.glob("*/*.yaml"))}
    return {name: formula for name, formula in found.items() if isinstance(formula, Formula)}


@cache
def on_day(name: str, day: str) -> set[tuple[object, ...]]:
    """What a review of that day says; composition and solution know no date and are worked out once."""
    return verdicts(review(formulas()[name], load(), day, case=case(name)))


@cache
def case(name: str) -> Case:
    return case_of(formulas()[name], load())


@cache
def dates_in_the_rule_files() -> tuple[str, ...]:
    """Every date that stands anywhere in a rule file, found in its text and not by the code under test."""
    folder = library.rules_folder()
    texts = (file.read_text("utf-8") for file in folder.rglob("*.yaml"))
    return tuple(sorted({day for text in texts for day in re.findall(r"\b[12][0-9]{3}-[01][0-9]-[0-3][0-9]\b", text)}))


def verdicts(found: Review) -> set[tuple[object, ...]]:
    """All that a review says of the rules that apply and are in force."""
    said: set[tuple[object, ...]] = {
        (f.address, f.market, f.where, f.substances, f.verdict, f.severity) for f in found.findings
    }
    said |= {(address, "meets") for address in found.meets}
    return said | {("outcome", found.outcome)}


@cache
def enumerated(name: str) -> tuple[str, ...]:
    formula = formulas()[name]
    return tuple(turn.on for turn in calendar_of(formula, load(), review(formula, load(), FIRST), LAST).turns)


# All formulas on request; in every run a third, and the one with a coming law among them.
SOME = [
    pytest.param(name, marks=[] if number % 3 == 0 or name == "law-of-next-year.yaml" else pytest.mark.long)
    for number, name in enumerate(formulas())
]


@pytest.mark.parametrize("name", SOME)
def test_the_verdict_changes_on_no_day_that_is_not_listed(name: str) -> None:
    formula = formulas()[name]
    ends = [day_after(deviation.until) for deviation in formula.deviations if deviation.until]
    for day in sorted({*dates_in_the_rule_files(), *(end for end in ends if end is not None)}):
        if not FIRST < day <= LAST:
            continue
        eve = (date.fromisoformat(day) - timedelta(days=1)).isoformat()
        assert (on_day(name, eve) != on_day(name, day)) == (day in enumerated(name)), day


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(formulas())), st.dates(date.fromisoformat(FIRST), date.fromisoformat(LAST)))
def test_on_any_day_the_verdict_is_that_of_the_last_listed_day(name: str, day: date) -> None:
    last = max((turn for turn in enumerated(name) if turn <= day.isoformat()), default=FIRST)

    assert on_day(name, day.isoformat()) == on_day(name, last)


def test_some_example_formula_has_listed_days() -> None:
    assert sum(len(enumerated(name)) for name in formulas()) > 10
    assert any(turn > ON for turn in enumerated("law-of-next-year.yaml"))


def test_the_dates_looked_at_stand_in_the_rule_files_or_follow_the_end_of_a_deviation() -> None:
    found = set(dates_of(case("body-gel-lactic.yaml"), load()))

    assert found - set(dates_in_the_rule_files()) == {"2029-01-01"}
    assert len(found) > 5


# -- horizons ------------------------------------------------------------------------------------------------------


def test_a_horizon_beyond_the_last_year_is_refused() -> None:
    with pytest.raises(ValueError, match="9999"):
        after("9990-01-01", "100y")
