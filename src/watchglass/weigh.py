"""What to weigh: each phase in grams that the balance can show and that add up to the batch, premixes first.

Rounding gives every line its whole divisions and hands out what is left to the lines that lost most (the largest
remainder), so a sheet is exact whatever the balance.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from fractions import Fraction
from typing import NamedTuple

from watchglass.composition import expand
from watchglass.errors import CannotRun
from watchglass.findings import Finding, Review
from watchglass.formula import QS, Formula, Material
from watchglass.interval import shown
from watchglass.judge import review
from watchglass.nearest import folded
from watchglass.rulebook import Rulebook

VERDICT_OF_NONE = "meets"  # what no finding speaks of is met, or no business of the rule


class Weighing(NamedTuple):
    """One material on the balance.

    Attributes:
        material: As the sheet calls it.
        percent: Exact, of what is made; to ten places where it cannot be written out.
        grams: A whole number of divisions.
        off_percent: How far rounding moves it, in % of itself.
        note: From its line.
    """

    material: str
    percent: Decimal
    grams: Decimal
    off_percent: Decimal
    note: str | None = None


class Step(NamedTuple):
    """A phase, or a premix, with what it is made of and how.

    Attributes:
        name: Of the phase or the premix.
        weighings: In the order of the sheet.
        grams: Of all of them.
        temperature: °C, where the formula says.
        note: How to do it, from the formula.
        cautions: What can hurt here.
    """

    name: str
    weighings: tuple[Weighing, ...]
    grams: Decimal
    temperature: Decimal | None = None
    note: str | None = None
    cautions: tuple[str, ...] = ()


class Moved(NamedTuple):
    """A verdict that rounding changes."""

    address: str
    market: str | None
    before: str
    after: str
    message: str


class Fill(NamedTuple):
    """So many containers of a size, and what is left over."""

    size: str
    pieces: int
    rest_grams: Decimal


class WeighSheet(NamedTuple):
    """All that is weighed for one batch.

    Attributes:
        title: Of the formula.
        code: The maker's own.
        batch_grams: What is made.
        balance_grams: One division.
        premixes: Each before the first that needs it; with some to spare.
        phases: In the order of the formula.
        moved: Verdicts that the rounded weights change.
        coarse: Materials whose rounding is more than the usual share of their weight.
        sample_grams: For the pH meter; it does not go back.
        fills: One for each size of container that the formula names.
        target: The maker's own pH window, in words.
    """

    title: str
    code: str | None
    batch_grams: Decimal
    balance_grams: Decimal
    premixes: tuple[Step, ...]
    phases: tuple[Step, ...]
    moved: tuple[Moved, ...]
    coarse: tuple[str, ...]
    sample_grams: Decimal
    fills: tuple[Fill, ...]
    target: str | None


def weigh(
    formula: Formula, book: Rulebook, on: str, batch_grams: Decimal | None = None, balance_grams: Decimal | None = None
) -> WeighSheet:
    """The sheet for a batch.

    Args:
        formula: As written.
        book: For cautions, and for what rounding does to verdicts.
        on: The date of the rules.
        batch_grams: Instead of the formula's own.
        balance_grams: Instead of the formula's own.

    Raises:
        CannotRun: With the reason, in one line: no batch, no balance, a batch that is no whole number of divisions, a
            line too small for the balance, a sheet that does not add up, containers without a density.
    """
    batch, balance = batch_grams or _batch_of(formula), balance_grams or formula.balance_grams
    if batch is None:
        raise CannotRun("how much is to be made? give --batch, for example '--batch 500g', or batch in the formula")
    if balance is None:
        raise CannotRun("what does the balance show? give --balance, for example '--balance 0.1g'")
    if batch % balance:
        raise CannotRun(f"a batch of {shown(batch)} g is no whole number of divisions of {shown(balance)} g")
    made = expand(formula, book.substances)
    if made.complaints:
        first = made.complaints[0]
        raise CannotRun(f"line {first.place.line}: {first.message}; mend the sheet first, see 'watchglass review'")
    if made.total_percent != 100:
        raise CannotRun(f"the lines make {shown(made.total_percent)} %, not 100; mend the sheet first")
    shares = shares_of(formula)
    grams = apportioned([share * Fraction(batch) for share in shares.values()], balance)
    weights = dict(zip(shares, grams, strict=True))
    before = review(formula._replace(balance_grams=None), book, on)
    phases = tuple(_phases(formula, before, shares, weights))
    premixes = tuple(
        premix._replace(cautions=_making(formula, premix, book, on))
        for premix in _premixes(formula, book, phases, balance)
    )
    phases = tuple(_without_those_of(premixes, phase) for phase in phases)
    too_small = [w.material for step in (*premixes, *phases) for w in step.weighings if w.percent and not w.grams]
    if too_small:
        raise CannotRun(
            f"{too_small[0]} would be less than half a division of {shown(balance)} g: make a larger batch, use a "
            "finer balance, or weigh it in as a premix"
        )
    sample = Decimal(str(book.model.sample_grams))
    return WeighSheet(
        title=formula.title,
        code=formula.code,
        batch_grams=batch,
        balance_grams=balance,
        premixes=premixes,
        phases=phases,
        moved=tuple(_moved(before, review(_weighed(formula, weights, batch), book, on))),
        coarse=tuple(_coarse((*premixes, *phases), Decimal(str(book.model.coarse_from_percent)))),
        sample_grams=sample,
        fills=tuple(_fills(formula, batch - sample)),
        target=None if formula.target is None else _window(formula.target.min, formula.target.max),
    )


def apportioned(amounts: Sequence[Fraction], step: Decimal) -> list[Decimal]:
    """Amounts rounded to whole steps so that they add up to what they added up to before.

    Args:
        amounts: None negative; together a whole number of steps.
        step: More than nothing.

    Returns:
        In the same order; each within one step of its amount. Of equal remainders the earlier is rounded up.
    """
    exact = [amount / Fraction(step) for amount in amounts]
    whole = [amount.numerator // amount.denominator for amount in exact]
    left = int(sum(exact)) - sum(whole)
    by_remainder = sorted(range(len(exact)), key=lambda number: (whole[number] - exact[number], number))
    for number in by_remainder[:left]:
        whole[number] += 1
    return [count * step for count in whole]


# -- phases ------------------------------------------------------------------------------------------------------


def _batch_of(formula: Formula) -> Decimal | None:
    """The formula's batch, or what its lines weigh together."""
    in_grams = [line.grams for line in formula.lines if line.grams is not None]
    return sum(in_grams, Decimal(0)) if len(in_grams) == len(formula.lines) else formula.batch_grams


