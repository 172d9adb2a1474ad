"""What an editor is told of a text, function by function: no protocol, no process."""

import re
from pathlib import Path

import pytest

from helpers import ON, sheet
from watchglass.cli.begin import contents
from watchglass.editor.actions import Action, actions_for
from watchglass.editor.completion import Offer, completion_at
from watchglass.editor.definition import definition_at
from watchglass.editor.hover import hover_at
from watchglass.editor.marks import Mark, marks_of
from watchglass.editor.page import Home, Page, kind_of, page_of
from watchglass.editor.text import end_of, lines_of
from watchglass.errors import START, Place
from watchglass.rulebook import load
from watchglass.sheet import plain, read

ROOT = Path(__file__).parents[1]
BOOK = load()
NOWHERE = Home("jar.yaml", ROOT)
WINDOW = sheet("Aqua qs", "Glycolic Acid 12", "Sodium Benzoate 0.5", markets="us", extra="batch: 500 g")


def page(text: str, home: Home = NOWHERE) -> Page:
    return page_of(text, home, BOOK, ON)


def place_of(text: str, word: str, after: int = 0) -> Place:
    """Where a word stands, or so many characters into it."""
    at = text.index(word) + after
    return Place(text.count("\n", 0, at) + 1, at - (text.rfind("\n", 0, at) + 1) + 1)


def marks(text: str) -> list[Mark]:
    return marks_of(page(text), BOOK)


def marked(text: str, mark: Mark) -> str:
    return lines_of(text)[mark.start.line - 1][mark.start.column - 1 : mark.end.column - 1]


# -- marks ---------------------------------------------------------------------------------------------------------


def test_a_finding_is_marked_over_the_figure_it_is_about() -> None:
    found = [mark for mark in marks(WINDOW) if mark.code == "cir-glycolic-lactic-ceiling"]

    assert [(mark.level, marked(WINDOW, mark)) for mark in found] == [("warning", "12")]
    assert "the limit is at most 10" in found[0].message


def test_every_finding_of_the_example_formulas_has_a_mark_inside_its_line() -> None:
    for file in sorted((ROOT / "formulas").glob("*/*.yaml")):
        text = file.read_text("utf-8")
        seen = page(text, Home(file.name, file.parent))
        assert seen.review is not None
        found = marks_of(seen, BOOK)
        assert [mark.finding for mark in found] == list(seen.review.findings)
        for mark in found:
            assert mark.start < mark.end <= Place(mark.start.line, len(seen.lines[mark.start.line - 1]) + 1), mark
            assert mark.code


def test_law_is_an_error_and_what_is_accepted_or_of_no_weight_a_hint() -> None:
    file = ROOT / "formulas" / "clean" / "body-gel-lactic.yaml"
    levels = {
        (mark.finding.verdict, mark.level)
        for mark in marks_of(page(file.read_text("utf-8"), Home(file.name, file.parent)), BOOK)
        if mark.finding is not None
    }

    assert ("deviation", "hint") in levels
    assert {mark.level for mark in marks(sheet("Aqua 90", "Glycerin 5"))} >= {"error"}


@pytest.mark.parametrize(
    ("line", "column", "thing"),
    [
        ("- {material: Aqua, percent: qs}", 3, "{material: Aqua, percent: qs}"),
        ("- {material: Aqua, percent: qs}", 14, "Aqua"),
        ('- {material: "a, b", percent: 1}', 14, '"a, b"'),
        ("formula: Gel # trial", 10, "Gel"),
        ("percent: 4", 1, "percent"),
        ("markets: [eu, us]", 10, "[eu, us]"),
        ("lines: [{a: {b: 1}}, 2", 8, "[{a: {b: 1}}, 2"),
        ('note: "never closed', 7, '"never closed'),
        ("", 1, ""),
    ],
)
def test_a_mark_covers_the_whole_thing_that_starts_there(line: str, column: int, thing: str) -> None:
    end = end_of([line], Place(1, column))

    assert line[column - 1 : end.column - 1] == thing


