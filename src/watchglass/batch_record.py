"""A batch as it was made: what the balance and the meter said, held against the sheet and the rules."""

from __future__ import annotations

import json
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import NamedTuple

from watchglass.dates import is_date
from watchglass.errors import Place, Unreadable
from watchglass.findings import Review
from watchglass.formula import Formula, Line, Measured, grams_of, measured_of
from watchglass.interval import shown
from watchglass.judge import review
from watchglass.nearest import did_you_mean, folded
from watchglass.rulebook import Rulebook
from watchglass.schema import Fault, faults
from watchglass.sheet import Mapping, Node, Scalar, Sequence, read
from watchglass.weigh import shares_of


class Weighed(NamedTuple):
    """One weighing of a batch."""

    material: str
    grams: Decimal
    lot: str | None
    expires: str | None
    place: Place


class Record(NamedTuple):
    """A batch record as written; `weighed` by phase."""

    title: str
    batch_grams: Decimal
    made_on: str
    weighed: dict[str, tuple[Weighed, ...]]
    phase_places: dict[str, Place]
    measured: Measured | None
    place: Place


class Departure(NamedTuple):
    """Where a batch departs from its sheet; in one sentence."""

    place: Place
    message: str


class Checked(NamedTuple):
    """What a record comes to.

    Attributes:
        departures: From the sheet, in the order of the record.
        review: Of the formula with these weights and this reading; None while something is not weighed.
    """

    departures: tuple[Departure, ...]
    review: Review | None


def record_of(text: str | bytes) -> Record | list[Fault]:
    """Read a batch record, or tell what is wrong with it, each with its place."""
    try:
        node = read(text)
    except Unreadable as error:
        return [Fault(error.place, "", error.message)]
    found = faults(node, "record")
    if found:
        return found
    assert isinstance(node, Mapping)
    weighed = node.items["weighed"]
    assert isinstance(weighed, Mapping)
    batch = grams_of(_text(node, "batch") or "")
    if not batch:
        return [Fault(node.items["batch"].place, "batch", "a batch of nothing; for example 'batch: 500 g'")]
    phases = {name: tuple(_weighings(entries)) for name, entries in weighed.items.items()}
    dates = [*_impossible_date(node, "made_on")]
    dates += [fault for entry in _entries(weighed) for fault in _impossible_date(entry, "expires")]
    return dates or Record(
        title=_text(node, "record") or "",
        batch_grams=batch,
        made_on=_text(node, "made_on") or "",
        weighed=phases,
        phase_places=dict(weighed.keys),
        measured=measured_of(node),
        place=node.place,
    )


def check(record: Record, formula: Formula, book: Rulebook, on: str, path: str = "-") -> Checked:
    """Hold a batch against its formula.

    Args:
        record: What was weighed and measured.
        formula: What was to be made.
        book: The rules, and how far a weight may be off.
        on: The date of the rules.
        path: How the formula is called.
    """
    strangers = [*_strangers(record, formula)]
    departures = list(strangers)
    grams: dict[str, Decimal] = {}
    for line, asked in _asked(formula, record.batch_grams).items():
        found = _entry(record, line, formula)
        if found is None or not found.grams:
            place = found.place if found else record.phase_places.get(line.phase, record.place)
            what = f"{line.material} in {line.phase} has no weight yet; the sheet asks {shown(asked)} g"
            departures.append(Departure(place, what))
            continue
        grams[line.where] = found.grams
        departures += _off(found, line, asked, Decimal(str(book.model.weight_off_percent)))
        departures += _expired(found, record.made_on)
    made = None
    if len(grams) == len(formula.lines) and not strangers:
        made = review(_as_made(formula, grams, record.measured), book, on, path)
    return Checked(tuple(sorted(departures)), made)


def blank(formula: Formula, batch_grams: Decimal, made_on: str) -> str:
    """An empty record to fill in, as YAML; what the sheet asks stands beside each line."""
    asked = _asked(formula, batch_grams)
    lines = [f"record: {_quoted(formula.title)}"]
    lines += [f"code: {_quoted(formula.code)}"] if formula.code else []
    lines += ['number: ""', f"batch: {shown(batch_grams)} g", f"made_on: {made_on}", 'by: ""', "weighed:"]
    for phase in formula.phases:
        lines.append(f"  {_quoted(phase.name)}:")
        for line in phase.lines:
            name, wanted = _quoted(line.material), shown(asked[line])
            lines.append(f'    - {{material: {name}, grams: 0, lot: ""}}   # asked: {wanted} g')
    return "\n".join([*lines, "# measured: {ph: 4.02, temperature: 22, by: meter, after_hours: 24}", ""])


