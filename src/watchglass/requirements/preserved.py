"""preserved: a water-based product holds a recognised preservative system that can work, or needs none by nature.

A system works at its dose and inside its pH range; for a weak acid the undissociated share is told, because that is
the part that works. It is never a proof: a challenge test decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, Literal, NamedTuple

from watchglass.composition import Portion
from watchglass.interval import Interval, Limit, shown, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, chosen, enumerated, largest, names_of
from watchglass.requirements.percent import amount_as, in_unit
from watchglass.requirements.percent import what_would_decide as what_narrows
from watchglass.requirements.ph import measure, ph_in_words, what_would_decide
from watchglass.substances import Substances

CHALLENGE = "a challenge test decides"
HALF = 50  # % w/w: what "most of the product" means in words, no limit of a source

State = Literal["works", "weak dose", "wrong pH", "unsure"]


class System(NamedTuple):
    """A recognised preservative system: what it is of, its pH range and its usual dose in % w/w as `target`."""

    name: str
    of: frozenset[str]
    parts: tuple[str, ...]
    is_blend: bool
    least_part: Decimal
    booster: bool
    gap: str | None
    ph: Limit
    dose: Limit
    target: str
    read: str

    @property
    def counted(self) -> str:
        """What follows a dose in a sentence."""
        return in_unit(self.target).replace("% w/w", "%")


class Standing(NamedTuple):
    """How a system stands in one product."""

    system: System
    portions: tuple[Portion, ...]
    dose: Interval
    state: State


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `preserved` requirement: {systems, others, by_nature}."""
    least = Decimal(str(parameters.get("blend_part_at_least_percent", 0)))
    systems = tuple(_system(entry, least, substances) for entry in parameters["systems"])
    nature = parameters["by_nature"]
    others = frozenset(substances.resolve(parameters.get("others", [])))

    def judge(case: Case, _: Limit) -> list[Judgement]:
        water = case.solution.mixture.liquid_water_g
        if not case.solution.has_water or water <= nature.get("water_at_most_percent", 0):
            return []
        surely, maybe = _by_nature(case, nature)
        if surely is not None:
            place = case.formula.place("phases")
            return [Judgement("meets", f"needs no preservative by nature: {surely}", place, "phases")]
        standings = [standing for standing in (_standing(case, system) for system in systems) if standing]
        overall = _overall(case, standings, others)
        if maybe is not None and overall.verdict == "breaks":
            message = f"{overall.message}; it may need none by nature: {maybe}"
            needs = ("measure the final pH" if case.solution.ph is None else "a narrower figure",)
            overall = overall._replace(verdict="undecided", message=message, needs=needs)
        if overall.verdict == "breaks":
            overall = overall._replace(needs=(_needed(nature),))
        told = overall.substances if overall.verdict == "breaks" else ()
        rows = [row for row in _out_of_range(case, standings) if row.substances != told]
        return [overall, *rows, *_above_usual(standings)]

    return Check(judge)


def _needed(nature: Mapping[str, Any]) -> str:
    needed = "a preservative system that works in this product"
    if "water_activity_at_most" not in nature:
        return needed
    fact = f"water-activity-at-most-{nature['water_activity_at_most']}"
    return f"{needed}; or, where a laboratory measured it, {fact} declared on the materials that bring the water"


