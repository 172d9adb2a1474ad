"""together: what does not go together in one product: a pair of substances, or a thickener and salt.

The limit in force is the most of `beside` that a product with `of` may hold; `max: 0` bans the pair. With
`against: ionic strength` it is the most salt, in mol per kg of water. Either half alone is no business of the rule.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from watchglass.composition import Portion
from watchglass.interval import Interval, Limit, Standing, shown_interval
from watchglass.requirements import Case, Check, Judgement, chosen, enumerated, largest, names_of, settled
from watchglass.requirements.percent import VERDICTS, amount_as, limit_in_words
from watchglass.requirements.ph import measure, ph_in_words
from watchglass.requirements.preserved import limit_of
from watchglass.substances import Substances

IONIC_STRENGTH = "ionic strength"
STRENGTH_PLACES = 3


class Pair(NamedTuple):
    """A rule's parameters, names looked up.

    Attributes:
        beside: What `of` is held against.
        ph: At which pH the pair matters; None: at any.
        settled_by: Substances any of which takes the trouble away.
        effect: What happens, in a few words.
        within_percent: How far the ionic strength may be off, in % of it.
    """

    beside: frozenset[str]
    ph: Limit | None
    settled_by: tuple[str, ...]
    effect: str
    within_percent: Decimal


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `together` requirement: {of, beside or against, ph, settled_by, effect, only_as, not_as}."""
    names = frozenset(substances.resolve(parameters["of"]))
    pair = Pair(
        beside=frozenset(substances.resolve(parameters.get("beside", ()))) - names,
        ph=limit_of(parameters["ph"]) if "ph" in parameters else None,
        settled_by=substances.resolve(parameters.get("settled_by", ())),
        effect=parameters.get("effect", "they do not go together"),
        within_percent=Decimal(str(parameters.get("within_percent", 0))),
    )
    of_salt = parameters.get("against") == IONIC_STRENGTH

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        return settled(
            case,
            names,
            parameters,
            lambda found: _with_salt(case, limit, found, pair) if of_salt else _pair(case, limit, found, pair),
        )

    return Check(judge, names)


def _pair(case: Case, limit: Limit, found: list[Portion], pair: Pair) -> list[Judgement]:
    others = chosen(case, pair.beside, {})
    if not others or (pair.ph is not None and not _has_ph(case)):
        return []
    amount = amount_as(others, "supplied", case.substances)
    assert amount is not None  # what is counted as supplied needs no formula
    names, pointed = names_of(found), largest(found).line
    told = f"{enumerated(names)} together with {shown_interval(amount)} % w/w {enumerated(names_of(others))}"
    judged = Judgement("meets", told, pointed.place, pointed.where, names, amount, "% w/w", limit)
    standing = limit.standing(amount)
    helper = next((p.substance.name for p in case.composition.portions if _settles(p, pair)), None)
    if standing == "inside" or helper is not None:
        return [judged if helper is None else judged._replace(message=f"{told}; {helper} is there against it")]
    return [_at_its_ph(case, judged, standing, pair)]


def _at_its_ph(case: Case, judged: Judgement, standing: Standing, pair: Pair) -> Judgement:
    """The verdict on too much of a pair, where it may only matter at some pH."""
    ph, where_it_matters = case.solution.ph, "inside"
    message = judged.message
    if pair.ph is not None and ph is None:
        why, needs = measure(case)
        message += f"; at a pH {pair.ph.in_words()} {pair.effect}, and the pH is not known: {why}"
        return judged._replace(verdict="undecided", message=message, needs=needs)
    if pair.ph is not None and ph is not None:
        where_it_matters = pair.ph.standing(ph.interval)
        message += f" at pH {ph_in_words(ph)}; it matters at a pH {pair.ph.in_words()}"
    if where_it_matters == "outside":
        return judged._replace(message=message)
    message += _allowed(judged.limit, pair.effect)
    if "straddles" in (where_it_matters, standing):
        needs = ("a narrower assay",) if standing == "straddles" else ("read the pH with a calibrated meter",)
        return judged._replace(verdict="undecided", message=message, needs=needs)
    return judged._replace(verdict="breaks", message=message, needs=_mends(pair))


def _mends(pair: Pair) -> tuple[str, ...]:
    out = "take one of the two out"
    return (out, f"or add one of {enumerated(pair.settled_by)}") if pair.settled_by else (out,)


def _allowed(limit: Limit | None, effect: str) -> str:
    """The end of the sentence: the limit, unless it is none at all, and what happens."""
    if limit is None or limit == Limit() or limit.max == 0:
        return f"; {effect}"
    return f"{limit_in_words(limit)}; {effect}"


def _settles(portion: Portion, pair: Pair) -> bool:
    return portion.substance.name in pair.settled_by and portion.percent.low > 0


def _has_ph(case: Case) -> bool:
    return case.solution.has_water or case.solution.ph is not None


def _with_salt(case: Case, limit: Limit, found: list[Portion], pair: Pair) -> list[Judgement]:
    """A thickener whose chains coil up in salt."""
    if not case.solution.has_water:
        return []
    names, pointed = names_of(found), largest(found).line
    strength = _ionic_strength(case, names, pair.within_percent)
    judged = Judgement("undecided", "", pointed.place, pointed.where, names, strength, "mol/kg", limit)
    told, needs = f"the ionic strength beside {enumerated(names)}", ("a trial: does it thicken in this product",)
    ending = f"{limit_in_words(limit)}; {pair.effect}"
    if strength is None:
        why = case.solution.why_not or "the mixture could not be solved"
        return [judged._replace(message=f"{told} is not known: {why}{ending}", needs=needs)]
    verdict = VERDICTS[limit.standing(strength)]
    message = f"{told} is {shown_interval(strength)} mol/kg{ending}"
    return [judged._replace(verdict=verdict, message=message, needs=() if verdict == "meets" else needs)]


def _ionic_strength(case: Case, names: tuple[str, ...], within_percent: Decimal) -> Interval | None:
    """What the model finds, its own share either way.

    The thickener itself can take up some of the base, and other unmodelled materials can bring ions: both ends allow
    for the most that either could do.
    """
    solution, share = case.solution, within_percent / 100
    if solution.equilibrium is None:
        return None
    mixture, middle = solution.mixture, Decimal(repr(solution.equilibrium.ionic_strength))
    own = sum(grams for name, grams in mixture.unmodelled.items() if name in names)
    others = sum(mixture.unmodelled.values()) - own
    taken, brought = (
        Decimal(repr(grams / mixture.water_g * case.model.unmodelled_capacity_mol_per_kg)) for grams in (own, others)
    )
    low = max(middle * (1 - share) - taken, Decimal(0))
    return Interval(low, middle * (1 + share) + brought).rounded(STRENGTH_PLACES)
