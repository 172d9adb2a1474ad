"""preserved: a water-based product holds a recognised preservative system that can work, or needs none by nature.

A system works at its dose and inside its pH range; for a weak acid the undissociated share is told, because that is
the part that works. It is never a proof: a challenge test decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from typing import Any, Literal, NamedTuple

from watchglass.composition import Portion
from watchglass.interval import NOTHING, Interval, Limit, shown, shown_interval
from watchglass.requirements import Case, Check, Judgement, chosen, largest, listed, names_of
from watchglass.requirements.ph import measure, ph_in_words
from watchglass.substances import Substances

CHALLENGE = "a challenge test decides"

State = Literal["works", "weak dose", "wrong pH", "unsure"]


class System(NamedTuple):
    """A recognised preservative system: what it is of, its pH range and its usual dose in % w/w as supplied."""

    name: str
    of: frozenset[str]
    parts: tuple[str, ...]
    is_blend: bool
    booster: bool
    gap: str | None
    ph: Limit
    dose: Limit
    read: str


class Standing(NamedTuple):
    """How a system stands in one product."""

    system: System
    portions: tuple[Portion, ...]
    dose: Interval
    state: State


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `preserved` requirement: {systems, others, by_nature}."""
    systems = tuple(_system(entry, substances) for entry in parameters["systems"])
    nature = parameters["by_nature"]
    others = frozenset(substances.resolve(parameters.get("others", [])))

    def judge(case: Case, _: Limit) -> list[Judgement]:
        water = case.solution.mixture.water_g
        if not case.solution.has_water or water < nature.get("water_at_most_percent", 0):
            return []
        surely, maybe = _by_nature(case, nature)
        if surely is not None:
            place = case.formula.place("phases")
            return [Judgement("meets", f"needs no preservative by nature: {surely}", place, "phases")]
        standings = [standing for standing in (_standing(case, system) for system in systems) if standing]
        overall = _overall(case, standings, others)
        if maybe is not None and overall.verdict == "breaks":
            message = f"{overall.message}; it may need none by nature: {maybe}"
            overall = overall._replace(verdict="undecided", message=message, needs=("a narrower figure",))
        told = overall.substances if overall.verdict == "breaks" else ()
        return [overall, *(row for row in _out_of_range(case, standings) if row.substances != told)]

    return Check(judge)


def _system(entry: Mapping[str, Any], substances: Substances) -> System:
    parts = substances.resolve(entry["of"])
    return System(
        name=entry["system"],
        of=frozenset(parts),
        parts=parts,
        is_blend=entry.get("all", False),
        booster=entry.get("booster", False),
        gap=entry.get("gap"),
        ph=limit_of(entry["ph"]),
        dose=limit_of(entry["dose"]),
        read=entry["read"],
    )


def limit_of(bounds: Mapping[str, Any]) -> Limit:
    """A limit from a rule file's map of bounds."""
    return Limit(**{bound: Decimal(str(value)) for bound, value in bounds.items()})


def _by_nature(case: Case, nature: Mapping[str, Any]) -> tuple[str | None, str | None]:
    """Why the product is at low microbiological risk; or why it may be, where a figure straddles its bound."""
    reasons = list(_reasons_by_nature(case, nature))
    surely = next((reason for reason, standing in reasons if standing == "inside"), None)
    maybe = next((reason for reason, standing in reasons if standing == "straddles"), None)
    return surely, maybe


