"""Write `docs/coverage.md`: of each legal list, what is judged, what is only held open, what is not covered and why.

    python docs/coverage.py

All of it comes from the rule files; `tests/test_coverage.py` fails when the page is stale.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from watchglass import library
from watchglass.rulebook import Repealed, Rule, Rulebook, Unread, load

PAGE = Path(__file__).with_name("coverage.md")
HEAD = """\
# What the rules cover

Written by `python docs/coverage.py` from the rule files. *Judged*: the row meets or breaks by what the formula says.
*On a supplier's word*: it is open until the supplier declares a fact, then it meets. *Held open*: its figure or its
condition was not read, so the verdict is open and never a pass. A row that was read from memory alone never passes
either. What no rule judges stands at the end, with the reason.
"""


def page(book: Rulebook, not_covered: Sequence[dict[str, Any]]) -> str:
    """The whole page."""
    lines = [
        HEAD,
        "## Lists",
        "",
        "| list | rows | judged | on a supplier's word | held open | read |",
        "|---|---|---|---|---|---|",
    ]
    lines += _lists(book)
    lines += ["", "## How the figures were read", "", *_table("binding", "primary", "secondary", "memory")]
    lines += _readings(book)
    lines += [
        "",
        f"## Not covered ({len(not_covered)} entries)",
        "",
        "| source | entry | what | why |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {entry['list']} | {_cell(entry['entry'])} | {_cell(entry['title'])} | {_cell(entry['why'])} |"
        for entry in sorted(not_covered, key=lambda entry: (entry["list"], str(entry["entry"])))
    ]
    return "\n".join(lines) + "\n"


def _table(*heads: str) -> tuple[str, str]:
    """The head of a table."""
    return f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}"


def _lists(book: Rulebook) -> Iterator[str]:
    rows: dict[str, list[Rule]] = {}
    for rule in book.rules:
        if rule.entry is not None and rule.binding == "law":
            rows.setdefault(rule.id, []).append(rule)
    for name, own in sorted(rows.items()):
        standing = Counter(_standing(rule) for rule in own)
        read = ", ".join(f"{count} {how}" for how, count in sorted(Counter(rule.read for rule in own).items()))
        counts = " | ".join(str(standing[key]) for key in ("judged", "supplier", "open"))
        yield f"| {name}: {_cell(own[0].facts['title'])} | {len(own)} | {counts} | {read} |"


def _standing(rule: Rule) -> str:
    values = [value for tier in rule.tiers for _, value in (*tier.series.values, *tier.series.stock)]
    told = [value for value in values if not isinstance(value, Repealed)]
    if told and all(isinstance(value, Unread) for value in told):
        return "open"
    return "supplier" if "unless" in rule.parameters else "judged"


def _readings(book: Rulebook) -> Iterator[str]:
    counted = Counter((rule.binding, rule.read) for rule in book.rules)
    for binding in ("law", "guidance", "opinion", "practice", "arithmetic"):
        yield f"| {binding} | {' | '.join(str(counted[binding, how]) for how in ('primary', 'secondary', 'memory'))} |"


def _cell(words: object) -> str:
    return " ".join(str(words).split()).replace("|", "/")


def written() -> str:
    """The page as the rule files have it now."""
    return page(load(), library.load()["not-covered"])


if __name__ == "__main__":
    PAGE.write_text(written(), encoding="utf-8")
