"""Tables that follow another market's table: what is taken over, and what Great Britain prohibits by it."""

from __future__ import annotations

import csv
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from helpers import formula_from, sheet, verdict
from watchglass.errors import CannotRun
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load
from watchglass.tables import followed

SINCE = "2020-12-31"
FOLLOWS: dict[str, Any] = {"rule": "tide", "up_to": 20, "since": SINCE, "but": ["7"]}


def table(name: str, *rows: dict[str, Any], **facts: Any) -> dict[str, Any]:
    return {"rule": name, "file": "test.yaml", "rows": list(rows)} | facts


def taken(*rows: dict[str, Any], own: tuple[dict[str, Any], ...] = ()) -> list[dict[str, Any]]:
    """The rows of a table that follows the table with these rows."""
    rules = followed([table("shore", *own, follows=FOLLOWS), table("tide", *rows)])
    assert "follows" not in rules[0]
    found: list[dict[str, Any]] = rules[0]["rows"]
    return found


def test_rows_up_to_the_last_entry_are_taken_over_with_what_they_are_about() -> None:
    rows = [{"entry": "1", "of": "Urea"}, {"entry": "20-salts", "of": "Talc", "unless": "a-fact"}, {"entry": "21"}]

    assert taken(*rows) == rows[:2]


def test_rows_that_were_worded_anew_and_rows_of_its_own_are_not_taken_over() -> None:
    own = {"entry": "2", "of": "Urea"}

    assert taken({"entry": "2", "of": "Talc"}, {"entry": "7"}, {"entry": "3"}, own=(own,)) == [own, {"entry": "3"}]


def test_a_row_that_starts_on_a_known_day_keeps_it_and_its_proofs_stay_behind() -> None:
    dated = {"values": {"2019-08-23": {"max": 0}}, "stock": {"2021-08-23": {"max": 0}}}

    assert taken({"entry": "1", "at": "page 7", "read": "memory", "examples": [{}]} | dated) == [{"entry": "1"} | dated]


def test_a_row_that_is_only_known_from_the_day_it_was_read_holds_since_the_take_over() -> None:
    read = {"values": {"2024-05-16": {"max": 0.01}}, "known_from": "2024-05-16"}
    since = {"values": {SINCE: {"max": 0.01}}, "known_from": SINCE}

    assert taken({"entry": "1", "tiers": [{"applies": {"site": "mouth"}} | read, read]}) == [
        {"entry": "1", "tiers": [{"applies": {"site": "mouth"}} | since, since]}
    ]


def test_days_and_rows_without_a_number_come_from_the_followed_table_where_the_row_has_none() -> None:
    row = {"entry": "a-warning", "values": {"2024-05-16": {"max": 3}, "2027-01-01": {"max": 1}}}
    rules = followed([table("shore", follows=FOLLOWS), table("tide", row, known_from="2024-05-16")])

    assert rules[0]["rows"] == [{"entry": "a-warning", "values": {SINCE: {"max": 3}}, "known_from": SINCE}]


LATER = FOLLOWS | {"later": {"entries": ["3"], "unread": "what it is here"}}
OPEN = {"unread": "what it is here"}


def later(row: dict[str, Any]) -> list[dict[str, Any]]:
    rules = followed([table("shore", follows=LATER), table("tide", row, known_from="2024-05-16")])
    found: list[dict[str, Any]] = rules[0]["rows"]
    return found


def test_entries_that_came_or_changed_later_are_held_without_their_figures_where_the_table_says_what_is_not_known() -> (
    None
):
    read = {"values": {"2024-05-16": {"max": 0.01}}}

    for entry in ("3", "21", "22-salts"):
        expected = {"entry": entry, "of": "Talc", "values": {SINCE: OPEN}, "known_from": SINCE}
        assert later({"entry": entry, "of": "Talc"} | read) == [expected]
    assert later({"entry": "7"} | read) == []
    assert later({"entry": "20"} | read) == [{"entry": "20", "values": {SINCE: {"max": 0.01}}, "known_from": SINCE}]


def test_without_figures_the_products_that_no_tier_is_about_stay_out_and_a_day_that_is_known_stays() -> None:
    mouth = {"applies": {"site": "mouth"}, "values": {"2024-05-16": {"max": 1}}}
    coming = {"values": {"2027-01-01": {"max": 0}}, "stock": {"2028-01-01": {"max": 0}}}
    since = {"values": {SINCE: OPEN}, "known_from": SINCE}

    assert later({"entry": "30", "tiers": [mouth]}) == [
        {"entry": "30", "tiers": [{"applies": {"site": "mouth"}} | since]}
    ]
    assert later({"entry": "30", "tiers": [mouth, {"values": mouth["values"]}]}) == [{"entry": "30"} | since]
    assert later({"entry": "30"} | coming) == [{"entry": "30", "values": {"2027-01-01": OPEN}}]


