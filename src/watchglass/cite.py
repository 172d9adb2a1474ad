"""A rule in words: values by date, source and how it was read, why, examples."""

from __future__ import annotations

import textwrap
from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from watchglass.conditions import with_wider
from watchglass.identity import identities, words_of
from watchglass.interval import Limit
from watchglass.proofread import VERDICTS
from watchglass.requirements.percent import in_unit
from watchglass.requirements.preserved import limit_of
from watchglass.rulebook import ALWAYS, ROW_PARAMETERS, Repealed, Rule, Rulebook, Unread, Value, id_of, text_of

_READ = {
    "primary": "read in the source itself",
    "secondary": "read in a restatement of it",
    "memory": "from memory, not read: it fails nothing as law and passes nothing",
}
_BINDINGS = ("law", "guidance", "opinion", "practice", "arithmetic")


def index(book: Rulebook) -> str:
    """Every rule with its binding and title, one line each; a table rule once, with the number of its rows."""
    counted = Counter(id_of(address) for address in book.rules.addresses)
    lines = []
    for place, address in enumerate(book.rules.addresses):
        rows = counted.pop(id_of(address), 0)
        if rows:
            lines.append(_in_the_index(book.rules[place], rows))
    return "\n".join(sorted(lines)) + "\n"


def _in_the_index(first: Rule, rows: int) -> str:
    number = f", {rows} rows" if first.entry is not None else ""
    markets = "all markets" if first.markets is None else " ".join(sorted(first.markets))
    return f"{first.id}: {first.facts['title']} ({first.binding}, {markets}{number})"


def on_rule(rules: Sequence[Rule], book: Rulebook, width: int | None = None) -> str:
    """One rule, or all rows of a table rule, in full."""
    first = rules[0]
    source = book.sources[first.source["ref"]]
    lines = [f"{first.id}: {first.facts['title']}"]
    lines += _entry("asks", _require(first), width)
    lines += _entry("applies to", _conditions(first.facts.get("applies"), "every product, in all markets"), width)
    lines += _entry("binding", f"{first.binding}; a break is {_article(first.severity)}", width)
    if first.word == "preserved":
        lines += _systems(first, width)
    if first.entry is None:
        lines += _values(first, width) + _entry("read", _READ[first.read], width)
    for rule in rules if first.entry is not None else ():
        lines += [f"  row {rule.address}", *(f"  {line}" for line in _row(rule, width))]
    lines += _entry("source", _source(source, first.source.get("at") if first.entry is None else None), width)
    lines += _entry("why", first.facts["why"], width)
    if first.entry is None:
        lines += _examples(first.facts.get("examples", ()), width)
    return "\n".join(lines) + "\n"


def on_substance(name: str, rules: Sequence[Rule], book: Rulebook, width: int | None = None) -> str:
    """What applies to a substance, and when: each rule that is about it, with its values by date and its source.

    Args:
        name: Its INCI name.
        rules: Those to tell of, from `about`.
        book: For the sources.
        width: Columns of a terminal.
    """
    substance = book.substances[name]
    numbers = f" (CAS {', '.join(substance.cas)})" if substance.cas else ""
    lines = [f"{name}{numbers}: {len(rules)} rules are about it" if rules else f"{name}{numbers}: no rule is about it"]
    for rule in rules:
        lines += ["", *_in_short(rule, book, width)]
    return "\n".join(lines) + "\n"


def on_source(ref: str, book: Rulebook, width: int | None = None) -> str:
    """A source, and every rule and row that rests on it."""
    resting = [rule for rule in book.rules if rule.source["ref"] == ref]
    lines = [f"{ref}: {len(resting)} rules and rows"]
    lines += _entry("source", _source(book.sources[ref], None), width)
    return "\n".join([*lines, *(f"  {rule.address}: {rule.title}" for rule in resting)]) + "\n"


def about(name: str, book: Rulebook, market: str | None) -> list[Rule]:
    """The rules that are about a substance, law first; with a market, those that hold there."""
    reached = None if market is None else with_wider([market])
    found = [
        rule
        for rule in book.rules.touching([name])
        if rule.check.touches is not None
        and name in rule.check.touches
        and (reached is None or rule.markets is None or rule.markets & reached)
    ]
    return sorted(found, key=lambda rule: _BINDINGS.index(rule.binding))


def _in_short(rule: Rule, book: Rulebook, width: int | None) -> list[str]:
    markets = "all markets" if rule.markets is None else " ".join(sorted(rule.markets))
    lines = [f"{rule.address} ({rule.word}, {rule.binding}, {markets}): {rule.title}"]
    conditions = [block for block in (rule.facts.get("applies"), (rule.row or {}).get("applies")) if block is not None]
    for block in conditions:
        lines += _entry("applies to", _conditions(block, "every product"), width)
    lines += _values(rule, width)
    lines += _entry("source", _source(book.sources[rule.source["ref"]], rule.source.get("at")), width)
    return [*lines, *_entry("read", _READ[rule.read], width)]


def on_statement(statement: str, book: Rulebook, width: int | None = None) -> str:
    """One label statement: what it must say, its source, and the rules that ask for it."""
    facts = book.statements[statement]
    source = book.sources[facts["source"]["ref"]]
    rules = [rule.address for rule in book.rules if statement in rule.parameters.get("say", ())]
    lines = [f"{statement}: {facts['title']}"]
    lines += _entry("says", text_of(facts), width)
    lines += _entry("asked for by", ", ".join(rules), width)
    lines += _entry("source", _source(source, facts["source"].get("at")), width)
    lines += _entry("read", _READ[facts["source"]["read"]], width)
    return "\n".join(lines) + "\n"


