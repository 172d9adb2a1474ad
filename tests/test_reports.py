import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from helpers import ON, book_of, formula_from, rule, sheet
from watchglass import schema
from watchglass.findings import Review, unreadable
from watchglass.formula import Formula
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.reports import json as as_json
from watchglass.reports import text as as_text
from watchglass.rulebook import load

CEILING = rule({"percent": {"of": "Glycolic Acid"}}, rule="ceiling", values={"always": {"max": 10}})
LATER = rule({"percent": {"of": "Glycolic Acid"}}, rule="later", values={"2027-01-01": {"max": 3}})
ADVICE = rule({"percent": {"of": "Lactic Acid"}}, rule="advice", values={"always": {"max": 2}}, binding="opinion")
REMEMBERED = rule(
    {"percent": {"of": "Glycerin"}},
    rule="remembered",
    values={"always": {"max": 50}},
    binding="practice",
    source={"ref": "common-practice", "read": "memory"},
)
FLOOR = rule({"ph": {"of": "Lactic Acid"}}, rule="floor", values={"always": {"min": 3.5}})
LABEL = rule({"statement": {"say": ["sunburn-alert"], "of": "Mandelic Acid"}}, rule="label")
LYE = rule(
    {"handling": {"of": "caustics", "caution": "Lye into cold water."}},
    rule="lye",
    values={"always": {"min": 1}},
    binding="practice",
)
BOOK = book_of(CEILING, LATER, ADVICE, REMEMBERED, FLOOR, LABEL, LYE)

DEVIATION = "deviations:\n  - {rule: advice, reason: patch test on file, until: 2027-01-01, by: AB}"
STRENGTH = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
TEXTS = {
    "clean": sheet("Glycolic Acid 2", "Aqua qs"),
    "breaks": sheet("Glycolic Acid 12", "Mandelic Acid 1", "Aqua qs"),
    "undecided": sheet("Lactic Acid 1", "Carbomer 0.5", "Aqua qs"),
    "interval": sheet("glycolic-70 14.2", "Aqua qs", extra=STRENGTH),
    "unknown": sheet("Unheard-of Root 3", "Lactic Acid 1", "Aqua qs"),
    "coming": sheet("Glycolic Acid 5", "Aqua qs"),
    "deviation": sheet("Lactic Acid 3", "Sodium Lactate 3", "Aqua qs", extra=DEVIATION),
    "idle-deviation": sheet("Lactic Acid 1", "Sodium Lactate 3", "Aqua qs", extra=DEVIATION),
    "memory": sheet("Glycerin 5", "Aqua qs"),
    "balm": sheet("Squalane 100"),
    "lye": sheet("Sodium Hydroxide 1", "Aqua qs", extra="code: X-1\nmeasured: {ph: 13}"),
    "unreadable": "formula: a\nproduct: [\n",
    "misspelt": sheet("Glycerin 5", "Aqua qs").replace("percent: 5", "perecnt: 5"),
    "empty": "",
}


def reviewed(name: str) -> Review:
    return review_of(TEXTS[name], f"{name}.yaml")


def review_of(text: str, path: str = "jar.yaml") -> Review:
    found = formula_of(text, Path())
    return review(found, BOOK, ON, path) if isinstance(found, Formula) else unreadable(path, ON, found)


def in_text(*reviews: Review, **how: Any) -> str:
    return as_text.write(reviews, BOOK, ON, **how)


def in_json(*reviews: Review) -> Any:
    return json.loads(as_json.write(reviews, BOOK, ON))


# -- the cases are what they are called ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "outcome", "verdicts"),
    [
        ("clean", "meets", set()),
        ("breaks", "breaks", {"breaks", "coming"}),
        ("undecided", "cannot tell", {"undecided"}),
        ("interval", "cannot tell", {"undecided", "coming"}),
        ("coming", "meets", {"coming"}),
        ("deviation", "meets", {"deviation"}),
        ("idle-deviation", "meets", {"breaks"}),
        ("memory", "meets", {"undecided"}),
        ("balm", "meets", set()),
        ("unreadable", "breaks", {"breaks"}),
        ("misspelt", "breaks", {"breaks"}),
        ("empty", "breaks", {"breaks"}),
    ],
)
def test_both_formats_tell_the_outcome_and_the_verdicts_of_a_case(name: str, outcome: str, verdicts: set[str]) -> None:
    document = in_json(reviewed(name))

    assert document["outcome"] == document["reviews"][0]["outcome"] == outcome
    assert {finding["verdict"] for finding in document["reviews"][0]["findings"]} == verdicts
    assert in_text(reviewed(name)).splitlines()[-1].startswith(f"outcome: {outcome} ")


