"""Annex III for Great Britain: what it took over from the EU holds, and of what came later nothing passes in silence.

The amounts are those of the second table of Annex III, `data/annex-iii.csv`. When an entry changed is told by the notes
of the official list of 16 May 2024.
"""

from __future__ import annotations

import re

import pytest

from helpers import formula_from, sheet
from test_annex_iii import Row, official, second_table
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load

ON = "2026-11-25"
OWN = {"98", "324", "375"}  # what acts of the United Kingdom changed, held by rows of its own
LATER = {"46", "70", "75", "154", "157", "175", "196"}
LAST = 312
ROWS = [row for row in second_table() if row.entry not in OWN]


def number_of(entry: str) -> int:
    found = re.match("[0-9]+", entry)
    assert found is not None
    return int(found[0])


def came_later(entry: str) -> bool:
    return entry in LATER or number_of(entry) > LAST


def reviewed(row: Row, amount: str, on: str = ON) -> Review:
    product = ", ".join(f"{key}: {word}" for key, word in row.product)
    text = sheet(f"{row.weighed} {amount} as skin conditioning", "Aqua qs", product=product, markets="uk")
    return review(formula_from(text), load(), on)


def said(row: Row, amount: str) -> set[str]:
    found = reviewed(row, amount)
    own = re.compile(rf"uk-annex-iii#{row.entry}(-.+)?")
    verdicts = {finding.verdict for finding in found.findings if own.fullmatch(finding.address)}
    return verdicts | ({"meets"} if any(own.fullmatch(address) for address in found.meets) else set())


def test_what_great_britain_took_over_meets_at_its_lawful_amount_and_breaks_at_the_unlawful_one() -> None:
    taken = [row for row in ROWS if not came_later(row.entry) and row.on <= ON]

    wrong = [f"{row.name}: {said(row, row.lawful)}" for row in taken if said(row, row.lawful) != {"meets"}]
    passed = [f"{row.name}: {row.unlawful}" for row in taken if "breaks" not in said(row, row.unlawful)]

    assert wrong == []
    assert passed == []
    assert len(taken) == 433


def test_what_the_eu_restricted_later_is_open_in_great_britain_whatever_the_amount() -> None:
    later = [row for row in ROWS if came_later(row.entry) and row.on <= ON]

    assert [row.name for row in later if said(row, row.lawful) != {"undecided"}] == []
    assert {reviewed(row, row.lawful).outcome for row in later} <= {"cannot tell", "breaks"}
    assert len(later) >= 20


def test_entries_that_the_official_list_shows_to_have_changed_after_2020_are_not_taken_over() -> None:
    changed = {
        row["entry"]
        for row in official()
        if any(int(year) > 2020 for year in re.findall(r"\b20[0-9]{2}\b", row["note"]))
    }

    assert {entry for entry in changed if not came_later(entry)} == set()


def about(prefix: str) -> frozenset[str]:
    touched = (rule.check.touches or () for rule in load().rules if rule.id.startswith(prefix))
    return frozenset(name for names in touched for name in names)


def test_great_britain_has_a_row_for_every_substance_that_the_eu_restricts() -> None:
    assert len(about("eu-annex-iii")) >= 350
    assert about("eu-annex-iii") - about("uk-annex-iii") == set()


@pytest.mark.parametrize(
    ("lines", "outcome"),
    [
        (["Lactic Acid 2", "Sodium Hydroxide 0.4", "Triethanolamine 0.8", "Ethoxydiglycol 2"], "meets"),
        (["Citral 0.05", "Benzyl Salicylate 0.1"], "meets"),
        (["BHT 0.05"], "cannot tell"),
        (["Retinol 0.1"], "cannot tell"),
        (["Methyl Alcohol 1"], "cannot tell"),
    ],
)
def test_an_ordinary_cream_is_open_in_great_britain_only_where_it_holds_what_the_eu_restricted_later(
    lines: list[str], outcome: str
) -> None:
    product = "use: leave-on, site: face, form: cream, audience: adults, kind: other"
    jar = [f"{line} as skin conditioning" for line in lines]
    found = review(formula_from(sheet(*jar, "Aqua qs", product=product, markets="uk")), load(), ON)

    own = [f.message for f in found.findings if f.rule.startswith("uk-annex-iii") and f.verdict != "coming"]
    assert bool(own) is (outcome == "cannot tell"), own
    assert outcome == "meets" or found.outcome == "cannot tell"
