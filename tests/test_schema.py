import contextlib
import copy
import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeAlias

import jsonschema_rs
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from watchglass import schema
from watchglass.errors import Place
from watchglass.formula import Formula, check
from watchglass.intake import formula_of
from watchglass.schema import Fault, faults
from watchglass.sheet import plain, read

FORMULA = """\
formula: Low-tide body gel
code: BG-031
product: {use: leave-on, site: body, form: gel, audience: adults, applied_by: consumer}
markets: [eu, us]
phases:
  water:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Allantoin, percent: 0.3}
"""
REST = """\
batch: 500 g
balance: 0.1 g
density: 1.02
containers: [118 ml, 50 g]
target: {ph: {min: 3.8, max: 4.3}}
measured: {ph: 4.02, tolerance: 0.05, temperature: 22, by: meter, after_hours: 24}
ph_temperature: 25
materials:
  lactic-88: {name: Lactic acid 88 %, contains: {Lactic Acid: 88, Aqua: qs}, tolerance: {Lactic Acid: 1}}
  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}, declares: [fact], note: fresh}
shelf: shelf.yaml
label: {ingredients: [Aqua], statements: [sunburn-alert], claims: [smooths the look of skin]}
deviations: [{rule: practice-preserved, reason: single use, until: 2027-03-31, by: KM}]
on_market_since: 2023-05-02
tests: [{name: challenge, method: ISO 11930, date: 2026-03-01, result: criteria A}]
note: second trial
"""
VALID: dict[str, Any] = plain(read(FORMULA + REST))


def found_in(text: str) -> list[Fault]:
    return check(read(text))


def only_fault(text: str) -> Fault:
    found = found_in(text)
    assert len(found) == 1, found
    return found[0]


def changed(old: str, new: str, text: str = FORMULA) -> str:
    assert text.count(old) == 1, old
    return text.replace(old, new)


def place_of(word: str, text: str) -> Place:
    """Where a word that stands in the text once begins."""
    assert text.count(word) == 1, word
    before = text[: text.index(word)]
    return Place(before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1)


# -- the schemas themselves --------------------------------------------------------------------------------------


def resolved(part: Any, root: dict[str, Any]) -> dict[str, Any]:
    """A part of a schema with what its reference says; its own words win."""
    found: dict[str, Any] = dict(part)
    for base in found.pop("allOf", ()):
        found = resolved(base, root) | found
    while "$ref" in found:
        target = root
        for step in found.pop("$ref").removeprefix("#/").split("/"):
            target = target[step]
        found = target | found
    return found