# -- JSON ----------------------------------------------------------------------------------------------------------

VALIDATOR = jsonschema.Draft202012Validator(schema.load("review"))


@pytest.mark.parametrize("name", list(TEXTS))
def test_the_json_of_every_case_fits_the_shipped_schema(name: str) -> None:
    VALIDATOR.validate(in_json(reviewed(name)))


def test_the_json_of_all_cases_together_fits_the_shipped_schema() -> None:
    document = in_json(*map(reviewed, TEXTS))

    VALIDATOR.validate(document)
    assert document["counts"]["files"] == len(TEXTS)
    assert document["outcome"] == "breaks"


def test_the_schema_does_not_let_everything_pass() -> None:
    document = in_json(reviewed("breaks"))
    document["reviews"][0]["findings"][0]["verdict"] = "fine"
    assert not VALIDATOR.is_valid(document)

    document = in_json(reviewed("breaks"))
    del document["counts"]["error"]
    assert not VALIDATOR.is_valid(document)


def test_the_shipped_formulas_fit_the_schema_with_the_shipped_rules() -> None:
    folder = Path(__file__).parents[1] / "formulas" / "clean"
    paths = sorted(folder.glob("*.yaml"))
    found = [formula_of(path.read_bytes(), folder) for path in paths]
    reviews = [
        review(each, load(), ON, path.name)
        for each, path in zip(found, paths, strict=True)
        if isinstance(each, Formula)
    ]
    assert len(reviews) == len(paths) > 0

    VALIDATOR.validate(json.loads(as_json.write(reviews, load(), ON)))


def test_a_finding_in_json_says_where_what_and_against_which_limit() -> None:
    document = in_json(reviewed("breaks"))
    finding = next(finding for finding in document["reviews"][0]["findings"] if finding["rule"] == "ceiling")

    assert (finding["line"], finding["where"]) == (7, "phases.one.lines[0]")
    assert finding["value"] == {"low": "12", "high": "12", "unit": "% w/w"}
    assert finding["limit"] == {"max": "10"}
    assert finding["source"]["binding"] == "law"
    assert finding["substances"] == ["Glycolic Acid"]


def test_a_missing_statement_is_its_own_mend() -> None:
    document = in_json(reviewed("breaks"))
    finding = next(finding for finding in document["reviews"][0]["findings"] if finding["rule"] == "label")

    (text,) = finding["mend"]["add_statement"].values()
    assert list(finding["mend"]["add_statement"]) == ["sunburn-alert"]
    assert "Sunburn Alert" in text
    assert f"the statement sunburn-alert: {text}" in " ".join(in_text(reviewed("breaks")).split())


def test_an_interval_keeps_both_ends() -> None:
    document = in_json(reviewed("interval"))
    finding = next(finding for finding in document["reviews"][0]["findings"] if finding["rule"] == "ceiling")

    assert finding["value"] == {"low": "9.798", "high": "10.082", "unit": "% w/w"}


def test_a_coming_finding_carries_its_day_and_a_deviation_its_reason() -> None:
    coming = in_json(reviewed("coming"))["reviews"][0]["findings"][0]
    deviation = in_json(reviewed("deviation"))["reviews"][0]["findings"][0]

    assert coming["changes_on"] == "2027-01-01"
    assert deviation["deviation"] == {
        "rule": "advice", "reason": "patch test on file", "until": "2027-01-01", "by": "AB",
    }  # fmt: skip


def test_compared_numbers_are_strings_without_zeros_that_say_nothing() -> None:
    texts = [sheet(f"Glycolic Acid {written}", "Aqua qs") for written in ("10.4", "10.40", "10.400")]
    figures = [in_json(review_of(text))["reviews"][0]["findings"][0]["value"] for text in texts]

    assert figures == [{"low": "10.4", "high": "10.4", "unit": "% w/w"}] * 3


@pytest.mark.parametrize(
    ("written", "percent"), [("0.40", "0.4"), ("0.0000001", "0.0000001"), ("5", "5"), ("50", "50")]
)
def test_the_composition_shows_each_figure_in_one_stable_way(written: str, percent: str) -> None:
    rows = in_json(review_of(sheet(f"Glycerin {written}", "Aqua qs")))["reviews"][0]["composition"]

    assert {row["substance"]: row["percent"] for row in rows}["Glycerin"] == percent


def test_an_unknown_name_is_in_the_composition_and_marked() -> None:
    rows = in_json(reviewed("unknown"))["reviews"][0]["composition"]

    assert [row["substance"] for row in rows if row.get("known") is False] == ["Unheard-of Root"]