# -- which texts are looked at -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("", "formula"),
        ("# nothing yet\n", "formula"),
        ("form", "formula"),
        ("formula: x", "formula"),
        ("formula: [", "formula"),
        ("phases: {", "formula"),
        ("materials:\n  a: {contains: {Aqua: 100}}", "shelf"),
        ("formula: x\nmaterials: {}", "formula"),
        ("# yaml-language-server: $schema=../schemas/shelf.schema.json\n", "shelf"),
        ("# yaml-language-server: $schema=../schemas/formula.schema.json\nmaterials: {}", "formula"),
        ("name: formulas\non: [push]\njobs: {}", "other"),
        ("- a\n- b\n", "other"),
        ("two words\n", "other"),
    ],
)
def test_a_text_goes_by_the_schema_it_names_or_by_its_keys(text: str, kind: str) -> None:
    assert kind_of(text) == kind


def test_nothing_is_said_of_other_yaml_files_or_of_an_empty_one() -> None:
    workflow = contents()[".github/workflows/formulas.yaml"]

    for text in (workflow, "- [\n", "", "# nothing\n"):
        assert marks(text) == []
        assert hover_at(page(text), START, BOOK, ON) is None
    assert completion_at(page(workflow), Place(1, 1), BOOK).items == []


def test_a_shelf_is_checked_as_a_shelf() -> None:
    sound, flawed = "materials:\n  a: {contains: {Aqua: 100}}\n", "materials:\n  a: {contents: {Aqua: 100}}\n"

    assert marks(sound) == []
    assert ['mean "contains"' in mark.message for mark in marks(flawed)] == [True]
    assert marked(flawed, marks(flawed)[0]) == "contents"


MALFORMED = [
    "formula: [",
    "formula: a\nformula: b\n",
    "formula: \x00",
    "formula: *a",
    "formula: a\n\tb: c",
    "phases: {a: {lines: [{",
]


@pytest.mark.parametrize("text", MALFORMED)
def test_a_malformed_text_is_one_mark_where_reading_stopped(text: str) -> None:
    found = marks(text)

    assert [(mark.code, mark.level) for mark in found] == [("unreadable", "error")]
    assert found[0].start.line <= len(lines_of(text))


def test_a_schema_on_the_network_is_named_and_not_fetched() -> None:
    text = "# yaml-language-server: $schema=https://tide.invalid/formula.schema.json\n" + WINDOW

    (remark,) = [mark for mark in marks(text) if mark.finding is None]

    assert "not fetched" in remark.message
    assert marked(text, remark).startswith("https://tide.invalid/")
    assert [mark for mark in marks(contents()["formulas/slack-water-hand-gel.yaml"]) if mark.finding is None] == []


# -- shelves stay inside -------------------------------------------------------------------------------------------


@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    """A repository with a folder that is open and a shelf beside it."""
    (tmp_path / ".git").mkdir()
    (tmp_path / "open").mkdir()
    (tmp_path / "shelf.yaml").write_text("materials:\n  stock: {contains: {Glycerin: 100}}\n", "utf-8")
    (tmp_path / "open" / "shelf.yaml").write_text("materials:\n  stock: {contains: {Squalane: 100}}\n", "utf-8")
    return tmp_path.resolve()


@pytest.mark.parametrize(
    ("shelf", "words"),
    [
        ("shelf.yaml", None),
        ("../shelf.yaml", "outside the folders that are open"),
        ("/etc/shelf.yaml", "outside"),
        ("../../x.yaml", "outside"),
    ],
)
def test_a_shelf_outside_of_the_open_folders_is_refused(workshop: Path, shelf: str, words: str | None) -> None:
    home = Home("a.yaml", workshop / "open", (workshop / "open",))
    found = page(sheet("stock 100", extra=f"shelf: {shelf}"), home)

    assert found.review is not None
    told = [finding.message for finding in found.review.findings if finding.rule == "unreadable"]
    assert (words is None and told == []) or (words is not None and words in told[0])
    assert (found.formula is None) == (words is not None)


