"""Which substance a word means: a name, a synonym, a CAS number or an EC number.

The library's own entries come first. Rows of legal lists identify substances too, most of which no formula of an honest
maker holds: what the library does not have becomes an implicit substance, known by its names and numbers alone.
Words are compared whole, never by a part of them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from watchglass.nearest import folded

_CAS = re.compile(r"[0-9]{2,7}-[0-9]{2}-[0-9]")
_EC = re.compile(r"[0-9]{3}-[0-9]{3}-[0-9]")
_NUMBERS = ("cas", "ec")


def is_cas(word: str) -> bool:
    """Whether a word has the form of a CAS number."""
    return _CAS.fullmatch(word) is not None


def is_number(word: str) -> bool:
    """Whether a word has the form of a CAS or an EC number."""
    return is_cas(word) or _EC.fullmatch(word) is not None


def cas_is_right(number: str) -> bool:
    """Whether the check digit of a CAS number fits: the digits before it, counted from the right, modulo 10.

    >>> cas_is_right("7732-18-5"), cas_is_right("7732-18-4")
    (True, False)
    """
    digits = number.replace("-", "")
    return is_cas(number) and _weighed(reversed(digits[:-1])) % 10 == int(digits[-1])


def ec_is_right(number: str) -> bool:
    """Whether the check digit of an EC number fits: the digits before it, counted from the left, modulo 11.

    A rest of 10 is written as 1, as in five numbers of Annex II.

    >>> ec_is_right("200-003-9"), ec_is_right("200-003-8"), ec_is_right("418-070-1")
    (True, False, True)
    """
    digits = number.replace("-", "")
    if _EC.fullmatch(number) is None:
        return False
    rest = _weighed(digits[:-1]) % 11
    return int(digits[-1]) == (1 if rest == 10 else rest)


def _weighed(digits: Iterable[str]) -> int:
    return sum(place * int(digit) for place, digit in enumerate(digits, start=1))


def identities(row: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """The substances that a row identifies: itself, by its title, if it has a number or `also`; then its members."""
    if any(key in row for key in (*_NUMBERS, "also")):
        yield {**row, "name": row.get("title", row.get("entry", ""))}
    yield from row.get("members", ())


def words_of(identity: Mapping[str, Any]) -> tuple[str, ...]:
    """Every word by which a row identifies one substance, its name first."""
    return (identity["name"], *identity.get("cas", ()), *identity.get("ec", ()), *identity.get("also", ()))


def subjects(parameters: Mapping[str, Any]) -> tuple[str, ...]:
    """Every word that says what a rule or row is about: `of`, and the substances that the row identifies."""
    of = parameters.get("of", ())
    return (*([of] if isinstance(of, str) else of), *(word for one in identities(parameters) for word in words_of(one)))


def names_of(entries: Iterable[Mapping[str, Any]], rules: Iterable[Mapping[str, Any]] = ()) -> dict[str, str]:
    """Every word, folded, to the name of the substance that it means; the first that has a word keeps it.

    Args:
        entries: As `rules/substances/` has them.
        rules: As rule files have them; the rows of tables may identify further substances.
    """
    names: dict[str, str] = {}
    for entry in entries:
        for word in (entry["substance"], *entry.get("cas", ()), *entry.get("synonyms", ())):
            names.setdefault(folded(word), entry["substance"])
    for rule in rules:
        for row in rule.get("rows", ()):
            for identity in identities(row):
                _identify(identity, names)
    return names


def _identify(identity: Mapping[str, Any], names: dict[str, str]) -> None:
    """Give new words to the one substance that the known ones mean; where they mean none or several, to the name's."""
    words = [folded(word) for word in words_of(identity)]
    of = identity.get("of", ())
    known = {names[word] for word in (*words, *([folded(of)] if isinstance(of, str) else ())) if word in names}
    home = known.pop() if len(known) == 1 else names.get(words[0], identity["name"])
    for word in words:
        names.setdefault(word, home)
