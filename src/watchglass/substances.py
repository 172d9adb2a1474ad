"""What is known of each substance: its names, its chemistry, its groups.

The facts come from `rules/substances/`; each number there carries its source. Molar masses are computed from the
chemical formula and the IUPAC abridged standard atomic weights.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from functools import cached_property
from typing import Any, NamedTuple

from watchglass.identity import is_cas, is_number
from watchglass.interval import EXACT
from watchglass.nearest import folded, nearest

WATER = "Aqua"
NOT_SAID = ""  # the function of which nothing is known
UNKNOWN = "unknown"  # the state of a substance that has no entry
PERFUME = "perfume"  # the kind of mixture that a label prints under one of these names, by what it is there for
PERFUMES = {"perfuming": "Parfum", "flavouring": "Aroma"}

_ION = re.compile(r"([A-Z][A-Za-z0-9]*?)([+-])([0-9]?)")
_TOKEN = re.compile(r"([A-Z][a-z]?|\(|\))([0-9]*)")


class Step(NamedTuple):
    """One proton of an acid: pKa at infinite dilution and 25 °C, half-width (about 95 %), heats where known."""

    pka: float
    uncertainty: float
    enthalpy_kj_per_mol: float | None
    heat_capacity_j_per_mol_k: float | None
    read: str


class Solubility(NamedTuple):
    """Grams per 100 g of water at a temperature; low and high are the lowest and highest credible figures."""

    grams_per_100_g_water: float
    low: float
    high: float
    read: str
    source: Mapping[str, str]


class AsSold(NamedTuple):
    """How much of a substance is in what is sold under its name, % w/w; the rest is mostly water."""

    low: float
    high: float


class Latent(NamedTuple):
    """A form in which a substance does not act as the acid that it counts as, until water has opened it.

    Attributes:
        into: The substance of that form; None: one that takes no part in the pH.
        units: mol of that form for each mol of the substance.
        from_strength: It is only expected where the material is at least this strong, % w/w.
        fresh: The most of it, as a share of the substance, when the product is made.
        settled: The most of it that stays for good, or for as long as nobody can tell.
        hours: After which the fresh share has become the settled one.
        quick_above_ph: Above this pH it opens within minutes.
    """

    into: str | None
    units: float
    from_strength: float
    fresh: float
    settled: float
    hours: float
    quick_above_ph: float


class Substance(NamedTuple):
    """One substance as the library knows it."""

    name: str
    cas: tuple[str, ...]
    state: str
    functions: tuple[str, ...]
    groups: frozenset[str]
    molar_mass: Decimal | None
    medium: str | None
    dissolves: str | None
    charge: int
    steps: tuple[Step, ...]
    gives: Mapping[str, Decimal]
    counts_as: Mapping[str, Decimal]
    acidity: str | None
    water_solubility: Solubility | None
    intrinsic_solubility: Solubility | None
    heat_of_solution_kj_per_mol: float | None
    as_sold: AsSold | None
    latent: Latent | None
    mixture: str | None
    note: str | None
    facts: Mapping[str, Any]

    @property
    def usual_function(self) -> str:
        """What it is there for where a line does not say so; NOT_SAID for an implicit substance."""
        return self.functions[0] if self.functions else NOT_SAID

    @property
    def is_water(self) -> bool:
        """Whether this is water itself."""
        return self.name == WATER


class Substances:
    """All known substances, found by INCI name, synonym, CAS or EC number."""

    def __init__(
        self,
        entries: Mapping[str, Mapping[str, Any]],
        atomic_weights: Mapping[str, Any],
        names: Mapping[str, str],
        groups: Mapping[str, Sequence[str]],
    ) -> None:
        """The library of some entries.

        Args:
            entries: INCI name to entry, as `rules/substances/` has it.
            atomic_weights: Element to g/mol.
            names: Every word, folded, to the name of the substance it means, from `identity.names_of`. A name without
                an entry is that of an implicit substance.
            groups: Group to the INCI names of its members.
        """
        self._weights = {symbol: Decimal(str(weight)) for symbol, weight in atomic_weights.items()}
        self._entries = entries
        self._names = names
        self.groups = groups
        self._known: dict[str, Substance] = {}

    def __iter__(self) -> Iterator[str]:
        """The INCI names of all substances that have an entry."""
        return iter(self._entries)

    def find(self, word: str) -> Substance | None:
        """The substance that a name or a number means, or None."""
        name = self._names.get(folded(word))
        return None if name is None else self[name]

    def __getitem__(self, name: str) -> Substance:
        """The substance of exactly this name.

        Raises:
            KeyError: It is not known.
        """
        if name not in self._known:
            self._known[name] = self._built(self._entries[name] if name in self._entries else self._implicit(name))
        return self._known[name]

    def nearest(self, word: str, most: int = 3) -> list[str]:
        """Known names that look like `word`."""
        found = nearest(word, self._spelt, most)
        return list(dict.fromkeys(self._names[folded(name)] for name in found))

    @cached_property
    def _spelt(self) -> list[str]:
        """The known words that are names: a number that is nearly right means another substance."""
        return [word for word in self._names if not is_number(word)]

    def resolve(self, of: str | Iterable[str]) -> tuple[str, ...]:
        """The INCI names that a rule's `of` means: group names opened, names and CAS numbers looked up.

        Raises:
            KeyError: A word is neither a group nor a substance; the word is the argument.
        """
        names: dict[str, None] = {}
        for word in [of] if isinstance(of, str) else of:
            if word in self.groups:
                names.update(dict.fromkeys(self.groups[word]))
                continue
            name = self._names.get(folded(word))
            if name is None:
                raise KeyError(word)
            names[name] = None
        return tuple(names)

    def molar_mass(self, formula: str) -> Decimal:
        """g/mol of a chemical formula such as C6H5Na3O7·2H2O.

        Raises:
            KeyError: An element has no atomic weight in `rules/atomic-weights.yaml`.
        """
        return self._mass(formula)

    def grams_counted_as(self, name: str, target: str) -> Decimal | None:
        """Grams of `target` that one gram of `name` counts as; None when it does not count as that substance.

        Sodium benzoate counts as 122.12/144.10 g of benzoic acid. `target` "acid" means the substance's own acid,
        "supplied" the substance itself. The symbol of an element means that element, by the chemical formula.
        """
        if target == "supplied":
            return Decimal(1)
        substance = self[name]
        if target in self._weights:
            formula, mass = substance.facts.get("formula"), substance.molar_mass
            return None if mass is None or formula is None else EXACT.divide(self._mass(formula, target), mass)
        parts = substance.counts_as or {
            part: moles for part, moles in substance.gives.items() if part in self._entries and part != WATER
        }
        if target == "acid":
            acids = [part for part in parts if self[part].charge <= 0 and (substance.counts_as or self[part].steps)]
            target = acids[0] if acids else name
        if target == name:
            return Decimal(1)
        mass = substance.molar_mass
        target_mass = self[target].molar_mass
        if target not in parts or mass is None or target_mass is None:
            return None
        return EXACT.divide(EXACT.multiply(parts[target], target_mass), mass)

    def _mass(self, formula: str, element: str | None = None) -> Decimal:
        """g/mol of a formula, or of one element in it."""
        return sum((self._mass_of_part(part, element) for part in formula.split("·")), Decimal(0))

    def _mass_of_part(self, part: str, element: str | None) -> Decimal:
        leading = re.match(r"[0-9]+", part)
        factor = Decimal(leading.group()) if leading else Decimal(1)
        totals = [Decimal(0)]
        groups: list[Decimal] = []
        for symbol, count in _TOKEN.findall(part[leading.end() if leading else 0 :]):
            if symbol == "(":
                groups.append(Decimal(0))
                totals.append(Decimal(0))
            elif symbol == ")":
                groups.pop()
                inner = totals.pop()
                totals[-1] += inner * int(count or 1)
            else:
                weight = self._weights[symbol]
                totals[-1] += weight * int(count or 1) if element in (None, symbol) else 0
        return factor * totals[0]

    def _implicit(self, name: str) -> dict[str, Any]:
        """The entry of a substance of which only names and numbers are known, from the row of a legal list."""
        if self._names.get(folded(name)) != name:
            raise KeyError(name)
        numbers = self._listed_numbers.get(name, ())
        return {"substance": name, "cas": numbers, "state": UNKNOWN, "functions": (), "acidity": "unmodelled"}

    @cached_property
    def _listed_numbers(self) -> dict[str, list[str]]:
        """The CAS numbers of the implicit substances."""
        numbers: dict[str, list[str]] = {}
        for word, name in self._names.items():
            if is_cas(word) and name not in self._entries:
                numbers.setdefault(name, []).append(word)
        return numbers

    def _built(self, entry: Mapping[str, Any]) -> Substance:
        ionisation = entry.get("ionisation", {})
        formula = entry.get("formula")
        return Substance(
            name=entry["substance"],
            cas=tuple(entry.get("cas", ())),
            state=entry["state"],
            functions=tuple(entry["functions"]),
            groups=frozenset(entry.get("groups", ())),
            molar_mass=self.molar_mass(formula) if formula else None,
            medium=entry.get("medium"),
            dissolves=entry.get("dissolves"),
            charge=ionisation.get("charge", 0),
            steps=tuple(_step(step) for step in ionisation.get("steps", ())),
            gives=_decimals(entry.get("gives", {})),
            counts_as=_decimals(entry.get("counts_as", {})),
            acidity=entry.get("acidity"),
            water_solubility=_solubility(entry.get("water_solubility"), "grams_per_100_g_water", 1.0),
            intrinsic_solubility=_solubility(entry.get("intrinsic_solubility"), "grams_per_l", 0.1),
            heat_of_solution_kj_per_mol=entry.get("heat_of_solution", {}).get("kj_per_mol"),
            as_sold=_as_sold(entry.get("as_sold")),
            latent=_latent(entry.get("latent")),
            mixture=entry.get("mixture"),
            note=entry.get("note"),
            facts=entry,
        )


def ion_charge(ion: str) -> int | None:
    """The charge of an ion that stays whole, or None for anything else.

    >>> ion_charge("Mg+2"), ion_charge("Cl-"), ion_charge("Lactic Acid")
    (2, -1, None)
    """
    match = _ION.fullmatch(ion)
    if match is None:
        return None
    return int(match.group(2) + (match.group(3) or "1"))


def _decimals(parts: Mapping[str, Any]) -> dict[str, Decimal]:
    return {part: Decimal(str(moles)) for part, moles in parts.items()}


def _step(step: Mapping[str, Any]) -> Step:
    return Step(
        step["pka"],
        step["uncertainty"],
        step.get("enthalpy_kj_per_mol"),
        step.get("heat_capacity_j_per_mol_k"),
        step["source"]["read"],
    )


def _as_sold(entry: Mapping[str, Any] | None) -> AsSold | None:
    return None if entry is None else AsSold(entry["low"], entry["high"])


def _latent(entry: Mapping[str, Any] | None) -> Latent | None:
    if entry is None:
        return None
    facts = {key: value for key, value in entry.items() if key != "source"}
    return Latent(**({"into": None, "units": 1, "from_strength": 0, "quick_above_ph": math.inf} | facts))


def _solubility(entry: Mapping[str, Any] | None, key: str, factor: float) -> Solubility | None:
    if entry is None:
        return None
    value = entry[key] * factor
    return Solubility(
        value,
        entry.get("low", entry[key]) * factor,
        entry.get("high", entry[key]) * factor,
        entry["source"]["read"],
        entry["source"],
    )
