import json
import re
import time
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from watchglass.errors import Place, Unreadable
from watchglass.sheet import Mapping, Node, Scalar, Sequence, at, dotted, plain, read

TABLE = (Path(__file__).parent / "data" / "yaml-core-schema.yaml").read_text("utf-8")
CORE: dict[str, Any] = yaml.load(TABLE, Loader=yaml.BaseLoader)
CORE_MEANS: dict[str, Any] = yaml.safe_load(TABLE)["means"]
BOM = b"\xef\xbb\xbf"
BREAK = re.compile("\r\n|\r|\n")  # YAML 1.2.2, chapter 5.4: the line breaks


def value_of(written: str) -> Any:
    scalar = at(read(f"key: {written}\n"), ["key"])
    assert isinstance(scalar, Scalar)
    return scalar.value


def read_or_refusal(text: str | bytes) -> Node | Unreadable:
    try:
        return read(text)
    except Unreadable as stopped:
        return stopped


def refused(text: str | bytes) -> Unreadable:
    with pytest.raises(Unreadable) as caught:
        read(text)
    return caught.value


def mapping(text: str | bytes) -> Mapping:
    node = read(text)
    assert isinstance(node, Mapping)
    return node


# -- positions ---------------------------------------------------------------------------------------------------


def test_keys_and_values_of_a_block_know_their_places() -> None:
    root = mapping("formula: Gel\nphases:\n  water:\n    lines:\n      - material: Aqua\n        percent: 5.50\n")

    assert root.place == Place(1, 1)
    assert root.keys == {"formula": Place(1, 1), "phases": Place(2, 1)}
    assert at(root, ["formula"]).place == Place(1, 10)
    assert at(root, ["phases"]).place == Place(3, 3)
    assert at(root, ["phases", "water", "lines"]).place == Place(5, 7)
    line = at(root, ["phases", "water", "lines", 0])
    assert isinstance(line, Mapping)
    assert line.place == Place(5, 9)
    assert line.keys == {"material": Place(5, 9), "percent": Place(6, 9)}
    assert at(line, ["percent"]).place == Place(6, 18)


def test_keys_and_values_of_a_flow_map_know_their_places() -> None:
    root = mapping("lines:\n  - {material: Aqua, percent: qs}\n  - [1, 2]\n")

    line = at(root, ["lines", 0])
    assert isinstance(line, Mapping)
    assert line.place == Place(2, 5)
    assert line.keys == {"material": Place(2, 6), "percent": Place(2, 22)}
    assert at(line, ["percent"]).place == Place(2, 31)
    assert at(root, ["lines", 1, 1]).place == Place(3, 9)


@pytest.mark.parametrize("before", ["Crème brûlée", "😀😀", "日本語", "e\u0301", "👩\u200d🔬"])
def test_columns_count_code_points_before_a_value(before: str) -> None:
    root = mapping(f'{{"{before}": 1, b: 2}}')

    assert root.keys["b"] == Place(1, 2 + len(before) + 2 + len(": 1, "))
    assert at(root, ["b"]).place == Place(1, root.keys["b"].column + 3)


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_each_line_end_of_yaml_counts_as_one_line(line_end: str) -> None:
    root = mapping(line_end.join(["a: 1", "", "b: 2", "# remark", "c:", "  d: 3"]))

    assert root.keys == {"a": Place(1, 1), "b": Place(3, 1), "c": Place(5, 1)}
    assert at(root, ["c", "d"]).place == Place(6, 6)


# YAML 1.2.2, chapter 5.4: these three stopped being line breaks after YAML 1.1; editors do not count them either, so
# that text behind one in a comment would be read and not be seen
@pytest.mark.parametrize("separator", ["\u0085", "\u2028", "\u2029"])
@pytest.mark.parametrize(
    ("before", "place"), [('a: 1\nb: "x', Place(2, 6)), ("# remark", Place(1, 9)), ("é: 1\n# ü", Place(2, 4))]
)
def test_a_unicode_line_separator_is_refused_at_its_place(before: str, place: Place, separator: str) -> None:
    with pytest.raises(Unreadable, match="line separator") as refused:
        read(f'{before}{separator}b: 2"\n')

    assert refused.value.place == place