def _system(entry: Mapping[str, Any], least_part: Decimal, substances: Substances) -> System:
    parts, target = substances.resolve(entry["of"]), entry.get("as", "supplied")
    for part in parts:
        if substances.grams_counted_as(part, target) is None:
            raise KeyError(f"{part} as {target}")
    return System(
        name=entry["system"],
        of=frozenset(parts),
        parts=parts,
        is_blend=entry.get("all", False),
        least_part=least_part,
        booster=entry.get("booster", False),
        gap=entry.get("gap"),
        ph=limit_of(entry["ph"]),
        dose=limit_of(entry["dose"]),
        target=target,
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
    if "product" in nature:
        yield from _as_a_product(case, nature["product"])
    activity = nature.get("water_activity_at_most")
    if activity is not None and _declares_dry(case, f"water-activity-at-most-{activity}"):
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


def _as_a_product(case: Case, asked: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """A product that is at low risk for what it is, as long as it is alkaline and holds little water."""
    product, ph = case.formula.product, case.solution.ph
    is_it = product.kind == asked["kind"] and product.form == asked["form"]
    if not is_it or case.solution.mixture.liquid_water_g > asked["water_at_most_percent"]:
        return
    limit = limit_of({"min": asked["ph_at_least"]})
    words = "is not known and would have to be" if ph is None else f"is {ph_in_words(ph)},"
    reason = f"{asked['kind']} in {asked['form']} form with little water; its pH {words} {limit.in_words()}"
    yield reason, "straddles" if ph is None else limit.standing(ph.interval)


def _declares_dry(case: Case, fact: str) -> bool:
    """Whether all that brings water is declared so, and makes most of the product."""
    portions = case.composition.portions
    wet = [portion for portion in portions if portion.substance.medium == "water"]
    declared = sum(portion.percent.low for portion in portions if fact in portion.declares)
    return all(fact in portion.declares for portion in wet) and declared > HALF


def _standing(case: Case, system: System) -> Standing | None:
    portions = tuple(portion for portion in chosen(case, system.of, {}) if _is_there_to_preserve(portion))
    if not portions or (system.is_blend and not _is_whole(system, portions)):
        return None
    dose = amount_as(portions, system.target, case.substances)
    if dose is None:
        raise ValueError(f"{system.name} cannot be counted as {system.target}")
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


def _is_whole(system: System, portions: Iterable[Portion]) -> bool:
    """Whether each part of a blend makes its share of it; a trace of one does not make the blend."""
    amounts = dict.fromkeys(system.parts, Decimal(0))
    for portion in portions:
        amounts[portion.substance.name] += portion.percent.low
    whole = sum(amounts.values())
    return all(amount > 0 and amount * 100 >= system.least_part * whole for amount in amounts.values())


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
    if best.state == "works":
        return _works(case, best, standings)
    if best.state == "unsure":
        return _unsure(case, best)
    told = _named_and_told(case, best)
    if best.state == "wrong pH":
        found = _judgement(best, "breaks", f"no preservative can work at this pH: {told}")
        ph = case.solution.ph
        return found if ph is None else found._replace(value=ph.interval, unit="pH", limit=best.system.ph)
    in_range = [standing for standing in standings if standing.state != "wrong pH"]
    if len(in_range) == 1:
        least = Limit(min=best.system.dose.min, above=best.system.dose.above)
        return _judgement(best, "breaks", f"too little preservative: {told}")._replace(limit=least)
    everything = enumerated(names_of(portion for standing in in_range for portion in standing.portions))
    message = f"{everything}: each below its usual dose; whether they preserve together is open; {CHALLENGE}"
    return _judgement(best, "undecided", message, ("a challenge test",))


def _works(case: Case, best: Standing, standings: list[Standing]) -> Judgement:
    told = _named_and_told(case, best)
    oily = _oily(case, names_of(best.portions))
    if oily:
        needs: tuple[str, ...] = ("a challenge test on the emulsion",)
        return _judgement(best, "undecided", f"{told}; {oily}; {CHALLENGE}", needs)
    gap = _gap(standings)
    if gap is not None:
        needs = (f"something against {gap} beside it, or a challenge test",)
        message = f"{told}; weak on {gap} when it stands alone; {CHALLENGE}"
        return _judgement(best, "undecided", message, needs)._replace(read=best.system.read)
    return _judgement(best, "meets", f"{told}; {CHALLENGE}")._replace(read=best.system.read)


def _unsure(case: Case, best: Standing) -> Judgement:
    told, system = _named_and_told(case, best), best.system
    why = "a figure lies across the edge of its range" if case.solution.ph else measure(case)[0]
    message = f"{told}; whether that preserves the product is open: {why}; {CHALLENGE}"
    ph = case.solution.ph
    if ph is None or system.ph.standing(ph.interval) == "straddles":
        found = _judgement(best, "undecided", message, (f"{what_would_decide(case, system.ph)}; or a challenge test",))
        return found if ph is None else found._replace(value=ph.interval, unit="pH", limit=system.ph)
    least = Limit(min=system.dose.min, above=system.dose.above)
    needs = (f"{what_narrows(best.portions, least, best.dose)}; or a challenge test",)
    return _judgement(best, "undecided", message, needs)._replace(limit=least)


def _judgement(best: Standing, verdict: Verdict, message: str, needs: tuple[str, ...] = ()) -> Judgement:
    """A verdict on the product, at the line of its best preservative."""
    pointed, unit = largest(best.portions).line, in_unit(best.system.target)
    names = names_of(best.portions)
    return Judgement(verdict, message, pointed.place, pointed.where, names, best.dose, unit, None, needs)


def _named_and_told(case: Case, standing: Standing) -> str:
    return f"{enumerated(names_of(standing.portions))}: {_told(case, standing)}"


def _rank(standing: Standing) -> int:
    return ("works", "unsure", "weak dose", "wrong pH").index(standing.state)


def _not_known(portions: list[Portion]) -> Judgement:
    """A preservative that is one by law, and whose working range and dose the rule does not know."""
    names, pointed = names_of(portions), largest(portions).line
    message = f"{enumerated(names)}: its working pH and dose are not known here; {CHALLENGE}"
    needs = ("its working range from the supplier, and a challenge test",)
    return Judgement("undecided", message, pointed.place, pointed.where, names, needs=needs)


def _unpreserved(case: Case, standings: list[Standing]) -> Judgement:
    water = f"{case.solution.mixture.liquid_water_g:.1f}"
    place, where = case.formula.place("phases"), "phases"
    boosters = names_of(portion for standing in standings for portion in standing.portions)
    message = f"the product holds {water} % water and no recognised preservative"
    if boosters:
        message += f"; {enumerated(boosters)} only supports one"
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
        message = f"{enumerated(names)}: {_told(case, standing)}"
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


def _above_usual(standings: list[Standing]) -> list[Judgement]:
    """More than is usual preserves no better and irritates more. What the law allows is another rule's business."""
    found = []
    for standing in standings:
        system = standing.system
        if system.booster or system.is_blend or Limit(max=system.dose.max).standing(standing.dose) != "outside":
            continue
        names = names_of(standing.portions)
        pointed = largest(standing.portions).line
        most = shown(system.dose.max or Decimal(0))
        message = f"{enumerated(names)}: {shown_interval(standing.dose)} {system.counted}, above the usual {most} %"
        found.append(
            Judgement(
                "undecided",
                message,
                pointed.place,
                f"{pointed.where}.dose",
                names,
                standing.dose,
                in_unit(system.target),
                Limit(max=system.dose.max),
                ("the reason for so much, in the safety report",),
                entry=system.name,
                read=system.read,
                quiet=True,
            )
        )
    return found


def _told(case: Case, standing: Standing) -> str:
    system, ph = standing.system, case.solution.ph
    words = f"{shown_interval(standing.dose)} {system.counted}"
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
    low, high = _figure(form.uncharged_share[0]), _figure(form.uncharged_share[2])
    return f", {low if low == high else f'{low} to {high}'} % of it undissociated"


def _figure(share: float) -> str:
    """A share in %, with as many digits as mean something."""
    return f"{100 * share:.3g}" if share > 0.1 else f"{100 * share:.2g}"


def _oily(case: Case, names: tuple[str, ...]) -> str | None:
    """Above a share of oil the preservative that is in the water is an upper bound."""
    oil = float(case.composition.medium("oil").high)
    most = case.model.refuse.oil_above_percent_with_lipophilic_acid
    if oil <= most:
        return None
    return f"oil is {oil:.1f} %, so less of {enumerated(names)} is left in the water than this says"


def _gap(standings: list[Standing]) -> str | None:
    """What neither a working system nor a booster covers."""
    working = [standing for standing in standings if standing.state == "works"]
    gaps = {standing.system.gap for standing in working if not standing.system.booster}
    return gaps.pop() if len(gaps) == 1 and not any(standing.system.booster for standing in working) else None
