"""The label copy: the declaration in its legal order, what must be said, what is left."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from helpers import ON, formula_from, sheet
from watchglass.errors import CannotRun
from watchglass.label import LabelCopy, label_copy
from watchglass.papers import label_copy as paper
from watchglass.rulebook import load

BOOK = load()


def copy(text: str, market: str = "eu", on: str = ON) -> LabelCopy:
    return label_copy(formula_from(text), BOOK, on, market)


def names(found: LabelCopy) -> list[str]:
    return [item.name for item in found.items]


# -- the order, by Article 19(1)(g) of Regulation (EC) No 1223/2009 and by 21 CFR 701.3 (both recalled) ----------------

CREAM = sheet(
    "Glycerin 1", "Xanthan Gum 0.99", "CI 77891 3 as colourant", "Aqua qs", "Squalane 5", "Tocopherol 0.2", "Parfum 1.5"
)


def test_ingredients_stand_in_descending_order_and_colourants_last() -> None:
    assert names(copy(CREAM)) == ["Aqua", "Squalane", "Parfum", "Glycerin", "Xanthan Gum", "Tocopherol", "CI 77891"]


BOUND, FREE = "ordered", "free"


@pytest.mark.parametrize(
    ("market", "group"), [("eu", BOUND), ("us", FREE), ("uk", BOUND), ("ca", FREE), ("asean", BOUND)]
)
def test_one_percent_is_bound_to_its_place_in_the_eu_and_free_in_the_united_states(market: str, group: str) -> None:
    # Article 19: less than 1 % may stand in any order; 701.3(f): not more than 1 %.
    assert next(item.group for item in copy(CREAM, market).items if item.name == "Glycerin") == group


def test_the_united_states_print_water_and_fragrance() -> None:
    found = names(copy(CREAM, "us"))

    assert found[0] == "Water"
    assert "Fragrance" in found
    assert "Aqua" not in found


def test_a_state_has_the_label_of_its_country() -> None:
    assert names(copy(CREAM, "us-california")) == names(copy(CREAM, "us"))


def test_equal_parts_of_one_ingredient_stand_once_with_their_sum() -> None:
    split = sheet("Glycerin 0.6", "Xanthan Gum 0.9", "Glycerin 0.5", "Aqua qs")

    assert names(copy(split)) == ["Aqua", "Glycerin", "Xanthan Gum"]


def test_the_parts_of_a_material_are_printed_and_not_its_trade_name() -> None:
    text = sheet("Aqua qs", "lactic-88 5", extra="materials:\n  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}")

    assert names(copy(text)) == ["Aqua", "Lactic Acid"]


def test_neighbours_whose_tolerances_overlap_are_told() -> None:
    materials = "materials:\n  blend: {contains: {Glycerin: 50, Betaine: qs}, tolerance: 2}"
    text = sheet("Aqua qs", "blend 10", extra=materials)

    assert copy(text).open_order == (("Betaine", "Glycerin"),)
    assert "may change places within their tolerances" in " ".join(paper.text_of(copy(text), None).split())


PERFUMED = "materials:\n  scent: {contains: {Parfum: qs, Linalool: 2}}"


@pytest.mark.parametrize(("percent", "named"), [("0.05", False), ("0.051", True)])
def test_an_allergen_inside_a_perfume_is_named_above_its_threshold(percent: str, named: bool) -> None:
    # Annex III, entry 84: linalool above 0.001 % in what stays on; 2 % of 0.05 % is 0.001 %.
    found = copy(sheet("Aqua qs", f"scent {percent}", extra=PERFUMED))

    assert ("Linalool" in names(found)) == named
    if named:
        item = next(item for item in found.items if item.name == "Linalool")
        assert item.because is not None
        assert item.because in paper.text_of(found, None)


def test_an_allergen_is_named_also_where_the_draft_in_the_file_has_it_already() -> None:
    label = f"{PERFUMED}\nlabel: {{ingredients: [Aqua, Parfum, Linalool]}}"

    assert "Linalool" in names(copy(sheet("Aqua qs", "scent 1", extra=label)))


# -- what must be said ------------------------------------------------------------------------------------------------

FAMILY = "use: leave-on, site: face, form: gel, audience: family"
WITH_SALICYLIC = sheet("Aqua qs", "Salicylic Acid 1 as exfoliant", product=FAMILY)


def test_a_statement_that_the_law_asks_for_is_told_word_for_word_with_its_source() -> None:
    found = copy(WITH_SALICYLIC)
    required = next(one for one in found.required if "not-for-children-under-3" in one.any_of)
    printed = " ".join(paper.text_of(found, None).split())

    assert not required.carried
    assert '"Not to be used for children under 3 years of age" (word for word)' in printed
    assert "NOT on the label" in printed
    assert required.finding.source["title"] in printed


def test_a_statement_that_is_on_the_label_is_told_as_carried() -> None:
    text = WITH_SALICYLIC + "label: {statements: [not-for-children-under-3]}\n"
    required = next(one for one in copy(text).required if "not-for-children-under-3" in one.any_of)

    assert required.carried
    assert not [finding for finding in copy(text).lacking if "not-for-children-under-3" in finding.statements]


def test_what_the_draft_in_the_file_lacks_is_told() -> None:
    text = sheet("Aqua qs", "Glycerin 5", extra="label: {ingredients: [Aqua]}")
    found = copy(text)

    assert any("Glycerin" in finding.message for finding in found.lacking)
    assert "The label in the file:" in paper.text_of(found, None)


@pytest.mark.parametrize("market", ["eu", "uk", "us", "ca", "asean"])
def test_every_market_says_what_is_left_and_by_which_source(market: str) -> None:
    found = copy(CREAM, market)

    assert found.left
    assert all(source["title"] and source["read"] for source in found.sources)


# -- papers -----------------------------------------------------------------------------------------------------------


def test_json_and_text_print_the_same_declaration() -> None:
    found = copy(CREAM)
    document = json.loads(paper.json_of(found))

    assert document["declaration"] == "Ingredients: Aqua, Squalane, Parfum, Glycerin, Xanthan Gum, Tocopherol, CI 77891"
    assert document["declaration"] in paper.text_of(found, 200)


@pytest.mark.parametrize("width", [40, 80, None])
def test_no_line_is_wider_than_the_terminal_but_for_a_long_word(width: int | None) -> None:
    for line in paper.text_of(copy(WITH_SALICYLIC), width).splitlines():
        assert len(line) <= (width or 96) or " " not in line.strip()


def test_a_hostile_title_stays_one_line() -> None:
    found = copy(CREAM)._replace(title="a\x1b[2Jb\nc")

    assert "\x1b" not in paper.text_of(found, None)


def test_a_sheet_that_does_not_add_up_is_sent_back() -> None:
    with pytest.raises(CannotRun, match="mend the sheet first"):
        copy(sheet("Aqua qs", "Glycerinn 5"))


# -- as a user runs it -----------------------------------------------------------------------------------------------


def run(*arguments: str, folder: Path, text: str = CREAM) -> subprocess.CompletedProcess[str]:
    (folder / "cream.yaml").write_text(text, "utf-8")
    command = [sys.executable, "-m", "watchglass", "label", *arguments]
    return subprocess.run(command, cwd=folder, capture_output=True, encoding="utf-8", check=False)


def test_the_command_takes_the_only_market_of_the_formula(tmp_path: Path) -> None:
    done = run("cream.yaml", folder=tmp_path)

    assert done.returncode == 0, done.stderr
    assert "for eu, rules of" in done.stdout
    assert "it certifies nothing" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["cream.yaml", "--market", "ue"], '--market is "ue"; known: eu, uk'),
        (["cream.yaml", "--format", "pdf"], '--format is "pdf"; known: text, json'),
        (["cream.yaml", "--on", "today"], '--on is "today"; a date reads'),
        (["cream.yaml", "--output", "cream.yaml"], "cream.yaml is there already; nothing is written over"),
        (["none.yaml"], "there is no such file"),
    ],
)
def test_bad_input_gets_one_line_and_exit_2(arguments: list[str], said: str, tmp_path: Path) -> None:
    done = run(*arguments, folder=tmp_path)

    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert said in done.stderr


def test_a_formula_for_several_markets_asks_which(tmp_path: Path) -> None:
    done = run("cream.yaml", folder=tmp_path, text=CREAM.replace("markets: [eu]", "markets: [eu, us]"))

    assert (done.returncode, done.stderr) == (2, "watchglass: cream.yaml is for eu, us: say which with --market\n")
