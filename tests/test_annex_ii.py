"""Annex II of the European Union against the official list itself, and against a second reading of a sample of it.

Source of both: Regulation (EC) No 1223/2009, Annex II, in the official list as exported on 16 May 2024. The whole list
is read where it lies beside the checkout; the sample in `data/annex-ii.yaml` was read from it apart from the rules.
"""

from __future__ import annotations

import csv
import json
from collections import Counter
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from helpers import ON, formula_from, sheet
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load

LIST = Path(__file__).parents[2] / "shared" / "evidence" / "official" / "eu-annex-ii-2024-05-16.csv"
SAMPLE = yaml.safe_load((Path(__file__).parent / "data" / "annex-ii.yaml").read_text("utf-8"))
BOOK = load()

official = pytest.mark.skipif(not LIST.is_file(), reason="the official list is not beside this checkout")

# Rows of the list that are not followed, each with its reason.
LEFT_OUT = {
    (
        "1281",
        "32289-58-0",
    ): "polyaminopropyl biguanide, a preservative of Annex V, under a hair dye that it is no salt of"
}
# Where the rulebook keeps an entry under another address.
ADDRESSES = {"1385": "1385+1386", "1386": "1385+1386"}
APART = {"Normal salts, complexes and hydrofluorides of hydrofluoric acid": "191-normal-salts"}
APART |= {"Derivatives of thiourea": "321-derivatives"}
REPEALED = {"1597"}  # silver zinc zeolite, on the list of preservatives since 18 May 2026

# What the note of a conditional entry asks for, by words of the note: the supplier fact. The first that is found.
FACTS = (
    ("benzene or if they contain", "benzene-below-0.1-percent-and-benzo-a-pyrene-below-0.005-percent"),
    ("benzene", "benzene-below-0.1-percent"),
    ("utadiene", "butadiene-below-0.1-percent"),
    ("DMSO extract", "dmso-extract-at-most-3-percent"),
    ("benzo[a]pyrene", "benzo-a-pyrene-below-0.005-percent"),
    ("full refining history", "refining-history-known"),
    ("natural essences", "only-natural-content-of-essences"),
    ("vitreous (silicate) fibres", "no-man-made-mineral-wool"),
    ("fibers with diameter", "no-thin-glass-fibres"),
    ("releasable formaldehyde", "releasable-formaldehyde-below-1000-ppm"),
    ("as impurity in Disperse Violet 1", "only-impurity-of-disperse-violet-1"),
    ("as impurity in Basic Brown 17", "only-impurity-of-basic-brown-17"),
    ("traces level", "only-a-trace-within-annex-iii"),
    ("Unless regulated elsewhere", "only-residue-of-polyacrylamide"),
    ("except for barium sulphide", "barium-compound-of-annex-iii-or-iv"),
)
FACTS_APART = {
    "191-normal-salts": "fluoride-of-annex-iii",
    "321-derivatives": "thiourea-derivative-of-annex-iii",
}
# A product that every row is about: a hair dye whose every line is there to perfume.
DYE = "use: rinse-off, site: hair, form: cream, kind: hair dye, audience: adults"
LONGEST_NAME = 200  # of a material in a formula


class Listed(NamedTuple):
    """One word of the list: what it is, the address that must answer for it, the fact that would excuse it."""

    word: str
    kind: str
    address: str
    fact: str | None


@cache
def enumerated() -> list[Listed]:
    with LIST.open(encoding="utf-8", newline="") as file:
        return list(dict.fromkeys(word for row in csv.DictReader(file) for word in _words(row)))


def _words(row: dict[str, str]) -> Iterator[Listed]:
    if (row["entry"], row["cas"]) in LEFT_OUT:
        return
    entry = APART.get(row["name"], ADDRESSES.get(row["entry"], row["entry"]))
    fact = next((fact for words, fact in FACTS if words in row["note"]), FACTS_APART.get(entry))
    for kind in ("cas", "ec", "name"):
        # A semicolon parts two names; in the name of a lead salt it parts the acid from the lead.
        parts = [row[kind]] if "lead(2+)" in row[kind] else row[kind].split(";")
        for word in filter(None, (" ".join(part.split()) for part in parts)):
            yield Listed(word, kind, f"eu-annex-ii#{entry}", fact)


def _reviews(words: Iterable[Listed], declared: bool) -> Iterator[tuple[list[Listed], Review]]:
    """Many words in one formula, but only one of each entry, so that each must be found by itself."""
    by_entry: dict[str, list[Listed]] = {}
    for word in words:
        by_entry.setdefault(word.address, []).append(word)
    while by_entry:
        turn = [own.pop() for own in by_entry.values()]
        by_entry = {address: own for address, own in by_entry.items() if own}
        for start in range(0, len(turn), 400):
            some = turn[start : start + 400]
            yield some, _reviewed(some, declared)


