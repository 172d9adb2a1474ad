"""The rule folder proofread: what one file says of another, and what a schema cannot see.

Done once for each state of the folder, before it is kept; each fault is one line.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from watchglass.dates import is_date
from watchglass.errors import Place, located
from watchglass.identity import cas_is_right, ec_is_right, identities, subjects, words_of
from watchglass.nearest import did_you_mean, folded

_ION = re.compile(r"[A-Z][A-Za-z0-9]*?[+-][0-9]?")
_ELEMENT = re.compile(r"[A-Z][a-z]?")
VERDICTS = ("meets", "breaks", "undecided", "coming", "does_not_apply", "not_in_force")
NEED_VALUES = ("percent", "together", "warmth")
NEED_OF = ("percent", "absent", "together", "warmth")


def proofread(data: Mapping[str, Any]) -> list[str]:
    """Every fault of a rule folder's plain data, one line each.

    Names, sources, statements and dates that do not exist; values that nothing would read; limits that are missing.
    """
    return [*_substances(data), *_rules(data), *_not_covered(data)]


def _not_covered(data: Mapping[str, Any]) -> Iterator[str]:
    """Each entry once, of a list that is a source, about substances that there are."""
    seen: set[tuple[str, str]] = set()
    for entry in data["not-covered"]:
        key = entry["list"], entry["entry"]
        here = f"rules/not-covered.yaml: {entry['list']}, {entry['entry']}"
        if entry["list"] not in data["sources"]:
            yield f"{here}: the list {entry['list']} is not in rules/sources.yaml"
        if key in seen:
            yield f"{here} stands twice"
        seen.add(key)
        for name in entry.get("of", ()):
            if folded(name) not in data["names"]:
                yield f'{here} names "{name}", which is no substance{did_you_mean(name, data["names"].values())}'


def _substances(data: Mapping[str, Any]) -> Iterator[str]:
    weights = data["atomic-weights"]["weights"]
    meant: dict[str, str] = {}
    for entry in data["substances"]:
        here = f"rules/substances: {entry['substance']}"
        for word in (entry["substance"], *entry.get("cas", ()), *entry.get("synonyms", ())):
            if folded(word) in meant:
                yield f"{here}: {word} is already a name of {meant[folded(word)]}; a word means one substance"
            meant[folded(word)] = entry["substance"]
        for element in sorted(set(_ELEMENT.findall(entry.get("formula", ""))) - weights.keys()):
            yield f"{here}: the element {element} has no weight in rules/atomic-weights.yaml"
        for part in (*entry.get("gives", ()), *entry.get("counts_as", ())):
            if folded(part) not in data["names"] and not _ION.fullmatch(part):
                yield f"{here}: {part} is no substance{did_you_mean(part, data['names'].values())}"
        for reference in _references(entry):
            if reference not in data["sources"]:
                yield f"{here}: the source {reference} is not in rules/sources.yaml"


def _references(node: Any) -> Iterator[str]:
    """Every source id in an entry, wherever it stands."""
    if isinstance(node, Mapping):
        if isinstance(node.get("ref"), str):
            yield node["ref"]
        for value in node.values():
            yield from _references(value)
    elif isinstance(node, list):
        for value in node:
            yield from _references(value)


def _rules(data: Mapping[str, Any]) -> Iterator[str]:
    groups = {group for entry in data["substances"] for group in entry.get("groups", ())}
    seen: set[str] = set()
    for rule in data["rules"]:
        place = Place(rule["line"], rule["column"])
        if rule["rule"] in seen:
            yield located(rule["file"], place, f"rule {rule['rule']} stands twice; an id is given once")
        seen.add(rule["rule"])
        entries: set[str] = set()
        for row in rule.get("rows") or [None]:
            address = rule["rule"] if row is None else f"{rule['rule']}#{row['entry']}"
            here = located(rule["file"], place, f"rule {address}")
            if address in entries:
                yield f"{here} stands twice; an entry is given once"
            entries.add(address)
            yield from (f"{here} {fault}" for fault in _rule(rule, row or {}, data, groups))


def _rule(rule: Mapping[str, Any], row: Mapping[str, Any], data: Mapping[str, Any], groups: set[str]) -> Iterator[str]:
    word, parameters = next(iter(rule["require"].items()))
    parameters = parameters | row
    if rule["source"]["ref"] not in data["sources"]:
        yield f"cites the source {rule['source']['ref']}, which rules/sources.yaml does not have"
    if "severity" in rule and rule["binding"] != "practice":
        yield f"gives a severity; that of {rule['binding']} follows from the binding"
    if word in NEED_OF and not subjects(parameters):
        yield f"does not say of what; {word} needs the key of{', cas, ec, also or members' if row else ''}"
    yield from _identities(row)
    if word == "declared" and not _says_what(parameters):
        yield "declared needs one of the keys of, parts_of and draft"
    if "parts_of" in parameters and "unless" not in parameters:
        yield "does not say which fact states the parts; parts_of needs the key unless"
    if "called" in parameters and folded(parameters["called"]) not in data["names"]:
        yield f"asks for the name {parameters['called']}, which is no substance"
    if word == "listed" and "by" in parameters and parameters["by"] not in _tables(data):
        yield f"takes its list from {parameters['by']}, which is no table of these rules"
    if word == "together" and ("beside" in parameters) == ("against" in parameters):
        yield "does not say with what; together needs either the key beside or the key against"
    if word == "statement":
        yield from _statement(rule, row, parameters)
    if word == "claim" and ("words" in parameters) == ("unmatched" in parameters):
        yield "does not say which claims; claim needs either the key words or the key unmatched"
    for statement in parameters.get("say", ()):
        if statement not in data["statements"]:
            known = did_you_mean(statement, data["statements"])
            yield f"asks for the statement {statement}, which rules/statements.yaml does not have{known}"
    for key in ("of", "beside", "all_uses", "others", "settled_by", "also_allowed") if word != "total" else ():
        yield from _names(parameters.get(key, ()), data, groups)
    for system in (parameters, *parameters.get("systems", ())):
        target = system.get("as", "supplied")
        is_word = target in ("acid", "supplied") or target in data["atomic-weights"]["weights"]
        if not is_word and folded(target) not in data["names"]:
            yield f"counts as {target}, which is no substance"
    for system in parameters.get("systems", ()):
        yield from _names(system["of"], data, groups)
    yield from _applies((rule, row, *rule.get("tiers", ()), *row.get("tiers", ())), data["product-types"]["types"])
    yield from _values(rule, row, word)
    yield from _examples((*rule.get("examples", ()), *row.get("examples", ())), data)


def _identities(row: Mapping[str, Any]) -> Iterator[str]:
    """Numbers whose check digit does not fit, and words that stand twice."""
    if "title" not in row and any(key in row for key in ("cas", "ec", "also")):
        yield "has cas, ec or also without a title; the title names the substance that they mean"
        return
    seen: set[str] = set()
    for identity in identities(row):
        for number in identity.get("cas", ()):
            if not cas_is_right(number):
                yield f"has the CAS number {number}, whose check digit does not fit; read it again at the source"
        for number in identity.get("ec", ()):
            if not ec_is_right(number):
                yield f"has the EC number {number}, whose check digit does not fit; read it again at the source"
        own = [folded(word) for word in words_of(identity)]
        for word in sorted({word for word in own if word in seen or own.count(word) > 1}):
            yield f'has "{word}" twice; one is enough'
        seen.update(own)


def _statement(rule: Mapping[str, Any], row: Mapping[str, Any], parameters: Mapping[str, Any]) -> Iterator[str]:
    """A duty of every product there is would be a slip: without a substance, the kind of product must be told."""
    if "say" not in parameters:
        yield "does not say which statement; statement needs the key say"
    if subjects(parameters):
        return
    blocks = [place["applies"] for place in (rule, row) if "applies" in place]
    conditions = [condition for block in blocks for condition in ([block] if isinstance(block, Mapping) else block)]
    if "only_as" not in parameters and not any(condition.keys() - {"markets"} for condition in conditions):
        yield "does not say of what; statement needs the key of, or only_as, or a kind of product under applies"
    for key in ("as", "not_as", "unless"):
        if key in parameters:
            yield f"gives {key} without of; nothing would read it"


def _says_what(parameters: Mapping[str, Any]) -> bool:
    """Whether a declaration is asked for one thing alone."""
    asked = [bool(subjects(parameters)), "parts_of" in parameters, "draft" in parameters]
    return sum(asked) == 1


def _tables(data: Mapping[str, Any]) -> set[str]:
    """The ids of the rules that have rows."""
    return {rule["rule"] for rule in data["rules"] if "rows" in rule}


def _applies(places: Iterable[Mapping[str, Any]], types: Mapping[str, Any]) -> Iterator[str]:
    for place in places:
        block = place.get("applies", {})
        alternatives = [block] if isinstance(block, Mapping) else block
        named = ["markets" in alternative for alternative in alternatives]
        if any(named) and not all(named):
            yield "names markets in some alternatives of applies and not in others; name them in all or in none"
        if any("markets" in alternative.get("not", ()) for alternative in alternatives):
            yield "has markets under not; name the markets that it is for"
        for alternative in alternatives:
            for wanted in _types_of(alternative):
                if wanted not in types:
                    hint = did_you_mean(wanted, types)
                    yield f"is for the product type {wanted}, which rules/product-types.yaml lacks{hint}"


def _types_of(block: Mapping[str, Any]) -> list[str]:
    """The product types that a block of conditions names, those under `not` included."""
    named = block.get("type", [])
    return [*([named] if isinstance(named, str) else named), *(_types_of(block["not"]) if "not" in block else ())]


def _examples(examples: Iterable[Mapping[str, Any]], data: Mapping[str, Any]) -> Iterator[str]:
    """An example says one verdict, and names what is there to be judged."""
    for example in examples:
        verdicts = [verdict for verdict in VERDICTS if verdict in example]
        if len(verdicts) != 1:
            told = f"the verdicts {' and '.join(verdicts)}" if verdicts else "no verdict"
            yield f"has an example with {told}; one of them is needed: {', '.join(VERDICTS)}"
        for verdict in verdicts:
            materials = example.get("sheet", {}).get("materials", {})
            for name in example[verdict]:
                if verdict != "undecided" and name not in materials and folded(name) not in data["names"]:
                    hint = did_you_mean(name, data["names"].values())
                    yield f'has an example with "{name}", which is no substance{hint}'


def _names(words: Any, data: Mapping[str, Any], groups: set[str]) -> Iterator[str]:
    for word in [words] if isinstance(words, str) else words:
        if word not in groups and folded(word) not in data["names"]:
            yield f'names "{word}", which is not known{did_you_mean(word, [*groups, *data["names"].values()])}'


def _values(rule: Mapping[str, Any], row: Mapping[str, Any], word: str) -> Iterator[str]:
    place = row if {"values", "tiers"} & row.keys() else rule
    if "values" in place and "tiers" in place:
        yield "has values beside tiers; nothing would read them"
    if word in NEED_VALUES and not {"values", "tiers"} & place.keys():
        yield f"has no values; a {word} without a limit always meets"
    for series in (place, *place.get("tiers", ())):
        for limit in (*series.get("values", {}).values(), *series.get("stock", {}).values()):
            if limit and limit.get("min", 0) > limit.get("max", math.inf):
                yield f"has a limit whose min {limit['min']} is above its max {limit['max']}"
        for date in (*series.get("values", ()), *series.get("stock", ()), *_known_from(series)):
            if date != "always" and not is_date(date):
                yield f"has the date {date}, which is on no calendar"


def _known_from(series: Mapping[str, Any]) -> list[str]:
    return [series["known_from"]] if "known_from" in series else []
