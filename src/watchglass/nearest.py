"""How names are compared, and the known names nearest to a misspelt one."""

from __future__ import annotations

from collections.abc import Iterable


def folded(name: str) -> str:
    """A name as it is compared: without regard to case and to the width of spaces.

    >>> folded("Sodium  BENZOATE ")
    'sodium benzoate'
    """
    return " ".join(name.casefold().split())


def nearest(word: str, known: Iterable[str], most: int = 3) -> list[str]:
    """At most `most` of `known` that look like `word`, the most alike first; without regard to case.

    >>> nearest("perecnt", ["percent", "grams", "material"])
    ['percent']
    """
    import difflib

    by_folded = {name.casefold(): name for name in known}
    found = difflib.get_close_matches(word.casefold(), list(by_folded), n=most, cutoff=0.7)
    return [by_folded[name] for name in found]


def did_you_mean(word: str, known: Iterable[str], most: int = 1) -> str:
    """'; did you mean "x"?' or nothing.

    >>> did_you_mean("eyes", ["face", "lips"])
    ''
    """
    names = nearest(word, known, most)
    if not names:
        return ""
    return "; did you mean " + " or ".join(f'"{name}"' for name in names) + "?"