def _reasons_by_nature(case: Case, nature: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Each reason with how its figure stands to its bound."""
    product, ph = case.formula.product, case.solution.ph
    kind = nature.get("product")
    if kind is not None and all(getattr(product, key) == word for key, word in kind.items()):
        yield f"a {' '.join(reversed(kind.values()))} holds little free water and much alkali", "inside"
    activity = nature.get("water_activity_at_most")
    declared = f"water-activity-at-most-{activity}"
    if activity is not None and any(declared in portion.declares for portion in case.composition.portions):
        yield f"the water activity is declared to be at most {activity}", "inside"
    if "ethanol_above_percent" in nature:
        ethanol = case.composition.medium("ethanol")
        limit = limit_of({"above": nature["ethanol_above_percent"]})
        yield f"ethanol is {shown_interval(ethanol)} %, {limit.in_words()} %", limit.standing(ethanol)
    if ph is None or product.site == "eye area" or product.audience == "children under 3":
        return
    for key, bound in (("ph_at_most", "max"), ("ph_at_least", "min")):
        if key in nature:
            limit = limit_of({bound: nature[key]})
            yield f"the pH is {ph_in_words(ph)}, {limit.in_words()}", limit.standing(ph.interval)


def _standing(case: Case, system: System) -> Standing | None:
    portions = tuple(portion for portion in chosen(case, system.of, {}) if _is_there_to_preserve(portion))
    present = {portion.substance.name for portion in portions}
    if not portions or (system.is_blend and not _is_whole(system, present)):
        return None
    dose = NOTHING
    for portion in portions:
        dose = dose + portion.percent
    enough = Limit(min=system.dose.min, above=system.dose.above).standing(dose)
    ph = case.solution.ph
    in_range = "straddles" if ph is None else system.ph.standing(ph.interval)
    state: State = "works"
    if in_range == "outside":
        state = "wrong pH"
    elif enough == "outside":
        state = "weak dose"
    elif "straddles" in (in_range, enough):
        state = "unsure"
    return Standing(system, portions, dose, state)


def _is_there_to_preserve(portion: Portion) -> bool:
    """A substance that is a preservative only by the way counts where its line says so."""
    usual = portion.substance.functions
    return "preservative" not in usual[1:] or portion.function == "preservative"


def _is_whole(system: System, present: set[str]) -> bool:
    return all(part in present for part in system.parts)


def _overall(case: Case, standings: list[Standing], others: frozenset[str]) -> Judgement:
    carrying = [standing for standing in standings if not standing.system.booster]
    best = min(carrying, key=_rank) if carrying else None
    unlisted = [portion for portion in chosen(case, others, {}) if portion.function == "preservative"]
    known = {portion.substance.name for standing in standings for portion in standing.portions}
    unlisted = [portion for portion in unlisted if portion.substance.name not in known]
    if unlisted and (best is None or best.state in ("weak dose", "wrong pH")):
        return _not_known(unlisted)
    if best is None:
        return _unpreserved(case, standings)
    names = names_of(best.portions)
    pointed = largest(best.portions).line
    told = f"{listed(names)}: {_told(case, best)}"
    value = best.dose
    if best.state == "works":
        oily = _oily(case, names)
        if oily:
            needs = ("a challenge test on the emulsion",)
            message = f"{told}; {oily}; {CHALLENGE}"
            return Judgement("undecided", message, pointed.place, pointed.where, names, value, "% w/w", None, needs)
        gap = _gap(carrying)
        message = f"{told}{gap}; {CHALLENGE}"
        return Judgement("meets", message, pointed.place, pointed.where, names, value, "% w/w", read=best.system.read)
    if best.state == "unsure":
        why = "a figure lies across the edge of its range" if case.solution.ph else measure(case)[0]
        message = f"{told}; whether that preserves the product is open: {why}; {CHALLENGE}"
        measured = case.formula.measured
        if measured is None or measured.by == "strip":
            needs = ("measure the final pH" if measured is None else "measure the final pH with a meter",)
        else:
            needs = ("a challenge test, or a figure further from the edge",)
        return Judgement("undecided", message, pointed.place, pointed.where, names, value, "% w/w", None, needs)
    message = f"no preservative can work here: {told}"
    return Judgement("breaks", message, pointed.place, pointed.where, names, value, "% w/w")


def _rank(standing: Standing) -> int:
    return ("works", "unsure", "weak dose", "wrong pH").index(standing.state)


def _not_known(portions: list[Portion]) -> Judgement:
    """A preservative that is one by law, and whose working range and dose the rule does not know."""
    names, pointed = names_of(portions), largest(portions).line
    message = f"{listed(names)}: its working pH and dose are not known here; {CHALLENGE}"
    needs = ("its working range from the supplier, and a challenge test",)
    return Judgement("undecided", message, pointed.place, pointed.where, names, needs=needs)


def _unpreserved(case: Case, standings: list[Standing]) -> Judgement:
    water = f"{case.solution.mixture.water_g:.1f}"
    place, where = case.formula.place("phases"), "phases"
    boosters = names_of(portion for standing in standings for portion in standing.portions)
    message = f"the product holds {water} % water and no recognised preservative"
    if boosters:
        message += f"; {listed(boosters)} only supports one"
    return Judgement("breaks", message, place, where, boosters)


def _out_of_range(case: Case, standings: list[Standing]) -> list[Judgement]:
    """Each preservative that cannot work at this pH, also where another one carries the product."""
    found = []
    ph = case.solution.ph
    for standing in standings:
        system = standing.system
        if standing.state != "wrong pH" or system.is_blend or system.booster or ph is None:
            continue
        names = names_of(standing.portions)
        pointed = largest(standing.portions).line
        message = f"{listed(names)}: {_told(case, standing)}"
        found.append(
            Judgement(
                "breaks",
                message,
                pointed.place,
                pointed.where,
                names,
                ph.interval,
                "pH",
                system.ph,
                entry=system.name,
                read=system.read,
            )
        )
    return found


def _told(case: Case, standing: Standing) -> str:
    system, ph = standing.system, case.solution.ph
    words = f"{shown_interval(standing.dose)} %"
    if standing.state == "weak dose":
        words += f", below the usual dose of {shown(system.dose.min or Decimal(0))} %"
    if ph is None:
        return f"{words}, works at pH {_window(system.ph)}"
    words += f" at pH {ph_in_words(ph)}; works at pH {_window(system.ph)}"
    return words + _undissociated(case, standing)


def _window(limit: Limit) -> str:
    return f"{shown(limit.min or Decimal(0))} to {shown(limit.max or Decimal(14))}"


def _undissociated(case: Case, standing: Standing) -> str:
    acids: dict[str, None] = {}
    for portion in standing.portions:
        acids.update(dict.fromkeys((*portion.substance.gives, portion.substance.name)))
    forms = [form for form in map(case.solution.form, acids) if form is not None and form.is_acid]
    if not forms:
        return ""
    form = max(forms, key=lambda form: form.total_percent)
    low, _, high = (100 * share for share in form.uncharged_share)
    span = f"{low:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"{low:.2g} to {high:.2g}"
    return f", {span} % of it undissociated"


def _oily(case: Case, names: tuple[str, ...]) -> str | None:
    """Above a share of oil the preservative that is in the water is an upper bound."""
    oil = float(case.composition.medium("oil").high)
    most = case.model.refuse.oil_above_percent_with_lipophilic_acid
    if oil <= most:
        return None
    return f"oil is {oil:.1f} %, so less of {listed(names)} is left in the water than this says"


def _gap(carrying: list[Standing]) -> str:
    working = [standing.system for standing in carrying if standing.state == "works"]
    gaps = {system.gap for system in working}
    return f"; weak on {gaps.pop()} when it stands alone" if len(gaps) == 1 and None not in gaps else ""