def test_a_byte_order_mark_takes_no_column() -> None:
    assert mapping(BOM + b"a: 1").keys == {"a": Place(1, 1)}
    assert mapping("\ufeffa: 1").keys == {"a": Place(1, 1)}
    assert mapping(BOM + b"{b: 1, c: 2}").keys == {"b": Place(1, 2), "c": Place(1, 8)}


def test_a_document_marker_does_not_shift_places() -> None:
    assert mapping("# remark\n---\na: 1\n...\n").keys == {"a": Place(3, 1)}


def test_a_value_on_the_next_line_has_its_own_place() -> None:
    root = mapping('a:\n    "x y"\nb: |\n  text\nc: >-\n  folded\n')

    assert at(root, ["a"]).place == Place(2, 5)
    assert at(root, ["b"]).place == Place(3, 4)
    assert at(root, ["c"]).place == Place(5, 4)


def test_keys_stand_in_the_order_written() -> None:
    assert list(mapping("z: 1\na: 2\nm: 3").items) == ["z", "a", "m"]


def test_a_path_is_followed_as_far_as_it_goes() -> None:
    root = mapping("a: [{b: 1}]\n")

    assert at(root, []) is root
    assert at(root, ["a", 0, "b"]).place == Place(1, 9)
    assert at(root, ["a", 1]) is root.items["a"]
    assert at(root, ["missing", 0]) is root
    assert at(root, ["a", "b"]) is root.items["a"]


def test_a_path_in_words_has_dots_and_indexes() -> None:
    assert dotted([]) == ""
    assert dotted(["a"]) == "a"
    assert dotted(["a", 0, "b", 12]) == "a[0].b[12]"


NAMES = st.text(st.characters(categories=["L"]) | st.sampled_from("😀é\U00010348"), min_size=1, max_size=8)
TREES = st.recursive(
    st.integers(0, 99) | NAMES.map(lambda name: "t" + name),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES.map(lambda name: "k" + name), inner, max_size=3),
    max_leaves=12,
)


def places(node: Node) -> Iterator[tuple[str, Place]]:
    if isinstance(node, Mapping):
        for key, item in node.items.items():
            yield key, node.keys[key]
            yield from places(item)
    elif isinstance(node, Sequence):
        for item in node.items:
            yield from places(item)
    else:
        yield node.raw, node.place


@settings(deadline=None, max_examples=150, derandomize=True)
@given(TREES, st.booleans(), st.sampled_from(["\n", "\r\n"]))
def test_what_is_written_stands_at_its_place(tree: Any, flow: bool, line_end: str) -> None:
    if flow:
        text = json.dumps(tree, ensure_ascii=False, indent=1)
    else:
        text = yaml.safe_dump(tree, allow_unicode=True, sort_keys=False)
    lines = text.split("\n")

    for raw, place in places(read(text.replace("\n", line_end))):
        assert lines[place.line - 1][place.column - 1 :].lstrip("\"'").startswith(raw)


# -- scalars of YAML 1.2 -----------------------------------------------------------------------------------------


def test_the_specifications_own_example_of_the_core_schema_comes_out_as_it_says() -> None:
    assert plain(read(CORE["example_10_9"])) == CORE_MEANS


@pytest.mark.parametrize("written", CORE["null"])
def test_every_form_of_nothing_is_none(written: str) -> None:
    assert value_of(written) is None


@pytest.mark.parametrize("written", CORE["true"])
def test_every_form_of_true_is_true(written: str) -> None:
    assert value_of(written) is True


@pytest.mark.parametrize("written", CORE["false"])
def test_every_form_of_false_is_false(written: str) -> None:
    assert value_of(written) is False


