"""`cite` of a substance and of a source: what applies, when, and what rests on it."""

from __future__ import annotations

import pytest

from running import Call
from watchglass.cite import about, on_source, on_substance
from watchglass.rulebook import load

BOOK = load()


def test_a_substance_is_told_with_the_law_of_a_market_first_and_its_values_by_date() -> None:
    rules = about("Salicylic Acid", BOOK, "eu")
    told = on_substance("Salicylic Acid", rules, BOOK)

    assert told.startswith("Salicylic Acid (CAS 69-72-7): ")
    standing = [("law", "guidance", "opinion", "practice").index(rule.binding) for rule in rules]
    assert standing == sorted(standing)
    assert "eu-annex-iii#98" in {rule.address for rule in rules}
    assert "from 2021-10-01: " in told or "known from: 2021-10-01" in told


def test_a_market_leaves_out_what_holds_elsewhere_only() -> None:
    here = {rule.address for rule in about("Salicylic Acid", BOOK, "us")}
    everywhere = {rule.address for rule in about("Salicylic Acid", BOOK, None)}

    assert here < everywhere
    assert not {address for address in here if address.startswith(("eu-", "uk-", "ca-", "asean-"))}


def test_a_state_has_the_rules_of_its_country_too() -> None:
    country = {rule.address for rule in about("Formaldehyde", BOOK, "us")}
    state = {rule.address for rule in about("Formaldehyde", BOOK, "us-california")}

    assert country <= state
    assert any("california" in address or "us-ca" in address for address in state - country)


def test_a_rule_about_everything_is_not_about_a_substance() -> None:
    assert "product-total" not in {rule.address for rule in about("Glycerin", BOOK, None)}


def test_a_source_names_every_rule_that_rests_on_it() -> None:
    told = on_source("cir-aha", BOOK)

    assert "cir-glycolic-lactic-ceiling" in told
    assert all(BOOK.find(line.split(":")[0].strip())[0].source["ref"] == "cir-aha" for line in told.splitlines()[2:])


@pytest.mark.parametrize("word", ["Salicylic Acid", "69-72-7", "salicylic acid"])
def test_the_command_takes_a_name_or_a_number(word: str, call: Call) -> None:
    ran = call("cite", word, "--market", "eu")

    assert ran.code == 0
    assert ran.out.startswith("Salicylic Acid (CAS 69-72-7)")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["cite", "Salicilic Acid"], 'no rule and no substance "Salicilic Acid"; did you mean "Salicylic Acid"?'),
        (["cite", "cir-glycolic-lactic-cieling"], 'did you mean "cir-glycolic-lactic-ceiling"?'),
        (["cite", "--source", "cir-ahaa"], 'no source "cir-ahaa"; did you mean "cir-aha"?'),
        (["cite", "--market", "mars", "Glycerin"], '--market is "mars"; known: eu'),
    ],
)
def test_what_is_not_known_names_the_nearest_and_ends_with_exit_2(arguments: list[str], said: str, call: Call) -> None:
    ran = call(*arguments)

    assert (ran.code, ran.out, ran.err.count("\n")) == (2, "", 1)
    assert said in ran.err
