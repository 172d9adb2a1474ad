"""YAML text to a tree in which every key and value knows its line and column.

Nothing else in Watchglass parses YAML. Scalars follow the core schema of YAML 1.2.2 (chapter 10.3), so that `no` is
a word, `0123` is 123 and a date is text. What a formula or a rule never needs (aliases, tags, merge keys, several
documents) is refused at its place instead of being guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple, TypeAlias

import yaml
from yaml import events as ev

from watchglass.errors import START, Place, Unreadable

MOST_BYTES = 2_000_000
MOST_LINES = 5_000
MOST_DEPTH = 64
MOST_VALUES = 200_000
MOST_DIGITS = 12
SMALLEST_NUMBER = Decimal("1e-12")
LARGEST_NUMBER = Decimal("1e6")

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)

_FLOAT = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_BASED = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_WORDS: dict[str, bool | None] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip


class Scalar(NamedTuple):
    """One value: text, Decimal, bool or None, with the raw text as written."""

    value: str | Decimal | bool | None
    raw: str
    place: Place


class Sequence(NamedTuple):
    """A list."""

    items: list[Node]
    place: Place


class Mapping(NamedTuple):
    """A map from text keys, in the order written; `keys` holds the place of each key."""

    items: dict[str, Node]
    keys: dict[str, Place]
    place: Place


Node: TypeAlias = Scalar | Sequence | Mapping
Step: TypeAlias = str | int


def read(text: str | bytes) -> Node:
    """Read one YAML document.

    Args:
        text: The document; bytes must be UTF-8, with or without a byte order mark.

    Returns:
        The tree of the document.

    Raises:
        Unreadable: With the place where reading stopped and one sentence that says why.
    """
    decoded = _decoded(text)
    try:
        return _Reader(decoded).document()
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = _within(decoded, _place(mark)) if mark else START
        raise Unreadable(place, f"not YAML: {_in_words(error)}") from None
    except yaml.YAMLError as error:
        first_line = str(error).splitlines()[0]
        raise Unreadable(START, f"not YAML: {first_line}") from None


def plain(node: Node) -> Any:
    """The tree as lists, dicts, text, floats, bools and None: what a JSON Schema validator takes."""
    if isinstance(node, Mapping):
        return {key: plain(value) for key, value in node.items.items()}
    if isinstance(node, Sequence):
        return [plain(item) for item in node.items]
    if isinstance(node.value, Decimal):
        return int(node.value) if node.value == node.value.to_integral_value() else float(node.value)
    return node.value


def at(node: Node, path: list[Step]) -> Node:
    """The node that a path of keys and indexes leads to; as far as the path can be followed."""
    for step in path:
        inner = node.items.get(str(step)) if isinstance(node, Mapping) else _item(node, step)
        if inner is None:
            break
        node = inner
    return node


def _item(node: Node, step: Step) -> Node | None:
    if isinstance(node, Sequence) and isinstance(step, int) and step < len(node.items):
        return node.items[step]
    return None


def dotted(path: list[Step]) -> str:
    """A path in words.

    >>> dotted(["phases", "acid", "lines", 0])
    'phases.acid.lines[0]'
    """
    words = ""
    for step in path:
        words += f"[{step}]" if isinstance(step, int) else f".{step}" if words else step
    return words


def _decoded(text: str | bytes) -> str:
    size = len(text)
    if size > MOST_BYTES:
        raise Unreadable(START, f"the file has {size:,} bytes; at most {MOST_BYTES:,} are read")
    if isinstance(text, bytes):
        text = _text_of(text.removeprefix(b"\xef\xbb\xbf"))
    text = text.removeprefix("\ufeff")
    lines = _line_ends(text) + (not text.endswith(("\n", "\r")))
    if lines > MOST_LINES:
        raise Unreadable(Place(MOST_LINES + 1, 1), f"the file has {lines:,} lines; at most {MOST_LINES:,} are read")
    odd = _odd(text.isascii()).search(text)
    if odd:
        raise Unreadable(_place_of_offset(text, odd.start()), _what_is_odd(odd.group()))
    return text


def _text_of(data: bytes) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        place = _place_of_offset(before, len(before))
        raise Unreadable(place, f"not UTF-8 text: the byte {data[error.start]:#04x}") from None


@cache
def _odd(is_ascii: bool) -> re.Pattern[str]:
    """What is refused in a text; the wide pattern takes longer to compile than most files to read.

    That is what YAML 1.2.2 (chapter 5.1) does not count as printable, half surrogate pairs among it; and the separators
    that ended a line in YAML 1.1 and no longer do (chapter 5.4): the parser still ends a line there, and an editor does
    not.
    """
    if is_ascii:
        return re.compile("[^\t\n\r\x20-\x7e]")
    return re.compile("[^\t\n\r\x20-\x7e\xa0-\u2027\u202a-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


_SURROGATE = re.compile("[\ud800-\udfff]")


def _what_is_odd(character: str) -> str:
    shown = ascii(character)
    if character in "\x85\u2028\u2029":
        return f"the line separator {shown} is not allowed; end lines with a plain line end"
    if "\ud800" <= character <= "\udfff":
        return f"not text: {shown} is half of a surrogate pair"
    return f"not text: the control character {shown} is not allowed"


class _Reader:
    """Builds the tree from the parser's events."""

    def __init__(self, text: str) -> None:
        self._loader = _Loader(text)
        self._next = self._loader.get_event
        self._values = 0

    def document(self) -> Node:
        self._next()  # the start of the stream
        event = self._next()
        if isinstance(event, ev.StreamEndEvent):
            raise Unreadable(START, "the file is empty")
        node = self._node(self._next(), depth=1)
        self._next()  # the end of the document
        event = self._next()
        if not isinstance(event, ev.StreamEndEvent):
            raise Unreadable(_place(event.start_mark), "a second document starts here; put one document in a file")
        return node

    def _node(self, event: Any, depth: int) -> Node:
        place = _place(event.start_mark)
        self._values += 1
        if self._values > MOST_VALUES:
            raise Unreadable(place, f"the file has more than {MOST_VALUES:,} values; no more are read")
        if isinstance(event, ev.AliasEvent):
            raise Unreadable(place, f"the alias *{event.anchor} is not allowed; write the value out")
        if event.anchor is not None:
            raise Unreadable(place, f"the anchor &{event.anchor} is not allowed; write the value out")
        if event.tag is not None:
            raise Unreadable(place, f"the tag {event.tag!r} is not allowed; write the plain value")
        if isinstance(event, ev.ScalarEvent):
            return _scalar(event, place)
        if depth > MOST_DEPTH:
            raise Unreadable(place, f"nested more than {MOST_DEPTH} deep")
        if isinstance(event, ev.SequenceStartEvent):
            return Sequence([self._node(item, depth + 1) for item in self._until(ev.SequenceEndEvent)], place)
        return self._mapping(place, depth)

    def _mapping(self, place: Place, depth: int) -> Mapping:
        items: dict[str, Node] = {}
        keys: dict[str, Place] = {}
        for event in self._until(ev.MappingEndEvent):
            key = self._key(event)
            key_place = _place(event.start_mark)
            if key in items:
                first = keys[key]
                raise Unreadable(
                    key_place, f"the key {key!r} stands twice; first at line {first.line}, column {first.column}"
                )
            keys[key] = key_place
            items[key] = self._node(self._next(), depth + 1)
        return Mapping(items, keys, place)

    def _key(self, event: Any) -> str:
        place = _place(event.start_mark)
        if not isinstance(event, ev.ScalarEvent):
            raise Unreadable(place, "a key must be plain text")
        if event.anchor is not None or event.tag is not None:
            raise Unreadable(place, "a key must be plain text, without tag or anchor")
        if event.implicit[0] and event.value == "<<":
            raise Unreadable(place, "the merge key << is not allowed; write the values out")
        if event.implicit[0] and not isinstance(_resolved(event.value, place), str):
            hint = "put it in quotes, or write a point if it is the rest of a number with a decimal comma"
            raise Unreadable(place, f"the key {event.value!r} must be text; {hint}")
        return str(event.value)

    def _until(self, end: type) -> Iterator[Any]:
        event = self._next()
        while not isinstance(event, end):
            yield event
            event = self._next()


