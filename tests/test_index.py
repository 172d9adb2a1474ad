"""The index of rules: that it finds what there is, and that what it does not find has nothing to say."""

from typing import Any

import pytest

from helpers import book_of, index_of, rule
from watchglass import library
from watchglass.rulebook import load

BOOK = load()
CEILING = rule({"percent": {"of": "Lactic Acid"}}, values={"always": {"max": 1}})
TOTAL = rule({"total": {"of": "product"}}, rule="the-total")
ROWS: list[dict[str, Any]] = [
    {"entry": "1", "of": "Glycolic Acid"},
    {"entry": "2", "title": "Tide glass", "cas": ["62-53-3"]},
]
TABLE = rule({"absent": {}}, rule="the-table", rows=ROWS)


# What a check says that it touches is worked out apart from the index, when the rule is compiled.
def test_the_index_names_just_what_each_rules_check_can_speak_of() -> None:
    index = library.load()
    found: dict[int, set[str]] = {}
    for name, places in index["about"].items():
        for place in places:
            found.setdefault(place, set()).add(name)

    differing = [rule.address for place, rule in enumerate(BOOK.rules) if found.get(place) != rule.check.touches]

    assert differing == []
    assert set(index["always"]) == {place for place, rule in enumerate(BOOK.rules) if rule.check.touches is None}


def test_rules_are_found_by_their_substances_in_the_order_of_the_files() -> None:
    rules = book_of(CEILING, TABLE, TOTAL).rules

    assert [rule.address for rule in rules.touching(["Tide glass", "Lactic Acid"])] == [
        "the-rule",
        "the-table#2",
        "the-total",
    ]
    assert [rule.address for rule in rules.touching(["Aqua"])] == ["the-total"]


def test_a_rule_is_compiled_when_it_is_first_asked_for_and_once(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled: list[str] = []
    monkeypatch.setattr("watchglass.rulebook.compile_check", lambda word, *_: compiled.append(word))
    rules = book_of(CEILING, TABLE, TOTAL).rules

    assert len(rules) == 4
    assert compiled == []
    assert rules.touching(["Lactic Acid"])[0] is rules.touching(["Lactic Acid"])[0]
    assert compiled == ["percent", "total"]


def test_every_rule_and_row_has_one_address() -> None:
    book = book_of(CEILING, TABLE, TOTAL)

    assert book.addresses == ["the-rule", "the-table#1", "the-table#2", "the-total"]
    assert book.ids == ["the-rule", "the-table", "the-total"]
    assert [rule.entry for rule in book.find("the-table")] == ["1", "2"]
    assert [rule.entry for rule in book.find("the-table#2")] == ["2"]
    assert book.find("the-tab") == []
    assert book.rules[-1].id == "the-total"


def test_supplier_facts_of_rules_and_rows_are_gathered() -> None:
    rows = [row | {"unless": f"fact-{row['entry']}"} for row in ROWS]
    index = index_of(rule({"absent": {"of": "Urea", "unless": "a-fact"}}), TABLE | {"rows": rows})

    assert index["supplier_facts"] == ["a-fact", "fact-1", "fact-2"]
