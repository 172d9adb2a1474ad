import pytest

from watchglass import proof
from watchglass.rulebook import load

BOOK = load()
EXAMPLES = list(proof.examples(BOOK))


@pytest.mark.parametrize("example", EXAMPLES, ids=[example.name for example in EXAMPLES])
def test_a_rules_example_comes_out_as_it_says(example: proof.Example) -> None:
    outcome = proof.run(example, BOOK)

    assert outcome.proves(example), f"{example.verdict} expected, {sorted(outcome.verdicts)} found: {outcome.messages}"