def _reviewed(words: list[Listed], declared: bool) -> Review:
    lines = [
        {"material": f"drum {number}" if declared else word.word, "percent": 0.0001, "function": "perfuming"}
        for number, word in enumerate(words)
    ]
    document: dict[str, Any] = {
        "formula": "entries of a list",
        "product": yaml.safe_load(f"{{{DYE}}}"),
        "markets": ["eu"],
        "phases": {"one": {"lines": [{"material": "Aqua", "percent": "qs"}, *lines]}},
    }
    if declared:
        document["materials"] = {
            f"drum {number}": {"contains": {word.word: 100}, "declares": [word.fact]}
            for number, word in enumerate(words)
        }
    return review(formula_from(json.dumps(document)), BOOK, ON)


def _verdicts(found: Review) -> dict[str, set[str]]:
    verdicts: dict[str, set[str]] = {address: {"meets"} for address in found.meets}
    for finding in found.findings:
        verdicts.setdefault(finding.address, set()).add(finding.verdict)
    return verdicts


def _written(kind: str) -> list[Listed]:
    repealed = {f"eu-annex-ii#{entry}" for entry in REPEALED}
    return [
        word
        for word in enumerated()
        if word.kind == kind and len(word.word) <= LONGEST_NAME and word.address not in repealed
    ]


@official
def test_the_list_and_the_table_have_the_same_entries() -> None:
    rows = {rule.address for rule in BOOK.find("eu-annex-ii")}
    read = {word.address for word in enumerated()}
    later = {address for address in rows if int(address.split("#")[1].split("-")[0].split("+")[0]) > 1724}

    assert len({word.address.split("#")[1].split("-")[0] for word in enumerated()}) == 1696 - 1  # two stand together
    assert rows - later - read == {"eu-annex-ii#360-childrens-toothpaste"}
    assert read - rows == set()


@official
@pytest.mark.parametrize("kind", ["cas", "ec", "name"])
def test_every_word_of_an_entry_breaks_it_or_asks_for_what_would_excuse_it(kind: str) -> None:
    wrong = [
        word
        for words, found in _reviews(_written(kind), declared=False)
        for word in words
        if _verdicts(found).get(word.address) != {"undecided" if word.fact else "breaks"}
    ]

    assert wrong == []


@official
@pytest.mark.parametrize("kind", ["cas", "ec", "name"])
def test_every_conditional_entry_meets_with_its_fact_declared(kind: str) -> None:
    conditional = [word for word in _written(kind) if word.fact]
    wrong = [
        word
        for words, found in _reviews(conditional, declared=True)
        for word in words
        if _verdicts(found).get(word.address) != {"meets"}
    ]

    assert wrong == []


@official
def test_so_many_words_are_held_against_their_entries_without_and_with_a_condition() -> None:
    counted = Counter((word.kind, word.fact is not None) for word in enumerated())

    assert counted == {
        ("cas", False): 3050,
        ("cas", True): 633,
        ("ec", False): 2545,
        ("ec", True): 631,
        ("name", False): 3424,
        ("name", True): 698,
    }


@official
def test_names_too_long_for_a_line_are_known_all_the_same() -> None:
    long = [word for word in enumerated() if len(word.word) > LONGEST_NAME]

    assert long
    assert [word for word in long if BOOK.substances.find(word.word) is None] == []


@official
def test_no_number_is_found_by_a_part_of_it_or_within_a_longer_one() -> None:
    numbers = {word.word for word in enumerated() if word.kind != "name"}
    near = {part for number in numbers for part in (number[1:], number[:-1], f"1{number}", f"{number}0")} - numbers

    found = {word: substance.name for word in near if (substance := BOOK.substances.find(word)) is not None}

    assert {word: name for word, name in found.items() if word not in BOOK.substances[name].cas} == {}


@pytest.mark.parametrize("row", SAMPLE["sample"], ids=lambda row: f"{row['entry']} {row['written']}")
def test_an_entry_of_the_sample_says_what_was_read(row: dict[str, Any]) -> None:
    product = row.get("product", "use: leave-on, site: face, form: cream, audience: adults")
    function = f" as {row['function']}" if "function" in row else ""
    text = sheet("Aqua qs", f"{row['written']} {row.get('percent', 0.1)}{function}", product=product)

    found = review(formula_from(text), BOOK, str(row.get("day", ON)))

    address = f"eu-annex-ii#{row['entry']}"
    assert _verdicts(found).get(address, {"does not apply"}) == {row["said"]}
    if row["said"] == "undecided" and "asks" in row:
        assert [f.needs for f in found.findings if f.address == address] == [(row["asks"],)]
