"""ph: the pH window of the finished product while a substance is present.

`against: target` holds the pH against the author's own window, `against: prediction` a reading against the computed
pH, `against: hours` the age of the batch at the reading while something is in it that lets the pH drift. A predicted
pH counts with its band; without a pH that can be trusted the verdict is undecided.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from watchglass.composition import Portion
from watchglass.errors import Place
from watchglass.interval import Limit, crossing, shown, shown_interval
from watchglass.requirements import Case, Check, Judgement, Verdict, enumerated, largest, names_of, settled
from watchglass.requirements.percent import VERDICTS, limit_in_words
from watchglass.solution import Ph
from watchglass.solution.disagreement import causes
from watchglass.substances import Substances


def compile_check(parameters: Mapping[str, Any], substances: Substances) -> Check:
    """The check of a `ph` requirement: {of, only_as, not_as}, with {against} or by itself."""
    if parameters.get("against") == "target":
        return Check(_against_target)
    if parameters.get("against") == "prediction":
        return Check(_against_prediction)
    names = frozenset(substances.resolve(parameters["of"]))

    def judge(case: Case, limit: Limit) -> list[Judgement]:
        def of(portions: list[Portion]) -> list[Judgement]:
            if parameters.get("against") == "hours":
                return _age(case, limit, names_of(portions))
            pointed = largest(portions).line
            return [_judgement(case, limit, pointed.place, pointed.where, names_of(portions))]

        has_ph = case.solution.has_water or case.solution.ph is not None
        return settled(case, names, parameters, of) if has_ph else []

    return Check(judge, names)


def ph_in_words(ph: Ph) -> str:
    """For a sentence: the reading or the prediction with its interval."""
    middle = shown(ph.value)
    return f"{middle} ({ph.origin}, {shown_interval(ph.interval)})" if not ph.interval.is_exact else middle


def measure(case: Case) -> tuple[str, tuple[str, ...]]:
    """Why there is no pH to judge by, and what to do."""
    solution = case.solution
    if solution.conditional_on:
        why = f"{enumerated(solution.conditional_on)} can move the predicted pH and is not modelled"
    else:
        why = solution.why_not or "it cannot be predicted"
    return why, ("measure the final pH",)


def what_would_decide(case: Case, limit: Limit) -> str:
    """The cheapest reading that tells on which side of its limit the pH lies."""
    ph, measured = case.solution.ph, case.formula.measured
    if ph is None or measured is None:
        return "measure the final pH" + ("" if ph is None else crossing(limit, ph.interval))
    better = "read the pH with a calibrated meter"
    return f"{better if measured.by == 'strip' else better + ' again, or move it'}{crossing(limit, ph.interval)}"


def _judgement(case: Case, limit: Limit, place: Place, where: str, names: tuple[str, ...]) -> Judgement:
    beside = f" beside {enumerated(names)}" if names else ""
    if case.formula.measured is not None:
        place, where = case.formula.measured.place, "measured.ph"
    ph = case.solution.ph
    if ph is None:
        why, missing = measure(case)
        wanted = f" must be {limit.in_words()} and" if limit != Limit() else ""
        message = f"the pH{beside}{wanted} is not known: {why}"
        return Judgement("undecided", message, place, where, names, None, "pH", limit, missing)
    verdict = VERDICTS[limit.standing(ph.interval)]
    message = f"the pH is {ph_in_words(ph)}{beside}{limit_in_words(limit)}"
    needs: tuple[str, ...] = ()
    if verdict == "undecided":
        needs = (what_would_decide(case, limit),)
    return Judgement(verdict, message, place, where, names, ph.interval, "pH", limit, needs)


def _against_target(case: Case, _: Limit) -> list[Judgement]:
    target = case.formula.target
    if target is None or not (case.solution.has_water or case.solution.ph is not None):
        return []
    found = _judgement(case, Limit(min=target.min, max=target.max), target.place, "target.ph", ())
    message = found.message.replace("the limit is", "the target is")
    return [
        Judgement(found.verdict, message, found.place, found.where, (), found.value, "pH", found.limit, found.needs)
    ]


def _against_prediction(case: Case, _: Limit) -> list[Judgement]:
    measured, predicted, reading = case.formula.measured, case.solution.predicted, case.solution.ph
    if measured is None or reading is None:
        return []
    if not case.solution.has_water or predicted is None or case.solution.conditional_on:
        return []
    limit = Limit(min=predicted.interval.low, max=predicted.interval.high)
    at, meant = measured.temperature, case.solution.temperature_c
    if at is not None and abs(float(at) - meant) > case.model.reading_temperature_within_c:
        taken = f"the reading {shown(measured.ph)} was taken at {shown(at)} C"
        message = f"{taken} and the prediction is meant at {meant:g} C"
        return [
            Judgement(
                "undecided",
                message,
                measured.place,
                "measured.ph",
                (),
                reading.interval,
                "pH",
                limit,
                (f"read the pH again at {meant:g} C",),
            )
        ]
    highest = predicted.interval.high
    fresh = case.solution.fresh
    if fresh is not None and (measured.after_hours is None or measured.after_hours < fresh.hours):
        highest = max(highest, Decimal(str(fresh.ph)))  # it may have been read while something was still opening
    apart = reading.interval.high < predicted.interval.low or reading.interval.low > highest
    message = (
        f"the reading {shown(measured.ph)} {'does not agree' if apart else 'agrees'} with the predicted pH "
        f"{ph_in_words(predicted)}"
    )
    if apart:
        found = causes(case.composition, case.substances, case.solution, float(measured.ph), case.model)
        message += f"; it would take {' or '.join([*found, 'a meter that is off'])}"
    verdict: Verdict = "breaks" if apart else "meets"
    needs = (f"read the pH again at {meant:g} C with a meter calibrated at two points",) if apart else ()
    return [Judgement(verdict, message, measured.place, "measured.ph", (), reading.interval, "pH", limit, needs)]


def _age(case: Case, limit: Limit, names: tuple[str, ...]) -> list[Judgement]:
    """How old the batch was when its pH was read."""
    measured = case.formula.measured
    if measured is None:
        return []
    told = f"{', '.join(names)} lets the pH drift, and it was read"
    judged = Judgement("undecided", "", measured.place, "measured.after_hours", names, None, "h", limit)
    age = measured.age_hours
    if age is None:
        message = f"{told} after a time that is not stated{limit_in_words(limit)} hours"
        return [judged._replace(message=message, needs=("state measured.after_hours",))]
    message = f"{told} {shown_interval(age)} hours after it was made{limit_in_words(limit)} hours"
    verdict = VERDICTS[limit.standing(age)]
    needs = () if verdict == "meets" else ("read it again, and once more when it has settled",)
    return [judged._replace(verdict=verdict, message=message, value=age, needs=needs)]
