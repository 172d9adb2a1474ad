"""Which rules and rows there are and which substances each is about, so that one is built only when it is needed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from watchglass.identity import subjects
from watchglass.nearest import folded


def indexed(data: Mapping[str, Any]) -> dict[str, Any]:
    """The plain data of a rule folder, arranged so that each part is found by its key.

    Args:
        data: Lists of entries under substances and rules, all words under names, the rest as it is.

    Returns:
        The rest as it is, and
        substances: INCI name to entry;
        groups: group to the INCI names of its members;
        rules: id to the rule without its rows;
        rows: address, rule#entry, to the row;
        addresses: of every rule without a table and of every row, in the order of the files;
        systems: the addresses inside rules that have parts of their own;
        about: INCI name to the places in addresses of what is about that substance;
        always: the places of what is not about substances;
        supplier_facts: every fact that a supplier may be asked to declare.
    """
    groups = _groups(data["substances"])
    rows = {f"{rule['rule']}#{row['entry']}": row for rule in data["rules"] for row in rule.get("rows", ())}
    addresses: list[str] = []
    about: dict[str, list[int]] = {}
    always: list[int] = []
    for rule in data["rules"]:
        for row in rule.get("rows", ({},)):
            names = _about(rule, row, groups, data["names"])
            for name in names:
                about.setdefault(name, []).append(len(addresses))
            if not names:
                always.append(len(addresses))
            addresses.append(f"{rule['rule']}#{row['entry']}" if row else rule["rule"])
    return {
        **data,
        "substances": {entry["substance"]: entry for entry in data["substances"]},
        "groups": groups,
        "rules": {rule["rule"]: _without_rows(rule, data, groups) for rule in data["rules"]},
        "rows": rows,
        "addresses": addresses,
        "systems": list(_systems(data["rules"])),
        "about": about,
        "always": always,
        "supplier_facts": sorted(_supplier_facts(data["rules"])),
    }


def _without_rows(rule: Mapping[str, Any], data: Mapping[str, Any], groups: Mapping[str, list[str]]) -> dict[str, Any]:
    """A rule by itself; one that asks for a list has the INCI names that the table is about for what is allowed."""
    alone = {key: value for key, value in rule.items() if key != "rows"}
    if "listed" in rule["require"]:
        parameters = rule["require"]["listed"]
        tables = [table.get("rows", ()) for table in data["rules"] if table["rule"] == parameters.get("by")]
        words = [
            *parameters.get("also_allowed", ()),
            *(word for rows in tables for row in rows for word in subjects(row)),
        ]
        alone["require"] = {"listed": {**parameters, "also_allowed": list(_named(words, groups, data["names"]))}}
    return alone


def _groups(entries: Iterable[Mapping[str, Any]]) -> dict[str, list[str]]:
    """Group name to the names of its members, in the order of the library."""
    groups: dict[str, list[str]] = {}
    for entry in entries:
        for group in entry.get("groups", ()):
            groups.setdefault(group, []).append(entry["substance"])
    return groups


def _about(
    rule: Mapping[str, Any], row: Mapping[str, Any], groups: Mapping[str, list[str]], names: Mapping[str, str]
) -> dict[str, None]:
    """The substances that a rule or row is about; `total` sums up everything."""
    word, parameters = next(iter(rule["require"].items()))
    return _named(subjects(parameters | row) if word != "total" else (), groups, names)


def _named(words: Iterable[str], groups: Mapping[str, list[str]], names: Mapping[str, str]) -> dict[str, None]:
    """The INCI names that some words mean, each once."""
    found: dict[str, None] = {}
    for word in words:
        found.update(dict.fromkeys(groups[word] if word in groups else [names[folded(word)]]))
    return found


def _systems(rules: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    for rule in rules:
        _, parameters = next(iter(rule["require"].items()))
        for system in parameters.get("systems", ()):
            yield f"{rule['rule']}#{system['system']}"


def _supplier_facts(rules: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    for rule in rules:
        word, parameters = next(iter(rule["require"].items()))
        for place in (parameters, *rule.get("rows", ())):
            if "unless" in place:
                yield place["unless"]
        if word == "preserved" and "water_activity_at_most" in parameters["by_nature"]:
            yield f"water-activity-at-most-{parameters['by_nature']['water_activity_at_most']}"
