import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from helpers import ON, book_of, formula_from, verdict
from watchglass import schema
from watchglass.formula import check
from watchglass.judge import review
from watchglass.requirements import WORDS
from watchglass.sheet import Sequence, plain, read

ROOT = Path(__file__).parents[1]
PAGES = ROOT / "docs" / "requirements"
SNIPPET = re.compile(r"^```yaml\n(.*?)^```$", re.DOTALL | re.MULTILINE)
NEVER_MET = ("claim",)
VERDICT = re.compile(r"# (meets|breaks|undecided|does not apply)\n")


def snippets(word: str) -> list[str]:
    return SNIPPET.findall((PAGES / f"{word}.md").read_text("utf-8"))


def rules_of(snippet: str) -> list[dict[str, Any]]:
    """The rules of a snippet as the library reads them: through JSON, numbers as floats."""
    found: list[dict[str, Any]] = json.loads(json.dumps(plain(read(snippet)), default=float))
    return found


def formulas() -> Iterator[Any]:
    """Every formula of every page with the verdict that stands over it and the rule that stands before it."""
    for word in WORDS:
        rule: dict[str, Any] | None = None
        for number, snippet in enumerate(snippets(word), start=1):
            if isinstance(read(snippet), Sequence):
                rule = rules_of(snippet)[0]
                continue
            said = VERDICT.match(snippet)
            assert said is not None, f"{word}, snippet {number}, does not say what comes out"
            yield pytest.param(word, rule, snippet, said[1], id=f"{word} {number} {said[1]}")


def test_every_requirement_word_is_a_module_with_a_page_and_a_test_of_the_same_name() -> None:
    modules = {path.stem for path in (ROOT / "src" / "watchglass" / "requirements").glob("*.py")} - {"__init__"}

    assert modules == set(WORDS)
    assert {path.stem for path in PAGES.glob("*.md")} >= modules
    assert {path.stem.removeprefix("test_") for path in (ROOT / "tests" / "requirements").glob("test_*.py")} >= modules


def test_every_page_is_of_a_word_that_exists() -> None:
    assert {path.stem for path in PAGES.glob("*.md")} == set(WORDS)


@pytest.mark.parametrize("word", WORDS)
def test_a_page_names_every_parameter_of_its_word(word: str) -> None:
    page = (PAGES / f"{word}.md").read_text("utf-8")
    parameters = schema.load("rules")["$defs"][word]["properties"]

    assert page.startswith(f"# {word}\n")
    assert [name for name in parameters if not re.search(rf"`{name}\b", page)] == []


@pytest.mark.parametrize("word", WORDS)
def test_the_rules_of_a_page_fit_the_schema_and_ask_for_its_word(word: str) -> None:
    rules = [snippet for snippet in snippets(word) if isinstance(read(snippet), Sequence)]

    assert rules
    for snippet in rules:
        assert schema.faults(read(snippet), "rules") == []
        assert [list(rule["require"]) for rule in rules_of(snippet)] == [[word]]


@pytest.mark.parametrize(("word", "rule", "snippet", "said"), list(formulas()))
def test_a_formula_of_a_page_is_short_and_comes_out_as_the_page_says(
    word: str, rule: dict[str, Any] | None, snippet: str, said: str
) -> None:
    assert check(read(snippet)) == []
    assert len(snippet.splitlines()) <= 7
    assert rule is not None
    found = review(formula_from(snippet), book_of(rule), ON)

    assert verdict(found, rule["rule"]) == said


@pytest.mark.parametrize("word", WORDS)
def test_a_page_shows_what_meets_and_what_breaks(word: str) -> None:
    said = {found[1] for snippet in snippets(word) if (found := VERDICT.match(snippet))}

    assert said >= {"meets" if word not in NEVER_MET else "undecided", "breaks"}


@pytest.mark.parametrize("word", WORDS)
def test_a_page_says_what_it_cannot_see_and_is_short_enough_to_read(word: str) -> None:
    page = (PAGES / f"{word}.md").read_text("utf-8")

    assert "It cannot" in page
    assert "ndecided" in page
    assert 30 <= len(page.splitlines()) <= 62
    assert not re.search(r"\b(safe|compliant)\b", page)


@pytest.mark.parametrize("word", WORDS)
def test_the_links_of_a_page_lead_somewhere(word: str) -> None:
    for target in re.findall(r"\]\(([^)#:]+)\)", (PAGES / f"{word}.md").read_text("utf-8")):
        assert (PAGES / target).is_file(), target


def test_every_decision_has_a_number_of_its_own_and_says_it_in_its_title() -> None:
    pages = sorted((ROOT / "docs/decisions").glob("*.md"))
    numbers = [int(page.name[:4]) for page in pages]

    assert numbers == sorted(set(numbers))
    for number, page in zip(numbers, pages, strict=True):
        assert page.read_text("utf-8").startswith(f"# {number}. "), page.name