def shares_of(formula: Formula) -> dict[str, Fraction]:
    """The exact share of each line by its path; together 1 where the lines make 100 %."""
    lines = formula.lines
    whole = Fraction(_batch_of(formula) or 0)
    shares = {
        line.where: Fraction(line.percent) / 100
        if isinstance(line.percent, Decimal)
        else Fraction(line.grams) / whole
        if line.grams is not None
        else Fraction(0)
        for line in lines
    }
    rest = next((line.where for line in lines if line.percent == QS), None)
    if rest is not None:
        shares[rest] = Fraction(1) - sum(shares.values(), Fraction(0))
    return shares


def _phases(
    formula: Formula, found: Review, shares: Mapping[str, Fraction], weights: Mapping[str, Decimal]
) -> Iterator[Step]:
    cautions = _cautions(found)
    whole = Fraction(sum(weights.values(), Decimal(0)))
    for phase in formula.phases:
        own = tuple(
            _weighing(line.material, shares[line.where], weights[line.where], whole, line.note) for line in phase.lines
        )
        grams = sum((weighing.grams for weighing in own), Decimal(0))
        yield Step(phase.name, own, grams, phase.temperature, phase.note, cautions.get(phase.name, ()))


def _weighing(material: str, share: Fraction, grams: Decimal, whole: Fraction, note: str | None = None) -> Weighing:
    wanted = share * whole
    off = abs(Fraction(grams) - wanted) / wanted * 100 if wanted else Fraction(0)
    return Weighing(material, _decimal(share * 100), grams, _decimal(off), note)


def _decimal(value: Fraction) -> Decimal:
    """To ten places at most, without zeros at the end."""
    return (Decimal(value.numerator) / Decimal(value.denominator)).quantize(Decimal("1e-10")).normalize() + 0


def _cautions(found: Review) -> dict[str, tuple[str, ...]]:
    """What the handling rules tell of each phase."""
    told: dict[str, tuple[str, ...]] = {}
    for where, caution in found.cautioned:
        phase = where.removeprefix("phases.")
        told[phase] = (*told.get(phase, ()), caution)
    return told


# -- premixes ----------------------------------------------------------------------------------------------------


def _premixes(formula: Formula, book: Rulebook, phases: Sequence[Step], balance: Decimal) -> list[Step]:
    """The maker's own premixes, each with what the batch needs and some to spare, inner ones first."""
    made = {folded(name): material for name, material in formula.materials.items() if material.made}
    needed: dict[str, Decimal] = {}
    spare = 1 + Decimal(str(book.model.overage_percent)) / 100
    for step in phases:
        for weighing in step.weighings:
            _add(needed, made, weighing.material, weighing.grams)
    steps: list[Step] = []
    for name in _outermost_first(needed, made):
        grams = (needed[name] * spare / balance).to_integral_value(ROUND_CEILING) * balance
        step = _premix(made[name], grams, balance)
        for weighing in step.weighings:
            _add(needed, made, weighing.material, weighing.grams)
        steps.append(step)
    return steps[::-1]


