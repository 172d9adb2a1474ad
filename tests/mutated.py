"""Valid files with something wrong put in, for the tests of every reader."""

from __future__ import annotations

from hypothesis import strategies as st

SNIPPETS = [
    *("\n", "\t", " ", ":", "- ", "{", "}", "[", "]", "#", "'", '"', "|", ">", "&a ", "*a", "!!str ", "<<: ", "%", "@"),
    *("null", "true", "qs", "nan", ".nan", ".inf", "1e999", "-1", "0", "1,5", "5 %", "0x1F", "9" * 40, "a" * 300),
    *("\x00", "\x1b[2J", "\r", "\u2028", "\ufeff", "\u202e", "é", "🧴", "2026-02-30", "../..", "/dev/zero"),
]


@st.composite
def mutated(draw: st.DrawFn, texts: list[str]) -> bytes:
    """One of the texts after one to four changes: a piece cut out, doubled, moved, or replaced; or a byte set."""
    text = draw(st.sampled_from(texts))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = min(len(text), start + draw(st.integers(0, 30)))
        piece, put = text[start:end], draw(st.sampled_from(SNIPPETS))
        new = draw(st.sampled_from(["", put, piece + piece, put + piece, piece[::-1]]))
        text = text[:start] + new + text[end:]
    data = text.encode("utf-8", "surrogatepass")
    if data and draw(st.integers(0, 9)) == 0:
        place = draw(st.integers(0, len(data) - 1))
        data = data[:place] + bytes([draw(st.integers(0, 255))]) + data[place + 1 :]
    return data


def anything(texts: list[str]) -> st.SearchStrategy[bytes]:
    """Arbitrary bytes, arbitrary text, and mostly what was valid before it was changed."""
    return st.one_of(mutated(texts), mutated(texts), st.binary(max_size=80), st.text(max_size=80).map(encoded))


def encoded(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")