def _scalar(event: Any, place: Place) -> Scalar:
    raw = event.value
    if event.style == '"' and _SURROGATE.search(raw):  # the C parser refuses these escapes, the other one does not
        raise Unreadable(place, "not text: half of a surrogate pair")
    return Scalar(_resolved(raw, place) if event.implicit[0] else raw, raw, place)


def _resolved(raw: str, place: Place) -> str | Decimal | bool | None:
    """A plain scalar by the core schema of YAML 1.2."""
    if raw in _WORDS:
        return _WORDS[raw]
    if _FLOAT.fullmatch(raw):
        return _number(raw, place)
    if _BASED.fullmatch(raw):
        digits = raw[2:].lstrip("0")
        if len(digits) > MOST_DIGITS:
            raise Unreadable(place, f"{_short(raw)} has {len(digits)} digits; at most {MOST_DIGITS} are read")
        return _number(str(int(raw, 0)), place)
    if _NOT_FINITE.fullmatch(raw):
        raise Unreadable(place, f"{raw} is not a number that can be used; write a figure")
    return raw


def _number(raw: str, place: Place) -> Decimal:
    digits = re.sub(r"[eE][-+]?[0-9]*$|[^0-9a-fA-F]", "", raw).strip("0")
    if len(digits) > MOST_DIGITS:
        raise Unreadable(place, f"{_short(raw)} has {len(digits)} digits; at most {MOST_DIGITS} are read")
    exponent = re.search(r"[eE][-+]?0*([0-9]*)$", raw)
    if exponent and len(exponent.group(1)) > 4 and digits:
        raise Unreadable(place, f"{_short(raw)} is out of range; numbers go from 1e-12 to 1e6")
    number = Decimal(raw) if digits else Decimal(0)
    if number and not SMALLEST_NUMBER <= abs(number) <= LARGEST_NUMBER:
        raise Unreadable(place, f"{_short(raw)} is out of range; numbers go from 1e-12 to 1e6")
    return number