# -- against the sheet -------------------------------------------------------------------------------------------


def _asked(formula: Formula, batch_grams: Decimal) -> dict[Line, Decimal]:
    """What the sheet asks of each line, to a milligram."""
    shares = shares_of(formula)
    exact = {line: shares[line.where] * Fraction(batch_grams) for line in formula.lines}
    return {line: Decimal(round(grams * 1000)) / 1000 for line, grams in exact.items()}


def _entry(record: Record, line: Line, formula: Formula) -> Weighed | None:
    """The weighing of a line: the one of its name in its phase; of several the one in the same turn."""
    same = [entry for entry in record.weighed.get(line.phase, ()) if folded(entry.material) == folded(line.material)]
    turn = _turn(line, formula)
    return same[turn] if turn < len(same) else None


def _turn(line: Line, formula: Formula) -> int:
    """How many lines of the same material stand before a line in its phase."""
    own = next(phase.lines for phase in formula.phases if phase.name == line.phase)
    return [other for other in own if folded(other.material) == folded(line.material)].index(line)


def _off(found: Weighed, line: Line, asked: Decimal, most_percent: Decimal) -> Iterator[Departure]:
    if not asked:
        return
    off = (found.grams - asked) / asked * 100
    if abs(off) > most_percent:
        way = "more" if off > 0 else "less"
        yield Departure(
            found.place,
            f"{line.material} in {line.phase} weighs {shown(found.grams)} g, {abs(off):.1f} % {way} than the "
            f"{shown(asked)} g of the sheet",
        )


def _expired(found: Weighed, made_on: str) -> Iterator[Departure]:
    if found.expires is not None and found.expires < made_on:
        lot = f" (lot {found.lot})" if found.lot else ""
        yield Departure(found.place, f"{found.material}{lot} expired on {found.expires}, before {made_on}")


def _strangers(record: Record, formula: Formula) -> Iterator[Departure]:
    """Phases and materials of the record that the formula does not have."""
    phases = {phase.name: [line.material for line in phase.lines] for phase in formula.phases}
    for name, entries in record.weighed.items():
        if name not in phases:
            yield Departure(record.phase_places[name], f'the formula has no phase "{name}"{did_you_mean(name, phases)}')
            continue
        known = {folded(material) for material in phases[name]}
        for entry in entries:
            if folded(entry.material) not in known:
                hint = did_you_mean(entry.material, phases[name])
                yield Departure(entry.place, f'phase {name} of the formula has no "{entry.material}"{hint}')


def _as_made(formula: Formula, grams: dict[str, Decimal], measured: Measured | None) -> Formula:
    """The formula with what was really weighed, and the reading of this batch."""
    phases = tuple(
        phase._replace(lines=tuple(line._replace(percent=None, grams=grams[line.where]) for line in phase.lines))
        for phase in formula.phases
    )
    whole = sum(grams.values(), Decimal(0))
    return formula._replace(phases=phases, batch_grams=whole, measured=measured)


# -- from the text -----------------------------------------------------------------------------------------------


def _weighings(entries: Node) -> Iterator[Weighed]:
    assert isinstance(entries, Sequence)
    for entry in entries.items:
        assert isinstance(entry, Mapping)
        grams = entry.items["grams"]
        assert isinstance(grams, Scalar)
        assert isinstance(grams.value, Decimal)
        yield Weighed(
            _text(entry, "material") or "", grams.value, _text(entry, "lot"), _text(entry, "expires"), grams.place
        )


def _entries(weighed: Mapping) -> Iterator[Mapping]:
    for phase in weighed.items.values():
        if isinstance(phase, Sequence):
            yield from (entry for entry in phase.items if isinstance(entry, Mapping))


def _impossible_date(entry: Mapping, key: str) -> Iterator[Fault]:
    item = entry.items.get(key)
    if isinstance(item, Scalar) and not is_date(item.raw):
        yield Fault(item.place, key, f'{key} is "{item.raw}"; that day is on no calendar')


def _text(entry: Mapping, key: str) -> str | None:
    item = entry.items.get(key)
    return str(item.value) if isinstance(item, Scalar) and item.value is not None else None


def _quoted(words: str) -> str:
    """A YAML double-quoted scalar, which JSON's is too."""
    return json.dumps(words, ensure_ascii=False)