@pytest.mark.parametrize(
    "written",
    [
        *("no", "No", "NO", "yes", "Yes", "on", "On", "off", "y", "n"),  # booleans of YAML 1.1
        *("tRUE", "nULL", "NuLL", "none", "None", "nil", "-a"),
        *("2026-11-25", "2026-11-25T10:00:00Z", "12:30:45", "190:20:30"),  # dates and base 60 of YAML 1.1
        *("1_000", "0b101", "0o8", "0xG", "0X1F", "0O17", "-0x1F", "+0o7"),  # integers of YAML 1.1, near misses
        *("1,5", "1.1 %", "5%", "1e", "e3", "1e3.5", "1.2.3", "--1", "+-1", "1 000", ".", "+", "1.5 g", "qs"),
        *("nan", "NaN", "inf", "Infinity", "-inf", ".NAn", "+.nan", ".infinity"),
        *("٣", "１", "½", "1\u00a0", "−1"),  # digits and a minus of other scripts: the table means ASCII
    ],
)
def test_what_the_table_does_not_name_stays_text(written: str) -> None:
    assert value_of(written) == written


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("0123", "123"),
        ("1e3", "1000"),
        ("1E+3", "1000"),
        ("1.5e-3", "0.0015"),
        ("0o17", "15"),
        ("0x1F", "31"),
        ("0x1f", "31"),
        ("0x00000000010", "16"),
        ("0x000000001e1", "481"),
        ("+5", "5"),
        ("-5", "-5"),
        (".5", "0.5"),
        ("-.5", "-0.5"),
        ("5.", "5"),
        ("0", "0"),
        ("-0", "0"),
        ("0.1", "0.1"),
        ("00.10", "0.1"),
    ],
)
def test_a_number_is_read_exactly(written: str, number: str) -> None:
    value = value_of(written)

    assert isinstance(value, Decimal)
    assert value == Decimal(number)


@pytest.mark.parametrize("written", ["5.50", "0123", "1e3", "0x1F", "~", "True", "+.5", "no"])
def test_the_raw_text_is_kept_as_written(written: str) -> None:
    scalar = at(read(f"a: {written}"), ["a"])

    assert isinstance(scalar, Scalar)
    assert scalar.raw == written


def test_zeros_at_the_end_stay_in_the_exact_number() -> None:
    assert str(value_of("5.50")) == "5.50"


@pytest.mark.parametrize("written", ["1", "1.5", "true", "null", "~", ".nan", "", "0x1F", "<<", "1234567890123"])
@pytest.mark.parametrize("quote", ['"', "'"])
def test_whatever_is_quoted_is_text(quote: str, written: str) -> None:
    assert value_of(f"{quote}{written}{quote}") == written


@pytest.mark.parametrize("style", ["|-", ">-"])
def test_a_block_of_text_is_text_also_when_it_looks_like_a_number(style: str) -> None:
    assert value_of(f"{style}\n  12\n") == "12"


def test_plain_data_has_whole_numbers_and_floats() -> None:
    document = plain(read("{a: 5.0, b: 5.5, c: [true, ~, x], d: {e: 1e3}}"))

    assert document == {"a": 5, "b": 5.5, "c": [True, None, "x"], "d": {"e": 1000}}
    assert [type(document[key]) for key in ("a", "b")] == [int, float]
    assert type(document["d"]["e"]) is int


