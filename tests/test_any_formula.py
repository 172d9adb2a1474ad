import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchglass import schema
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.reports import json as json_report
from watchglass.reports import text as text_report
from watchglass.rulebook import load
from watchglass.schema import words

BOOK = load()
NAMES = sorted(BOOK.substances)
REPORT = jsonschema.Draft202012Validator(schema.load("review"))
ON = "2026-11-25"

PERCENT = st.one_of(st.just("qs"), st.decimals(0, 100, places=3).map(float), st.sampled_from([0, 0.0001, 99.99, 100]))
LINE = st.fixed_dictionaries(
    {"material": st.one_of(st.sampled_from(NAMES), st.sampled_from(["stock", "blend", "no such thing"]))},
    optional={"function": st.sampled_from(words("function"))},
)
LINES = st.lists(st.tuples(LINE, PERCENT).map(lambda pair: pair[0] | {"percent": pair[1]}), min_size=1, max_size=12)
PART = st.dictionaries(st.sampled_from(NAMES), PERCENT, min_size=1, max_size=4)
PRODUCT = st.fixed_dictionaries(
    {key: st.sampled_from(words(key)) for key in ("use", "site", "form", "audience")},
    optional={"applied_by": st.sampled_from(words("applied_by")), "kind": st.sampled_from(words("kind"))},
)
FORMULA = st.fixed_dictionaries(
    {
        "formula": st.text(min_size=1, max_size=20),
        "product": PRODUCT,
        "markets": st.lists(st.sampled_from(words("market")), min_size=1, unique=True),
        "phases": st.dictionaries(
            st.text(min_size=1, max_size=8), st.fixed_dictionaries({"lines": LINES}), min_size=1, max_size=3
        ),
        "materials": st.fixed_dictionaries(
            {
                "stock": st.fixed_dictionaries({"premix": PART}),
                "blend": st.fixed_dictionaries(
                    {"contains": PART}, optional={"tolerance": st.floats(0, 20).map(lambda width: round(width, 2))}
                ),
            }
        ),
    },
    optional={
        "measured": st.fixed_dictionaries({"ph": st.decimals(-1, 14, places=2).map(float)}),
        "ph_temperature": st.integers(0, 60),
        "on_market_since": st.sampled_from(["2010-01-01", "2024-01-01", "2026-07-31"]),
    },
)


def check(document: dict[str, Any]) -> None:
    """Whatever the formula holds, there is a review; both reports say the same of it, and nothing is a traceback."""
    found = formula_of(json.dumps(document), Path())
    result: Review = review(found, BOOK, ON) if isinstance(found, Formula) else unreadable("-", ON, found)

    told = json.loads(json_report.write([result], BOOK, ON))
    REPORT.validate(told)
    assert text_report.write([result], BOOK, ON).rstrip().splitlines()[-1].startswith(f"outcome: {told['outcome']}")
    if any(line["material"] == "no such thing" for phase in document["phases"].values() for line in phase["lines"]):
        assert result.outcome != "meets"


@settings(max_examples=60, deadline=None)
@given(FORMULA)
def test_any_formula_is_reviewed(document: dict[str, Any]) -> None:
    check(document)


@pytest.mark.long
@settings(max_examples=5_000, deadline=None)
@given(FORMULA)
def test_any_of_thousands_of_formulas_is_reviewed(document: dict[str, Any]) -> None:
    check(document)
