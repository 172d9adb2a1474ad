"""Who a rule applies to, compiled to closures that know three answers: yes, no, and not said.

A product that states no kind, or only a wider one, may still be of a finer kind, where its use, site and form allow it;
a rule about that kind is then neither in nor out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple, TypeAlias

from watchglass.formula import Product

Answer: TypeAlias = bool | None
Condition: TypeAlias = Callable[[Product], Answer]


class Kinds(NamedTuple):
    """What rules know of products beyond the words of a formula.

    Attributes:
        places: Kind to the uses, sites and forms that it can have, and the wider kinds that it is (rules/kinds.yaml).
        types: Product type of a legal list to the conditions that it stands for (rules/product-types.yaml).
    """

    places: Mapping[str, Mapping[str, list[str]]]
    types: Mapping[str, Mapping[str, Any]]

    def wider(self, kind: str) -> frozenset[str]:
        """A kind and every kind that it belongs to."""
        above = (self.wider(parent) for parent in self.places.get(kind, {}).get("is", ()))
        return frozenset({kind}).union(*above)

    def could_be(self, product: Product, kind: str) -> bool:
        """Whether a product of this use, site and form could be of a kind."""
        place = self.places.get(kind, {})
        return all(not place.get(key) or getattr(product, key) in place[key] for key in ("use", "site", "form"))


# A narrower market has the law of the wider one as well.
WIDER_MARKET = {"us-california": "us", "us-washington": "us"}


def with_wider(markets: Iterable[str]) -> frozenset[str]:
    """Some markets and the wider ones whose law holds there as well.

    >>> sorted(with_wider(["us-california", "eu"]))
    ['eu', 'us', 'us-california']
    """
    return frozenset(name for market in markets for name in (market, WIDER_MARKET.get(market, market)))


def contradiction(product: Product, kinds: Kinds) -> str | None:
    """Where a stated kind cannot be of the stated use, site or form; None where they go together.

    `kind: other` names no kind, so nothing contradicts it.
    """
    if product.kind is None or kinds.could_be(product, product.kind):
        return None
    place = kinds.places[product.kind]
    form = f" as {', '.join(place['form'])}" if "form" in place else ""
    as_what = f" as {product.form}" if "form" in place else ""
    return (
        f"a {product.kind} is {' or '.join(place['use'])} and for {', '.join(place['site'])}{form}, this product is "
        f"{product.use} and for {product.site}{as_what}; mend kind, use{', site or form' if form else ' or site'}"
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
        elif key == "type":
            named = [value] if isinstance(value, str) else value
            checks.append(_any_of([block for name in named for block in of_type(name, kinds)], kinds))
        elif key not in ("markets", "stated"):
            words = frozenset([value] if isinstance(value, str) else value)
            checks.append(_is_kind(words, kinds) if key == "kind" else _is_word(key, words))
    if condition.get("stated"):
        return lambda product: _all(check(product) for check in checks) is True
    return lambda product: _all(check(product) for check in checks)


def of_type(name: str, kinds: Kinds) -> list[Mapping[str, Any]]:
    """The conditions that a product type of a legal list stands for, of which any may fit."""
    return alternatives_of(kinds.types[name]["applies"])


def _refused(condition: Condition) -> Condition:
    return lambda product: _not(condition(product))


def _is_word(key: str, words: frozenset[str]) -> Condition:
    return lambda product: getattr(product, key) in words


def _is_kind(words: frozenset[str], kinds: Kinds) -> Condition:
    def answer(product: Product) -> Answer:
        stated = product.kind
        if stated is not None and kinds.wider(stated) & words:
            return True
        finer = words if stated is None else [word for word in words if stated in kinds.wider(word)]
        return None if any(kinds.could_be(product, word) for word in finer) else False

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