def _short(raw: str) -> str:
    return raw if len(raw) <= 24 else raw[:21] + "..."


def _place(mark: Any) -> Place:
    return Place(mark.line + 1, mark.column + 1)


def _place_of_offset(text: str, offset: int) -> Place:
    before = text[:offset]
    start_of_line = max(before.rfind("\n"), before.rfind("\r")) + 1
    return Place(_line_ends(before) + 1, offset - start_of_line + 1)


def _within(text: str, place: Place) -> Place:
    """A place no further than the end of the text: some parsers stop on the line that would come next."""
    return min(place, _place_of_offset(text.rstrip("\r\n"), len(text.rstrip("\r\n"))))


def _line_ends(text: str) -> int:
    """LF, CR, and CR LF as one (YAML 1.2.2, chapter 5.4)."""
    return text.count("\n") + text.count("\r") - text.count("\r\n")


def _in_words(error: yaml.MarkedYAMLError) -> str:
    """The parser's own words in one line, with the mend for what happens most."""
    words = ", ".join(part for part in (error.problem, error.context) if part)
    if "could not find expected ':'" in words:
        return f"{words} (is a colon or a quote missing in the line above?)"
    if "found character '\\t'" in words or "cannot start any token" in words:
        return f"{words} (indent with spaces, and quote text that starts with % @ ` or a tab)"
    return words