def test_a_text_that_was_never_saved_has_no_shelf() -> None:
    found = marks_of(page(sheet("stock 100", extra="shelf: shelf.yaml"), Home("untitled:1", None)), BOOK)

    assert "save the file first" in found[0].message


# -- hover ---------------------------------------------------------------------------------------------------------


def test_the_pointer_over_an_ingredient_tells_its_facts_its_rules_and_the_amount_in_the_batch() -> None:
    told = hover_at(page(WINDOW), place_of(WINDOW, "Sodium Benzoate", 3), BOOK, ON)

    assert told is not None
    assert "Sodium Benzoate: 0.5 %, 2.5 g in a batch of 500 g" in told
    assert "CAS 532-32-1" in told
    assert re.search(r"Benzoic Acid 0\.424 % in all, undissociated [0-9.]+ to [0-9.]+ %", told)
    assert re.search(r"^  practice-preserved", told, re.MULTILINE) is None  # it is about no single substance


def test_the_rules_of_an_ingredient_come_with_todays_limit_and_verdict() -> None:
    text = WINDOW.replace("[us]", "[eu]")
    told = hover_at(page(text), place_of(text, "Sodium Benzoate"), BOOK, ON)

    assert told is not None
    assert "  eu-annex-v#1: meets; at most 0.5 % w/w as benzoic acid (law)" in told.splitlines()
    assert "uk-annex-v" not in told
    assert "does not apply" not in told


# 40 % of Glycerin 70 % is 28 % of Glycerin: arithmetic
def test_a_material_tells_what_it_brings() -> None:
    text = sheet("glycerin-70 40", "Aqua qs", extra="materials: {glycerin-70: {contains: {Glycerin: 70, Aqua: qs}}}")
    told = hover_at(page(text), place_of(text, "glycerin-70"), BOOK, ON)

    assert told is not None
    assert "glycerin-70: 40 %" in told
    assert "brings: Glycerin 28 %, Aqua 12 %" in told


def test_the_pointer_over_a_finding_tells_the_rule_its_dated_values_and_its_source() -> None:
    told = hover_at(page(WINDOW), place_of(WINDOW, "12"), BOOK, ON)

    assert told is not None
    assert told.index("cir-glycolic-lactic-ceiling (us): ") < told.index("cir-daily-sun-protection (us): undecided")
    assert "from 1998-" in told
    assert re.search(r"^  source: Final report", told, re.MULTILINE)
    assert "Glycolic Acid: 12 %" in told  # the ingredient stands below


def test_a_block_of_several_lines_is_one_weighing() -> None:
    text = WINDOW.replace('{material: "Glycolic Acid", percent: 12}', "material: Glycolic Acid\n        percent: 12")
    assert "\n        percent: 12" in text

    told = hover_at(page(text), place_of(text, "percent: 12"), BOOK, ON)

    assert told is not None
    assert "Glycolic Acid: 12 %" in told


@pytest.mark.parametrize("word", ["formula:", "markets", "phases", "batch"])
def test_the_pointer_over_anything_else_tells_nothing_of_ingredients(word: str) -> None:
    assert hover_at(page(WINDOW), place_of(WINDOW, word), BOOK, ON) is None


def test_an_unknown_name_is_told_as_unknown() -> None:
    text = sheet("Unheard-of Root 3", "Aqua qs")

    told = hover_at(page(text), place_of(text, "Unheard"), BOOK, ON)

    assert told is not None
    assert "no substance of this name is known" in told


# -- completion ----------------------------------------------------------------------------------------------------


def offered(text: str, behind: str = "") -> Offer:
    lines = lines_of(text)
    return completion_at(page(text + behind), Place(len(lines), len(lines[-1]) + 1), BOOK)


LINE = "formula: x\nphases:\n  a:\n    lines:\n      - "