# -- refusals, each at its place ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("a: 1\nb: 2\n  \na: 3", (4, 1), ["'a'", "twice", "line 1, column 1"]),
        ('a: 1\n"a": 2', (2, 1), ["'a'", "twice"]),
        ("x: {a: 1, b: 2, a: 3}", (1, 17), ["'a'", "twice", "line 1, column 5"]),
        ("é: [{ü: 1,\n  ü: 2}]", (2, 3), ["'ü'", "line 1, column 6"]),
        ("a: *x", (1, 4), ["alias", "*x"]),
        ("a: [1, *x]", (1, 8), ["alias", "*x"]),
        ("a: &x 1\nb: *x", (1, 4), ["anchor", "&x"]),
        ("a: &x {b: 1}", (1, 4), ["anchor", "&x"]),
        ("a:\n  - &x [b]", (2, 5), ["anchor", "&x"]),
        ("a: !!str 5", (1, 4), ["tag", "str"]),
        ("a: !local 5", (1, 4), ["tag", "!local"]),
        ("a: ! 5", (1, 4), ["tag"]),
        ("a: !!python/object/apply:os.system [ls]", (1, 4), ["tag", "python"]),
        ("!!map {a: 1}", (1, 1), ["tag"]),
        ("a: 1\n<<: {b: 2}", (2, 1), ["merge key", "<<"]),
        ("a: {<<: {b: 2}}", (1, 5), ["merge key", "<<"]),
        ("a: 1\n---\nb: 2", (2, 1), ["second document"]),
        ("a: 1\n---\n", (2, 1), ["second document"]),
        ("1: x", (1, 1), ["'1'", "quotes"]),
        ("a:\n  true: x", (2, 3), ["'true'", "quotes"]),
        ("{a: 1, ~: x}", (1, 8), ["'~'", "quotes"]),
        ("1.5: x", (1, 1), ["'1.5'", "quotes"]),
        ("? [a]\n: x", (1, 3), ["key", "text"]),
        ("? {a: 1}\n: x", (1, 3), ["key", "text"]),
        ("a: 1\n*x : 2", (2, 1), ["key"]),
        ("&x a: 1", (1, 1), ["key", "anchor"]),
        ("!!str a: 1", (1, 1), ["key", "tag"]),
    ],
)
def test_what_a_formula_never_needs_is_refused_at_its_place(
    text: str, place: tuple[int, int], words: list[str]
) -> None:
    stopped = refused(text)

    assert stopped.place == place
    for word in words:
        assert word in stopped.message


@pytest.mark.parametrize("written", CORE["infinite_or_not_a_number"])
def test_infinite_and_not_a_number_are_refused_at_their_place(written: str) -> None:
    stopped = refused(f"a: 1\nb: {written}\n")

    assert stopped.place == (2, 4)
    assert written in stopped.message


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("a: [1, 2", (2, 1)),
        ("a: 1\n b: 2", (2, 3)),
        ("a: b: c", (1, 5)),
        ("a:\n\tb: 1", (2, 1)),
        ("a: @x", (1, 4)),
        ("a: `x", (1, 4)),
        ("a: %x", (1, 4)),
        ("a: }", (1, 4)),
        ("%YAML 2.0\n---\na: 1", (1, 1)),
        ("a: 1\n...\nb: 2", (3, 1)),
    ],
)
def test_what_is_not_yaml_is_refused_where_it_stops_being_it(text: str, place: tuple[int, int]) -> None:
    # an unclosed bracket is told at the end or at the last mark before it, by the parser that is installed
    expected = {place, (1, 9)} if text.startswith("a: [1, 2") else {place}

    assert tuple(refused(text).place) in expected


def test_a_quote_that_is_never_closed_is_refused_inside_the_text() -> None:
    stopped = refused('a: "never closed\nb: 1\n')

    assert stopped.message.startswith("not YAML: ")
    assert 1 <= stopped.place.line <= 3


def test_an_alias_bomb_is_refused_at_its_first_anchor_and_at_once() -> None:
    bomb = "a0: &a0 [x, x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 60))
    start = time.perf_counter()

    stopped = refused(bomb)

    assert stopped.place == (1, 5)
    assert time.perf_counter() - start < 1


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark\n", "  # a\n\n# b", "\ufeff", "\ufeff# a", " \n "])
def test_an_empty_file_is_refused_at_its_start(text: str) -> None:
    stopped = refused(text)

    assert stopped.place == (1, 1)
    assert "empty" in stopped.message


def test_empty_bytes_are_refused_as_empty_text_is() -> None:
    assert refused(b"").message == refused("").message
    assert refused(BOM).message == refused("").message


