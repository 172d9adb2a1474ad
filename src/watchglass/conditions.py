"""Who a rule applies to, compiled to closures that know three answers: yes, no, and not said.

A product that states no kind may still be one, where its use and site allow it; a rule about that kind is then neither
in nor out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeAlias

from watchglass.formula import Product

Answer: TypeAlias = bool | None
Condition: TypeAlias = Callable[[Product], Answer]
Kinds: TypeAlias = Mapping[str, Mapping[str, list[str]]]

# A narrower market has the law of the wider one as well.
WIDER_MARKET = {"us-california": "us", "us-washington": "us"}


def with_wider(markets: Iterable[str]) -> frozenset[str]:
    """Some markets and the wider ones whose law holds there as well.

    >>> sorted(with_wider(["us-california", "eu"]))
    ['eu', 'us', 'us-california']
    """
    return frozenset(name for market in markets for name in (market, WIDER_MARKET.get(market, market)))


def contradiction(product: Product, kinds: Kinds) -> str | None:
    """Where a stated kind cannot be of the stated use or site; None where they go together.

    `kind: other` names no kind, so nothing contradicts it.
    """
    places = kinds.get(product.kind or "", {})
    uses, sites = places.get("use", []), places.get("site", [])
    if (not uses or product.use in uses) and (not sites or product.site in sites):
        return None
    return (
        f"a {product.kind} is {' or '.join(uses)} and for {', '.join(sites)}, this product is {product.use} "
        f"and for {product.site}; mend kind, use or site"
    )


def all_of(blocks: Iterable[Any], kinds: Kinds) -> Condition:
    """Whether a product fits every block of an `applies`."""
    checks = [_any_of(alternatives_of(block), kinds) for block in blocks]
    return lambda product: _all(check(product) for check in checks)


def markets_of(blocks: Iterable[Any]) -> frozenset[str] | None:
    """The markets that all blocks have in common; None where none names a market."""
    named = [
        frozenset(market for condition in alternatives_of(block) for market in condition["markets"])
        for block in blocks
        if any("markets" in condition for condition in alternatives_of(block))
    ]
    return frozenset.intersection(*named) if named else None


def alternatives_of(block: Any) -> list[Mapping[str, Any]]:
    """The blocks of an `applies`, of which any may fit."""
    return [block] if isinstance(block, Mapping) else list(block)


def _any_of(conditions: list[Mapping[str, Any]], kinds: Kinds) -> Condition:
    checks = [_fits(condition, kinds) for condition in conditions]
    return lambda product: _not(_all(_not(check(product)) for check in checks))


def _fits(condition: Mapping[str, Any], kinds: Kinds) -> Condition:
    checks: list[Condition] = []
    for key, value in condition.items():
        if key == "not":
            checks.append(_refused(_fits(value, kinds)))
        elif key != "markets":
            words = frozenset([value] if isinstance(value, str) else value)
            checks.append(_is_kind(words, kinds) if key == "kind" else _is_word(key, words))
    return lambda product: _all(check(product) for check in checks)


def _refused(condition: Condition) -> Condition:
    return lambda product: _not(condition(product))


def _is_word(key: str, words: frozenset[str]) -> Condition:
    return lambda product: getattr(product, key) in words


def _is_kind(words: frozenset[str], kinds: Kinds) -> Condition:
    def answer(product: Product) -> Answer:
        if product.kind is not None:
            return product.kind in words
        could_be = any(product.site in kinds[kind]["site"] and product.use in kinds[kind]["use"] for kind in words)
        return None if could_be else False

    return answer


def _all(answers: Iterable[Answer]) -> Answer:
    """No if any says no, else not said if any is not said, else yes."""
    result: Answer = True
    for answer in answers:
        if answer is False:
            return False
        if answer is None:
            result = None
    return result


def _not(answer: Answer) -> Answer:
    return None if answer is None else not answer
