"""percent: the amount of a substance, or of a sum, in % w/w of the finished product.

`as` expresses each salt or ester as another substance, or as an element that it holds, by molar mass before it is
added; a converted figure is rounded half to even at four decimals before it is compared, a declared one is compared as
written.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from watchglass.composition import Portion
from watchglass.interval import NOTHING, Interval, Limit, crossing, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, chosen, enumerated, largest, names_of, settled
from watchglass.substances import Substances

PERCENT_PLACES = 4
_PLAIN = re.compile(r"acid|[A-Z][a-z]{2,}( [A-Z][a-z]+)*")
VERDICTS: dict[str, Verdict] = {"inside": "meets", "outside": "breaks", "straddles": "undecided"}


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `percent` requirement: {of, as, each, all_uses, only_as, not_as}."""
    names = frozenset(substances.resolve(parameters["of"]))
    target = parameters.get("as", "supplied")
    in_every_use = frozenset(substances.resolve(parameters["all_uses"])) if "all_uses" in parameters else None

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        def of(portions: list[Portion]) -> list[Judgement]:
            if in_every_use is not None:
                portions = chosen(case, in_every_use, {})
            if not parameters.get("each"):
                return [_judgement(case, portions, target, limit)]
            each = {name: [p for p in portions if p.substance.name == name] for name in names_of(portions)}
            return [_judgement(case, own, target, limit) for own in each.values()]

        return settled(case, names, parameters, of)

    return Check(judge, names)


def amount_as(portions: Sequence[Portion], target: str, substances: Substances) -> Interval | None:
    """The sum of portions expressed as `target`; None when one of them cannot be expressed so."""
    total = NOTHING
    converted = False
    for portion in portions:
        factor = substances.grams_counted_as(portion.substance.name, target)
        if factor is None:
            return None
        converted = converted or factor != 1 or portion.line.grams is not None
        total = total + portion.percent.times(factor)
    return total.rounded(PERCENT_PLACES) if converted else total


def in_unit(target: str) -> str:
    """The unit of a sum.

    >>> in_unit("supplied"), in_unit("Benzoic Acid"), in_unit("Zn")
    ('% w/w', '% w/w as benzoic acid', '% w/w as Zn')
    """
    return "% w/w" if target == "supplied" else f"% w/w as {in_words(target)}"


def in_words(target: str) -> str:
    """What a sum is expressed as, in a sentence: plain names in small letters, symbols and codes as they are."""
    return target.lower() if _PLAIN.fullmatch(target) else target


def _judgement(case: Case, portions: list[Portion], target: str, limit: Limit) -> Judgement:
    names = names_of(portions)
    pointed = largest(portions)
    value = amount_as(portions, target, case.substances)
    called = enumerated(names)
    place, where, unit = pointed.line.amount_place, pointed.line.where, in_unit(target)
    if value is None:
        message = f"{called} cannot be expressed as {in_words(target)}: a chemical formula is not known"
        missing = (f"the share of {in_words(target)} in {called}",)
        return Judgement("undecided", message, place, where, names, None, unit, limit, missing)
    verdict = VERDICTS[limit.standing(value)]
    verb = "is" if len(names) == 1 else "make"
    message = f"{called} {verb} {shown_interval(value)} {unit}{_free_acid(case, names)}{limit_in_words(limit)}"
    needs: tuple[str, ...] = (what_would_decide(portions, limit, value),) if verdict == "undecided" else ()
    return Judgement(verdict, message, place, where, names, value, unit, limit, needs)


def what_would_decide(portions: Sequence[Portion], limit: Limit, value: Interval) -> str:
    """The cheapest fact that narrows an amount: the assay of the lot is on paper, a finer weighing is work."""
    assayed = [portion for portion in portions if not portion.strength.is_exact]
    fact = f"a narrower assay of {enumerated(names_of(assayed))}" if assayed else "a finer balance or a larger batch"
    return f"{fact}{crossing(limit, value)}"


def limit_in_words(limit: Limit) -> str:
    """The end of a sentence about a number; nothing where no limit is known.

    >>> limit_in_words(Limit(max=Decimal(10))), limit_in_words(Limit())
    ('; the limit is at most 10', '')
    """
    if limit == Limit():
        return ""
    if limit.max == 0:
        return "; none is allowed in this product (limit 0)"
    return f"; the limit is {limit.in_words()}"


def _free_acid(case: Case, names: Sequence[str]) -> str:
    """The free acid beside the total: it is what works and what irritates."""
    acids: dict[str, None] = {}
    for name in names:
        acids.update(dict.fromkeys((*case.substances[name].gives, name)))
    forms = [case.solution.form(name) for name in acids]
    below = case.model.free_acid_first_pka_below
    known = [form for form in forms if form is not None and form.is_acid and form.first_pka < below]
    if not known:
        return ""
    free = Decimal(repr(sum(form.uncharged_percent[1] for form in known)))
    return f" (free acid about {Interval.exactly(free).rounded(2).low} %)"
