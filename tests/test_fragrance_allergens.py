"""The fragrance allergens of the EU, held against a second table and against the collected evidence.

The table, tests/data/fragrance-allergens.yaml, was written from Annex III of Regulation (EC) No 1223/2009 by CAS
number; the rules name them by INCI name.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
import yaml

from helpers import formula_from
from watchglass.judge import review
from watchglass.rulebook import load

DATA = Path(__file__).parent / "data" / "fragrance-allergens.yaml"
EVIDENCE = Path(__file__).parents[2] / "shared" / "evidence" / "limits.yaml"
TABLE: dict[str, Any] = yaml.safe_load(DATA.read_text("utf-8"))
ENTRIES: list[dict[str, Any]] = [*TABLE["first"], *TABLE["added"]]
NUMBERS = [pytest.param(entry, cas, id=cas) for entry in ENTRIES for cas in entry["cas"]]
AMOUNTS = {"leave-on": TABLE["leave_on_above"], "rinse-off": TABLE["rinse_off_above"]}
STEP = 1.001
ON = "2026-11-25"
RULE = "eu-fragrance-allergens"
BOOK = load()


def asked(
    cas: str, percent: float, use: str = "leave-on", label: str = "", on: str = ON, since: str = "", market: str = "eu"
) -> list[tuple[str | None, str]]:
    """Which entries ask for a substance inside a parfum, and with which verdict."""
    text = f"""\
formula: a test jar
product: {{use: {use}, site: body, form: liquid, audience: adults}}
markets: [{market}]
phases: {{one: {{lines: [{{material: scent, percent: 1}}, {{material: Aqua, percent: qs}}]}}}}
materials: {{scent: {{contains: {{Parfum: qs, "{cas}": {percent * 100:.7g}}}}}}}
"""
    text += f"label: {{ingredients: [Aqua, Parfum, {label}]}}\n" if label else ""
    text += f"on_market_since: {since}\n" if since else ""
    rule = RULE if market == "eu" else "uk-fragrance-allergens"
    return [(f.entry, f.verdict) for f in review(formula_from(text), BOOK, on).findings if f.rule == rule]


def day_before(day: date) -> str:
    return (day - timedelta(days=1)).isoformat()


def test_the_table_holds_24_old_and_57_added_entries_and_no_number_twice() -> None:
    numbers = [cas for entry in ENTRIES for cas in entry["cas"]]

    assert (len(TABLE["first"]), len(TABLE["added"])) == (24, 57)
    assert len(numbers) == len(set(numbers))
    assert {entry["entry"] for entry in ENTRIES} == {rule.entry for rule in BOOK.rules if rule.id == RULE}


@pytest.mark.parametrize("use", AMOUNTS)
@pytest.mark.parametrize(("entry", "cas"), NUMBERS)
def test_an_allergen_is_asked_for_above_its_amount_not_at_it_and_not_where_it_is_named(
    entry: dict[str, Any], cas: str, use: str
) -> None:
    amount = AMOUNTS[use]

    assert asked(cas, amount * STEP, use) == [(entry["entry"], "breaks")]
    assert asked(cas, amount, use) == []
    assert asked(cas, amount * STEP, use, label=f'"{entry["named"]}"') == []


@pytest.mark.parametrize("entry", TABLE["added"], ids=lambda entry: str(entry["named"]))
def test_an_added_allergen_is_asked_for_from_its_day_and_in_old_stock_from_the_later_day(entry: dict[str, Any]) -> None:
    cas, number = entry["cas"][0], entry["entry"]
    new, stock = TABLE["added_from"], TABLE["added_stock"]

    assert asked(cas, 0.1, on=new.isoformat()) == [(number, "breaks")]
    assert asked(cas, 0.1, on=day_before(new)) == [(number, "coming")]
    assert asked(cas, 0.1, on=stock.isoformat(), since=day_before(new)) == [(number, "breaks")]
    assert asked(cas, 0.1, on=day_before(stock), since=day_before(new)) == [(number, "coming")]


@pytest.mark.parametrize("entry", TABLE["first"], ids=lambda entry: str(entry["named"]))
def test_the_24_are_asked_for_in_old_stock_and_in_great_britain_as_well(entry: dict[str, Any]) -> None:
    cas, number = entry["cas"][0], entry["entry"]

    assert asked(cas, 0.1, on="2014-01-01", since="2013-12-01") == [(number, "breaks")]
    assert asked(cas, 0.1, market="uk") == [(number, "breaks")]


@pytest.mark.parametrize("entry", TABLE["added"], ids=lambda entry: str(entry["named"]))
def test_what_the_eu_added_is_not_asked_for_in_great_britain(entry: dict[str, Any]) -> None:
    assert asked(entry["cas"][0], 0.1, market="uk") == []


def test_every_allergen_of_the_evidence_is_in_the_table_with_its_amounts() -> None:
    if not EVIDENCE.is_file():
        pytest.skip("the collected evidence is not beside this checkout")
    known = {cas: entry for entry in ENTRIES for cas in entry["cas"]}
    evidence = yaml.safe_load(EVIDENCE.read_text("utf-8"))["fragrance_allergens"]
    compared = 0
    for one in evidence:
        for cas in one["cas"].replace(" and isomers", "").split(" / "):
            old = known[cas] in TABLE["first"]
            assert old == (one["list"] == "already listed before 2023"), cas
            assert known[cas]["named"] == one["inci"] or cas == "72968-50-4"
            assert one["leave_on_threshold_percent"] == TABLE["leave_on_above"]
            assert one["rinse_off_threshold_percent"] == TABLE["rinse_off_above"]
            compared += 1
    assert (len(evidence), compared >= 120) == (81, True)
