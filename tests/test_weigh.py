"""The weigh sheet: exact sums, told roundings, premixes first, cautions where they matter."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import ON, formula_from, sheet
from watchglass.errors import CannotRun
from watchglass.formula import Formula
from watchglass.judge import review
from watchglass.papers import weigh_sheet
from watchglass.rulebook import load
from watchglass.weigh import WeighSheet, apportioned, weigh

BOOK = load()
GEL = """\
formula: Groyne gel
code: GR-7
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [us]
batch: 500 g
balance: 0.1 g
density: 1.02
containers: [118 ml, 50 g]
target: {ph: {min: 3.8, max: 4.2}}
phases:
  water:
    temperature: 22
    lines:
      - {material: Aqua, percent: qs}
      - {material: Xanthan Gum, percent: 0.83, note: sift in}
  acid:
    note: acid into water, then the stock
    lines:
      - {material: lactic-88, percent: 5}
      - {material: caustic-20, percent: 5.37}
materials:
  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}
  caustic-20: {premix: {caustic-50: 40, Aqua: qs}}
  caustic-50: {premix: {Sodium Hydroxide: 50, Aqua: 50}}
"""


def weighed(text: str = GEL, batch: str | None = None, balance: str | None = None) -> WeighSheet:
    sizes = (None if word is None else Decimal(word) for word in (batch, balance))
    return weigh(formula_from(text), BOOK, ON, *sizes)


def grams(found: WeighSheet) -> dict[str, Decimal]:
    return {weighing.material: weighing.grams for step in found.phases for weighing in step.weighings}


def refused(text: str = GEL, batch: str | None = None, balance: str | None = None) -> str:
    with pytest.raises(CannotRun) as error:
        weighed(text, batch, balance)
    assert "\n" not in str(error.value)
    return str(error.value)


# -- rounding --------------------------------------------------------------------------------------------------------


@given(
    st.lists(st.integers(0, 10**7), min_size=1, max_size=30),
    st.sampled_from(["0.001", "0.01", "0.1", "0.5", "1", "20"]),
)
def test_rounded_weights_add_up_and_none_is_off_by_a_whole_division(parts: list[int], balance: str) -> None:
    step = Decimal(balance)
    divisions = sum(parts) or 1
    amounts = [Fraction(part, sum(parts) or 1) * divisions * Fraction(step) for part in parts]
    found = apportioned(amounts, step)

    assert sum(found) == sum(amounts)
    for rounded, amount in zip(found, amounts, strict=True):
        assert rounded % step == 0
        assert abs(Fraction(rounded) - amount) < Fraction(step)


@settings(max_examples=50, deadline=None)
@given(st.integers(1, 4000), st.sampled_from(["0.01", "0.1", "0.5"]), st.integers(1, 999), st.integers(1, 999))
def test_a_sheet_adds_up_to_the_batch_whatever_the_batch_and_the_balance(
    divisions: int, balance: str, one: int, other: int
) -> None:
    text = sheet("Aqua qs", f"Glycerin {Decimal(one) / 100}", f"Xanthan Gum {Decimal(other) / 1000}")
    batch = Decimal(balance) * divisions
    try:
        found = weighed(text, str(batch), balance)
    except CannotRun as error:
        assert "less than half a division" in str(error)  # noqa: PT017  # a batch too small is refused, nothing else
    else:
        assert sum(grams(found).values()) == batch


def test_the_largest_remainders_are_rounded_up() -> None:
    # By hand: 1/3 each of 10 divisions is 3.33; one division is left, and of equal remainders the first takes it.
    assert apportioned([Fraction(10, 3)] * 3, Decimal(1)) == [4, 3, 3]
    # 1.2, 3.9 and 4.9 of 10: 1, 3 and 4 and two left, for the two .9
    assert apportioned([Fraction(12, 10), Fraction(39, 10), Fraction(49, 10)], Decimal(1)) == [1, 4, 5]


def test_five_percent_of_240_grams_is_twelve() -> None:
    # Ansel and Stoklosa, Pharmaceutical Calculations, percentage strength w/w (recalled, not read): 240 g of a 5 % w/w
    # solution take 12 g. European Pharmacopoeia, general notices 1.2: per cent m/m is grams in 100 g of product.
    assert grams(weighed(sheet("Glycerin 5", "Aqua qs"), "240", "0.1")) == {"Glycerin": 12, "Aqua": 228}


def test_a_rounding_that_crosses_a_limit_is_told() -> None:
    # 1.01 % of 50 g is 0.505 g; a balance of 0.1 g makes 0.5 g of it, which is 1.00 %: the limit of Annex V/29.
    over = weighed(sheet("Phenoxyethanol 1.01 as preservative", "Aqua qs"), "50", "0.1")
    under = weighed(sheet("Phenoxyethanol 0.99 as preservative", "Aqua qs"), "40", "0.1")
    moved = {(m.address, m.before, m.after) for m in over.moved}

    assert ("eu-annex-v#29", "breaks", "meets") in moved
    assert not [m for m in under.moved if m.address == "eu-annex-v#29"]


@settings(max_examples=25, deadline=None)
@given(st.integers(900, 1100), st.integers(60, 400))
def test_no_verdict_moves_without_being_told(hundredths: int, divisions: int) -> None:
    text = sheet(f"Phenoxyethanol {Decimal(hundredths) / 1000} as preservative", "Aqua qs")
    found = weighed(text, str(divisions), "1")
    made = formula_from(sheet(*(f"{name} {weight} g" for name, weight in grams(found).items())))
    as_preservative = tuple(
        phase._replace(
            lines=tuple(
                line._replace(function="preservative") if line.material != "Aqua" else line for line in phase.lines
            )
        )
        for phase in made.phases
    )
    verdicts = [
        next((f.verdict for f in review(one, BOOK, ON).findings if f.address == "eu-annex-v#29"), "meets")
        for one in (formula_from(text), made._replace(phases=as_preservative))
    ]

    told = [(m.before, m.after) for m in found.moved if m.address == "eu-annex-v#29"]
    assert told == ([] if verdicts[0] == verdicts[1] else [tuple(verdicts)])


def test_a_rounding_by_more_than_a_hundredth_of_the_weight_is_told() -> None:
    found = weighed(sheet("Xanthan Gum 0.33", "Aqua qs"), "50", "0.1")

    assert found.coarse == ("Xanthan Gum in one: rounding moves it by 21.2 % of itself",)


# -- premixes and phases ---------------------------------------------------------------------------------------------


def test_an_inner_premix_comes_before_the_one_that_holds_it_with_some_to_spare() -> None:
    inner, outer = weighed().premixes

    assert [inner.name, outer.name] == ["caustic-50", "caustic-20"]
    assert outer.grams == Decimal("28.2")  # 26.8 g and 5 % more, 28.14, up to the next division
    held = next(weighing.grams for weighing in outer.weighings if weighing.material == "caustic-50")
    assert inner.grams >= held * Decimal("1.05")


def test_the_caution_for_making_a_stock_stands_at_the_stock_and_that_for_using_it_at_the_phase() -> None:
    found = weighed()
    stock, phase = found.premixes[0], found.phases[1]

    assert any("cold water" in caution for caution in stock.cautions)
    assert any("warms by" in caution for caution in stock.cautions)
    assert not any("cold water" in caution for caution in phase.cautions)
    assert any("undiluted" in caution for caution in phase.cautions)
    assert found.phases[0].cautions == ()


def test_the_sheet_says_how_from_the_formula() -> None:
    printed = weigh_sheet.text_of(weighed())

    for words in ("Groyne gel [GR-7]", "22 °C", "sift in", "How: acid into water", "aim 3.8 to 4.2", "lot ____"):
        assert words in printed


def test_containers_are_filled_by_weight_and_by_volume() -> None:
    by_volume, by_weight = weighed().fills

    # 490 g are left after the sample; 118 ml weigh 120.36 g: four of them, 8.56 g left
    assert (by_volume.pieces, by_volume.rest_grams) == (4, Decimal("8.56"))
    assert (by_weight.pieces, by_weight.rest_grams) == (9, Decimal("40"))


def test_a_recipe_in_grams_is_scaled_to_another_batch() -> None:
    recipe = sheet("Aqua 95 g", "Glycerin 5 g")

    assert grams(weighed(recipe, None, "0.1")) == {"Aqua": 95, "Glycerin": 5}
    assert grams(weighed(recipe, "2500", "1")) == {"Aqua": 2375, "Glycerin": 125}


def test_json_and_text_hold_the_same_weights() -> None:
    found = weighed()
    document = json.loads(weigh_sheet.json_of(found))
    printed = weigh_sheet.text_of(found)

    for step in (*document["premixes"], *document["phases"]):
        for weighing in step["weighings"]:
            assert f"{weighing['grams']} g" in printed


# -- refusals --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "batch", "balance", "said"),
    [
        (sheet("Glycerin 5", "Aqua qs"), None, "0.1", "how much is to be made?"),
        (sheet("Glycerin 5", "Aqua qs"), "100", None, "what does the balance show?"),
        (GEL, "500.05", "0.1", "a batch of 500.05 g is no whole number of divisions of 0.1 g"),
        (GEL, "5", "0.1", "Xanthan Gum would be less than half a division of 0.1 g"),
        (GEL.replace("density: 1.02\n", ""), None, None, "containers in ml need the density"),
        (GEL.replace("118 ml", "0 ml"), None, None, 'a container of "0 ml" holds nothing'),
        (GEL.replace("Xanthan Gum", "Xanthan Gumm"), None, None, "unknown material"),
        (sheet("Glycerin 5", "Aqua 94"), "100", "0.1", "the lines make 99 %, not 100"),
    ],
)
def test_what_cannot_be_weighed_is_refused_with_the_mend(
    text: str, batch: str | None, balance: str | None, said: str
) -> None:
    assert said in refused(text, batch, balance)


def test_a_premix_that_goes_round_in_a_circle_is_refused() -> None:
    circle = GEL.replace("{Sodium Hydroxide: 50, Aqua: 50}", "{caustic-20: 50, Aqua: 50}")

    assert "circle" in refused(circle)


# -- as a user runs it -----------------------------------------------------------------------------------------------


def run(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    (folder / "gel.yaml").write_text(GEL, "utf-8")
    command = [sys.executable, "-m", "watchglass", "weigh", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, encoding="utf-8", check=False)


def test_the_command_prints_the_sheet(tmp_path: Path) -> None:
    done = run("gel.yaml", "--batch", "2.5kg", "--balance", "0.5 g", folder=tmp_path)

    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Groyne gel [GR-7]: 2500.0 g on a balance of 0.5 g\n")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["gel.yaml", "--batch", "2,5kg"], '--batch is "2,5kg"; a weight is a number with its unit, for example 500g'),
        (["gel.yaml", "--batch", "0g"], '--batch is "0g"; a weight is'),
        (["gel.yaml", "--balance", "0.1"], '--balance is "0.1"; a weight is'),
        (["gel.yaml", "--on", "2026-02-30"], '--on is "2026-02-30"; a date reads'),
        (["gel.yaml", "--format", "txt"], '--format is "txt"; did you mean "text"?'),
        (["gel.yaml", "--output", "gel.yaml"], "gel.yaml is there already; nothing is written over"),
        (["none.yaml"], "none.yaml:1:1: there is no such file"),
    ],
)
def test_bad_input_gets_one_line_and_exit_2(arguments: list[str], said: str, tmp_path: Path) -> None:
    done = run(*arguments, folder=tmp_path)

    assert done.returncode == 2
    assert done.stdout == ""
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert (tmp_path / "gel.yaml").read_text("utf-8") == GEL


def test_a_hostile_name_stays_on_its_line() -> None:
    found: Formula = formula_from(GEL)._replace(title="a\x1b[2J\nb")

    assert "\x1b" not in weigh_sheet.text_of(weigh(found, BOOK, ON))
    assert weigh_sheet.text_of(weigh(found, BOOK, ON)).splitlines()[0].endswith("on a balance of 0.1 g")


def test_the_configuration_of_the_folder_says_what_the_formula_leaves_out(tmp_path: Path) -> None:
    (tmp_path / "watchglass.yaml").write_text("markets: [us]\ntolerances: {balance: 0.5 g}\n", "utf-8")
    (tmp_path / "gel.yaml").write_text(GEL.replace("markets: [us]\n", "").replace("balance: 0.1 g\n", ""), "utf-8")
    command = [sys.executable, "-m", "watchglass", "weigh", "gel.yaml"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, encoding="utf-8", check=False)

    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[0].endswith("on a balance of 0.5 g")
