import pytest

from watchglass import proof
from watchglass.rulebook import Rule, load

BOOK = load()
EXAMPLES = list(proof.examples(BOOK))


@pytest.mark.parametrize("example", EXAMPLES, ids=[example.name for example in EXAMPLES])
def test_a_rules_example_comes_out_as_it_says(example: proof.Example) -> None:
    outcome = proof.run(example, BOOK)

    assert outcome.proves(example), f"{example.verdict} expected, {sorted(outcome.verdicts)} found: {outcome.messages}"


# Long legal lists are proved by a second table and an oracle instead: rule id to the test that does it.
LISTS = {
    "eu-annex-ii": "test_annex_ii.py",
    "eu-annex-iii": "test_annex_iii.py",
    "eu-annex-iii-statements": "test_annex_iii.py",
    "uk-annex-ii": "test_tables.py",
}
# Tables that follow another have rows of their own beside those that they took over; only those have examples.
FOLLOWING = {
    "uk-annex-iii": "test_uk_annex_iii.py",
    "uk-annex-iii-ph": "test_uk_annex_iii.py",
    "uk-annex-iii-statements": "test_uk_annex_iii.py",
    "uk-annex-iii-supplier": "test_uk_annex_iii.py",
}
PROVED = {example.rule.address for example in EXAMPLES}
WRITTEN = [rule for rule in BOOK.rules if rule.id not in LISTS and (rule.id not in FOLLOWING or rule.address in PROVED)]


@pytest.mark.parametrize("rule", WRITTEN, ids=lambda rule: rule.address)
def test_every_rule_written_by_hand_has_an_example_that_does_not_pass(rule: Rule) -> None:
    assert {example.verdict for example in EXAMPLES if example.rule is rule} & {"breaks", "undecided", "coming"}