def test_a_table_that_is_followed_must_be_there() -> None:
    with pytest.raises(CannotRun, match=r'shore follows tide, no table.*"tides"'):
        followed([table("shore", follows=FOLLOWS), table("tides")])


# -- Great Britain, Annex II -----------------------------------------------------------------------------------------

OFFICIAL = Path(__file__).parents[2] / "shared" / "evidence" / "official" / "eu-annex-ii-2024-05-16.csv"
# 1597 is silver zinc zeolite, 1024 and 1580 were worded anew, 1281 has a number by mistake.
NOT_TAKEN = {"1024", "1281", "1580", "1597"}
LAST = 1641
DYE = "use: rinse-off, site: hair, form: cream, kind: hair dye, audience: adults"


def unconditional() -> Iterator[tuple[str, str]]:
    """Entry and CAS number of what the list prohibits without a condition."""
    with OFFICIAL.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            bound = re.search("permitted|Unless|irrespective|specified elsewhere|traces level", row["note"])
            if row["cas"] and not bound and int(row["entry"]) <= LAST and row["entry"] not in NOT_TAKEN:
                yield row["entry"], row["cas"].split(";")[0].strip()


def held(numbers: list[str], on: str) -> Review:
    lines = [{"material": number, "percent": 0.0001, "function": "perfuming"} for number in numbers]
    document = {
        "formula": "entries of a list",
        "product": dict(part.split(": ") for part in DYE.split(", ")),
        "markets": ["uk"],
        "phases": {"one": {"lines": [{"material": "Aqua", "percent": "qs"}, *lines]}},
    }
    return review(formula_from(json.dumps(document)), load(), on)


@pytest.mark.skipif(not OFFICIAL.is_file(), reason="the official list is not beside this checkout")
@pytest.mark.parametrize(("on", "said"), [("2020-12-31", "breaks"), ("2020-12-30", "undecided")])
def test_great_britain_prohibits_what_the_union_prohibited_on_the_day_it_left(on: str, said: str) -> None:
    # Regulation (EC) No 1223/2009, Annex II, list of 16 May 2024, entries that acts of 2019 and before put in. Before
    # the day the parabens and what 2017 to 2019 prohibited have days of their own.
    first = dict(reversed(list(unconditional())))
    dated = {"1374", "1375", "1376", "1377", "1378", "1380", "1381", "1382", "1383", "1384"}
    entries = [entry for entry in first if entry not in dated or said == "breaks"]
    wrong: dict[str, str | None] = {}
    for start in range(0, len(entries), 400):
        found = held([first[entry] for entry in entries[start : start + 400]], on)
        verdicts = {f.address.split("#")[1]: f.verdict for f in found.findings if f.rule == "uk-annex-ii"}
        verdicts |= {part: verdicts[entry] for entry in list(verdicts) for part in entry.split("+")}
        wrong |= {e: verdicts.get(e) for e in entries[start : start + 400] if verdicts.get(e) != said}

    assert len(entries) > 1200
    assert wrong == {}


@pytest.mark.parametrize(
    ("line", "on", "said"),
    [
        ("Hydroquinone 0.1", "2026-11-25", "breaks"),
        ("Lead Acetate 0.1", "2026-11-25", "breaks"),
        ("Hydroquinone 0.1", "2020-12-30", "undecided"),
    ],
)
def test_what_the_library_knows_is_prohibited_in_great_britain_too(line: str, on: str, said: str) -> None:
    # Annex II, entries 1339 and 289.
    address = "uk-annex-ii#1339" if "Hydroquinone" in line else "uk-annex-ii#289"

    assert verdict(review(formula_from(sheet(line, "Aqua qs", markets="uk")), load(), on), address) == said


def test_what_the_union_prohibited_later_is_no_law_of_great_britain() -> None:
    found = review(
        formula_from(sheet("Butylphenyl Methylpropional 0.1", "Aqua qs", markets="uk")), load(), "2026-11-25"
    )

    assert {f.address for f in found.findings if f.rule == "uk-annex-ii"} == set()
