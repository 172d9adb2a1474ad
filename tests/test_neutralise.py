"""How much stock for a pH, held against reviewing the formula again with it, and against stoichiometry."""

from __future__ import annotations

import json
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jar import formula_from
from watchglass.errors import CannotRun
from watchglass.formula import Formula
from watchglass.judge import case_of
from watchglass.neutralise import Neutralisation, neutralise
from watchglass.papers import neutralisation
from watchglass.rulebook import load

BOOK = load()
GEL = """\
formula: Sandbar gel
product: {{use: leave-on, site: body, form: gel, audience: adults}}
markets: [eu]
batch: 500 g
target: {{ph: {{min: 3.8, max: 4.2}}}}
phases:
  water:
    lines:
      - {{material: Aqua, percent: qs}}
      - {{material: Sodium Benzoate, percent: 0.4}}
  acid:
    lines:
      - {{material: acid, percent: {acid}}}
{more}materials:
  acid: {{contains: {{Mandelic Acid: 40, Propanediol: 20, Aqua: qs}}}}
  lye-20: {{premix: {{Sodium Hydroxide: 20, Aqua: 80}}}}
  sour: {{premix: {{Citric Acid: 50, Aqua: 50}}}}
"""


def gel(acid: str = "10", *more: str) -> Formula:
    return formula_from(text(acid, *more))


def text(acid: str = "10", *more: str) -> str:
    return GEL.format(acid=acid, more="".join(f"      - {{{line}}}\n" for line in more))


def refused(formula: Formula, to: str, stock: str | None = None) -> str:
    with pytest.raises(CannotRun) as error:
        neutralise(formula, BOOK, Decimal(to), stock)
    assert "\n" not in str(error.value)
    return str(error.value)


def reviewed_ph(found: Neutralisation, acid: str) -> float:
    again = case_of(gel(acid, f"material: {found.material}, percent: {found.percent}"), BOOK)
    assert again.solution.predicted is not None
    return float(again.solution.predicted.value)


@settings(max_examples=60, deadline=None)
@given(
    st.decimals("2", "20", places=1),
    st.sampled_from(["3.4", "3.6", "3.8", "4.0", "4.5"]),
    st.sampled_from(["lye-20", "Tromethamine", "Triethanolamine", "Arginine", "Potassium Hydroxide"]),
)
def test_the_amount_put_into_the_formula_and_reviewed_again_lands_on_the_target(
    acid: Decimal, to: str, stock: str
) -> None:
    found = neutralise(gel(str(acid)), BOOK, Decimal(to), stock)

    assert reviewed_ph(found, str(acid)) == pytest.approx(float(to), abs=0.005)


def test_the_base_is_what_stoichiometry_says_where_little_acid_is_free_of_itself() -> None:
    # Mandelic acid, pKa 3.40 (rules/substances): at pH 4 the charge balance of base against ionised acid, by hand:
    # ionised mandelate and benzoate = sodium of the lye and of the benzoate + H+. Both shares from the solution itself.
    found = neutralise(gel(), BOOK, Decimal("4.0"), "lye-20")
    solution = found.solution
    shares = {form.substance: 1 - form.uncharged_share[1] for form in solution.forms}
    mandelate = 4.0 / 152.15 * shares["Mandelic Acid"]
    benzoate = 0.4 / 144.10 * shares["Benzoic Acid"]
    sodium = float(found.percent) * 0.2 * 0.98 / 39.997 + 0.4 / 144.10

    assert sodium + 1.3e-4 * solution.mixture.water_g / 1000 == pytest.approx(mandelate + benzoate, rel=0.002)


def test_an_acid_brings_a_formula_down_as_a_base_brings_it_up() -> None:
    found = neutralise(gel("10", "material: lye-20, percent: 6"), BOOK, Decimal("4.0"), "sour")

    assert found.ph_before > 4.5
    assert found.percent > 0
    assert float(found.solution.predicted.value if found.solution.predicted else 0) == pytest.approx(4.0, abs=0.005)


def test_the_stock_that_the_formula_has_already_is_changed_and_not_added_to() -> None:
    to, without, with_some = Decimal("4.0"), gel(), gel("10", "material: lye-20, percent: 2")

    assert neutralise(with_some, BOOK, to).percent == neutralise(without, BOOK, to, "lye-20").percent
    assert neutralise(with_some, BOOK, to).before_percent == 2


def test_the_only_stock_that_moves_the_ph_the_right_way_is_chosen() -> None:
    assert neutralise(gel(), BOOK, Decimal("4.0")).material == "lye-20"


def test_the_amounts_at_the_ends_of_the_band_lie_around_the_amount() -> None:
    found = neutralise(gel(), BOOK, Decimal("4.0"))
    low, high = found.percent_between

    assert low < found.percent < high
    assert found.first_percent <= low
    assert found.first_percent <= found.percent * Decimal("0.9") + Decimal("0.005")


def test_after_a_reading_only_the_rest_is_still_to_be_added() -> None:
    whole = neutralise(gel(), BOOK, Decimal("4.0"))
    some = neutralise(gel(), BOOK, Decimal("3.7"))
    rest = neutralise(gel(), BOOK, Decimal("4.0"), read_ph=Decimal("3.7")).further_percent

    assert rest is not None
    assert rest == pytest.approx(whole.percent - some.percent, abs=Decimal("0.02"))


def test_past_the_target_nothing_more_is_added() -> None:
    assert neutralise(gel(), BOOK, Decimal("4.0"), read_ph=Decimal("4.3")).further_percent == 0


