"""declared: what must stand in the ingredient declaration stands there.

The declaration is the maker's draft, `label.ingredients`; without one it is what a label would print: every named line
and every part of a material, but not what is inside a parfum, an essential oil or a hydrosol.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Any, NamedTuple

from watchglass.composition import SCENTS, Portion
from watchglass.errors import Place
from watchglass.interval import NOTHING, Interval, Limit, shown_interval
from watchglass.nearest import did_you_mean, folded
from watchglass.requirements import Case, Check, Judgement, Verdict, enumerated, largest, names_of
from watchglass.requirements.percent import amount_as
from watchglass.substances import Substances

DRAFT = "label.ingredients"
_BETWEEN_NAMES = re.compile(r"[/()\[\]]")


class Entry(NamedTuple):
    """One entry of the maker's draft: the names that it holds, folded, and the substances that they mean."""

    text: str
    place: Place
    where: str
    words: frozenset[str]
    substances: frozenset[str]


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `declared` requirement: {of, called}, {parts_of, unless} or {draft}."""
    if "draft" in parameters:
        return Check(_complete if parameters["draft"] == "complete" else _in_order)
    if "parts_of" in parameters:
        kinds, fact = frozenset(parameters["parts_of"]), parameters["unless"]
        return Check(lambda case, limit: _stated_parts(case, limit, kinds, fact))
    names = substances.resolve(parameters["of"])
    called, wanted = parameters.get("called", names[0]), frozenset(names)
    return Check(lambda case, limit: _named(case, limit, wanted, called), wanted)


def entries_of(case: Case) -> list[Entry]:
    """The draft. An entry may hold several names of one ingredient, as in "Aqua (Water)" or "Parfum/Fragrance"."""
    formula = case.formula
    found = []
    for number, text in enumerate(formula.ingredients):
        words = [text] if case.substances.find(text) else [text, *filter(str.strip, _BETWEEN_NAMES.split(text))]
        known = filter(None, map(case.substances.find, words))
        names = frozenset(substance.name for substance in known)
        place, where = formula.ingredient_places[text], f"{DRAFT}[{number}]"
        found.append(Entry(text, place, where, frozenset(map(folded, words)), names))
    return found


# -- a substance by its name ---------------------------------------------------------------------------------------


def _named(case: Case, limit: Limit, names: frozenset[str], called: str) -> list[Judgement]:
    """Above the limit's amount the declaration holds the name; a part of a natural counts as that natural as well."""
    portions = [portion for portion in case.composition.portions if portion.percent.high > 0 and _is_of(portion, names)]
    value = amount_as(portions, "supplied", case.substances)
    due = "outside" if value is None or not portions else limit.standing(value)
    if value is None or due == "outside":
        return []
    place, where = largest(portions).line.amount_place, largest(portions).line.where
    found = tuple(name for name in names_of(portions) if name in names) or (called,)
    entries = entries_of(case)
    there = next((entry for entry in entries if folded(called) in entry.words), None)
    if there is not None:
        message = f"the declaration names {called}"
        return [Judgement("meets", message, there.place, there.where, found, value, "% w/w", limit)]
    if not entries and any(portion.printed in names for portion in portions):
        return [Judgement("meets", f"{called} is printed by name", place, where, found, value, "% w/w", limit)]
    holders = enumerated(sorted({portion.printed for portion in portions if portion.printed not in names}))
    inside = f", inside {holders}" if holders else ""
    message = f"{called} is {shown_interval(value)} % w/w{inside}; {limit.in_words()} % the declaration must name it"
    other = next((entry for entry in entries if entry.substances & names), None)
    if other is not None:
        message += f'; it calls it "{other.text}"'
        place, where = other.place, other.where
    need = f"add {called} to {DRAFT}" if other is None else f"write {called} in its place"
    needs = (need,) if entries or other else (f"give the whole declaration as {DRAFT}, with {called} in it",)
    verdict: Verdict = "undecided" if due == "straddles" else "breaks"
    return [Judgement(verdict, message, place, where, found, value, "% w/w", limit, needs)]


def _is_of(portion: Portion, names: frozenset[str]) -> bool:
    return portion.substance.name in names or any(mixture.name in names for mixture in portion.inside)


# -- what is inside a mixture --------------------------------------------------------------------------------------


def _stated_parts(case: Case, limit: Limit, kinds: frozenset[str], fact: str) -> list[Judgement]:
    """The supplier has said what is inside each mixture: one judgement a line, not one for all that may be in it.

    Nothing is due where all unstated mixtures together are so little that no part of them can be above the limit.
    """
    lines: dict[str, list[Portion]] = {}
    for portion in case.composition.portions:
        kind = next((m.mixture for m in (*portion.inside, portion.substance) if m.mixture is not None), None)
        if kind in kinds and portion.percent.high > 0:
            lines.setdefault(portion.line.where, []).append(portion)
    unstated = [portion for own in lines.values() for portion in own if fact not in portion.declares]
    total = amount_as(unstated, "supplied", case.substances) or NOTHING
    if unstated and limit.standing(total) == "outside":
        return []
    return [_stated(case, limit, own, fact) for own in lines.values()]


