"""What the tests of verdicts share: short formulas, rulebooks of one or two rules, and what a review says of a rule."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from watchglass import library, schema
from watchglass.findings import Finding, Review
from watchglass.formula import Formula
from watchglass.identity import names_of
from watchglass.index import indexed
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.rulebook import Rulebook, build
from watchglass.sheet import read

ON = "2026-11-25"
FACE = "use: leave-on, site: face, form: gel, audience: adults"
FIRST_LINE = 7  # where the first material of a `sheet` stands in its text

_LINE = re.compile(r"(?P<name>.+?) (?P<amount>qs|[0-9.]+)(?P<grams> g)?(?: as (?P<function>.+))?")


def sheet(*lines: str, product: str = FACE, markets: str = "eu", extra: str = "") -> str:
    """The text of a formula of one phase: "Glycolic Acid 10 as exfoliant", "Aqua qs", "Glycerin 5 g"."""
    head = f"formula: a test jar\nproduct: {{{product}}}\nmarkets: [{markets}]\nphases:\n  one:\n    lines:\n"
    return head + "".join(f"      - {_line(line)}\n" for line in lines) + (f"{extra}\n" if extra else "")


def _line(line: str) -> str:
    found = _LINE.fullmatch(line)
    assert found is not None, line
    key = "grams" if found["grams"] else "percent"
    function = f", function: {found['function']}" if found["function"] else ""
    return f'{{material: "{found["name"]}", {key}: {found["amount"]}{function}}}'


def rule(require: dict[str, Any], **facts: Any) -> dict[str, Any]:
    """The facts of a rule as its file has them: law, read at its source, without a date, unless told otherwise."""
    usual: dict[str, Any] = {
        "rule": "the-rule",
        "title": "A rule of the test",
        "require": require,
        "source": {"ref": "common-practice", "read": "primary"},
        "binding": "law",
        "why": "It is there to be tested.",
    }
    return usual | facts


def book_of(*rules: dict[str, Any]) -> Rulebook:
    """The shipped substances, sources and constants with these rules alone; they must fit the schema."""
    assert not schema.faults(read(json.dumps(rules)), "rules"), schema.faults(read(json.dumps(rules)), "rules")
    return build(index_of(*rules), "test")


def index_of(*rules: dict[str, Any]) -> dict[str, Any]:
    """The shipped rule folder, indexed anew with these rules in place of its own."""
    shipped = library.load()
    substances = list(shipped["substances"].values())
    own = [facts | {"file": "test.yaml", "line": 1, "column": 1} for facts in rules]
    return indexed({**shipped, "substances": substances, "rules": own, "names": names_of(substances, own)})


def formula_from(text: str) -> Formula:
    """The formula of a text that must be one."""
    found = formula_of(text, Path())
    assert isinstance(found, Formula), found
    return found


def reviewed(text: str, *rules: dict[str, Any], on: str = ON, markets: Iterable[str] = ()) -> Review:
    """The review of a text by these rules."""
    return review(formula_from(text), book_of(*rules), on, "jar.yaml", markets)


def verdict(found: Review, address: str = "the-rule") -> str:
    """What a review says of one rule; the test fails where it says several things."""
    said: set[str] = {finding.verdict for finding in found.findings if finding.address == address}
    if address in found.meets and said != {"coming"}:
        said.add("meets")
    if address in found.not_in_force and said != {"coming"}:
        said.add("not in force")
    assert len(said) <= 1, said
    return said.pop() if said else "does not apply"


def only(found: Review, address: str = "the-rule") -> Finding:
    """The one finding of a rule."""
    findings = [finding for finding in found.findings if finding.address == address]
    assert len(findings) == 1, [finding.message for finding in findings]
    return findings[0]


def pointed_at(text: str, finding: Finding) -> str:
    """What stands in the text where a finding points."""
    return text.splitlines()[finding.place.line - 1][finding.place.column - 1 :]