def test_the_curve_rises_with_base_and_passes_through_the_target() -> None:
    curve = neutralise(gel(), BOOK, Decimal("4.0")).curve

    assert [point.ph for point in curve] == sorted(point.ph for point in curve)
    assert curve[0].ph < 4.0 < curve[-1].ph


def test_a_recipe_in_grams_gives_way_with_its_largest_line_of_water() -> None:
    weighed = """\
formula: Ripple wash
product: {use: rinse-off, site: body, form: liquid, audience: adults}
markets: [eu]
phases:
  one:
    lines:
      - {material: Aqua, grams: 940}
      - {material: Aqua, grams: 10}
      - {material: Mandelic Acid, grams: 50}
"""
    found = neutralise(formula_from(weighed), BOOK, Decimal("4.0"), "Sodium Hydroxide")

    assert found.batch_grams == 1000
    again = weighed.replace("940", str(940 - 10 * found.percent)) + (
        f"      - {{material: Sodium Hydroxide, grams: {10 * found.percent}}}\n"
    )
    solution = case_of(formula_from(again), BOOK).solution
    assert solution.predicted is not None
    assert float(solution.predicted.value) == pytest.approx(4.0, abs=0.005)


# -- refusals: a reason in one line, no number -----------------------------------------------------------------------


def test_a_target_below_what_the_acid_alone_makes_is_refused_for_a_base() -> None:
    assert refused(gel(), "1.6", "lye-20").endswith("; it leads away")


def test_a_target_that_an_acid_cannot_reach_is_refused() -> None:
    assert refused(gel(), "1.2", "sour").endswith("all that the water has room for, does not")


def test_a_stock_has_to_be_named_where_there_are_two() -> None:
    two = gel("10", "material: lye-20, percent: 1", "material: Tromethamine, percent: 1")

    assert refused(two, "4.0") == "say which stock to use with --with; several would do: lye-20, Tromethamine"


def test_an_unknown_stock_names_the_nearest_known_one() -> None:
    assert refused(gel(), "4.0", "lye-2") == 'no material "lye-2"; did you mean "lye-20"?'


def test_a_balm_has_no_water_to_give_way() -> None:
    balm = formula_from(
        "formula: Dune balm\nproduct: {use: leave-on, site: body, form: balm, audience: adults}\nmarkets: [eu]\n"
        "phases:\n  one:\n    lines:\n      - {material: Olea Europaea Fruit Oil, percent: 100}\n"
    )
    assert refused(balm, "4.0", "Sodium Hydroxide") == "no line is water, which has to make room for the stock"


def test_a_sheet_that_does_not_add_up_is_sent_back() -> None:
    assert "unknown material" in refused(gel("10", "material: Mandelick Acid, percent: 1"), "4.0", "lye-20")


def test_where_the_ph_cannot_be_predicted_no_amount_is_given() -> None:
    strong = gel("45", "material: Sodium Lactate, percent: 12")

    assert "no amount is given" in refused(strong, "4.5", "lye-20")


# -- as a user runs it -----------------------------------------------------------------------------------------------


def run(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    (folder / "gel.yaml").write_text(text(), "utf-8")
    command = [sys.executable, "-m", "watchglass", "neutralise", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, encoding="utf-8", check=False)


def test_the_command_prints_the_amount_and_aims_at_the_middle_of_the_makers_window(tmp_path: Path) -> None:
    done = run("gel.yaml", folder=tmp_path)

    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("lye-20 to pH 4\n")
    assert "<- target" in done.stdout
    assert "cold water in small portions" in done.stdout  # the cautions of the handling rules
    assert "The meter decides" in " ".join(done.stdout.split())


def test_json_and_picture_say_the_same_as_the_text(tmp_path: Path) -> None:
    done = run("gel.yaml", "--to", "4", "--format", "json", "--plot", "curve.svg", folder=tmp_path)
    found = json.loads(done.stdout)
    picture = ET.parse(tmp_path / "curve.svg").getroot()  # our own picture

    assert found["percent"] == str(neutralise(gel(), BOOK, Decimal("4")).percent)
    assert picture.get("role") == "img"
    assert found["percent"] in (picture.findtext("{http://www.w3.org/2000/svg}desc") or "")


A_PH = "a pH is a number from 0 to 14"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["gel.yaml", "--to", "4,0"], f'watchglass: --to is "4,0"; {A_PH}, with a point and not a comma'),
        (["gel.yaml", "--to", "15"], f'watchglass: --to is "15"; {A_PH}'),
        (["gel.yaml", "--to", "nan"], f'watchglass: --to is "nan"; {A_PH}'),
        (["none.yaml", "--to", "4"], "watchglass: none.yaml:1:1: there is no such file"),
        (["gel.yaml", "--format", "jsn"], 'watchglass: --format is "jsn"; did you mean "json"?'),
        (["gel.yaml", "--plot", "gel.yaml"], "watchglass: gel.yaml is there already and is no .svg: name another file"),
    ],
)  # fmt: skip
def test_bad_input_gets_one_line_and_exit_2(arguments: list[str], said: str, tmp_path: Path) -> None:
    done = run(*arguments, folder=tmp_path)

    assert (done.returncode, done.stderr.strip(), done.stdout) == (2, said, "")


def test_a_hostile_name_stays_one_line_in_text_and_picture() -> None:
    found = neutralise(gel(), BOOK, Decimal("4.0"))._replace(material="<b>\x1b[31m\nlye")

    assert "\x1b" not in neutralisation.text_of(found, (), None)
    assert "<b>" not in neutralisation.picture_of(found)
    ET.fromstring(neutralisation.picture_of(found))  # our own picture