def _row(rule: Rule, width: int | None) -> list[str]:
    assert rule.row is not None
    lines = _entry("title", rule.title if "title" in rule.row else "", width)
    if "of" in rule.parameters:
        lines += _entry("of", _words(rule.parameters["of"]), width)
    for identity in identities(rule.row):
        lines += _entry("identified by", "; ".join(words_of(identity)), width)
    for key in ROW_PARAMETERS:
        if key != "of" and key in rule.row:
            lines += _entry(key.replace("_", " "), _words(rule.row[key]), width)
    if "applies" in rule.row:
        lines += _entry("applies to", _conditions(rule.row["applies"], ""), width)
    lines += _values(rule, width)
    lines += _entry("place", rule.source.get("at", ""), width)
    lines += _entry("read", _READ[rule.read], width)
    return lines + _examples(rule.row.get("examples", ()), width)


def _systems(rule: Rule, width: int | None) -> list[str]:
    """The recognised systems of a `preserved` rule, one line each."""
    lines: list[str] = []
    for system in rule.parameters["systems"]:
        ph, dose = limit_of(system["ph"]).in_words(), limit_of(system["dose"]).in_words()
        told = f"{_words(system['of'])}; pH {ph}; dose {dose} {in_unit(system.get('as', 'supplied'))}"
        told += "; only supports others" if system.get("booster") else ""
        told += f"; weak on {system['gap']} alone" if "gap" in system else ""
        told += f" (read: {system['read']})"
        told += f"; {system['note']}" if "note" in system else ""
        lines += _entry(f"system {system['system']}", told, width)
    for key, value in rule.parameters["by_nature"].items():
        lines += _entry(f"by nature, {key.replace('_', ' ')}", _words(value), width)
    return lines


def _values(rule: Rule, width: int | None) -> list[str]:
    lines: list[str] = []
    place = rule.row if rule.row is not None and {"values", "tiers"} & rule.row.keys() else rule.facts
    tiers = place.get("tiers")
    unit = unit_of(rule)
    for number, tier in enumerate(rule.tiers):
        told = f" for {_conditions(tiers[number].get('applies'), 'all other products')}" if tiers else ""
        for start, value in tier.series.values:
            since = "value" if start == ALWAYS else f"from {start}"
            if value != Limit():
                lines += _entry(since, value_in_words(value, unit) + told, width)
        for start, value in tier.series.stock:
            lines += _entry(f"stock from {start}", value_in_words(value, unit) + told, width)
        if tier.series.known_from:
            lines += _entry("known from", f"{tier.series.known_from}; before that undecided", width)
    return lines


def value_in_words(value: Value, unit: str) -> str:
    """What holds, for a sentence."""
    if isinstance(value, Repealed):
        return "repealed"
    if isinstance(value, Unread):
        return f"not read: {value.reason}"
    if value == Limit(max=Decimal(0)):
        return "none is allowed"
    return f"{value.in_words()} {unit}".strip()


def unit_of(rule: Rule) -> str:
    """What the figures of a rule are in."""
    target = rule.parameters.get("as", "supplied")
    units = {
        "percent": in_unit(target),
        "statement": f"{in_unit(target)} (the statement is due)",
        "ph": "hours" if rule.parameters.get("against") == "hours" else "pH",
        "handling": "% w/w of the material",
        "together": "mol/kg" if "against" in rule.parameters else "% w/w beside it",
        "warmth": "°C",
    }
    return units.get(rule.word, "%")


def _require(rule: Rule) -> str:
    if rule.word == "preserved":
        return "preserved: one of the systems below at its dose and pH, or low risk by nature"
    told = "; ".join(
        f"{key.replace('_', ' ')} {_words(value)}"
        for key, value in rule.facts["require"][rule.word].items()
        if key != "also_allowed"  # it is long, and most of it stands in the table that `by` names
    )
    return f"{rule.word}: {told}" if told else rule.word


def _conditions(block: Any, nothing: str) -> str:
    if block is None:
        return nothing
    if isinstance(block, Mapping):
        return ", ".join(
            f"not ({_conditions(value, '')})" if key == "not" else f"{key.replace('_', ' ')} {_words(value)}"
            for key, value in block.items()
        )
    return "; or ".join(_conditions(condition, "") for condition in block)


def _words(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{key.replace('_', ' ')} {_words(item)}" for key, item in value.items())
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(_words, value)) if isinstance(value, list) else str(value)


def _source(source: Mapping[str, Any], at: str | None) -> str:
    parts = [source["title"], source["body"], str(source.get("published", "")), at or "", source.get("link", "")]
    read_on = f"read on {source['read_on']}" if "read_on" in source else ""
    return "; ".join(part for part in (*parts, read_on) if part)


def _examples(examples: Sequence[Mapping[str, Any]], width: int | None) -> list[str]:
    lines: list[str] = []
    for example in examples:
        verdict = next(key for key in VERDICTS if key in example)
        formula = ", ".join(f"{name} {percent} %" for name, percent in example[verdict].items())
        also = "; ".join(
            f"{'' if k == 'product' else k.replace('_', ' ') + ' '}{_words(v)}"
            for k, v in example.items()
            if k not in (verdict, "says")
        )
        told = f"{formula}{f' ({also})' if also else ''}: {verdict.replace('_', ' ')}"
        lines += _entry("example", told, width)
    return lines


def _article(severity: str) -> str:
    return f"an {severity}" if severity[0] in "aeiou" else f"a {severity}"


def _entry(key: str, text: str, width: int | None) -> list[str]:
    line = f"  {key}: {' '.join(text.split())}"
    if width is None:
        return [line]
    return textwrap.wrap(
        line, max(width, 40), subsequent_indent="      ", break_on_hyphens=False, break_long_words=False
    )