# -- limits, on both sides ---------------------------------------------------------------------------------------


def nested(depth: int, flow: bool) -> str:
    return "[" * depth + "]" * depth if flow else "\n".join(" " * level + "a:" for level in range(depth))


@pytest.mark.parametrize("flow", [True, False])
def test_64_levels_are_read_and_the_65th_is_refused_at_its_place(flow: bool) -> None:
    read(nested(64, flow))

    stopped = refused(nested(65, flow))

    assert stopped.place == ((1, 65) if flow else (65, 65))
    assert "64" in stopped.message


@pytest.mark.parametrize("opening", ["[", "{", "{a: ", "- ", "? "])
def test_depth_without_end_is_refused_at_once(opening: str) -> None:
    start = time.perf_counter()

    refused(opening * (1_900_000 // len(opening)))

    assert time.perf_counter() - start < 5


@pytest.mark.parametrize(
    "written",
    ["123456.789012", "1.23456789012", "-0.123456789012", "000123456.789012000", "1.00000000000000", "123456789012e-9"],
)
def test_12_digits_are_read(written: str) -> None:
    assert value_of(written) == Decimal(written)


@pytest.mark.parametrize("written", ["123456.7890123", "1.234567890123", "-0.1234567890123", "1234567890123e-9"])
def test_13_digits_are_refused_at_their_place(written: str) -> None:
    stopped = refused(f"a: {{b: {written}}}")

    assert stopped.place == (1, 8)
    assert "13 digits" in stopped.message


@pytest.mark.parametrize(
    "written", ["1e-12", "-1e-12", "0.000000000001", "1e6", "-1e6", "1000000", "1000000.0", "0xF4240"]
)
def test_numbers_at_the_ends_of_the_range_are_read(written: str) -> None:
    number = value_of(written)

    assert isinstance(number, Decimal)
    assert abs(number) in (Decimal("1e-12"), Decimal("1e6"))


@pytest.mark.parametrize(
    "written",
    [
        *(
            "1e-13",
            "-1e-13",
            "9.99e-13",
            "0.0000000000001",
            "1000000.01",
            "-1000000.01",
            "1000001",
            "1e7",
            "0xF4241",
            "0xFFFFFFFFF",
        ),
        *("0xFFFFFFFFF", "1e9999", "1e-9999", "1e99999999999999999999", "-1e-99999999999999999999"),
    ],
)
def test_numbers_past_the_ends_of_the_range_are_refused_at_their_place(written: str) -> None:
    stopped = refused(f"a:\n  b: {written}")

    assert stopped.place == (2, 6)
    assert "range" in stopped.message


@pytest.mark.parametrize("written", ["0", "0.0", "-0.000", "0e5", "0e-5", "0" * 9_000, "0x" + "0" * 9_000])
def test_nought_is_in_the_range_however_it_is_written(written: str) -> None:
    assert value_of(written) == 0


@pytest.mark.parametrize("written", ["9" * 5_000, "1." + "1" * 5_000, "0x" + "f" * 5_000, "0o" + "7" * 9_000])
def test_a_number_of_thousands_of_digits_is_refused_in_a_short_line(written: str) -> None:
    stopped = refused(f"a: {written}")

    assert stopped.place == (1, 4)
    assert len(stopped.message) < 120


def test_2_000_000_bytes_are_read_and_one_more_is_refused() -> None:
    text = "a: 1\n#"
    full = text + "x" * (2_000_000 - len(text))

    assert plain(read(full)) == {"a": 1}
    assert plain(read(full.encode())) == {"a": 1}
    for too_much in (full + "x", (full + "x").encode()):
        stopped = refused(too_much)
        assert stopped.place == (1, 1)
        assert "2,000,001 bytes" in stopped.message


def test_bytes_are_counted_not_characters() -> None:
    accents = "é" * 999_995

    assert len(f"a: 1\n#{accents}".encode()) == 1_999_996
    assert plain(read(f"a: 1\n#{accents}".encode())) == {"a": 1}
    assert "bytes" in refused(f"a: 1\n#{accents}ééé".encode()).message


@pytest.mark.parametrize("ending", ["", "\n"])
def test_5_000_lines_are_read_with_and_without_a_line_end_after_the_last(ending: str) -> None:
    assert plain(read("#\n" * 4_999 + "a: 1" + ending)) == {"a": 1}


@pytest.mark.parametrize("ending", ["", "\n"])
def test_line_5_001_is_refused_at_its_place(ending: str) -> None:
    stopped = refused("#\n" * 5_000 + "a: 1" + ending)

    assert stopped.place == (5_001, 1)
    assert "5,001 lines" in stopped.message


def test_200_000_values_are_read_and_the_next_is_refused_at_its_place() -> None:
    full = "[" + "1," * 199_999 + "]"

    assert len(read(full).items) == 199_999  # type: ignore[union-attr]  # the text is a list
    stopped = refused(full.replace("]", "1]"))

    assert stopped.place == (1, 2 + 2 * 199_999)
    assert "200,000 values" in stopped.message


# -- what is not text --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("data", "place", "byte"),
    [
        (b"a: \xff", (1, 4), "0xff"),
        (b"\xff", (1, 1), "0xff"),
        ("é: 1\nü: ".encode() + b"\xc3(", (2, 4), "0xc3"),
        ("a: 😀".encode() + b"\x80", (1, 5), "0x80"),
        (b"a: 1\r\nb: \xe9t\xe9", (2, 4), "0xe9"),  # Latin-1
        (b"a: \xed\xa0\x80", (1, 4), "0xed"),  # half a surrogate pair, written out
        (b"a: \xc0\xaf", (1, 4), "0xc0"),  # overlong
        (b"a: 1\nb: \xe2\x82", (2, 4), "0xe2"),  # cut off
        ("a: 1".encode("utf-16"), (1, 1), "0xff"),
        (BOM + b"a: \xff", (1, 4), "0xff"),
    ],
)
def test_bytes_that_are_not_utf8_are_refused_at_their_place(data: bytes, place: tuple[int, int], byte: str) -> None:
    stopped = refused(data)

    assert stopped.place == place
    assert byte in stopped.message
    assert "UTF-8" in stopped.message


@pytest.mark.parametrize(
    "character", ["\x00", "\x01", "\x07", "\x08", "\x0b", "\x0c", "\x1b", "\x7f", "\x80", "\x9b", "\ufffe"]
)
@pytest.mark.parametrize(
    ("before", "place"),
    [("a: ", (1, 4)), ("a: 1\nb: 2\nc: x", (3, 5)), ("é: 1\n# 😀\nü: ", (3, 4)), ("日本: ", (1, 5))],
)
def test_a_control_character_is_refused_at_its_place(before: str, place: tuple[int, int], character: str) -> None:
    stopped = refused(f"{before}{character}x\n")

    assert stopped.place == place
    assert character not in stopped.message
    assert f"{ord(character):02x}" in stopped.message


def test_a_control_character_may_be_written_as_an_escape() -> None:
    assert value_of('"a\\e[31m\\0b"') == "a\x1b[31m\x00b"


@pytest.mark.parametrize("half", [0xD800, 0xDBFF, 0xDC00, 0xDFFF], ids=hex)
def test_half_a_surrogate_pair_is_refused_at_its_place(half: int) -> None:
    stopped = refused(f"a: 1\né: {chr(half)}")

    assert stopped.place == (2, 4)
    assert "surrogate" in stopped.message


@pytest.mark.parametrize("escape", ["\\ud800", "\\udfff", "\\U00110000"])
def test_half_a_surrogate_pair_as_an_escape_is_refused(escape: str) -> None:
    assert refused(f'a: "{escape}"').place.line == 1


# -- whatever comes ----------------------------------------------------------------------------------------------


def check_tree_or_place(data: str | bytes) -> None:
    text = data.decode("utf-8", "replace") if isinstance(data, bytes) else data
    lines = BREAK.split(text.removeprefix("\ufeff"))
    found = read_or_refusal(data)
    if isinstance(found, Unreadable):
        line, column = found.place
        assert 1 <= line <= len(lines) + 1
        assert 1 <= column <= (len(lines[line - 1]) + 1 if line <= len(lines) else 1)
        assert found.message
        assert "\n" not in found.message
    else:
        json.dumps(plain(found), allow_nan=False)


YAMLISH = st.text(
    st.sampled_from(
        [*"ab01:-?,[]{}#&*!|>'\"%@`~<. \n\t\r\\", "é", "😀", "\x85", "\u2028", "\ufeff", "\x01", "e", "x", "o"]
    ),
    max_size=40,
)


@settings(deadline=None, max_examples=400, derandomize=True)
@given(st.text(max_size=60) | YAMLISH)
@example("\x85\x85\x85[")
@example("é: ééé\x01")
@example("a: 0x" + "f" * 5_000)
@example("<<: *a")
@example("\ufeff\ufeff\x01")
def test_any_text_gives_a_tree_or_a_place_inside_it(text: str) -> None:
    check_tree_or_place(text)


@settings(deadline=None, max_examples=400, derandomize=True)
@given(st.binary(max_size=60) | YAMLISH.map(str.encode))
@example(BOM + b"\xff")
@example("é: \x01".encode())
@example(b"\xff\xfe[\x00")
@example(b"a: \xf0\x9f\x98")
def test_any_bytes_give_a_tree_or_a_place_inside_them(data: bytes) -> None:
    check_tree_or_place(data)


PRINTABLE = st.characters(
    blacklist_categories=["Cc", "Cs", "Cn", "Co"], blacklist_characters="\u2028\u2029\ufeff\u0085\ufffe\uffff"
)
JSON_VALUES = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-1_000_000, 1_000_000)
    | st.decimals(-999, 999, places=6).map(float)
    | st.text(PRINTABLE, max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(PRINTABLE, max_size=8), inner, max_size=4),
    max_leaves=15,
)


