"""Rules prove themselves: their examples notice every number, date, comparison and product type that is changed a step.

Survivors are counted by rule in `data/mutants.yaml`: no rule may have more of them than it says there, and where fewer
survive it must say so.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from zlib import crc32

import pytest
import yaml

from mutants import Mutant, mutants
from test_rules import BOOK, EXAMPLES, WRITTEN
from watchglass import proof
from watchglass.rulebook import Rule

LISTED = yaml.safe_load((Path(__file__).parent / "data" / "mutants.yaml").read_text("utf-8"))
UNPROVED: dict[str, int] = LISTED["survivors"]


def survivors(rule: Rule) -> list[str]:
    """The mutants of a rule that its examples do not notice."""
    trials = [(example, proof.trial(example, BOOK)) for example in EXAMPLES if example.rule is rule]
    return [mutant.name for mutant in mutants(rule) if not _noticed(mutant, trials)]


def _noticed(mutant: Mutant, trials: list[tuple[proof.Example, proof.Trial]]) -> bool:
    for place, (example, tried) in enumerate(trials):
        if not proof.hold(tried, BOOK, mutant.rule).proves(example):
            trials.insert(0, trials.pop(place))  # what noticed one will notice the next
            return True
    return False


def held(rules: list[Rule]) -> None:
    found = {rule.address: survivors(rule) for rule in rules}
    more = {address: names for address, names in found.items() if len(names) > UNPROVED.get(address, 0)}
    fewer = {address: len(names) for address, names in found.items() if len(names) < UNPROVED.get(address, 0)}

    assert more == {}, "write examples that notice these"
    assert fewer == {}, "fewer survive than tests/data/mutants.yaml says"


def test_a_tenth_of_the_rules_is_proved_by_its_examples_down_to_each_step() -> None:
    held([rule for rule in WRITTEN if crc32(rule.address.encode()) % 10 == 0])


@pytest.mark.long
def test_every_rule_is_proved_by_its_examples_down_to_each_step() -> None:
    held(WRITTEN)

    counted = Counter(mutants=sum(len(list(mutants(rule))) for rule in WRITTEN), survivors=sum(UNPROVED.values()))
    assert dict(counted) == LISTED["counted"]


def test_only_rules_that_there_are_have_survivors() -> None:
    assert set(UNPROVED) <= {rule.address for rule in WRITTEN}