def test_an_unreadable_file_is_one_review_with_findings_and_nothing_else() -> None:
    found = in_json(reviewed("unreadable"))["reviews"][0]

    assert (found["formula"], found["solution"], found["total_percent"], found["composition"]) == (None, None, None, [])
    assert found["findings"][0]["rule"] == "unreadable"
    assert found["findings"][0]["requirement"] == "sheet"
    assert found["findings"][0]["severity"] == "error"


def test_a_prediction_that_is_not_given_is_null_with_its_reason() -> None:
    solution = in_json(reviewed("unknown"))["reviews"][0]["solution"]

    assert solution["predicted_ph"] is None
    assert solution["ph"] is None
    assert "Unheard-of Root" in solution["why_not"]


# -- both formats agree --------------------------------------------------------------------------------------------

COUNTS = re.compile(
    r"(?P<files>\d+) formulas? on \S+, rulebook \S+: (?P<error>\d+) errors?, (?P<warning>\d+) warnings?, "
    r"(?P<note>\d+) notes?; (?P<undecided>\d+) undecided, (?P<coming>\d+) coming, (?P<deviation>\d+) deviations?"
)


@pytest.mark.parametrize(
    "names", [[name] for name in TEXTS] + [list(TEXTS), []], ids=lambda names: "-".join(names) or "none"
)
def test_text_and_json_give_the_same_counts_and_outcome(names: list[str]) -> None:
    reviews = [reviewed(name) for name in names]
    document, told = in_json(*reviews), in_text(*reviews)
    found = COUNTS.search(told)

    assert found is not None
    assert {key: int(value) for key, value in found.groupdict().items()} | {"known": 0} == document["counts"]
    assert told.splitlines()[-1].startswith(f"outcome: {document['outcome']} (")


@pytest.mark.parametrize("name", list(TEXTS))
def test_the_counts_are_those_of_the_findings(name: str) -> None:
    document = in_json(reviewed(name))
    findings = document["reviews"][0]["findings"]

    for severity in ("error", "warning", "note"):
        breaks = [f for f in findings if f["verdict"] == "breaks" and f["severity"] == severity]
        assert document["counts"][severity] == len(breaks)
    for verdict in ("undecided", "coming", "deviation"):
        assert document["counts"][verdict] == sum(finding["verdict"] == verdict for finding in findings)


@pytest.mark.parametrize("name", list(TEXTS))
def test_every_finding_that_is_not_only_remembered_starts_a_line_with_path_line_and_column(name: str) -> None:
    findings = in_json(reviewed(name))["reviews"][0]["findings"]
    told = [f for f in findings if not (f["verdict"] == "undecided" and f["source"]["read"] == "memory")]
    starts = [line for line in in_text(reviewed(name)).splitlines() if line.startswith(f"{name}.yaml:")]

    assert len(starts) == len(told)
    for line, finding in zip(starts, told, strict=True):
        address = finding["rule"] + (f"#{finding['entry']}" if finding["entry"] else "")
        assert line.startswith(f"{name}.yaml:{finding['line']}:{finding['column']}: {address}")
        assert f", {finding['severity']}: " in line
        assert finding["message"] in line


def test_a_remembered_figure_that_is_not_passed_is_named_in_one_line() -> None:
    assert any("memory" in line and "remembered" in line for line in in_text(reviewed("memory")).splitlines())


def test_a_finding_of_weight_says_why_and_by_which_source() -> None:
    told = in_text(reviewed("breaks"))

    assert "why: It is there to be tested." in told
    assert "source: Common practice of the trade (law, read: primary)" in told


def test_a_caution_and_an_accepted_deviation_are_told() -> None:
    assert "Lye into cold water." in in_text(reviewed("lye"))
    assert "patch test on file" in in_text(reviewed("deviation"))
    assert "2027-01-01" in in_text(reviewed("deviation"))


@pytest.mark.parametrize("name", ["clean", "breaks", "empty"])
def test_every_report_says_what_is_not_checked_and_certifies_nothing(name: str) -> None:
    told = in_text(reviewed(name))

    for word in ("safety report", "challenge test", "stability", "responsible person"):
        assert word in told
        assert word in in_json(reviewed(name))["not_checked"]
    assert "certifies nothing" in told
    assert not re.search(r"\b(safe|compliant)\b", told)


# -- one way of writing --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(TEXTS))
def test_the_same_review_gives_the_same_bytes_twice(name: str) -> None:
    assert as_json.write([reviewed(name)], BOOK, ON) == as_json.write([reviewed(name)], BOOK, ON)
    assert in_text(reviewed(name)) == in_text(reviewed(name))


def test_the_date_is_printed_and_the_text_ends_with_one_line_end() -> None:
    told = in_text(reviewed("clean"))

    assert f"on {ON}" in told
    assert in_json(reviewed("clean"))["on"] == ON
    assert told.endswith("\n")
    assert not told.endswith("\n\n")


