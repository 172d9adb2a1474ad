"""A tree checked against one of the shipped JSON Schemas; every fault becomes one located sentence.

A fast validator says yes or no. Only when it says no, a second one lists the faults, and their messages are written
here from the schema's own words: titles, descriptions and examples.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

from watchglass.errors import Place, one_line
from watchglass.nearest import did_you_mean, nearest
from watchglass.sheet import Mapping, Node, Scalar, Sequence, Step, at, dotted, plain

MOST_FAULTS = 50


class Fault(NamedTuple):
    """One place where a tree departs from its schema."""

    place: Place
    where: str
    message: str


def _folder() -> Path:
    """Where the schemas lie in the package."""
    return Path(__file__).resolve().parent / "schemas"


def names() -> list[str]:
    """The shipped schemas: formula, review, rules ..."""
    found = (entry.name for entry in _folder().iterdir())
    return sorted(name.removesuffix(".schema.json") for name in found if name.endswith(".schema.json"))


@cache
def load(name: str) -> dict[str, Any]:
    """A shipped schema with the shared vocabulary folded in, so that it stands alone.

    Raises:
        FileNotFoundError: There is no schema of that name.
    """
    schema: dict[str, Any] = json.loads((_folder() / f"{name}.schema.json").read_text("utf-8"))
    schema["$defs"] = vocabulary() | schema.get("$defs", {})
    return schema


@cache
def vocabulary() -> dict[str, Any]:
    """The definitions that all schemas share: closed vocabularies, dates, sources."""
    shared: dict[str, Any] = json.loads((_folder() / "vocabulary.json").read_text("utf-8"))["$defs"]
    return shared


def words(name: str) -> tuple[str, ...]:
    """A closed vocabulary, for example "market"."""
    return tuple(vocabulary()[name]["enum"])


def faults(node: Node, name: str) -> list[Fault]:
    """Every departure of the tree from the schema `name`, in the order of the text; none when it is valid."""
    document = plain(node)
    if _gate(name)(document):
        return []
    all_of_them = (_clean(fault) for error in _errors(name, document) for fault in _faults(error, node))
    found = _without_echoes(sorted(set(islice(all_of_them, MOST_FAULTS))))
    if len(found) >= MOST_FAULTS:
        found.append(Fault(found[-1].place, "", f"more faults follow; the first {MOST_FAULTS} are shown"))
    return found or [Fault(node.place, "", f"this does not fit the {name} schema")]


def _clean(fault: Fault) -> Fault:
    return Fault(fault.place, one_line(fault.where), one_line(fault.message))


@cache
def _gate(name: str) -> Any:
    try:
        import jsonschema_rs
    except ImportError:  # no wheel for this platform: the reference validator does both
        return _reference(name).is_valid
    return jsonschema_rs.Draft202012Validator(load(name)).is_valid


@cache
def _reference(name: str) -> Any:
    from jsonschema import Draft202012Validator

    return Draft202012Validator(load(name))


def _errors(name: str, document: Any) -> Iterator[Any]:
    """The leaves: where a choice fails, the errors of the choice that came nearest to fitting."""
    for error in _reference(name).iter_errors(document):
        yield from _leaves(error)


def _leaves(error: Any) -> Iterator[Any]:
    if error.validator not in ("anyOf", "oneOf") or not error.context:
        yield error
        return
    if all(inner.validator == "required" for inner in error.context):
        yield error  # one key or the other: said in one sentence
        return
    choices: dict[int, list[Any]] = {}
    for inner in error.context:
        choices.setdefault(inner.schema_path[0], []).append(inner)
    fitting = [errors for errors in choices.values() if not any(_is_of_other_type(e, error) for e in errors)]
    if not fitting:
        yield error
        return
    for inner in min(fitting, key=len):
        yield from _leaves(inner)


def _is_of_other_type(inner: Any, outer: Any) -> bool:
    """A choice that wants another kind of value altogether is not what the author meant."""
    return inner.validator in ("type", "enum", "const") and len(inner.absolute_path) == len(outer.absolute_path)


def _faults(error: Any, root: Node) -> Iterator[Fault]:
    path: list[Step] = list(error.absolute_path)
    node = at(root, path)
    where = dotted(path)
    if error.validator == "additionalProperties" and isinstance(node, Mapping):
        yield from _unknown_keys(error, node, where)
        return
    if isinstance(node, Mapping) and _is_only_misspelt(error, node):
        return
    yield Fault(node.place, where, _sentence(error, node, path))


def _is_only_misspelt(error: Any, node: Mapping) -> bool:
    """Whether a key that is lacking stands there misspelt, which is a fault of its own."""
    lacking: set[str] = set()
    if error.validator == "required":
        lacking = {key for key in error.validator_value if f"'{key}'" in error.message} - node.items.keys()
    elif error.validator == "oneOf":
        lacking = {key for choice in error.validator_value for key in choice.get("required", ())}
    known = error.schema.get("properties", {})
    strange = islice((key for key in node.items if key not in known), MOST_FAULTS)  # of more no word is said either
    return any(lacking.intersection(nearest(key, known, 1)) for key in strange)


def _unknown_keys(error: Any, node: Mapping, where: str) -> Iterator[Fault]:
    known = error.schema.get("properties", {})
    patterns = error.schema.get("patternProperties", {})
    for key in node.items:
        if key in known or any(re.search(pattern, key) for pattern in patterns):
            continue
        hint = did_you_mean(key, known)
        if not hint:
            hint = f"; known here: {', '.join(known)}" if known else "; a date reads 2026-11-25"
        yield Fault(node.keys[key], f"{where}.{key}" if where else key, f'unknown key "{key}"{hint}')


def _sentence(error: Any, node: Node, path: list[Step]) -> str:
    name = _called(path)
    writers = {
        "required": _missing_key, "enum": _not_a_word, "type": _wrong_type, "anyOf": _no_choice, "oneOf": _no_choice,
        "pattern": _wrong_pattern,
    }  # fmt: skip
    if error.validator in writers:
        return writers[error.validator](error, node, name)
    limits = {
        "minimum": "at least", "maximum": "at most", "exclusiveMinimum": "more than", "exclusiveMaximum": "less than",
    }  # fmt: skip
    if error.validator in limits:
        return f"{name} is {_shown(node)}; it must be {limits[error.validator]} {error.validator_value}"
    if error.validator in ("minItems", "minProperties", "minLength"):
        return f"{name} is empty{_example(error.schema)}"
    if error.validator in ("maxItems", "maxProperties", "maxLength"):
        many = "characters" if error.validator == "maxLength" else "entries"
        return f"{name} has more than {error.validator_value} {many}"
    if error.validator == "uniqueItems" and isinstance(node, Sequence):
        words = Counter(item.raw for item in node.items if isinstance(item, Scalar))
        return f"{name} names {next(word for word, times in words.items() if times > 1)} twice"
    return f"{name} does not fit the schema ({error.validator})"


def _called(path: list[Step]) -> str:
    """The last key of a path, with the number of an item behind it.

    >>> _called(["phases", "a", "lines", 0]), _called([])
    ('lines[0]', 'the file')
    """
    name = next((number for number in range(len(path) - 1, -1, -1) if isinstance(path[number], str)), None)
    return "the file" if name is None else dotted(path[name:])


def _missing_key(error: Any, node: Node, name: str) -> str:
    missing = [key for key in error.validator_value if isinstance(node, Mapping) and key not in node.items]
    key = next((key for key in missing if f"'{key}'" in error.message), missing[0])
    what = f"the {error.schema['title'].lower()}" if "title" in error.schema else name
    return f'{what} lacks the key "{key}"{_example(error.schema.get("properties", {}).get(key, {}), key)}'


def _not_a_word(error: Any, node: Node, name: str) -> str:
    known = [str(word) for word in error.validator_value]
    hint = did_you_mean(str(node.raw), known) if isinstance(node, Scalar) else ""
    return f"{name} is {_shown(node)}{hint or '; known: ' + ', '.join(known)}"


def _wrong_type(error: Any, node: Node, name: str) -> str:
    wanted = error.validator_value
    types = [wanted] if isinstance(wanted, str) else wanted
    if isinstance(node, Scalar) and isinstance(node.value, str) and {"number", "integer"} & set(types):
        return f"{name} is {_shown(node)}; {_number_hint(node.value, types)}"
    called = {
        "object": "a map of keys", "array": "a list", "string": "text", "number": "a number",
        "integer": "a whole number", "boolean": "true or false", "null": "nothing",
    }  # fmt: skip
    wants = " or ".join(called[kind] for kind in types)
    is_text = types == ["string"] and isinstance(node, Scalar) and "pattern" not in error.schema
    return f"{name} is {_shown(node)}; it must be {wants}{'; put it in quotes' if is_text else _example(error.schema)}"


def _number_hint(text: str, choices: list[str]) -> str:
    if re.fullmatch(r"\s*[-+]?[0-9]+,[0-9]+\s*", text):
        return f"a decimal comma is not read as a number: write {text.strip().replace(',', '.')}"
    if re.fullmatch(r"\s*[-+]?[0-9.,]+\s*%\s*", text):
        return f"write the number without %: {text.replace('%', '').strip().replace(',', '.')}"
    if "qs" in choices:
        return 'it must be a number such as 4.5, or "qs" where the rest is meant'
    return "it must be a number such as 4.5, without a unit"


def _wrong_pattern(error: Any, node: Node, name: str) -> str:
    what = error.schema.get("title", name).lower()
    return f"{name} is {_shown(node)}; it must be a {what}{_example(error.schema)}"


def _no_choice(error: Any, node: Node, name: str) -> str:
    if error.validator == "oneOf" and isinstance(node, Mapping):
        keys = [key for choice in error.validator_value for key in choice.get("required", [])]
        present = [key for key in keys if key in node.items]
        what = f"the {error.schema['title'].lower()}" if "title" in error.schema else name
        if len(present) > 1:
            return f"{what} holds {' and '.join(present)}; only one of them can be"
        return f"{what} needs one of: {', '.join(keys)}"
    if isinstance(node, Scalar) and isinstance(node.value, str):
        choices = [kind for choice in error.validator_value for kind in (*_types(choice), str(choice.get("const", "")))]
        if "number" in choices:
            return f"{name} is {_shown(node)}; {_number_hint(node.value, choices)}"
    return f"{name} is {_shown(node)}; see {error.schema.get('title', 'the schema')}{_example(error.schema)}"


def _types(choice: dict[str, Any]) -> list[str]:
    wanted = choice.get("type", [])
    return [wanted] if isinstance(wanted, str) else wanted


def _shown(node: Node) -> str:
    if isinstance(node, Scalar):
        if node.raw == "":
            return "empty"
        raw = node.raw if len(node.raw) <= 40 else node.raw[:37] + "..."
        return f'"{raw}"' if isinstance(node.value, str) else raw
    return "a map" if isinstance(node, Mapping) else "a list"


def _example(schema: dict[str, Any], key: str = "") -> str:
    reference = schema.get("$ref") or next((part["$ref"] for part in schema.get("allOf", ()) if "$ref" in part), None)
    if reference is not None:
        schema = _definitions().get(reference.rsplit("/", 1)[-1], {}) | schema
    examples = schema.get("examples")
    if not examples:
        return ""
    shown = json.dumps(examples[0], ensure_ascii=False) if not isinstance(examples[0], str) else examples[0]
    return f"; for example {key + ': ' if key else ''}{shown}"


@cache
def _definitions() -> dict[str, Any]:
    """Every shared shape of every schema, by its name."""
    found: dict[str, Any] = {}
    for name in names():
        found |= load(name)["$defs"]
    return found


def _without_echoes(found: list[Fault]) -> list[Fault]:
    """One fault a place: two validators' words about one value would only repeat each other."""
    kept: dict[tuple[Place, str], Fault] = {}
    for fault in found:
        same = (fault.place, fault.where if "lacks the key" not in fault.message else fault.message)
        kept.setdefault(same, fault)
    return list(kept.values())