def fields(part: Any, root: dict[str, Any], where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every key that an author can write, with its schema."""
    part = resolved(part, root)
    for key, value in part.get("properties", {}).items():
        path = f"{where}.{key}".removeprefix(".")
        yield path, resolved(value, root)
        yield from fields(value, root, path)
    for key, step in (("items", "[]"), ("additionalProperties", ".NAME")):
        if isinstance(part.get(key), dict):
            yield from fields(part[key], root, where + step)
    for choice in (*part.get("anyOf", ()), *part.get("oneOf", ())):
        yield from fields(choice, root, where)


def parts_with_examples(part: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(part, dict):
        if isinstance(part.get("examples"), list):
            yield where, part
        for key, value in part.items():
            if key not in ("examples", "enum", "const"):
                yield from parts_with_examples(value, f"{where}/{key}")
    elif isinstance(part, list):
        for number, value in enumerate(part):
            yield from parts_with_examples(value, f"{where}/{number}")


FIELDS = dict(fields(schema.load("formula"), schema.load("formula")))
EXAMPLES = [
    pytest.param(name, part, id=f"{name}{where}")
    for name in schema.names()
    for where, part in parts_with_examples(schema.load(name))
    if not (name != "formula" and "/$defs/" in where and where.split("/")[2] in schema.vocabulary())
]


def test_the_walk_reaches_the_deep_fields_of_a_formula() -> None:
    assert {
        "formula",
        "product.use",
        "target.ph.min",
        "measured.by",
        "phases.NAME.lines[].percent",
        "materials.NAME.contains",
        "materials.NAME.declares",
        "label.statements",
        "deviations[].until",
        "tests[].date",
    } <= FIELDS.keys()
    assert len(FIELDS) > 45


@pytest.mark.parametrize("word", ["title", "description", "examples"])
@pytest.mark.parametrize("where", FIELDS)
def test_every_field_of_a_formula_has_a_title_a_description_and_an_example(where: str, word: str) -> None:
    assert FIELDS[where].get(word), f"{where} has no {word}"


@pytest.mark.parametrize("name", schema.names())
def test_every_schema_is_valid_draft_2020_12_and_says_so(name: str) -> None:
    Draft202012Validator.check_schema(schema.load(name))

    assert jsonschema_rs.meta.is_valid(schema.load(name))
    assert schema.load(name)["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("name", schema.names())
def test_every_schema_stands_alone(name: str) -> None:
    root = schema.load(name)

    for reference in re.findall(r'"\$ref": "([^"]*)"', json.dumps(root)):
        assert reference.startswith("#/")
        assert resolved({"$ref": reference}, root)


@pytest.mark.parametrize(("name", "part"), EXAMPLES)
def test_the_examples_of_a_schema_fit_it(name: str, part: dict[str, Any]) -> None:
    validator = Draft202012Validator({"$defs": schema.load(name).get("$defs", {})} | part)

    assert part["examples"]
    for given_as_example in part["examples"]:
        validator.validate(given_as_example)


def test_the_valid_formula_of_these_tests_uses_every_top_level_key() -> None:
    assert VALID.keys() == schema.load("formula")["properties"].keys()
    assert found_in(FORMULA + REST) == []


def test_an_unknown_schema_is_no_file() -> None:
    with pytest.raises(FileNotFoundError):
        schema.load("perfume")


# -- one fault: place, words, one line ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        # an unknown key, with the nearest known one, else all of them
        ("formula: Low", "note: x\nformlua: y\nformula: Low", "formlua", ['"formlua"', 'mean "formula"']),
        ("audience: adults,", "audience: adults, audiance: adults,", "audiance", ['"audiance"', 'mean "audience"']),
        ("percent: 0.3", "percent: 0.3, funktion: x", "funktion", ['"funktion"', 'mean "function"']),
        ("percent: 0.3", "percent: 0.3, Percent: 1", "Percent", ['"Percent"', 'mean "percent"']),
        ("percent: 0.3", "percent: 0.3, zzz: x", "zzz", ['"zzz"', "known here", "material", "percent", "grams"]),
        # a missing key, with an example
        ("formula: Low-tide body gel\n", "", "code: BG", ['"formula"', "for example", "Low-tide body gel"]),
        ("use: leave-on, ", "", "{site", ["product", '"use"', "use: leave-on"]),
        ("material: Allantoin, ", "", "{percent: 0.3", ['"material"', "for example material: "]),
        ("markets: [eu, us]\n", "", "formula:", ['"markets"', 'markets: ["eu", "us"]']),
        # a word that is not in a closed list, with the nearest, else all of them
        ("leave-on", "leave on", "leave on", ['use is "leave on"', 'mean "leave-on"']),
        ("site: body", "site: elbow", "elbow", ['site is "elbow"', "face", "eye area", "intimate area"]),
        ("[eu, us]", "[eu, us-californa]", "us-californa", ['"us-californa"', 'mean "us-california"']),
        ("[eu, us]", "[eu, atlantis]", "atlantis", ['"atlantis"', "eu, uk, us", "asean"]),
        ("percent: 0.3", "percent: 0.3, function: preservativ", "preservativ", ["preservativ", 'mean "preservative"']),
        ("form: gel", "form: 5", "5,", ["form is 5", "gel", "cream"]),
        # a decimal comma, in quotes
        ("percent: 0.3", 'percent: "0,3"', '"0,3"', ['percent is "0,3"', "decimal comma", "0.3"]),
        ("percent: 0.3", "percent: '-12,50'", "'-12,50'", ['"-12,50"', "decimal comma", "-12.50"]),
        # a percent sign
        ("percent: 0.3", "percent: 1.1 %", "1.1 %", ['percent is "1.1 %"', "without %", "1.1"]),
        ("percent: 0.3", "percent: 5%", "5%", ['percent is "5%"', "without %: 5"]),
        ("percent: 0.3", 'percent: "1,1 %"', '"1,1 %"', ['"1,1 %"', "without %: 1.1"]),
        # text where a number belongs, a number where text belongs
        ("percent: 0.3", "percent: lots", "lots", ['percent is "lots"', "number", "qs"]),
        ("percent: 0.3", "percent: QS", "QS", ['percent is "QS"', "qs"]),
        ("percent: 0.3", "grams: two", "two", ['grams is "two"', "number"]),
        ("percent: 0.3", "percent: 1 g", "1 g", ['percent is "1 g"', "number"]),
        ("formula: Low-tide body gel", "formula: 5.50", "5.50", ["formula is 5.50", "text", "quotes"]),
        ("formula: Low-tide body gel", "formula: true", "true", ["formula is true", "text", "quotes"]),
        ("code: BG-031", "code: 0031", "0031", ["code is 0031", "text", "quotes"]),
        ("material: Allantoin", "material: 97", "97", ["material is 97", "text", "quotes"]),
        # emptiness
        ("[eu, us]", "[]", "[]", ["markets is empty", "for example", "eu"]),
        ("formula: Low-tide body gel", 'formula: ""', '""', ["formula is empty", "for example", "Low-tide"]),
        # limits
        ("percent: 0.3", "percent: -0.3", "-0.3", ["percent is -0.3", "at least 0"]),
        ("percent: 0.3", "percent: 1000.5", "1000.5", ["percent is 1000.5", "at most 1000"]),
        ("formula: Low-tide body gel", "formula: " + "x" * 201, "x" * 201, ["formula", "more than 200 characters"]),
        # the wrong kind of thing
        ("[eu, us]", "eu", "eu\n", ['markets is "eu"', "a list", "for example"]),
        ("[eu, us]", "{eu: 1}", "{eu: 1}", ["markets", "a map", "a list"]),
        ("{material: Allantoin, percent: 0.3}", "[Allantoin, 0.3]", "[Allantoin", ["a list"]),
    ],
)  # fmt: skip
def test_a_fault_is_one_line_at_its_place_in_the_authors_words(old: str, new: str, at: str, words: list[str]) -> None:
    text = changed(old, new)

    fault = only_fault(text)

    assert fault.place == place_of(at, text)
    assert "\n" not in fault.message
    for word in words:
        assert word in fault.message


def test_a_substance_called_like_a_date_key_is_no_date() -> None:
    text = FORMULA.rstrip() + "\nmaterials: {fruit: {contains: {date: 10, Aqua: qs}}}\n"
    assert isinstance(formula_of(text, Path()), Formula)


@pytest.mark.parametrize(
    ("old", "new"),
    [("percent: 0.3", "percnt: 0.3"), ("formula: Low-tide", "formulae: Low-tide"), ("markets: [eu", "market: [eu")],
)
def test_a_misspelt_key_is_one_fault_and_not_a_lacking_key_as_well(old: str, new: str) -> None:
    assert only_fault(changed(old, new)).message.endswith(f'did you mean "{old.split(":")[0]}"?')


def test_a_lacking_key_is_told_beside_an_unknown_key_that_does_not_resemble_it() -> None:
    text = changed("percent: 0.3", "colour: 0.3")
    assert len(schema.faults(read(text), "formula")) == 2


@pytest.mark.parametrize(
    ("added", "at", "words"),
    [
        ('batch: "500"', '"500"', ['batch is "500"', "for example 500 g"]),
        ("batch: 500", "500", ["batch is 500", "text"]),
        ("balance: 0,1 g", "0,1 g", ['"0,1 g"', "for example 0.1 g"]),
        ("batch: 500 ml", "500 ml", ['"500 ml"', "for example 500 g"]),
        ("batch: 0,5 kg", "0,5 kg", ['"0,5 kg"', "for example 500 g"]),
        ("on_market_since: 25.11.2026", "25.11.2026", ['"25.11.2026"', "date", "2026-11-25"]),
        ("on_market_since: 2026-1-5", "2026-1-5", ['"2026-1-5"', "date", "2026-11-25"]),
        ("on_market_since: 2026-13-05", "2026-13-05", ['"2026-13-05"', "date"]),
        ("on_market_since: 2026-02-30", "2026-02-30", ['"2026-02-30"', "calendar"]),
        ("on_market_since: 2025-02-29", "2025-02-29", ['"2025-02-29"', "calendar"]),
        ("on_market_since: 2026", "2026", ["on_market_since is 2026", "text"]),
        ('measured: {ph: "4,02"}', '"4,02"', ['ph is "4,02"', "decimal comma", "4.02"]),
        ("measured: {ph: 15.5}", "15.5", ["ph is 15.5", "at most 15"]),
        ("measured: {ph: 4, by: eye}", "eye", ['by is "eye"', "meter", "strip"]),
        ("measured: {by: meter}", "{by", ['"ph"', "for example ph: 4.02"]),
        ("target: {ph: {}}", "{}", ["ph is empty", "for example"]),
        ("materials: {x: {contains: {Urea: 88 %}}}", "88 %", ['Urea is "88 %"', "without %: 88"]),
        ('materials: {x: {contains: {Urea: "88,5"}}}', '"88,5"', ['Urea is "88,5"', "decimal comma", "88.5"]),
        ("materials: {x: {contains: {}}}", "{}", ["contains is empty"]),
        ('materials: {x: {contains: {Urea: 9}, tolerance: "1,5"}}', '"1,5"', ["tolerance", "decimal comma", "1.5"]),
        ("deviations: [{rule: x}]", "{rule", ['"reason"', "for example reason: "]),
        ("deviations: [{rule: x, reason: y, until: soon}]", "soon", ['until is "soon"', "date"]),
        ("tests: [{name: x, date: 2026-04-31, result: y}]", "2026-04-31", ['"2026-04-31"', "calendar"]),
        ("phases: {}", "{}", ["phases is empty", "for example"]),
        ("phases: {a: {lines: []}}", "[]", ["lines is empty", "for example"]),
        ("phases: {a: {note: x}}", "{note", ['"lines"', "for example lines: "]),
        ("shelf: ''", "''", ["shelf is empty", "shelf.yaml"]),
        ("shelf:", "\n", ["shelf is empty"]),
    ],
)
def test_a_fault_in_an_optional_part_is_one_line_at_its_place(added: str, at: str, words: list[str]) -> None:
    head = FORMULA[: FORMULA.index("phases:")] if added.startswith("phases") else FORMULA
    text = f"{head}{added}\n"
    offset = place_of(at, added + "\n")

    fault = only_fault(text)

    assert fault.place == Place(head.count("\n") + offset.line, offset.column)
    assert "\n" not in fault.message
    for word in words:
        assert word in fault.message


# the documented way to write a line is a flow map, in which YAML takes the comma for the end of the entry
@pytest.mark.parametrize("written", ["0,3", "12,50", "0,3 "])
def test_a_decimal_comma_in_a_line_is_named_and_placed(written: str) -> None:
    text = changed("percent: 0.3", f"percent: {written}")
    value = place_of(written, text)

    with_comma = _read_and_check(text)

    assert any("decimal comma" in fault.message for fault in with_comma)
    assert {fault.place.line for fault in with_comma} == {value.line}
    assert all(value.column <= fault.place.column <= value.column + len(written) for fault in with_comma)


def _read_and_check(text: str) -> list[Fault]:
    found = formula_of(text, Path())
    assert isinstance(found, list), "a decimal comma made a formula"
    return found


def test_a_decimal_comma_in_a_block_line_is_named_and_placed() -> None:
    fault = only_fault(FORMULA + "      - material: Urea\n        percent: 0,5\n")

    assert fault.place == Place(11, 18)
    assert 'percent is "0,5"' in fault.message
    assert "decimal comma" in fault.message


def test_a_line_with_percent_and_grams_is_told_to_keep_one() -> None:
    text = changed("percent: 0.3", "percent: 0.3, grams: 2")

    fault = only_fault(text)

    assert fault.place == place_of("{material: Allantoin", text)
    assert "percent and grams" in fault.message
    assert "only one" in fault.message


def test_a_line_with_neither_percent_nor_grams_is_told_both() -> None:
    text = changed(", percent: 0.3", "")

    fault = only_fault(text)

    assert fault.place == place_of("{material: Allantoin", text)
    assert "percent" in fault.message
    assert "grams" in fault.message


def test_a_material_that_is_neither_bought_nor_made_is_told_both() -> None:
    fault = only_fault(FORMULA + "materials: {x: {name: y}}\n")

    assert fault.place == Place(10, 16)
    assert "contains" in fault.message
    assert "premix" in fault.message


def test_a_material_that_is_bought_and_made_is_told_to_keep_one() -> None:
    fault = only_fault(FORMULA + "materials: {x: {contains: {Aqua: 100}, premix: {Aqua: 100}}}\n")

    assert fault.place == Place(10, 16)
    assert "contains and premix" in fault.message


def test_a_market_named_twice_is_told_by_its_name() -> None:
    text = changed("[eu, us]", "[us, eu, us]")

    fault = only_fault(text)

    assert fault.place.line == 4
    assert "us" in re.findall(r"[a-z]+", fault.message)


def test_a_misspelt_needed_key_is_told_at_the_key() -> None:
    text = changed("percent: 0.3", "perecnt: 0.3")

    found = found_in(text)

    assert (
        Fault(
            place_of("perecnt", text), "phases.water.lines[1].perecnt", 'unknown key "perecnt"; did you mean "percent"?'
        )
        in found
    )
    assert all(fault.place.line == 9 for fault in found)


def test_all_faults_are_told_in_the_order_of_the_text() -> None:
    text = changed(
        "percent: 0.3", "percent: lots, colour: red", changed("leave-on", "leave on", changed("[eu, us]", "[mars]"))
    )

    found = found_in(text + "batch: 5\n")

    assert [fault.place for fault in found] == sorted(fault.place for fault in found)
    assert [fault.where for fault in found] == [
        "product.use",
        "markets[0]",
        "phases.water.lines[1].percent",
        "phases.water.lines[1].colour",
        "batch",
    ]


@pytest.mark.parametrize("text", ["[]", "hello", "5", "---\n", "- formula: x\n", "true"])
def test_what_is_no_map_is_told_how_a_formula_begins(text: str) -> None:
    assert "formula" in only_fault(text).message


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("percent: 0.3", 'percent: "a\\nb"'),
        ("percent: 0.3", 'percent: 0.3, "a\\nb": 1'),
        ("leave-on", '"leave\\non"'),
        ("[eu, us]", '["e\\nu"]'),
        ("code: BG-031", 'batch: "5\\n00 g"'),
        ("water:", '"wa\\nter": {note: 5}\n  water:'),
    ],
)
def test_a_line_end_in_the_authors_text_does_not_break_the_line_of_the_fault(old: str, new: str) -> None:
    found = found_in(changed(old, new))

    assert found
    for fault in found:
        assert len(fault.message.splitlines()) == 1


def test_a_long_word_is_shown_short() -> None:
    assert len(only_fault(changed("percent: 0.3", f"percent: {'x' * 5_000}")).message) < 200


# -- two validators ----------------------------------------------------------------------------------------------

REFERENCE = Draft202012Validator(schema.load("formula"))
FAST = jsonschema_rs.Draft202012Validator(schema.load("formula"))
STRANGERS: list[Any] = [
    *(None, True, False, 0, 1, -1, 0.5, 5.0, 14, 14.01, 1000, 1000.5, 1e6, 1e-12),
    *("", "x", "qs", "eu", "QS", "0,5", "1.1 %", "500", "500 g", "500 g\n", "1.5kg", "500  g", "٥ g"),
    *("2026-11-25", "2026-11-25\n", "2026-02-30", "2026-13-01", "x" * 200, "x" * 201, "😀" * 200, "😀" * 201),
    *([], ["x"], ["eu"], ["eu", "eu"], [1], {}, {"x": 1}, {"min": 1}, {"Aqua": "qs"}, {"lines": []}),
]
Steps: TypeAlias = tuple[str | int, ...]


def paths(document: Any, path: Steps = ()) -> Iterator[Steps]:
    """The path of every value below the root."""
    if path:
        yield path
    if isinstance(document, dict):
        for key, value in document.items():
            yield from paths(value, (*path, key))
    elif isinstance(document, list):
        for number, value in enumerate(document):
            yield from paths(value, (*path, number))


def mutant(path: Steps, change: Callable[[Any, str | int], None]) -> Any:
    """The valid formula with one change at a path."""
    document = copy.deepcopy(VALID)
    place: Any = document
    for step in path[:-1]:
        place = place[step]
    change(place, path[-1])
    return document


def put(value: Any) -> Callable[[Any, str | int], None]:
    return lambda place, step: place.__setitem__(step, copy.deepcopy(value))


def take_away(place: Any, step: str | int) -> None:
    del place[step]


def add_a_stranger(place: Any, step: str | int) -> None:
    if isinstance(place[step], dict):
        place[step]["stranger"] = 1
    elif isinstance(place[step], list):
        place[step].append("stranger")
    else:
        place[step] = {"stranger": place[step]}


PATHS = list(paths(VALID))


def test_both_validators_pass_the_valid_formula() -> None:
    assert REFERENCE.is_valid(VALID)
    assert FAST.is_valid(VALID)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: ".".join(map(str, path)))
def test_both_validators_agree_on_every_change_at_a_place(path: Steps) -> None:
    mutants = [mutant(path, put(stranger)) for stranger in STRANGERS]
    mutants += [mutant(path, take_away), mutant(path, add_a_stranger)]

    said = [REFERENCE.is_valid(document) for document in mutants]

    assert [FAST.is_valid(document) for document in mutants] == said
    assert False in said


def test_there_are_enough_changes() -> None:
    assert len(PATHS) * (len(STRANGERS) + 2) > 1_000


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.lists(st.tuples(st.sampled_from(PATHS), st.sampled_from(STRANGERS)), min_size=2, max_size=4))
def test_both_validators_agree_on_several_changes_together(changes: list[tuple[Steps, Any]]) -> None:
    document = copy.deepcopy(VALID)
    for path, stranger in changes:
        place: Any = document
        with contextlib.suppress(KeyError, IndexError, TypeError):
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = copy.deepcopy(stranger)

    assert FAST.is_valid(document) == REFERENCE.is_valid(document)


@settings(deadline=None, max_examples=200, derandomize=True)
@given(st.lists(st.tuples(st.sampled_from(PATHS), st.sampled_from(STRANGERS)), min_size=1, max_size=3))
def test_whatever_does_not_fit_is_told_at_places_inside_the_text_in_short_lines(
    changes: list[tuple[Steps, Any]],
) -> None:
    document = copy.deepcopy(VALID)
    for path, stranger in changes:
        place: Any = document
        with contextlib.suppress(KeyError, IndexError, TypeError):
            for step in path[:-1]:
                place = place[step]
            place[path[-1]] = copy.deepcopy(stranger)
    text = json.dumps(document, ensure_ascii=False, indent=1)
    lines = text.split("\n")

    found = faults(read(text), "formula")

    assert (found == []) == REFERENCE.is_valid(document)
    for fault in found:
        assert fault.place.column <= len(lines[fault.place.line - 1])
        assert len(fault.message) < 600


def test_of_very_many_strange_keys_only_those_that_are_told_are_compared(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def nothing_near(word: str, *_: object) -> list[str]:
        asked.append(word)
        return []

    monkeypatch.setattr(schema, "nearest", nothing_near)
    text = "{" + ", ".join(f"k{number}: 1" for number in range(1_000)) + "}"

    found = schema.faults(read(text), "formula")

    assert len(found) <= schema.MOST_FAULTS + 1
    assert len(set(asked)) <= schema.MOST_FAULTS
