"""What a formula comes to when its materials are opened: portions, totals, and what could not be opened."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Literal, NamedTuple

from watchglass.errors import Place
from watchglass.formula import Line
from watchglass.interval import NOTHING, Interval
from watchglass.substances import PERFUME, PERFUMES, Substance

SCENTS = frozenset(PERFUMES)

What = Literal["product", "material", "batch", "names"]


class Complaint(NamedTuple):
    """Something that keeps the sheet from adding up, in the author's own words."""

    about: What
    place: Place
    where: str
    message: str


class Total(NamedTuple):
    """A sum that must make 100: of a material's parts, of the product's lines, of the grams against the batch."""

    about: What
    value: Decimal
    place: Place
    where: str
    called: str


class Portion(NamedTuple):
    """What one line brings of one substance.

    `percent` is of the finished product; `strength` is the substance's share of the material as it is handled, in %
    w/w (88 for the acid of an 88 % lactic acid), so that a rule can tell a stock from a diluted part. `assayed` says
    whether a supplier states how much of it is there; what is weighed under its own name may be less than pure.
    `inside` are the mixtures (a parfum, an essential oil) that it is a part of, the outermost first.
    """

    substance: Substance
    percent: Interval
    line: Line
    function: str
    declares: frozenset[str]
    strength: Interval
    assayed: bool
    inside: tuple[Substance, ...] = ()

    @property
    def printed(self) -> str:
        """The name under which a label prints it: what perfumes inside a mixture goes by the mixture's name."""
        for mixture in self.inside:
            if mixture.mixture == PERFUME:
                return mixture.name
        is_scent = not SCENTS.isdisjoint(self.substance.functions)
        return self.inside[0].name if self.inside and is_scent else self.substance.name


class Unknown(NamedTuple):
    """A share of the product whose name is not known."""

    name: str
    percent: Interval
    line: Line


class Composition(NamedTuple):
    """The finished product as substances."""

    portions: tuple[Portion, ...]
    unknown: tuple[Unknown, ...]
    totals: tuple[Total, ...]
    complaints: tuple[Complaint, ...]
    total_percent: Decimal

    def percent(self, names: Iterable[str]) -> Interval:
        """The sum of some substances, % w/w as they are."""
        wanted = set(names)
        total = NOTHING
        for portion in self.portions:
            if portion.substance.name in wanted:
                total = total + portion.percent
        return total

    def by_substance(self) -> dict[str, Interval]:
        """Substance name to % w/w, the largest first, then by name."""
        sums: dict[str, Interval] = {}
        for portion in self.portions:
            name = portion.substance.name
            sums[name] = sums.get(name, NOTHING) + portion.percent
        return dict(sorted(sums.items(), key=lambda item: (-item[1].high, item[0])))

    def medium(self, medium: str) -> Interval:
        """The sum of all liquids of one medium: water, ethanol, glycerin, glycol, solvent, oil."""
        total = NOTHING
        for portion in self.portions:
            if portion.substance.medium == medium:
                total = total + portion.percent
        return total