COMPLETIONS = [
    ("", ["formula: ", "product: ", "markets: ", "phases: "]),
    ("pha", ["phases: "]),
    ("formula: x\nproduct: {", ["use: ", "site: ", "form: ", "audience: "]),
    ("formula: x\nproduct: {use: ", ["leave-on", "rinse-off"]),
    ("formula: x\nproduct: {use: leave-on, si", ["site: "]),
    ("formula: x\nproduct:\n  use: leave-on\n  ", ["site: ", "kind: "]),
    ("formula: x\nproduct:\n  site: e", ["eye area", "face"]),
    ("formula: x\nmarkets: [eu, us-c", ["us-california"]),
    ("formula: x\nmarkets:\n  - u", ["uk", "us"]),
    (LINE, ["material: ", "percent: ", "grams: ", "function: "]),
    (LINE + "{material: Sodium Benz", ["Sodium Benzoate"]),
    (LINE + "{material: sodium benz", ["Sodium Benzoate"]),
    (LINE + '{material: "Sodium Benz', ['"Sodium Benzoate"']),
    (LINE + "{material: 1,2-He", ['"1,2-Hexanediol"']),
    (LINE + "material: Glycer", ["Glycerin"]),
    (LINE + "{material: Aqua, percent: ", ["qs"]),
    (LINE + "{material: Aqua, percent: 4, function: preserv", ["preservative"]),
    ("formula: x\nlabel: {statements: [sunb", ["sunburn-alert"]),
    ("formula: x\ndeviations:\n  - {rule: practice-pres", ["practice-preserved"]),
    ("formula: x\ndeviations:\n  - rule: practice-preserved\n    ", ["reason: ", "until: ", "by: "]),
    ("formula: x\nmeasured: {ph: 4, by: ", ["meter", "strip"]),
    ("materials:\n  lactic-88:\n    ", ["contains: ", "premix: ", "tolerance: "]),
    ("materials:\n  lactic-88: {contains: {Lactic", ["Lactic Acid: "]),
    ("materials:\n  lactic-88: {premix: {Lactic Acid: 88, Aq", ["Aqua: "]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), COMPLETIONS, ids=[text[-24:] for text, _ in COMPLETIONS])
def test_what_could_stand_at_the_cursor_is_offered(text: str, expected: list[str]) -> None:
    found = [item.text for item in offered(text).items]

    assert [text for text in expected if text not in found] == []


@pytest.mark.parametrize("behind", ["\nphases: {", "\n\t[[[", "}\n: :"])
def test_what_stands_behind_the_cursor_may_be_broken(behind: str) -> None:
    assert [item.text for item in offered("formula: x\nproduct: {use: ", behind).items] == ["leave-on", "rinse-off"]


def test_a_key_that_is_there_is_not_offered_again() -> None:
    found = [item.label for item in offered("formula: x\nproduct: {use: leave-on, ").items]

    assert "use" not in found
    assert "site" in found


def test_the_materials_of_a_shelf_come_before_the_names_of_substances() -> None:
    home = Home("a.yaml", ROOT / "formulas" / "clean")
    text = sheet("lactic-88 5", "Aqua qs", extra="shelf: ../shelf.yaml")
    seen = page(text, home)
    assert seen.formula is not None

    found = completion_at(seen, place_of(text, "lactic-88", 3), BOOK)

    assert (found.items[0].label, found.items[0].detail) == ("lactic-88", "on ../shelf.yaml")
    assert "Lactic Acid 88" in found.items[0].told


def test_a_word_comes_with_what_the_schema_says_of_it_and_an_example() -> None:
    by_label = {item.label: item for item in offered("").items}

    assert by_label["batch"].told == "The size of a batch with its unit, g or kg.\nFor example: 500 g"
    assert {label for label, item in by_label.items() if item.detail == "needed"} == {
        "formula", "product", "markets", "phases",
    }  # fmt: skip