# YAML 1.2.2, chapter 1: JSON is a subset, so that a JSON writer is an independent witness
@settings(deadline=None, max_examples=200, derandomize=True)
@given(JSON_VALUES)
def test_a_json_document_is_read_as_json_reads_it(value: Any) -> None:
    assert plain(read(json.dumps(value, ensure_ascii=False))) == value


SCALARS = st.one_of(
    st.from_regex(r"[-+]?[0-9]{1,5}(\.[0-9]{0,4})?([eE][-+]?[0-2])?", fullmatch=True),
    st.from_regex(r"[-+]?\.[0-9]{1,4}", fullmatch=True),
    st.from_regex(r"0[xo][0-9a-fA-F]{1,4}", fullmatch=True),
    st.text(st.sampled_from("nullNULtrueTRUEfalseFALSEyonYON~.-+"), min_size=1, max_size=5),
)


@settings(deadline=None, max_examples=400, derandomize=True)
@given(SCALARS)
@example("0o17")
@example("1e3")
@example("0123")
@example("no")
@example(".5")
@example("5.")
def test_a_second_reader_of_yaml_1_2_gives_the_same_scalar(written: str) -> None:
    other = pytest.importorskip("ruamel.yaml", reason="ruamel.yaml, the second reader, is in the dev extra only")
    text = f"- {written}\n"
    second = other.YAML(typ="safe", pure=True)
    second.version = (1, 2)
    try:
        theirs = second.load(text)
    except Exception:  # it has no one class for all its refusals; what it refuses it does not judge
        return
    found = read_or_refusal(text)
    if isinstance(found, Unreadable):
        assert re.search("range|digits|write a figure", found.message)
        return
    ours = plain(found)
    assert ours == theirs
    assert isinstance(ours[0], bool) == isinstance(theirs[0], bool)