# -- hostile text --------------------------------------------------------------------------------------------------

HOSTILE = {
    "escape": "\x1b",
    "bell": "\x07",
    "backspace": "\x08",
    "carriage return": "\r",
    "one-byte escape": "\x9b",
    "delete": "\x7f",
    "left-to-right mark": "\u200e",
    "right-to-left mark": "\u200f",
    "Arabic letter mark": "\u061c",
    "right-to-left override": "\u202e",
    "right-to-left isolate": "\u2067",
    "line separator": "\u2028",
    "paragraph separator": "\u2029",
}
QUOTED = {character: f'"\\u{ord(character):04x}[2Jx"' for character in HOSTILE.values()}


def hostile_texts(quoted: str) -> dict[str, str]:
    plain = sheet("Glycolic Acid 12", "Aqua qs")
    root = quoted[1:-1]
    return {
        "title": plain.replace("a test jar", quoted),
        "code": f"{plain}code: {quoted}\n",
        "material": sheet(f"root {root} 3", "Lactic Acid 2", "Aqua qs"),
        "phase": sheet("Sodium Hydroxide 1", "Aqua qs").replace("  one:", f"  {quoted}:"),
        "reason": f"{plain}deviations:\n  - {{rule: advice, reason: {quoted}}}\n",
        "deviation rule": f"{plain}deviations:\n  - {{rule: {quoted}, reason: none}}\n",
        "statement": f"{plain}label: {{statements: [{quoted}]}}\n",
        "test": f"{plain}tests:\n  - {{name: {quoted}, date: 2026-01-01, result: {quoted}}}\n",
        "key": f"{plain}{quoted}: 1\n",
        "wrong word": plain.replace("site: face", f"site: {quoted}"),
    }


@pytest.mark.parametrize("character", list(HOSTILE.values()), ids=list(HOSTILE))
@pytest.mark.parametrize("where", list(hostile_texts('"x"')))
def test_no_character_of_the_author_moves_the_cursor_or_turns_a_line_round(where: str, character: str) -> None:
    told = in_text(review_of(hostile_texts(QUOTED[character])[where]))

    assert character not in told


def test_a_hostile_path_is_printed_without_its_escapes() -> None:
    assert "\x1b" not in in_text(review_of(TEXTS["breaks"], "a\x1b[2J.yaml"))
    assert "\x1b" not in in_text(review_of(TEXTS["empty"], "a\x1b[2J.yaml"))


def test_a_title_of_several_lines_stays_on_one() -> None:
    told = in_text(review_of(TEXTS["clean"].replace("a test jar", '"first\\nsecond"')))

    assert re.match("first.*second", told.splitlines()[0])


def test_honest_words_in_other_scripts_are_kept() -> None:
    told = in_text(review_of(TEXTS["clean"].replace("a test jar", "Gel für Hände, гель, ゲル 🧴")))

    assert "Gel für Hände, гель, ゲル 🧴" in told


# -- width and colour ----------------------------------------------------------------------------------------------


def test_without_a_width_no_sentence_is_broken() -> None:
    lines = in_text(reviewed("breaks")).splitlines()

    assert any(len(line) > 200 for line in lines)
    assert not [line for line in lines if line.startswith("      ")]


@pytest.mark.parametrize("width", [60, 80, 120])
def test_with_a_width_the_lines_fit_save_those_that_start_with_a_place(width: int) -> None:
    lines = in_text(reviewed("breaks"), width=width).splitlines()

    assert [line for line in lines if len(line) > width and not line.startswith("breaks.yaml:")] == []
    words = " ".join(" ".join(lines).split())
    assert words == " ".join(in_text(reviewed("breaks")).split())


ANSI = re.compile(r"\x1b\[[0-9;]*m")


@pytest.mark.parametrize("name", list(TEXTS))
def test_colour_only_repeats_what_a_word_says(name: str) -> None:
    bare, coloured = in_text(reviewed(name)), in_text(reviewed(name), colour=True)

    assert "\x1b" not in bare
    assert "\x1b" in coloured
    assert ANSI.sub("", coloured) == bare


def test_every_severity_and_outcome_is_a_word_of_its_own() -> None:
    told = in_text(*map(reviewed, TEXTS))

    for word in (", error: ", ", warning: undecided: ", ", warning: coming: ", ", note: deviation: "):
        assert word in told


def test_the_sum_of_a_formula_is_told_as_it_is() -> None:
    found = review(formula_from(sheet("Glycerin 5", "Aqua 94")), BOOK, ON, "jar.yaml")

    assert in_json(found)["reviews"][0]["total_percent"] == "99.00"
    assert "99 %" in in_text(found)
