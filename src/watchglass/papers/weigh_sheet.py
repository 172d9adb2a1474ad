"""The weigh sheet: what to weigh and how, with room for what was really weighed; as text or as JSON."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from watchglass.errors import one_line
from watchglass.interval import shown
from watchglass.weigh import Step, WeighSheet

WIDTH = 96  # of a sheet of paper in a fixed font
NAME_WIDTH, PERCENT_WIDTH, GRAMS_WIDTH = 34, 9, 12
BLANKS = "  weighed g ________  lot ____________  by ____"
BEFORE = (
    "Before weighing: clean bench and vessels, balance level and checked, gloves, hair and sleeves tied back; goggles "
    "for lye and acids. Local law, the safety data sheets and your own GMP come first."
)


def text_of(sheet: WeighSheet) -> str:
    """For printing: the same whatever the terminal."""
    code = f" [{sheet.code}]" if sheet.code else ""
    head = f"{sheet.title}{code}: {_grams(sheet.batch_grams, sheet)} on a balance of {shown(sheet.balance_grams)} g"
    lines = [one_line(head), "Batch no. ______________   date ______________   made by ______________", ""]
    lines += _wrapped(BEFORE)
    for warning in (*sheet.coarse, *_moved(sheet)):
        lines += ["", *_wrapped(f"Mind: {warning}")]
    for step in sheet.premixes:
        lines += _step(f"Premix {step.name}", step, sheet)
    for step in sheet.phases:
        lines += _step(f"Phase {step.name}", step, sheet)
    lines += ["", *_after(sheet)]
    return "\n".join(lines) + "\n"


def json_of(sheet: WeighSheet) -> str:
    """For programs; weights are strings, as in the sheet."""
    document: dict[str, Any] = {
        "schema_version": 1,
        "formula": sheet.title,
        "code": sheet.code,
        "batch_grams": shown(sheet.batch_grams),
        "balance_grams": shown(sheet.balance_grams),
        "premixes": [_json_step(step, sheet) for step in sheet.premixes],
        "phases": [_json_step(step, sheet) for step in sheet.phases],
        "moved": [moved._asdict() for moved in sheet.moved],
        "coarse": list(sheet.coarse),
        "sample_grams": shown(sheet.sample_grams),
        "fills": [
            {"size": fill.size, "pieces": fill.pieces, "rest_grams": _grams(fill.rest_grams, sheet)}
            for fill in sheet.fills
        ],
        "target_ph": sheet.target,
    }
    return json.dumps(document, ensure_ascii=False, indent=2) + "\n"


def _step(called: str, step: Step, sheet: WeighSheet) -> list[str]:
    at = f", {shown(step.temperature)} °C" if step.temperature is not None else ""
    lines = ["", one_line(f"{called}: {_grams(step.grams, sheet)}{at}")]
    for caution in step.cautions:
        lines += _wrapped(f"CAUTION {caution}", "    ")
    for weighing in step.weighings:
        name = textwrap.shorten(one_line(weighing.material), NAME_WIDTH, placeholder="...")
        percent = f"{shown(weighing.percent.quantize(Decimal('0.0001')).normalize() + 0)} %"
        grams = _grams(weighing.grams, sheet)
        lines.append(f"[ ] {name:<{NAME_WIDTH}}{percent:>{PERCENT_WIDTH}}{grams:>{GRAMS_WIDTH}}{BLANKS}".rstrip())
        if weighing.note:
            lines += _wrapped(weighing.note, "      ")
    if step.note:
        lines += _wrapped(f"How: {step.note}", "    ")
    return lines


def _after(sheet: WeighSheet) -> Iterator[str]:
    target = f" (aim {sheet.target})" if sheet.target else ""
    yield f"Take {shown(sheet.sample_grams)} g for the pH meter; it does not go back into the batch."
    yield f"pH{target} ________ at ____ °C   again after 24 h ________ at ____ °C   meter checked at pH ____ and ____"
    yield "Weighed out at the end: ____________ g   yield ________ %"
    for fill in sheet.fills:
        left = f"{fill.pieces} pieces, {_grams(fill.rest_grams, sheet)} left over"
        yield f"Filled into {fill.size}: {left}   filled ______"


def _moved(sheet: WeighSheet) -> Iterator[str]:
    for moved in sheet.moved:
        market = f" ({moved.market})" if moved.market else ""
        yield f"rounding moves {moved.address}{market} from {moved.before} to {moved.after}: {moved.message}"


def _grams(grams: Decimal, sheet: WeighSheet) -> str:
    """With the digits that the balance shows."""
    return f"{grams.quantize(sheet.balance_grams)} g"


def _json_step(step: Step, sheet: WeighSheet) -> dict[str, Any]:
    return {
        "name": step.name,
        "grams": str(step.grams.quantize(sheet.balance_grams)),
        "temperature": None if step.temperature is None else shown(step.temperature),
        "note": step.note,
        "cautions": list(step.cautions),
        "weighings": [
            {
                "material": weighing.material,
                "percent": shown(weighing.percent),
                "grams": str(weighing.grams.quantize(sheet.balance_grams)),
                "off_percent": f"{weighing.off_percent:.4f}",
                "note": weighing.note,
            }
            for weighing in step.weighings
        ],
    }


def _wrapped(words: str, indent: str = "") -> list[str]:
    return textwrap.wrap(one_line(" ".join(words.split())), WIDTH, initial_indent=indent, subsequent_indent=indent)