def test_a_first_formula_can_be_written_from_what_is_offered_alone() -> None:
    """Take what is offered at each step; only names of the maker's own and figures are typed."""
    text = ""
    steps = [
        *("formula", "=a first gel\n", "product", "={", "use", "leave-on", "=, ", "site", "hands", "=, "),
        *("form", "gel", "=, ", "audience", "adults", "=}\n", "markets", "=[", "eu", "=]\n"),
        *("phases", "=\n  water:\n    ", "lines", "=\n      - {", "material", "Aqua", "=, ", "percent", "qs"),
        *("=}\n      - {", "material", "=Glyc", "Glycerin", "=, ", "percent", "=5}\n      - {"),
        *("material", "=sodium b", "Sodium Benzoate", "=, ", "percent", "=0.5, ", "function", "preservative", "=}\n"),
    ]
    for step in steps:
        if step.startswith("="):
            text += step[1:]
            continue
        item = next(item for item in offered(text).items if item.label == step)
        start = offered(text).start
        assert start.line == len(lines_of(text))
        text = text[: len(text) - len(lines_of(text)[-1]) + start.column - 1] + item.text

    found = page(text)
    assert found.formula is not None
    assert found.formula.title == "a first gel"
    assert [line.material for line in found.formula.lines] == ["Aqua", "Glycerin", "Sodium Benzoate"]


def test_long_lists_are_cut_and_say_so() -> None:
    whole, part = offered(LINE + "{material: a"), offered(LINE + "{material: Sodium Benzoa")

    assert whole.is_incomplete
    assert not part.is_incomplete


# -- the way to a material -----------------------------------------------------------------------------------------


def test_the_way_leads_from_a_line_to_the_material_on_the_shelf() -> None:
    file = ROOT / "formulas" / "clean" / "body-gel-lactic.yaml"
    text, shelf = file.read_text("utf-8"), (ROOT / "formulas" / "shelf.yaml").read_text("utf-8")
    seen = page(text, Home(file.name, file.parent))

    spot = definition_at(seen, place_of(text, "lactic-88"))

    assert spot is not None
    assert spot.path == (ROOT / "formulas" / "shelf.yaml").resolve()
    assert spot.start == place_of(shelf, "lactic-88:")
    assert definition_at(seen, place_of(text, "../shelf.yaml", 2)) == (spot.path, START)
    assert definition_at(seen, place_of(text, "Allantoin")) is None


def test_the_way_leads_to_a_material_in_the_same_text() -> None:
    text = sheet("stock 40", "Aqua qs", extra="materials:\n  stock: {contains: {Glycerin: 100}}")

    spot = definition_at(page(text), place_of(text, "stock"))

    assert spot == (None, place_of(text, "stock:"))


# -- actions -------------------------------------------------------------------------------------------------------


def actions(text: str, code: str) -> list[Action]:
    seen = page(text)
    return [action for mark in marks_of(seen, BOOK) if mark.code == code for action in actions_for(seen, mark, BOOK)]


def done(text: str, action: Action) -> str:
    """The text after an action, as an editor makes it."""
    lines = text.splitlines(keepends=True) or [""]
    for edit in sorted(action.edits, reverse=True):
        at = [sum(map(len, lines[: place.line - 1])) + place.column - 1 for place in edit[:2]]
        text = text[: at[0]] + edit.text + text[at[1] :]
    return text


SUN = sheet("Glycolic Acid 5", "Sodium Hydroxide 1.7", "Aqua qs", markets="us")
LABELS = {
    "no label": "",
    "no label, no last line end": None,
    "flow": "label: {claims: [soft]}",
    "flow with statements": "label: {statements: [daily-sun-protection]}",
    "block": "label:\n  claims:\n    - soft",
    "block with statements": "label:\n  statements:\n    - daily-sun-protection\n  claims: [soft]",
    "block, list not indented": "label:\n  statements:\n  - daily-sun-protection",
    "empty list": "label: {statements: []}",
    "empty label": "label: {}",
}


