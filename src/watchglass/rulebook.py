"""All rules, found by the substances that they are about; each is compiled to closures when it is first needed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Literal, NamedTuple, TypeAlias, overload

from watchglass import library
from watchglass.conditions import Condition, Kinds, all_of, markets_of
from watchglass.errors import CannotRun
from watchglass.identity import identities, subjects
from watchglass.interval import Limit
from watchglass.requirements import Check, compile_check
from watchglass.requirements.preserved import limit_of
from watchglass.solution.model import Model
from watchglass.substances import Substances

Severity = Literal["error", "warning", "note"]
ALWAYS = "always"

# What a row may say for itself in place of its rule.
ROW_PARAMETERS = (
    "of",
    "beside",
    "as",
    "each",
    "all_uses",
    "only_as",
    "not_as",
    "without_as",
    "say",
    "called",
    "unless",
    "ph",
    "settled_by",
    "effect",
    "words",
    "allowed",
)


class Unread(NamedTuple):
    """A figure that is in force and was not read."""

    reason: str


class Repealed(NamedTuple):
    """Nothing is in force any more."""


Value: TypeAlias = Limit | Unread | Repealed


class Series(NamedTuple):
    """Dated values: from each date on, its value holds; `stock` the same for goods already on the market."""

    values: tuple[tuple[str, Value], ...]
    stock: tuple[tuple[str, Value], ...] = ()
    known_from: str | None = None

    def on(self, date: str, on_market_since: str | None) -> Value | None:
        """What holds on a day; None before the first date."""
        if self.known_from is not None and date < self.known_from:
            return Unread(f"the figure is known from {self.known_from} on")
        dated = self._dated(on_market_since)
        past = [value for start, value in dated if start == ALWAYS or start <= date]
        return past[-1] if past else None

    def later(self, date: str, on_market_since: str | None) -> list[tuple[str, Value]]:
        """What is known to come after a day."""
        return [(start, value) for start, value in self._dated(on_market_since) if start != ALWAYS and start > date]

    def _dated(self, on_market_since: str | None) -> tuple[tuple[str, Value], ...]:
        """New goods follow `values`. Goods on the market before a value's date may follow it later, by `stock`."""
        if not self.stock or on_market_since is None:
            return self.values
        starts = [start for start, _ in self.values if start != ALWAYS]
        grace = {
            max((start for start in starts if start <= day), default=""): (day, value) for day, value in self.stock
        }
        return tuple(
            grace[start] if start in grace and on_market_since < start else (start, value)
            for start, value in self.values
        )


class Tier(NamedTuple):
    """The values for some products."""

    fits: Condition
    series: Series


class Rule(NamedTuple):
    """One rule, or one row of a table rule, ready to judge.

    Attributes:
        id: Stable for ever.
        entry: The row's own number in a table, else None.
        word: The requirement word.
        markets: Where it holds; None: everywhere.
        fits: Whether a product is of the kind that it is about.
        tiers: The first that fits decides.
        check: The requirement with its parameters.
        parameters: Of the requirement, as the files have them; what a row says for itself stands in the rule's place.
        binding: law, guidance, opinion, practice or arithmetic.
        severity: Of a break.
        read: How the figure was read.
        facts: The rule as its file has it.
        row: The row as its file has it.
    """

    id: str
    entry: str | None
    title: str
    word: str
    markets: frozenset[str] | None
    fits: Condition
    tiers: tuple[Tier, ...]
    check: Check
    parameters: Mapping[str, Any]
    binding: str
    severity: Severity
    read: str
    source: Mapping[str, str]
    why: str
    facts: Mapping[str, Any]
    row: Mapping[str, Any] | None = None

    @property
    def address(self) -> str:
        """The id, with the entry for a row of a table."""
        return self.id if self.entry is None else f"{self.id}#{self.entry}"


class Rules(Sequence[Rule]):
    """Every rule and every row of a table; each is compiled when it is first asked for."""

    def __init__(self, data: Mapping[str, Any], substances: Substances, kinds: Kinds) -> None:
        """The rules of an indexed rule folder, see `index.indexed`."""
        self.addresses: list[str] = data["addresses"]
        self._data = data
        self._substances = substances
        self._kinds = kinds
        self._compiled: dict[int, Rule] = {}

    def __len__(self) -> int:
        return len(self.addresses)

    @overload
    def __getitem__(self, place: int) -> Rule: ...
    @overload
    def __getitem__(self, place: slice) -> list[Rule]: ...
    def __getitem__(self, place: int | slice) -> Rule | list[Rule]:
        if isinstance(place, slice):
            return [self[number] for number in range(len(self))[place]]
        number = range(len(self))[place]
        if number not in self._compiled:
            address = self.addresses[number]
            facts = self._data["rules"][id_of(address)]
            self._compiled[number] = _rule(facts, self._data["rows"].get(address), self._substances, self._kinds)
        return self._compiled[number]

    def touching(self, names: Iterable[str]) -> list[Rule]:
        """The rules that could say something of a product that holds these substances, in the order of the files."""
        about = self._data["about"]
        places = {*self._data["always"], *(place for name in names for place in about.get(name, ()))}
        return [self[place] for place in sorted(places)]

    def alone(self, *rules: Rule) -> Rules:
        """Some of them by themselves, as their facts and rows say, then looked at whatever a product holds."""
        only = {
            "rules": {rule.id: rule.facts for rule in rules},
            "rows": {rule.address: rule.row for rule in rules},
            "addresses": [rule.address for rule in rules],
        }
        data = {**self._data, **only, "about": {}, "always": list(range(len(rules)))}
        return Rules(data, self._substances, self._kinds)