def _making(formula: Formula, premix: Step, book: Rulebook, on: str) -> tuple[str, ...]:
    """What the handling rules tell of making a premix: it is reviewed as a product of one phase."""
    lines = tuple(
        formula.lines[0]._replace(
            material=weighing.material,
            percent=weighing.grams * 100 / premix.grams,
            grams=None,
            function=None,
            note=None,
            phase=premix.name,
            where=f"phases.{premix.name}.lines[{number}]",
        )
        for number, weighing in enumerate(premix.weighings)
    )
    phase = formula.phases[0]._replace(name=premix.name, lines=lines, note=None, temperature=None)
    alone = formula._replace(phases=(phase,), batch_grams=None, balance_grams=None, measured=None)
    return review(alone, book, on).cautions


def _without_those_of(premixes: Iterable[Step], phase: Step) -> Step:
    """A phase without the cautions that belong to making a premix, where they stand already."""
    used = [premix for premix in premixes if any(folded(w.material) == folded(premix.name) for w in phase.weighings)]
    said = {caution for premix in used for caution in premix.cautions}
    made = tuple(f'the stock "{premix.name}"' for premix in used)
    own = tuple(caution for caution in phase.cautions if caution not in said and not caution.startswith(made))
    return phase._replace(cautions=own)


def _add(needed: dict[str, Decimal], made: Mapping[str, Material], material: str, grams: Decimal) -> None:
    name = folded(material)
    if name in made:
        needed[name] = needed.get(name, Decimal(0)) + grams


def _outermost_first(needed: dict[str, Decimal], made: Mapping[str, Material]) -> Iterator[str]:
    """Each premix once, after every other one that holds it."""
    waiting = list(made)
    while waiting:
        name = next(
            one
            for one in waiting
            if not any(one in map(folded, made[other].parts) for other in waiting if other != one)
        )
        waiting.remove(name)
        if needed.get(name):
            yield name


def _premix(material: Material, grams: Decimal, balance: Decimal) -> Step:
    stated = {part: Fraction(share) / 100 for part, share in material.parts.items() if isinstance(share, Decimal)}
    shares = {part: stated.get(part, Fraction(1) - sum(stated.values(), Fraction(0))) for part in material.parts}
    weights = apportioned([share * Fraction(grams) for share in shares.values()], balance)
    own = tuple(
        _weighing(part, share, weight, Fraction(grams))
        for (part, share), weight in zip(shares.items(), weights, strict=True)
    )
    return Step(material.name, own, grams)


# -- what rounding does ------------------------------------------------------------------------------------------


def _weighed(formula: Formula, weights: Mapping[str, Decimal], batch: Decimal) -> Formula:
    """The formula that the sheet makes: its weights, exactly."""
    phases = tuple(
        phase._replace(lines=tuple(line._replace(percent=None, grams=weights[line.where]) for line in phase.lines))
        for phase in formula.phases
    )
    return formula._replace(phases=phases, batch_grams=batch, balance_grams=None)


def _moved(written: Review, weighed: Review) -> Iterator[Moved]:
    """The verdicts of the formula as written against those of the weights on the sheet."""
    before, after = _verdicts(written), _verdicts(weighed)
    for key in dict.fromkeys((*after, *before)):
        was = before[key].verdict if key in before else VERDICT_OF_NONE
        now = after[key].verdict if key in after else VERDICT_OF_NONE
        if was != now:
            message = after[key].message if key in after else before[key].message
            yield Moved(key[0], key[1], was, now, message)


def _verdicts(found: Review) -> dict[tuple[str, str | None, str], Finding]:
    return {(finding.address, finding.market, finding.where): finding for finding in found.findings}


def _coarse(steps: Iterable[Step], from_percent: Decimal) -> Iterator[str]:
    for step in steps:
        for weighing in step.weighings:
            if weighing.off_percent > from_percent:
                off = weighing.off_percent.quantize(Decimal("0.1"))
                yield f"{weighing.material} in {step.name}: rounding moves it by {off} % of itself"


# -- filling -----------------------------------------------------------------------------------------------------


def _fills(formula: Formula, grams: Decimal) -> Iterator[Fill]:
    """How many containers of each size what is left fills, if all of it goes into that size."""
    for size in formula.containers:
        each, density = Decimal(size.rstrip("mlg ")), formula.density_g_per_ml
        if not each:
            raise CannotRun(f'a container of "{size}" holds nothing')
        if size.endswith("ml"):
            if density is None:
                raise CannotRun("containers in ml need the density: weigh 100 ml and add for example 'density: 1.02'")
            each *= density
        count = int((grams / each).to_integral_value(ROUND_FLOOR)) if grams > 0 else 0
        yield Fill(size, count, grams - count * each)


def _window(low: Decimal | None, high: Decimal | None) -> str:
    if low is None or high is None:
        return f"at least {shown(low)}" if low is not None else f"at most {shown(high or Decimal(0))}"
    return f"{shown(low)} to {shown(high)}"
