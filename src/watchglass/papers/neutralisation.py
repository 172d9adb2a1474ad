"""How much stock for a pH: in words with a sketch of the curve, as JSON, and as a picture."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from watchglass import plots
from watchglass.errors import one_line
from watchglass.interval import shown
from watchglass.neutralise import Neutralisation, Point
from watchglass.solution import Forms

USUAL_WIDTH, LEAST_WIDTH = 100, 40
NAME_WIDTH = 11  # of what stands before each line
SKETCH_ROWS = 11
FIGURES_WIDTH = 18  # of the amount and the pH before a bar
ENDING = (
    "Gloves and goggles for stocks and acids. Read the pH after each portion and again after a day. The meter decides, "
    "not this figure; local law, the safety data sheets and the safety assessor come first."
)


def text_of(found: Neutralisation, cautions: Sequence[str], width: int | None) -> str:
    """For a reader; the same words at any width.

    Args:
        found: What was worked out.
        cautions: What the rules say of handling the formula with the stock in it.
        width: Columns of a terminal; None: not a terminal.
    """
    columns = max(width or USUAL_WIDTH, LEAST_WIDTH)
    lines = [one_line(f"{found.material} to pH {shown(found.target_ph)}"), ""]
    for name, words in _facts(found):
        lines += textwrap.wrap(
            one_line(words),
            columns,
            initial_indent=f"{name:<{NAME_WIDTH}}",
            subsequent_indent=" " * NAME_WIDTH,
            break_long_words=False,
        )
    lines += ["", f"{'%':>7}  {'pH':>6}", *_sketch(found, columns), ""]
    for caution in (*cautions, ENDING):
        lines += textwrap.wrap(one_line(caution), columns, subsequent_indent="  ", break_long_words=False)
    return "\n".join(lines) + "\n"


def json_of(found: Neutralisation) -> str:
    """For programs; amounts are strings, as in the sheet."""
    predicted = found.solution.predicted
    assert predicted is not None
    low, high = found.percent_between
    document: dict[str, Any] = {
        "schema_version": 1,
        "material": found.material,
        "target_ph": str(found.target_ph),
        "percent": str(found.percent),
        "percent_low": str(low),
        "percent_high": str(high),
        "before_percent": str(found.before_percent),
        "grams": None if found.batch_grams is None else f"{found.batch_grams * found.percent / 100:.3f}",
        "first_percent": str(found.first_percent),
        "further_percent": None if found.further_percent is None else str(found.further_percent),
        "ph_before": round(found.ph_before, 3),
        "predicted_ph": {
            "value": float(predicted.value),
            "low": float(predicted.interval.low),
            "high": float(predicted.interval.high),
        },
        "conditional_on": list(found.solution.conditional_on),
        "free": [_free(form) for form in found.free_acids],
        "warms_c": None if found.rise is None else {"low": round(found.rise.low, 1), "high": round(found.rise.high, 1)},
        "curve": [{"percent": round(point.percent, 4), "ph": round(point.ph, 3)} for point in found.curve],
    }
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def description_of(found: Neutralisation) -> str:
    """The picture in words."""
    predicted = found.solution.predicted
    assert predicted is not None
    return (
        f"The predicted pH is {found.ph_before:.2f} as the formula stands and {predicted.value:.2f} "
        f"({predicted.interval.low:.2f} to {predicted.interval.high:.2f}) with {found.percent} % {found.material}."
    )


def picture_of(found: Neutralisation, name: str = "curve") -> str:
    """The curve as SVG, with the point that was looked for and the band around its pH; `name` of it in its page."""
    predicted = found.solution.predicted
    assert predicted is not None
    low, high = float(predicted.interval.low), float(predicted.interval.high)
    values = [point.ph for point in found.curve]
    axes = plots.Axes(
        f"{found.material}, % of the product",
        "predicted pH",
        (0, found.curve[-1].percent),
        (float(int(min([*values, low]))), float(int(max([*values, high])) + 1)),
    )
    return plots.curve(
        [(point.percent, point.ph) for point in found.curve],
        axes,
        f"{found.material} to pH {shown(found.target_ph)}",
        description_of(found),
        plots.Mark(float(found.percent), float(predicted.value), f"{found.percent} %, pH {predicted.value:.2f}"),
        plots.Band(low, high, "band of the prediction"),
        name,
    )


def _facts(found: Neutralisation) -> list[tuple[str, str]]:
    solution, predicted = found.solution, found.solution.predicted
    assert predicted is not None
    low, high = found.percent_between
    batch = found.batch_grams
    facts = [
        ("amount", f"{found.percent} % of the product{_grams(found.percent, batch)}; {low} to {high} % at the ends of "
                   "the band"),
        ("now", f"{shown(found.before_percent)} %: pH {found.ph_before:.2f} predicted"),
        ("first", f"{found.first_percent} %{_grams(found.first_percent, batch)}; then stir, let it cool and "
                  "read the pH"),
    ]  # fmt: skip
    if found.further_percent is not None:
        facts.append(("further", f"{found.further_percent} %{_grams(found.further_percent, batch)} after that reading"))
    then = f"pH {predicted.value:.2f} ({predicted.interval.low:.2f} to {predicted.interval.high:.2f}) predicted"
    if solution.ionic_strength is not None:
        then += f"; ionic strength {solution.ionic_strength:.2f} mol/kg"
    if solution.conditional_on:
        then += f"; only if {', '.join(solution.conditional_on)} took no part, which is not modelled"
    if solution.fresh is not None:
        then += f"; higher while {', '.join(solution.fresh.opening)} opens ({solution.fresh.hours:g} h)"
    facts.append(("then", then))
    facts += [("free acid", _free_in_words(form)) for form in found.free_acids]
    if found.rise is not None:
        facts.append(("heat", f"neutralising warms the whole batch by {found.rise}, if no heat is lost"))
    return facts


def _grams(percent: Decimal, batch: Decimal | None) -> str:
    return "" if batch is None else f", {batch * percent / 100:.2f} g in {shown(batch)} g"


def _free(form: Forms) -> dict[str, Any]:
    low, middle, high = (round(percent, 4) for percent in form.uncharged_percent)
    total = round(form.total_percent, 4)
    return {"substance": form.substance, "percent": middle, "low": low, "high": high, "total_percent": total}


def _free_in_words(form: Forms) -> str:
    low, middle, high = form.uncharged_percent
    return f"{form.substance} {middle:.2g} % ({low:.2g} to {high:.2g}) of {form.total_percent:.3g} %"


def _sketch(found: Neutralisation, columns: int) -> list[str]:
    """The curve as rows: amount, pH, a bar; the row of the target is told by an arrow and its own figures."""
    target = Point(float(found.percent), float(found.solution.predicted.value if found.solution.predicted else 0))
    step = max(1, (len(found.curve) - 1) // (SKETCH_ROWS - 1))
    rows = sorted({*found.curve[::step], target})
    lowest = min(point.ph for point in rows)
    span = (max(point.ph for point in rows) - lowest) or 1.0
    room = columns - FIGURES_WIDTH - len(" <- target")
    lines = []
    for point in rows:
        bar = "=" * max(1, round(room * (point.ph - lowest) / span))
        told = f"{point.percent:7.2f}  {point.ph:6.2f}  {bar}"
        lines.append(told + " <- target" if point == target else told)
    return lines