def id_of(address: str) -> str:
    """The rule of an address.

    >>> id_of("eu-annex-v#29"), id_of("total-100")
    ('eu-annex-v', 'total-100')
    """
    return address.partition("#")[0]


class Rulebook(NamedTuple):
    """All rules, with everything that they refer to."""

    rules: Rules
    substances: Substances
    model: Model
    sources: Mapping[str, Mapping[str, Any]]
    statements: Mapping[str, Mapping[str, Any]]
    kinds: Kinds
    hash: str
    labels: Mapping[str, Mapping[str, Any]]
    facts: frozenset[str] = frozenset()
    systems: Sequence[str] = ()

    @property
    def ids(self) -> list[str]:
        """Every id once."""
        return list(dict.fromkeys(map(id_of, self.rules.addresses)))

    @property
    def addresses(self) -> list[str]:
        """Every id of a rule without a table, every rule#entry, and every part of a rule that has parts."""
        return [*self.rules.addresses, *self.systems]

    def find(self, address: str) -> list[Rule]:
        """The rules of an id, or the one row of a rule#entry."""
        known = enumerate(self.rules.addresses)
        return [self.rules[place] for place, own in known if address in (own, id_of(own))]


def text_of(statement: Mapping[str, Any]) -> str:
    """What a statement must say: word for word where a law mandates it, else in our own words."""
    if "wording" in statement:
        remembered = statement["source"]["read"] == "memory"
        how = "in part from memory; read it at the source before printing" if remembered else "word for word"
        return f'"{statement["wording"]}" ({how})'
    summary: str = statement["summary"]
    return " ".join(summary.split())


@cache
def load(house: tuple[Path, ...] = ()) -> Rulebook:
    """The rulebook of the shipped rule folder, and of folders of house rules beside it, read once.

    Raises:
        CannotRun: A rule file is at fault.
    """
    return build(library.load(house), library.rules_hash(house))


def build(data: Mapping[str, Any], state: str) -> Rulebook:
    """A rulebook from the data of a rule folder that was proofread and indexed.

    Raises:
        CannotRun: The model lacks a constant.
    """
    substances = Substances(data["substances"], data["atomic-weights"]["weights"], data["names"], data["groups"])
    kinds = Kinds(data["kinds"], data["product-types"]["types"])
    return Rulebook(
        rules=Rules(data, substances, kinds),
        substances=substances,
        model=_model(data["model"]),
        sources=data["sources"],
        statements=data["statements"],
        kinds=kinds,
        hash=state,
        labels=data["labels"],
        facts=frozenset(data["supplier_facts"]),
        systems=data["systems"],
    )


def _model(facts: Mapping[str, Any]) -> Model:
    try:
        return Model.of(facts)
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise CannotRun(f"rules/model.yaml: a constant is missing or of another kind: {error}") from None


def _rule(facts: Mapping[str, Any], row: Mapping[str, Any] | None, substances: Substances, kinds: Kinds) -> Rule:
    word, parameters = next(iter(facts["require"].items()))
    own = row or {}
    parameters = parameters | {key: own[key] for key in ROW_PARAMETERS if key in own}
    about = {"of": subjects(parameters | own)} if any(identities(own)) else {}
    check = compile_check(word, parameters | about, substances)
    conditions = [block for block in (facts.get("applies"), own.get("applies")) if block is not None]
    source = dict(facts["source"]) | {key: own[key] for key in ("at", "read") if key in own}
    if "entry" in own and "at" in source:
        source["at"] = source["at"].replace("{entry}", own["entry"])
    dated = own if {"values", "tiers"} & own.keys() else facts
    return Rule(
        id=facts["rule"],
        entry=own.get("entry"),
        title=own.get("title", facts["title"]),
        word=word,
        markets=markets_of(conditions),
        fits=all_of(conditions, kinds),
        tiers=_tiers(dated, kinds, own.get("known_from", facts.get("known_from"))),
        check=check,
        parameters=parameters,
        binding=facts["binding"],
        severity=_severity(facts),
        read=source["read"],
        source=source,
        why=own.get("why", facts["why"]),
        facts=facts,
        row=row,
    )


def _severity(facts: Mapping[str, Any]) -> Severity:
    if facts["binding"] in ("law", "arithmetic"):
        return "error"
    if facts["binding"] == "practice":
        severity: Severity = facts.get("severity", "warning")
        return severity
    return "warning"


# -- dated values ------------------------------------------------------------------------------------------------


def _tiers(facts: Mapping[str, Any], kinds: Kinds, known_from: str | None) -> tuple[Tier, ...]:
    if "tiers" not in facts:
        return (Tier(all_of((), kinds), _series(facts, known_from)),)
    return tuple(
        Tier(all_of([tier["applies"]] if "applies" in tier else [], kinds), _series(tier, known_from))
        for tier in facts["tiers"]
    )


def _series(facts: Mapping[str, Any], known_from: str | None) -> Series:
    """The dated values of a place. Since when they are known it says itself, or takes from its row or rule.

    A place with an older date of its own knows more than its row or rule.
    """
    values = _dated(facts.get("values", {ALWAYS: {}}))
    inherited = known_from if all(start == ALWAYS or start >= (known_from or "") for start, _ in values) else None
    return Series(
        values=values,
        stock=_dated(facts.get("stock", {})),
        known_from=facts.get("known_from", inherited),
    )


def _dated(values: Mapping[str, Any]) -> tuple[tuple[str, Value], ...]:
    """In the order of time; `always` stands before every date."""
    ordered = sorted(values.items(), key=lambda item: "" if item[0] == ALWAYS else item[0])
    return tuple((start, _value(value)) for start, value in ordered)


def _value(value: Mapping[str, Any] | None) -> Value:
    if value is None:
        return Repealed()
    if "unread" in value:
        return Unread(value["unread"])
    return limit_of(value)