@pytest.mark.parametrize("name", LABELS)
def test_a_missing_statement_is_put_on_the_label_however_it_is_written(name: str) -> None:
    label = LABELS[name]
    text = SUN.rstrip("\n") if label is None else SUN + (f"{label}\n" if label else "")
    (action,) = [each for each in actions(text, "fda-sunburn-alert") if each.mends][:1]

    after = done(text, action)

    before = plain(read(text)).get("label", {})
    assert plain(read(after))["label"] == before | {"statements": ["sunburn-alert", *before.get("statements", [])]}
    assert [mark for mark in marks(after) if mark.code == "fda-sunburn-alert"] == []


@pytest.mark.parametrize(
    "listed",
    [
        "",
        "deviations:\n  - {rule: a, reason: b}",
        "deviations: [{rule: a, reason: b}]",
        "deviations:\n- rule: a\n  reason: b",
    ],
)
def test_a_break_that_is_no_law_can_be_departed_from_with_a_reason_to_fill_in(listed: str) -> None:
    text = WINDOW + (f"{listed}\n" if listed else "")
    (action,) = [each for each in actions(text, "cir-glycolic-lactic-ceiling") if not each.mends]

    after = done(text, action)

    assert plain(read(after))["deviations"][0] == {"rule": "cir-glycolic-lactic-ceiling", "reason": "", "by": ""}
    assert any("reason is empty" in mark.message for mark in marks(after))
    filled = after.replace('reason: ""', "reason: patch test on file").replace('by: ""', "by: OS")
    assert page(filled).formula is not None


def test_law_and_arithmetic_cannot_be_departed_from() -> None:
    text = sheet("Aqua 90", "Methylisothiazolinone 0.01", "Glycerin 5")
    codes = {mark.code for mark in marks(text) if mark.level == "error"}

    assert {"product-total", "eu-annex-v"} <= {str(code).split("#")[0] for code in codes}
    assert [action for code in codes for action in actions(text, str(code)) if not action.mends] == []


def test_a_misspelt_name_is_written_right() -> None:
    text = sheet("Sodium Benzoat 0.5", "Aqua qs")
    found = [
        action
        for mark in marks(text)
        for action in actions(text, str(mark.code))
        if action.title == "Write Sodium Benzoate"
    ]
    assert found

    after = done(text, found[0])

    assert '{material: "Sodium Benzoate", percent: 0.5}' in after
    assert not any("unknown" in mark.message for mark in marks(after))


def test_a_statement_is_not_offered_where_it_is_no_answer() -> None:
    titles = [action.title for action in actions(WINDOW, "cir-glycolic-lactic-ceiling") if action.mends]

    assert not [title for title in titles if "statement" in title]


def test_a_break_with_a_number_is_mended_by_one_choice_and_the_rule_is_met_after() -> None:
    text = sheet("Phenoxyethanol 1.2 as preservative", "Glycerin 3", "Aqua qs")
    mend = next(action for action in actions(text, "eu-annex-v#29") if action.mends)

    assert mend.title.startswith("Mend: Phenoxyethanol from 1.2 to 1 %")
    assert len(mend.edits) == 1  # the qs line takes the difference by itself
    assert actions(done(text, mend), "eu-annex-v#29") == []


def test_a_mend_that_water_balances_changes_both_lines_at_once() -> None:
    text = sheet("Phenoxyethanol 1.2 as preservative", "Glycerin 3", "Aqua 95.8")
    mend = next(action for action in actions(text, "eu-annex-v#29") if action.mends)
    changed = done(text, mend)

    assert len(mend.edits) == 2
    assert "percent: 96.0}" in changed
    assert actions(changed, "eu-annex-v#29") == []


def test_a_break_that_no_amount_mends_offers_none() -> None:
    text = sheet("Hydroquinone 1", "Aqua qs")

    assert not [action for action in actions(text, "eu-annex-ii#1339") if action.mends]