def _stated(case: Case, limit: Limit, portions: list[Portion], fact: str) -> Judgement:
    names = tuple(dict.fromkeys(_mixture(portion) for portion in portions))
    line, value = largest(portions).line, amount_as(portions, "supplied", case.substances)
    called = enumerated(names)
    if all(fact in portion.declares for portion in portions):
        message = f"{called}: the supplier's statement is entered ({fact})"
        return Judgement("meets", message, line.amount_place, line.where, names, value, "% w/w", limit)
    amount = shown_interval(value) if value is not None else "some"
    verb = "is" if len(names) == 1 else "make"
    message = (
        f"{called} {verb} {amount} % w/w; what of it is {limit.in_words()} % must be named, and that is not stated"
    )
    needs = (f"the supplier's statement: enter what it names under contains and declare {fact} on the material",)
    return Judgement("undecided", message, line.amount_place, line.where, names, value, "% w/w", limit, needs)


def _mixture(portion: Portion) -> str:
    """The outermost mixture that a portion is, or is inside of."""
    return portion.inside[0].name if portion.inside else portion.substance.name


# -- the draft as a whole ------------------------------------------------------------------------------------------


def _complete(case: Case, limit: Limit) -> list[Judgement]:
    """Every ingredient stands in the draft, and nothing that is not in the formula."""
    entries = entries_of(case)
    if not entries:
        return []
    wanted = printed_amounts(case)
    unknown = dict.fromkeys(unknown.name for unknown in case.composition.unknown)
    named = {name for entry in entries for name in entry.substances}
    words = {word for entry in entries for word in entry.words}
    missing = [name for name in wanted if name not in named]
    missing += [name for name in unknown if folded(name) not in words]
    place = case.formula.place("label")
    found = []
    if missing:
        message = f"the declaration does not name {', '.join(missing)}"
        needs = (f"add {', '.join(missing)} to {DRAFT}, or take it out of the formula",)
        found.append(Judgement("breaks", message, place, DRAFT, tuple(missing), needs=needs))
    for entry in () if unknown else _strangers(case, entries):
        message = (
            f'the declaration names "{entry.text}", which is not in the formula{did_you_mean(entry.text, missing)}'
        )
        found.append(Judgement("breaks", message, entry.place, entry.where, tuple(sorted(entry.substances))))
    if not found:
        found.append(Judgement("meets", f"the declaration names all {len(wanted)} ingredients", place, DRAFT))
    return found


def _strangers(case: Case, entries: list[Entry]) -> list[Entry]:
    """Entries of nothing in the formula. A scent may be in a mixture: what is in that is another rule's question."""
    present = {name for portion in case.composition.portions for name in (portion.substance.name, portion.printed)}
    strangers = [entry for entry in entries if not entry.substances & present]
    if any(portion.substance.mixture for portion in case.composition.portions):
        strangers = [entry for entry in strangers if not _is_scent(case, entry)]
    return strangers


def _is_scent(case: Case, entry: Entry) -> bool:
    return any(not SCENTS.isdisjoint(case.substances[name].functions) for name in entry.substances)


def _in_order(case: Case, limit: Limit) -> list[Judgement]:
    """The largest stand first; below the limit's amount, and for colourants, the order is free."""
    amounts = printed_amounts(case)
    colourants = {p.substance.name for p in case.composition.portions if p.function == "colourant"}
    standing = [
        (entry, name, amounts[name])
        for entry in entries_of(case)
        for name in sorted(entry.substances & amounts.keys() - colourants)[:1]
    ]
    if not standing:
        return []
    for (_, before, less), (entry, name, more) in pairwise(standing):
        if more.low > less.high and limit.standing(more) == "inside":
            message = f"{name} ({shown_interval(more)} %) stands after {before} ({shown_interval(less)} %)"
            needs = ("the largest first, by weight when they are added",)
            return [Judgement("breaks", message, entry.place, entry.where, (name, before), more, "%", limit, needs)]
    message = f"the declaration stands in order of weight ({len(standing)} ingredients)"
    return [Judgement("meets", message, case.formula.place("label"), DRAFT)]


def printed_amounts(case: Case) -> dict[str, Interval]:
    """Every name that a label prints for the formula, with its % w/w."""
    amounts: dict[str, Interval] = {}
    for portion in case.composition.portions:
        if portion.percent.high > 0:
            amounts[portion.printed] = amounts.get(portion.printed, NOTHING) + portion.percent
    return amounts
