"""Intervals hold: whatever the tolerances allow, what was met is not broken and what was broken is not met.

Monte Carlo over all that a formula states as uncertain (assays, weighings, the reading), with the model itself exact:
each draw is a formula without tolerances whose predicted pH has no band.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from unittest import mock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import ON, formula_from
from watchglass.formula import QS, Formula, Material
from watchglass.judge import review
from watchglass.rulebook import load
from watchglass.solution import prediction
from watchglass.solution.trust import NOWHERE, Band

BOOK = load()
DRAWS = 2_000
# Words whose verdict is a figure against a limit. What a powder does is not among them: its solubility is a range of
# the model, which is exact here.
FIGURES = ("percent", "ph", "preserved")
# Whether a reading and a prediction agree is asked of the model's band, and a draw has none.
ABOUT_THE_BAND = "reading-agrees-with-prediction"

AMOUNT = st.integers(0, 1200).map(lambda hundredths: Decimal(hundredths).scaleb(-2))
SMALL = st.integers(1, 100).map(lambda hundredths: Decimal(hundredths).scaleb(-2))


@st.composite
def uncertain_formulas(draw: st.DrawFn) -> str:
    """Acid gels and lotions near the limits, with an assay, a balance, sometimes a reading."""
    lines = [
        f"lactic-88, percent: {draw(AMOUNT)}, function: exfoliant",
        f"glycolic-70, percent: {draw(AMOUNT)}, function: exfoliant",
        f"caustic-20, percent: {draw(AMOUNT)}",
        f"Sodium Benzoate, percent: {draw(SMALL)}, function: preservative",
        f"Salicylic Acid, percent: {draw(SMALL)}, function: preservative",
        f"Phenoxyethanol, percent: {draw(SMALL) + Decimal('0.5')}, function: preservative",
    ]
    chosen = draw(st.lists(st.sampled_from(lines), min_size=1, max_size=6, unique=True))
    has_rest = draw(st.booleans())
    rest = Decimal(100) - sum(Decimal(line.split("percent: ")[1].split(",")[0]) for line in chosen)
    body = "".join(
        f"      - {{material: {line}}}\n" for line in [*chosen, f"Aqua, percent: {'qs' if has_rest else rest}"]
    )
    tolerance = draw(st.sampled_from(["0.1", "0.5", "1", "2"]))
    balance = draw(st.sampled_from(["", "batch: 500 g\nbalance: 0.1 g\n", "batch: 50 g\nbalance: 0.1 g\n"]))
    reading = draw(st.sampled_from(["", "", "measured: {ph: 3.5}\n", "measured: {ph: 4.1, by: strip}\n"]))
    return (
        "formula: a draw\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [eu, us, ca]\n"
        f"{balance}{reading}phases:\n  one:\n    lines:\n{body}materials:\n"
        f"  lactic-88: {{contains: {{Lactic Acid: 88, Aqua: qs}}, tolerance: {tolerance}}}\n"
        f"  glycolic-70: {{contains: {{Glycolic Acid: 70, Aqua: qs}}, tolerance: {tolerance}}}\n"
        f"  caustic-20: {{premix: {{Sodium Hydroxide: 20, Aqua: qs}}, tolerance: {{Sodium Hydroxide: {tolerance}}}}}\n"
    )


def drawn(made: Formula, dice: random.Random) -> Formula:
    """One jar that the sheet may mean: each assay, weighing and reading within its tolerance, often at an end."""
    materials = {name: _assayed(material, dice) for name, material in made.materials.items()}
    half = Decimal(0)
    if made.balance_grams is not None and made.batch_grams is not None:
        half = made.balance_grams * 100 / (2 * made.batch_grams)
    has_rest = any(line.percent == QS for line in made.lines)
    weighed = {
        line.where: max(Decimal(0), line.percent + half * _off(dice)) if line.percent else Decimal(0)
        for line in made.lines
        if isinstance(line.percent, Decimal)
    }
    whole = Decimal(100) if has_rest else sum(weighed.values(), Decimal(0))
    phases = tuple(
        phase._replace(
            lines=tuple(
                line._replace(percent=weighed[line.where] * 100 / whole) if line.where in weighed else line
                for line in phase.lines
            )
        )
        for phase in made.phases
    )
    reading = made.measured
    if reading is not None:
        width = Decimal(str(BOOK.model.reading_tolerance[reading.by]))
        reading = reading._replace(ph=reading.ph + width * _off(dice), tolerance=Decimal(0))
    return made._replace(materials=materials, phases=phases, balance_grams=None, measured=reading)


def _assayed(material: Material, dice: random.Random) -> Material:
    tolerance = material.tolerance
    parts = {
        part: share + _width(tolerance, part) * _off(dice) if isinstance(share, Decimal) else share
        for part, share in material.parts.items()
    }
    return material._replace(parts=parts, tolerance=None)


def _width(tolerance: Decimal | dict[str, Decimal] | None, part: str) -> Decimal:
    return tolerance.get(part, Decimal(0)) if isinstance(tolerance, dict) else tolerance or Decimal(0)


def _off(dice: random.Random) -> Decimal:
    return Decimal(str(dice.choice([-1, 1, round(dice.uniform(-1, 1), 4)])))


@contextmanager
def exact_model() -> Iterator[None]:
    """A prediction without a band of the model's own."""
    with (
        mock.patch.object(prediction, "band", return_value=Band(0.0, 0.0, 0.0, 0.0)),
        mock.patch.object(prediction, "_undissolved_shift", return_value=NOWHERE),
        mock.patch.object(prediction, "_unmodelled_shift", return_value=NOWHERE),
    ):
        yield


def verdicts(made: Formula) -> dict[tuple[str, str | None], set[str]]:
    """What each rule about a figure says, by rule and market; what is met has no market."""
    found = review(made, BOOK, ON)
    said: dict[tuple[str, str | None], set[str]] = {}
    for finding in found.findings:
        if finding.requirement in FIGURES and finding.verdict in ("breaks", "undecided"):
            said.setdefault((finding.address, finding.market), set()).add(finding.verdict)
    for address in (address for address in found.meets if address != ABOUT_THE_BAND):
        said.setdefault((address, None), set()).add("meets")
    return said


def hold(text: str, draws: int) -> None:
    made = formula_from(text)
    stated = verdicts(made)
    met = {address for (address, market), said in stated.items() if market is None and said == {"meets"}}
    broken = {key for key, said in stated.items() if said == {"breaks"}}
    dice = random.Random(text)
    with exact_model():
        for _ in range(draws):
            draw = verdicts(drawn(made, dice))
            assert not [key for key, said in draw.items() if key[0] in met and "breaks" in said], text
            assert not [key for key in broken if draw.get((key[0], None)) == {"meets"}], text


@settings(max_examples=15, deadline=None)
@given(uncertain_formulas())
def test_no_draw_from_the_tolerances_turns_a_verdict_round(text: str) -> None:
    hold(text, draws=20)


@pytest.mark.long
@settings(max_examples=10, deadline=None)
@given(uncertain_formulas())
def test_no_draw_of_thousands_from_the_tolerances_turns_a_verdict_round(text: str) -> None:
    hold(text, DRAWS)
