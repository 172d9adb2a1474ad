"""The review as JSON: what other programs read. Its shape is fixed by `schemas/review.schema.json`."""

from __future__ import annotations

import json
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from watchglass import __version__
from watchglass.findings import Calendar, Comparison, Finding, NewAmount, Review
from watchglass.interval import Interval, Limit, shown
from watchglass.reports import NOT_CHECKED, NOT_YET, counts, overall
from watchglass.rulebook import Rulebook
from watchglass.solution import Forms, Fresh, Ph, Solution

SCHEMA_VERSION = 1


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All reviews as one JSON document."""
    # In ASCII: no control or direction character reaches a terminal, and no encoding of an output can spoil it.
    return (
        json.dumps(head(reviews, book, on) | {"reviews": list(map(of_review, reviews))} | tail(reviews), indent=1)
        + "\n"
    )


def head(reviews: Sequence[Review], book: Rulebook, on: str) -> dict[str, Any]:
    """What a document says before its reviews: versions, date, counts."""
    return {
        "schema_version": SCHEMA_VERSION,
        "on": on,
        "watchglass": __version__,
        "rulebook": book.hash,
        "counts": counts(reviews),
    }


def tail(reviews: Sequence[Review]) -> dict[str, Any]:
    """What a document says after its reviews, the outcome last."""
    return {"not_in_rulebook": NOT_YET, "not_checked": NOT_CHECKED, "outcome": overall(reviews)}


def of_review(review: Review) -> dict[str, Any]:
    """One review as plain data."""
    formula, composition, solution = review.formula, review.composition, review.solution
    return {
        "path": review.path,
        "formula": None if formula is None else formula.title,
        "code": None if formula is None else formula.code,
        "markets": list(review.markets),
        "total_percent": None if composition is None else f"{composition.total_percent:.2f}",
        "composition": [] if composition is None else _composition(review),
        "solution": None if solution is None else _solution(solution, review.undissolved),
        "judged": {
            "meets": list(review.meets),
            "not_in_force": list(review.not_in_force),
            "does_not_apply": review.does_not_apply,
        },
        "cautions": list(review.cautions),
        "tests": [] if formula is None else [test._asdict() for test in formula.tests],
        "calendar": None if review.calendar is None else _calendar(review.calendar),
        "comparison": None if review.comparison is None else _comparison(review.comparison),
        "findings": [of_finding(finding) for finding in review.findings],
        "outcome": review.outcome,
    }


def _composition(review: Review) -> list[dict[str, Any]]:
    assert review.composition is not None
    cas = {p.substance.name: p.substance.cas for p in review.composition.portions}
    rows: list[dict[str, Any]] = []
    for name, percent in review.composition.by_substance().items():
        rows.append({"substance": name, "cas": cas[name][0] if cas[name] else None} | _percent(percent))
    unknown = review.composition.unknown
    return rows + [{"substance": u.name, "cas": None} | _percent(u.percent) | {"known": False} for u in unknown]


def _percent(percent: Interval) -> dict[str, str]:
    row = {"percent": _figure(percent.middle)}
    if not percent.is_exact:
        row |= {"low": _figure(percent.low), "high": _figure(percent.high)}
    return row


def _solution(solution: Solution, undissolved: Sequence[str]) -> dict[str, Any]:
    strength = solution.ionic_strength
    return {
        "ph_temperature": solution.temperature_c,
        "ionic_strength": None if strength is None else round(strength, 3),
        "predicted_ph": None if solution.predicted is None else _ph(solution.predicted),
        "fresh_ph": None if solution.fresh is None else _fresh(solution.fresh),
        "conditional_on": list(solution.conditional_on),
        "why_not": solution.why_not,
        "ph": None if solution.ph is None else _ph(solution.ph) | {"origin": solution.ph.origin},
        "water_percent": round(solution.mixture.water_g, 2),
        "buffer_capacity_mol_per_kg": None
        if solution.equilibrium is None
        else float(f"{solution.equilibrium.buffer_capacity:.3g}"),
        "species": [_species(form) for form in solution.forms if form.is_acid],
        "undissolved": list(undissolved),
    }


def _species(form: Forms) -> dict[str, Any]:
    low, middle, high = (round(percent, 4) for percent in form.uncharged_percent)
    return {
        "substance": form.substance,
        "undissociated_percent": middle,
        "undissociated_low": low,
        "undissociated_high": high,
        "total_percent": round(form.total_percent, 4),
        "ionised_share": round(1 - form.uncharged_share[1], 4),
    }


def _fresh(fresh: Fresh) -> dict[str, Any]:
    return {"value": round(fresh.ph, 1), "opening": list(fresh.opening), "hours": fresh.hours}


def _ph(ph: Ph) -> dict[str, Any]:
    return {"value": float(ph.value), "low": float(ph.interval.low), "high": float(ph.interval.high)}


def of_finding(finding: Finding) -> dict[str, Any]:
    """One finding as plain data."""
    return {
        "rule": finding.rule,
        "entry": finding.entry,
        "requirement": finding.requirement,
        "verdict": finding.verdict,
        "severity": finding.severity,
        "market": finding.market,
        "line": finding.place.line,
        "column": finding.place.column,
        "where": finding.where,
        "substances": list(finding.substances),
        "message": finding.message,
        "value": _value(finding.value, finding.unit),
        "limit": None if finding.limit is None else _limit(finding.limit),
        "changes_on": finding.changes_on,
        "needs": list(finding.needs),
        "deviation": _deviation(finding),
        "known": finding.known,
        "mend": _mend(finding),
        "source": finding.source,
    }


def _calendar(calendar: Calendar) -> dict[str, Any]:
    from watchglass.reports.changes import of_calendar

    return of_calendar(calendar)


def _comparison(comparison: Comparison) -> dict[str, Any]:
    from watchglass.reports.changes import of_comparison

    return of_comparison(comparison)


def _mend(finding: Finding) -> dict[str, Any] | None:
    mend: dict[str, Any] = {"add_statement": dict(finding.texts)} if finding.statements else {}
    found = finding.mend
    if found is not None and found.changes:
        mend["change"] = [_change(change) for change in found.changes]
        mend["balanced_by"] = None if found.balance is None else _change(found.balance)
        mend["read_ph_again"] = found.read_again
    elif found is not None:
        mend["none_because"] = found.none_because
    return mend or None


def _change(change: NewAmount) -> dict[str, str]:
    return {
        "where": change.where,
        "material": change.material,
        "from": shown(change.before),
        "to": shown(change.after),
        "unit": change.unit,
    }


def _value(value: Interval | None, unit: str) -> dict[str, str] | None:
    return None if value is None else {"low": _figure(value.low), "high": _figure(value.high), "unit": unit}


def _limit(limit: Limit) -> dict[str, str] | None:
    bounds = {"min": limit.min, "above": limit.above, "max": limit.max, "below": limit.below}
    return {name: shown(bound) for name, bound in bounds.items() if bound is not None} or None


def _deviation(finding: Finding) -> dict[str, Any] | None:
    deviation = finding.deviation
    if deviation is None:
        return None
    return {"rule": deviation.rule, "reason": deviation.reason, "until": deviation.until, "by": deviation.by}


def _figure(value: Decimal) -> str:
    """As written where that is short; at most six decimals where a share was divided."""
    text = shown(value)
    return text if len(text) <= 12 else shown(value.quantize(Decimal("0.000001")))
