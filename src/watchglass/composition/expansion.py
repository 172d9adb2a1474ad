"""Materials and premixes opened, recursively, to substances."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import NamedTuple

from watchglass.composition.records import Complaint, Composition, Portion, Total, Unknown, What
from watchglass.errors import Place
from watchglass.formula import QS, Formula, Line, Material
from watchglass.identity import is_number
from watchglass.interval import EXACT, NOTHING, Interval, shown
from watchglass.nearest import folded
from watchglass.substances import PERFUME, PERFUMES, Substance, Substances

MOST_PREMIX_DEPTH = 8
MOST_SUGGESTIONS = 20
MOST_OPENED = 20_000
HUNDRED = Decimal(100)


class _Origin(NamedTuple):
    """Where a part comes from: its line, what its materials declare and state, the mixtures that it is inside of."""

    line: Line
    declares: frozenset[str] = frozenset()
    assayed: bool = False
    inside: tuple[Substance, ...] = ()

    def inside_of(self, mixtures: tuple[Substance, ...], part: Substance | None) -> _Origin:
        """The origin of a part of such a material; a natural is never a part of another natural."""
        kind = None if part is None else part.mixture
        holding = [mixture for mixture in mixtures if kind is None or (mixture.mixture == PERFUME and kind != PERFUME)]
        return self._replace(inside=(*self.inside, *holding))


def expand(formula: Formula, substances: Substances) -> Composition:
    """Expand every line of a formula to substances.

    Args:
        formula: The formula as written.
        substances: The library that names are looked up in.

    Returns:
        The composition; its complaints say what could not be expanded and where.
    """
    expansion = _Expansion(formula, substances)
    percents = expansion.line_percents()
    weighed = expansion.weighed(percents)
    for line in formula.lines:
        expansion.add(line, weighed[line.where])
    return expansion.composition(percents)


class _Expansion:
    """One pass over a formula."""

    def __init__(self, formula: Formula, substances: Substances) -> None:
        self._formula = formula
        self._substances = substances
        self._materials = {folded(name): material for name, material in formula.materials.items()}
        self._parts: dict[str, dict[str, Interval]] = {}
        self._portions: list[Portion] = []
        self._unknown: list[Unknown] = []
        self._totals: list[Total] = []
        self._complaints: dict[tuple[Place, str], Complaint] = {}
        self._suggested = 0
        self._opened = 0
        self._check_names()

    # -- lines ---------------------------------------------------------------------------------------------------

    def line_percents(self) -> dict[str, Decimal]:
        """Percent of the product for each line, by its path; the qs line takes the rest."""
        lines = self._formula.lines
        whole = self._whole_grams()
        percents: dict[str, Decimal] = {}
        rests = [line for line in lines if line.percent == QS]
        for line in lines:
            if isinstance(line.percent, Decimal):
                percents[line.where] = line.percent
            elif line.grams is not None:
                percents[line.where] = EXACT.divide(EXACT.multiply(line.grams, HUNDRED), whole) if whole else Decimal(0)
        stated = _sum(percents.values())
        for extra in rests[1:]:
            first = rests[0].amount_place
            self._complain(
                "product",
                extra,
                f"a second qs: line {first.line} already takes the rest; give this line a percent",
            )
            percents[extra.where] = Decimal(0)
        if rests:
            percents[rests[0].where] = self._rest(rests[0], stated)
        return percents

    def weighed(self, percents: Mapping[str, Decimal]) -> dict[str, Interval]:
        """What each line may really bring: within half a division of the balance, where one is stated.

        A qs line is what makes the batch up and takes the difference. Without one the batch weighs what its lines
        weigh, so each line is a share of a sum that may be off as well. A line of nothing is not weighed.
        """
        half = self._half_division()
        if half is None:
            return {where: Interval.exactly(percent) for where, percent in percents.items()}
        near = {
            where: Interval(max(percent - half, Decimal(0)), percent + half) if percent else NOTHING
            for where, percent in percents.items()
        }
        rest = next((line.where for line in self._formula.lines if line.percent == QS), None)
        if rest is not None:
            near[rest] = NOTHING
            low, high = _sums(near.values())
            near[rest] = Interval(max(HUNDRED - high, Decimal(0)), max(HUNDRED - low, Decimal(0)))
            return near
        low, high = _sums(near.values())
        whole = _sum(percents.values())
        return {
            where: Interval(
                _outward(_part(own.low, high - own.high + own.low, whole), ROUND_FLOOR),
                _outward(_part(own.high, low - own.low + own.high, whole), ROUND_CEILING),
            )
            for where, own in near.items()
        }

    def _half_division(self) -> Decimal | None:
        """Half a division of the balance in % of the batch, rounded up."""
        formula = self._formula
        if formula.balance_grams is None:
            return None
        in_grams = [line.grams for line in formula.lines if line.grams is not None]
        whole = _sum(in_grams) if len(in_grams) == len(formula.lines) else formula.batch_grams
        if not whole:
            message = "the balance says nothing without the batch: add for example 'batch: 500 g'"
            self._note(Complaint("batch", formula.place("balance"), "balance", message))
            return None
        return _outward(EXACT.divide(EXACT.multiply(formula.balance_grams, HUNDRED), 2 * whole), ROUND_CEILING)

    def _rest(self, line: Line, stated: Decimal) -> Decimal:
        rest = EXACT.subtract(HUNDRED, stated)
        if rest < 0:
            self._complain(
                "product",
                line,
                f"qs would be {shown(rest)} %: the other lines already make {shown(stated)} %; "
                f"take {shown(-rest)} % out of them",
            )
            return Decimal(0)
        return rest

    def _whole_grams(self) -> Decimal | None:
        """The batch that grams are a share of; the sum of the grams where all lines are grams."""
        lines = self._formula.lines
        weighed = [line.grams for line in lines if line.grams is not None]
        if not weighed:
            return None
        total = _sum(weighed)
        batch = self._formula.batch_grams
        if len(weighed) < len(lines):
            if batch is None:
                line = next(line for line in lines if line.grams is not None)
                self._complain("batch", line, "grams beside percents need the batch: add for example 'batch: 500 g'")
            return batch
        if total == 0:
            self._complain("batch", lines[0], "all lines weigh 0 g")
            return None
        if batch is not None and batch > 0:
            self._totals.append(
                Total(
                    "batch",
                    EXACT.divide(EXACT.multiply(total, HUNDRED), batch),
                    self._formula.place("batch"),
                    "batch",
                    f"the lines weigh {shown(total)} g together, the batch is {shown(batch)} g",
                )
            )
        return total

    # -- materials -----------------------------------------------------------------------------------------------

    def _check_names(self) -> None:
        """A material is never taken for a substance, nor one material for another."""
        first: dict[str, Material] = {}
        for name, material in self._formula.materials.items():
            where, place = f"materials.{name}", self._place_of(material)
            substance = self._substances.find(name)
            if substance is not None:
                means = "" if folded(substance.name) == folded(name) else f" ({substance.name})"
                message = f'the material "{name}" has the name of a substance{means}; give it a name of its own'
                self._note(Complaint("material", place, where, message))
            other = first.setdefault(folded(name), material)
            if other is not material:
                message = f'the materials "{other.name}" and "{name}" have the same name but for its case'
                self._note(Complaint("material", place, where, message))

    def add(self, line: Line, amount: Interval) -> None:
        """What one line brings."""
        material = self._materials.get(folded(line.material))
        if material is None:
            whole = Interval.exactly(HUNDRED)
            self._add_named(line.material, amount, whole, _Origin(line), line.place, line.where)
        else:
            whole = Interval.exactly(HUNDRED)
            self._add_material(material, amount, _Origin(line), (folded(line.material),), whole)

    def _add_material(
        self,
        material: Material,
        amount: Interval,
        origin: _Origin,
        chain: tuple[str, ...],
        strength: Interval,
    ) -> None:
        """What a material brings; `strength` is its own share of the bought material that it comes in."""
        origin = origin._replace(declares=origin.declares | frozenset(material.declares))
        mixtures = self._mixtures(material, origin.line)
        for part, share in self._shares(material).items():
            self._opened += 1
            if self._opened > MOST_OPENED:
                message = f"the materials open into more than {MOST_OPENED:,} parts; no more are counted"
                self._note(Complaint("material", self._formula.place("materials"), "materials", message))
                return
            part_amount = Interval(_share(amount.low, share.low), _share(amount.high, share.high))
            within = Interval(_share(strength.low, share.low), _share(strength.high, share.high))
            place, where = self._place_of_part(material, part), f"materials.{material.name}.{part}"
            inner = self._materials.get(folded(part))
            if inner is None:
                own = origin.inside_of(mixtures, self._substances.find(part)) if mixtures else origin
                own = own._replace(assayed=not material.made)
                self._add_named(part, part_amount, within, own, place, where)
            elif folded(part) in chain:
                names = " in ".join(f'"{name}"' for name in (part, *reversed(chain)))
                self._note(Complaint("material", place, where, f"{names} goes round in a circle"))
            elif len(chain) >= MOST_PREMIX_DEPTH:
                words = f"materials inside materials go deeper than {MOST_PREMIX_DEPTH}"
                self._note(Complaint("material", place, where, words))
            else:
                handled = Interval.exactly(HUNDRED) if material.made else within  # a premix is made from its parts
                own = origin if not mixtures else origin.inside_of(mixtures, None)
                self._add_material(inner, part_amount, own, (*chain, folded(part)), handled)

    def _mixtures(self, material: Material, line: Line) -> tuple[Substance, ...]:
        """The parfum or the natural that a bought material is: what it holds beside is a part of that.

        A material that names none is a parfum where its line says that it is there to perfume.
        """
        if material.made:
            return ()
        parts = [self._substances.find(part) for part in material.parts]
        mixtures = tuple(part for part in parts if part is not None and part.mixture is not None)
        if not mixtures and len(parts) > 1 and line.function in PERFUMES:
            return (self._substances[PERFUMES[line.function]],)
        return mixtures

    def _add_named(
        self,
        name: str,
        amount: Interval,
        strength: Interval,
        origin: _Origin,
        place: Place,
        where: str,
    ) -> None:
        substance = self._substances.find(name)
        if substance is None:
            self._note(Complaint("names", place, where, self._unknown_name(name)))
            self._unknown.append(Unknown(name, amount, origin.line))
            return
        line, function = origin.line, origin.line.function or substance.usual_function
        self._portions.append(
            Portion(substance, amount, line, function, origin.declares, strength, origin.assayed, origin.inside)
        )

    def _unknown_name(self, name: str) -> str:
        shown_name = name if len(name) <= 60 else name[:57] + "..."
        if self._suggested >= MOST_SUGGESTIONS:
            return f'unknown material "{shown_name}"'
        self._suggested += 1
        own = [known for known in self._formula.materials if folded(known)[:4] == folded(name)[:4]]
        guesses = () if is_number(name) else self._substances.nearest(name)
        near = list(dict.fromkeys([*guesses, *own]))[:3]
        if near:
            return f'unknown material "{shown_name}"; the nearest known names: ' + ", ".join(near)
        return f'unknown material "{shown_name}"; give its INCI name or CAS number, or describe it under materials'

    def _shares(self, material: Material) -> dict[str, Interval]:
        """The parts of a material in % w/w of it; checked once."""
        if material.name in self._parts:
            return self._parts[material.name]
        stated = {part: value for part, value in material.parts.items() if isinstance(value, Decimal)}
        widths = _widths(material)
        rests = [part for part, value in material.parts.items() if value == QS]
        total = _sum(stated.values())
        shares = {part: _within(value, widths.get(folded(part), Decimal(0))) for part, value in stated.items()}
        if rests:
            self._check_rest(material, rests, total)
            low = HUNDRED - _sum(share.high for share in shares.values())
            high = HUNDRED - _sum(share.low for share in shares.values())
            shares[rests[0]] = Interval(max(low, Decimal(0)), max(high, Decimal(0)))
        else:
            place, where = self._place_of(material), f"materials.{material.name}"
            self._totals.append(Total("material", total, place, where, f'the parts of "{material.name}"'))
        self._check_tolerance(material)
        self._parts[material.name] = {part: shares[part] for part in material.parts if part in shares}
        return self._parts[material.name]

    def _check_rest(self, material: Material, rests: list[str], total: Decimal) -> None:
        if len(rests) > 1:
            message = f'"{material.name}" has two qs parts, {rests[0]} and {rests[1]}; only one can take the rest'
            self._note(
                Complaint("material", self._place_of_part(material, rests[1]), f"materials.{material.name}", message)
            )
        if total > HUNDRED:
            message = (
                f'qs in "{material.name}" would be {shown(HUNDRED - total)} %: '
                f"the stated parts already make {shown(total)} %"
            )
            self._note(
                Complaint("material", self._place_of_part(material, rests[0]), f"materials.{material.name}", message)
            )

    def _check_tolerance(self, material: Material) -> None:
        if not isinstance(material.tolerance, dict):
            return
        parts = {folded(part) for part in material.parts}
        for part in material.tolerance:
            if folded(part) not in parts:
                message = f'the tolerance of "{material.name}" names "{part}", which is not one of its parts'
                self._note(Complaint("material", self._place_of(material), f"materials.{material.name}", message))

    def _place_of(self, material: Material) -> Place:
        return self._formula.place("shelf") if material.on_shelf else material.place

    def _place_of_part(self, material: Material, part: str) -> Place:
        return self._formula.place("shelf") if material.on_shelf else material.part_places[part]

    # -- the result ----------------------------------------------------------------------------------------------

    def composition(self, percents: dict[str, Decimal]) -> Composition:
        """What was gathered."""
        total = _sum(percents.values())
        lines = self._formula.lines
        if not any(line.percent == QS for line in lines):
            self._totals.append(Total("product", total, self._formula.place("phases"), "phases", "the lines"))
        for name, material in self._formula.materials.items():
            if material.name not in self._parts and material.on_shelf is None and name == material.name:
                self._shares(material)
        return Composition(
            portions=tuple(self._portions),
            unknown=tuple(self._unknown),
            totals=tuple(self._totals),
            complaints=tuple(self._complaints.values()),
            total_percent=total,
        )

    def _complain(self, about: What, line: Line, message: str) -> None:
        self._note(Complaint(about, line.amount_place, line.where, message))

    def _note(self, complaint: Complaint) -> None:
        self._complaints.setdefault((complaint.place, complaint.message), complaint)


def _widths(material: Material) -> dict[str, Decimal]:
    """By how much each part of a material may be off, by its folded name."""
    tolerance = material.tolerance
    if isinstance(tolerance, dict):
        return {folded(part): width for part, width in reversed(tolerance.items())}  # of two alike the first counts
    return {folded(part): tolerance or Decimal(0) for part in material.parts}


def _within(value: Decimal, width: Decimal) -> Interval:
    return Interval(max(value - width, Decimal(0)), min(value + width, max(HUNDRED, value)))


def _sum(values: Iterable[Decimal]) -> Decimal:
    total = Decimal(0)
    for value in values:
        total = EXACT.add(total, value)
    return total


def _sums(values: Iterable[Interval]) -> Interval:
    total = NOTHING
    for value in values:
        total = total + value
    return total


def _part(amount: Decimal, of: Decimal, whole: Decimal) -> Decimal:
    return EXACT.divide(EXACT.multiply(amount, whole), of) if of else Decimal(0)


def _outward(value: Decimal, rounding: str) -> Decimal:
    """To a millionth of a percent, away from the value: what was divided has no last digit."""
    return value.quantize(Decimal("0.000001"), rounding=rounding, context=EXACT)


def _share(amount: Decimal, percent: Decimal) -> Decimal:
    return EXACT.divide(EXACT.multiply(amount, percent), HUNDRED)
