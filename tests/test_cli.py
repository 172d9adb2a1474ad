import contextlib
import datetime
import io
import json
import os
import re
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from running import Call, Ran, environment, process
from watchglass import __version__, jobs, library, schema
from watchglass.cli.progress import MANY
from watchglass.cli.review import FORMATS
from watchglass.errors import CannotRun
from watchglass.files import inputs
from watchglass.output import write_file
from watchglass.rulebook import load
from watchglass.settings import settings_for

ON = "2026-11-25"
PRODUCT = "product: {use: leave-on, site: body, form: balm, audience: adults}"


def formula(lines: str, head: str = "", title: str = "Balm", markets: str = "eu") -> str:
    return f"formula: {title}\n{PRODUCT}\nmarkets: [{markets}]\n{head}phases:\n  oil:\n    lines:\n{lines}"


MEETS = formula("      - {material: Squalane, percent: 100}\n")
ERROR = formula("      - {material: Squalane, percent: 99}\n")  # the lines do not make 100: arithmetic
CANNOT_TELL = formula("      - {material: Squalane, percent: 90}\n      - {material: Unobtainium Oil, percent: 10}\n")
WARNING = formula("      - {material: Aqua, percent: qs}\n")  # water without a preservative: practice
NOTE = formula("      - {material: Squalane, percent: 95}\n      - {material: Zinc Oxide, percent: 5}\n", markets="us")
SEEN = {"meets": MEETS, "error": ERROR, "cannot tell": CANNOT_TELL, "warning": WARNING, "note": NOTE}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder that holds one formula of each sort."""
    for name, text in SEEN.items():
        (tmp_path / f"{name}.yaml").write_text(text, "utf-8")
    return tmp_path


def reviewed(text: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = json.loads(text)["reviews"]
    return found


# -- exit codes --------------------------------------------------------------------------------------------------

FAILS_AT = {
    "meets": (),
    "note": ("note",),
    "warning": ("warning", "note"),
    "cannot tell": ("undecided", "warning", "note"),
    "error": ("error", "undecided", "warning", "note"),
}


@pytest.mark.parametrize("level", ["error", "undecided", "warning", "note"])
@pytest.mark.parametrize("sort", FAILS_AT)
def test_exit_1_is_given_at_and_above_the_level(folder: Path, call: Call, sort: str, level: str) -> None:
    ran = call("review", f"{sort}.yaml", "--on", ON, "--fail-at", level)

    assert ran.code == (1 if level in FAILS_AT[sort] else 0)
    assert ran.err == ""


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("sort", FAILS_AT)
def test_the_exit_code_is_the_same_in_every_format(folder: Path, call: Call, sort: str, form: str) -> None:
    ran = call("review", f"{sort}.yaml", "--on", ON, "--fail-at", "warning", "--format", form)

    assert ran.code == (1 if "warning" in FAILS_AT[sort] else 0)
    assert ran.err == ""


@pytest.mark.parametrize("sort", FAILS_AT)
def test_the_level_is_undecided_when_none_is_named(folder: Path, call: Call, sort: str) -> None:
    without = call("review", f"{sort}.yaml", "--on", ON)

    assert without == call("review", f"{sort}.yaml", "--on", ON, "--fail-at", "undecided")


@pytest.mark.parametrize(
    ("sort", "outcome", "severities"),
    [
        ("meets", "meets", set()),
        ("note", "meets", {"note"}),
        ("warning", "meets", {"warning"}),
        ("cannot tell", "cannot tell", set()),
        ("error", "breaks", {"error"}),
    ],
)
def test_the_formulas_of_these_tests_are_what_they_are_called(
    folder: Path, call: Call, sort: str, outcome: str, severities: set[str]
) -> None:
    (review,) = reviewed(call("review", f"{sort}.yaml", "--on", ON, "--format", "json").out)

    assert review["outcome"] == outcome
    assert {found["severity"] for found in review["findings"] if found["verdict"] == "breaks"} == severities


@pytest.mark.parametrize(
    ("others", "code"), [(["meets", "error"], 1), (["meets", "warning"], 0), (["meets", "cannot tell"], 1)]
)
def test_of_several_files_the_worst_decides(folder: Path, call: Call, others: list[str], code: int) -> None:
    assert call("review", *(f"{name}.yaml" for name in others), "--on", ON).code == code


DEVIATION = "deviations: [{{rule: {rule}, reason: single use{until}}}]\n"


@pytest.mark.parametrize(
    ("text", "deviation", "level", "code"),
    [
        (WARNING, DEVIATION.format(rule="practice-preserved", until=""), "note", 0),
        (WARNING, DEVIATION.format(rule="practice-preserved", until=f", until: {ON}"), "note", 0),
        (WARNING, DEVIATION.format(rule="practice-preserved", until=", until: 2026-11-24"), "warning", 1),
        (ERROR, DEVIATION.format(rule="product-total", until=""), "error", 1),
    ],
    ids=["accepted", "accepted until today", "ran out yesterday", "arithmetic cannot be deviated from"],
)
def test_a_deviation_takes_a_break_away_only_while_it_may(
    tmp_path: Path, call: Call, text: str, deviation: str, level: str, code: int
) -> None:
    (tmp_path / "a.yaml").write_text(text + deviation, "utf-8")

    assert call("review", "a.yaml", "--on", ON, "--fail-at", level).code == code


@pytest.mark.parametrize("sort", FAILS_AT)
def test_the_last_line_names_the_outcome(folder: Path, call: Call, sort: str) -> None:
    outcome = {"error": "breaks", "cannot tell": "cannot tell"}.get(sort, "meets")

    assert call("review", f"{sort}.yaml", "--on", ON).out.splitlines()[-1].startswith(f"outcome: {outcome}")


# -- usage: exit 2 -----------------------------------------------------------------------------------------------

USAGE = [
    (["review"], ["nothing to review"]),
    (["review", "missing.yaml"], ["missing.yaml", "no such file"]),
    (["review", "missing.yaml", "a.yaml"], ["missing.yaml"]),
    (["review", "empty"], ["empty", "no formulas"]),
    (["review", "folder.yaml"], ["folder.yaml", "no formulas"]),
    (["review", "a.yaml", "--fail-at", "eror"], ["--fail-at", '"eror"', 'mean "error"']),
    (["review", "a.yaml", "--fail-at", "zzz"], ['"zzz"', "error, undecided, warning, note"]),
    (["review", "a.yaml", "--format", "jsn"], ["--format", '"jsn"', 'mean "json"']),
    (["review", "a.yaml", "--color", "sometimes"], ["--color", '"sometimes"', "auto, always, never"]),
    (["review", "a.yaml", "--market", "atlantis"], ["--market", '"atlantis"', "eu, uk, us"]),
    (["review", "a.yaml", "--market", "us-californa"], ['mean "us-california"']),
    (["review", "a.yaml", "--on", "25.11.2026"], ["--on", '"25.11.2026"', "2026-11-25"]),
    (["review", "a.yaml", "--on", "2026-02-30"], ["--on", '"2026-02-30"']),
    (["review", "a.yaml", "--on", "20261125"], ["--on", '"20261125"']),
    (["review", "a.yaml", "--on", ""], ["--on"]),
    (["review", "a.yaml", "--on"], ["--on"]),
    (["review", "a.yaml", "--bogus"], ["--bogus"]),
    (["review", "a.yaml", "--jobs", "0"], ["--jobs", "0", "at least"]),
    (["review", "a.yaml", "--jobs", "many"], ["--jobs", "many"]),
    (["revue", "a.yaml"], ['"revue"', 'mean "review"']),
    (["zzz"], ['"zzz"', "review", "cite", "schema"]),
    (["--bogus"], ["--bogus"]),
    (["cite", "practice-preservd"], ['"practice-preservd"', 'mean "practice-preserved"']),
    (["cite", "zzz"], ['"zzz"']),
    (["cite", "eu-annex-v#999"], ["eu-annex-v#999"]),
    (["cite", "a", "b"], ["b"]),
    (["schema", "formla"], ['"formla"', 'mean "formula"']),
    (["schema", "zzz"], ['"zzz"', "formula", "shelf", "rules"]),
]


@pytest.mark.parametrize(("arguments", "words"), USAGE, ids=[" ".join(arguments) for arguments, _ in USAGE])
def test_a_usage_mistake_is_one_line_and_exit_2(
    tmp_path: Path, call: Call, arguments: list[str], words: list[str]
) -> None:
    (tmp_path / "a.yaml").write_text(ERROR, "utf-8")
    (tmp_path / "empty").mkdir()
    (tmp_path / "folder.yaml").mkdir()

    ran = call(*arguments)

    assert ran.code == 2
    assert ran.out == ""
    assert re.fullmatch(r"watchglass: [^\n]+\n", ran.err)
    for word in words:
        assert word in ran.err


def test_without_a_command_the_help_is_shown_and_the_exit_is_2(call: Call) -> None:
    ran = call()

    assert ran.code == 2
    assert "Usage:" in ran.all
    assert "watchglass: Usage" not in ran.all
    assert "review" in ran.all


@pytest.mark.parametrize("arguments", [["--help"], ["-h"], ["review", "--help"], ["cite", "-h"], ["schema", "--help"]])
def test_help_is_exit_0_on_standard_output(call: Call, arguments: list[str]) -> None:
    ran = call(*arguments)

    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith("Usage: ")


def test_the_version_is_the_packages(call: Call) -> None:
    assert call("--version") == Ran(0, f"watchglass {__version__}\n", "")


# -- bad input ---------------------------------------------------------------------------------------------------

BOMB = "a0: &a0 [x, x]\n" + "".join(f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]\n" for n in range(1, 30))
LINE = "      - {material: Squalane, percent: 100}\n"
BAD: dict[str, tuple[bytes, tuple[int, int], str]] = {
    "empty": (b"", (1, 1), "empty"),
    "only remarks": (b"# nothing\n", (1, 1), "empty"),
    "not YAML": (b"formula: Gel: x\n", (1, 13), "not YAML"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", (1, 1), "UTF-8"),
    "control character": (b"formula: \x1b[2J\n", (1, 10), "\\x1b"),
    "two documents": ((MEETS + "---\n" + MEETS).encode(), (MEETS.count("\n") + 1, 1), "second document"),
    "duplicate key": (b"formula: A\nformula: B\n", (2, 1), "twice"),
    "tag": (b"formula: !!python/object/apply:os.system [id]\n", (1, 10), "tag"),
    "alias bomb": (BOMB.encode(), (1, 5), "anchor"),
    "not a number": (MEETS.replace("percent: 100", "percent: .nan").encode(), (7, 39), ".nan"),
    "infinite": (MEETS.replace("percent: 100", "percent: .inf").encode(), (7, 39), ".inf"),
    "decimal comma": (MEETS.replace("percent: 100", "percent: '1,5'").encode(), (7, 39), "decimal comma"),
    "percent sign": (MEETS.replace("percent: 100", "percent: 1.1 %").encode(), (7, 39), "without %"),
    "10 MB": (MEETS.encode() + b"# " + b"x" * 10_000_000, (1, 1), "at most 2,000,000"),
    "5,001 lines": (MEETS.encode() + b"#\n" * 5_000, (5_001, 1), "at most 5,000"),
    "list": (b"- formula: Gel\n", (1, 1), "formula"),
    "bare word": (b"hello\n", (1, 1), "formula"),
    "unknown key": (MEETS.replace("percent:", "percents:").encode(), (7, 30), 'mean "percent"'),
    "unknown market": (MEETS.replace("[eu]", "[atlantis]").encode(), (3, 11), '"atlantis"'),
    "unknown date": ((MEETS + "on_market_since: 2026-02-30\n").encode(), (8, 18), '"2026-02-30"'),
    "batch without unit": ((MEETS + 'batch: "500"\n').encode(), (8, 8), "500 g"),
    "missing shelf": ((MEETS + "shelf: no.yaml\n").encode(), (8, 8), "no.yaml"),
    "shelf outside": ((MEETS + "shelf: ../../x.yaml\n").encode(), (8, 8), "outside"),
    "shelf with a null character": ((MEETS + 'shelf: "a\\0b"\n').encode(), (8, 8), "shelf"),
    "hexadecimal without end": ((MEETS + "ph_temperature: 0x" + "f" * 9_000).encode(), (8, 17), "digits"),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_bad_input_is_one_clear_line_at_its_place_and_exit_1(tmp_path: Path, name: str) -> None:
    data, (line, column), words = BAD[name]
    (tmp_path / "bad.yaml").write_bytes(data)

    ran = process("review", "bad.yaml", "--on", ON, folder=tmp_path)

    assert ran.code == 1
    assert ran.err == ""
    told = [found for found in ran.out.splitlines() if found.startswith("bad.yaml:")]
    assert any(
        found.startswith(f"bad.yaml:{line}:{column}: unreadable, error: ") and words in found for found in told
    ), told
    assert len([found for found in told if f":{line}:{column}:" in found]) == 1
    assert ran.out.splitlines()[-1].startswith("outcome: breaks")


@pytest.mark.parametrize("name", BAD)
@pytest.mark.parametrize("level", ["error", "note"])
def test_bad_input_is_a_finding_of_severity_error_in_json_as_well(
    tmp_path: Path, call: Call, name: str, level: str
) -> None:
    data, (line, column), words = BAD[name]
    (tmp_path / "bad.yaml").write_bytes(data)

    ran = call("review", "bad.yaml", "--on", ON, "--format", "json", "--fail-at", level)

    assert ran.code == 1
    report = json.loads(ran.out)
    assert jsonschema_rs.Draft202012Validator(schema.load("review")).is_valid(report)
    assert report["counts"]["error"] == len(report["reviews"][0]["findings"])
    (review,) = report["reviews"]
    assert review["outcome"] == "breaks"
    for finding in review["findings"]:
        assert (finding["rule"], finding["requirement"]) == ("unreadable", "sheet")
        assert (finding["verdict"], finding["severity"]) == ("breaks", "error")
    assert any(
        (finding["line"], finding["column"]) == (line, column) and words in finding["message"]
        for finding in review["findings"]
    )


def test_an_unknown_material_is_told_with_its_place_and_exit_1(folder: Path) -> None:
    ran = process("review", "cannot tell.yaml", "--on", ON, folder=folder)

    assert ran.code == 1
    assert re.search(r'^cannot tell\.yaml:8:\d+: .*unknown material "Unobtainium Oil"', ran.out, re.MULTILINE)


def test_a_pipe_is_told_to_be_no_plain_file_and_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")

    ran = process("review", "pipe.yaml", "--on", ON, folder=tmp_path)

    assert ran.code == 1
    assert "pipe.yaml:1:1: unreadable, error: this is not a plain file" in ran.out


def test_a_link_that_leads_nowhere_is_told(tmp_path: Path, call: Call) -> None:
    (tmp_path / "link.yaml").symlink_to("nowhere.yaml")
    (tmp_path / "loop.yaml").symlink_to("loop.yaml")

    for name in ("link.yaml", "loop.yaml"):
        ran = call("review", name, "--on", ON)
        assert ran.code == 1
        assert f"{name}:1:1: unreadable, error: " in ran.out


def test_a_file_that_may_not_be_opened_is_told(tmp_path: Path, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a.yaml").write_text(MEETS, "utf-8")

    def refuse(*_: object, **__: object) -> bytes:
        raise PermissionError(13, "Permission denied")

    load()
    monkeypatch.setattr(Path, "open", refuse)
    ran = call("review", "a.yaml", "--on", ON)

    assert ran.code == 1
    assert "a.yaml:1:1: unreadable, error: the file cannot be opened: Permission denied" in ran.out


def test_a_broken_file_does_not_keep_the_others_from_being_reviewed(folder: Path, call: Call) -> None:
    (folder / "bad.yaml").write_text("a: [", "utf-8")

    reviews = reviewed(call("review", ".", "--on", ON, "--format", "json").out)

    assert {review["path"]: review["outcome"] for review in reviews} == {
        "bad.yaml": "breaks", "error.yaml": "breaks", "cannot tell.yaml": "cannot tell",
        "meets.yaml": "meets", "note.yaml": "meets", "warning.yaml": "meets",
    }  # fmt: skip


def test_a_broken_rule_is_exit_2_with_its_place(tmp_path: Path, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    rules = tmp_path / "rules"
    rules.mkdir()
    (rules / "sources.yaml").write_text("a: 1\na: 2\n", "utf-8")
    (tmp_path / "a.yaml").write_text(MEETS, "utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(library, "rules_folder", lambda: rules)
    caches = (library.load, library.rules_hash, load)
    for kept in caches:
        kept.cache_clear()

    try:
        ran = call("review", "a.yaml")
    finally:
        for kept in caches:
            kept.cache_clear()

    assert ran.code == 2
    assert ran.out == ""
    assert ran.err.startswith("watchglass: rules/sources.yaml:2:1: ")


# -- which files -------------------------------------------------------------------------------------------------


def test_a_folder_gives_its_formulas_sorted_without_shelves_and_hidden_files(tmp_path: Path, call: Call) -> None:
    for name in (
        "b.yaml",
        "a.yml",
        "sub/c.yaml",
        ".hidden.yaml",
        ".git/d.yaml",
        "shelf.yaml",
        "sub/shelf.yml",
        "e.txt",
    ):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        text = "materials: {ours: {contains: {Squalane: 100}}}\n" if "shelf" in name else MEETS
        (tmp_path / name).write_text(text, "utf-8")

    reviews = reviewed(call("review", ".", "--on", ON, "--format", "json").out)

    assert [review["path"] for review in reviews] == ["a.yml", "b.yaml", "sub/c.yaml"]


@pytest.mark.parametrize("name", ["A.YAML", "a.Yml"])
def test_a_file_whose_ending_is_in_capitals_is_not_passed_over(tmp_path: Path, call: Call, name: str) -> None:
    (tmp_path / name).write_text(ERROR, "utf-8")

    assert call("review", ".", "--on", ON).code == 1


def test_a_week_date_is_no_date(folder: Path, call: Call) -> None:
    ran = call("review", "meets.yaml", "--on", "2026-W48-3")

    assert ran.code == 2
    assert "year-month-day" in ran.err


def test_a_formula_that_is_called_a_shelf_is_not_passed_over(tmp_path: Path, call: Call) -> None:
    (tmp_path / "shelf.yaml").write_text(ERROR, "utf-8")

    assert call("review", ".", "--on", ON).code == 1


def test_a_file_that_is_named_is_reviewed_whatever_it_is_called(tmp_path: Path, call: Call) -> None:
    for name in ("formula.txt", ".hidden.yaml", "shelf.yaml"):
        (tmp_path / name).write_text(MEETS, "utf-8")

        assert call("review", name, "--on", ON).code == 0


def test_a_file_that_is_named_several_ways_is_reviewed_once(tmp_path: Path, call: Call) -> None:
    (tmp_path / "a.yaml").write_text(MEETS, "utf-8")

    ran = call(
        "review", "a.yaml", "./a.yaml", ".", str(tmp_path), str(tmp_path / "a.yaml"), "--on", ON, "--format", "json"
    )

    assert [review["path"] for review in reviewed(ran.out)] == ["a.yaml"]


@pytest.mark.parametrize("name", ["--help.yaml", "-"])
def test_a_name_that_looks_like_an_option_comes_after_two_dashes_or_a_dot(
    tmp_path: Path, call: Call, name: str
) -> None:
    (tmp_path / name).write_text(MEETS, "utf-8")

    assert call("review", "--on", ON, f"./{name}").code == 0


def test_a_name_that_is_not_utf8_does_not_stop_the_review(tmp_path: Path) -> None:
    (tmp_path / "formulas").mkdir()
    Path(os.fsdecode(bytes(tmp_path) + b"/formulas/\xff.yaml")).write_text(MEETS, "utf-8")

    for form in ("text", "json"):
        ran = process("review", "formulas", "--on", ON, "--format", form, folder=tmp_path, PYTHONIOENCODING="utf-8")
        assert ran.code == 0


# -- standard input ----------------------------------------------------------------------------------------------


def test_a_dash_reads_standard_input(tmp_path: Path) -> None:
    ran = process("review", "-", "--on", ON, folder=tmp_path, given=ERROR.encode())

    assert ran.code == 1
    assert re.search(r"^-:4:1: product-total, error: ", ran.out, re.MULTILINE)


def test_standard_input_is_called_what_it_is_told_to_be_called(tmp_path: Path) -> None:
    ran = process("review", "-", "--stdin-filename", "formulas/a b.yaml", "--on", ON, folder=tmp_path, given=b"")

    assert ran.code == 1
    assert re.search(r"^formulas/a b\.yaml:1:1: unreadable, error: the file is empty", ran.out, re.MULTILINE)


def test_standard_input_and_a_file_give_the_same_report(folder: Path) -> None:
    from_file = process("review", "error.yaml", "--on", ON, folder=folder)

    from_input = process(
        "review", "-", "--stdin-filename", "error.yaml", "--on", ON, folder=folder, given=ERROR.encode()
    )

    assert from_input == from_file


def test_the_shelf_of_standard_input_is_looked_for_in_the_working_folder(tmp_path: Path) -> None:
    (tmp_path / "shelf.yaml").write_text("materials: {ours: {contains: {Squalane: 100}}}\n", "utf-8")
    text = formula("      - {material: ours, percent: 100}\n") + "shelf: shelf.yaml\n"

    assert process("review", "-", "--on", ON, folder=tmp_path, given=text.encode()).code == 0


def test_standard_input_that_is_not_utf8_is_told_at_its_place(tmp_path: Path) -> None:
    ran = process("review", "-", "--on", ON, folder=tmp_path, given=b"formula: \xff")

    assert ran.code == 1
    assert "-:1:10: unreadable, error: not UTF-8" in ran.out


def test_a_standard_input_without_end_is_refused_at_the_limit(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "watchglass", "review", "-", "--on", ON]
    running = subprocess.Popen(
        command, cwd=tmp_path, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment()
    )
    assert running.stdin is not None
    sent = 0
    try:
        while sent < 40_000_000:
            sent += running.stdin.write(b"#" * 1_000_000)
            running.stdin.flush()
    except BrokenPipeError:
        pass
    with contextlib.suppress(BrokenPipeError):
        running.stdin.close()
    with running:
        assert running.stdout is not None
        out = running.stdout.read().decode()

    assert running.returncode == 1
    assert "-:1:1: unreadable, error: " in out
    assert "at most 2,000,000" in out
    assert sent < 40_000_000


def test_a_closed_standard_input_is_a_plain_refusal(tmp_path: Path) -> None:
    ran = process("review", "-", "--on", ON, folder=tmp_path, shell="<&-")

    assert ran.code in (1, 2)
    assert "standard input" in ran.all


# -- where the report goes ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMATS)
def test_output_holds_what_standard_output_would(folder: Path, call: Call, form: str) -> None:
    shown = call("review", "error.yaml", "--on", ON, "--format", form)

    ran = call("review", "error.yaml", "--on", ON, "--format", form, "--output", "report")

    assert ran == Ran(1, "", "")
    assert (folder / "report").read_text("utf-8") == shown.out


@pytest.mark.parametrize("target", ["meets.yaml", "shelf.yaml", "SHELF.YML"])
def test_no_sheet_is_written_over_by_a_report(folder: Path, call: Call, target: str) -> None:
    (folder / target).write_text(MEETS, "utf-8")

    ran = call("review", "error.yaml", "--on", ON, "--output", target)

    assert (ran.code, ran.out) == (2, "")
    assert "nothing of yours is written over" in ran.err
    assert (folder / target).read_text("utf-8") == MEETS


def test_output_replaces_the_old_report_and_keeps_its_permissions(folder: Path, call: Call) -> None:
    report = folder / "report"
    report.write_text("old and much longer " * 10_000, "utf-8")
    report.chmod(0o640)

    call("review", "meets.yaml", "--on", ON, "--output", "report")

    assert "old" not in report.read_text("utf-8")
    assert stat.S_IMODE(report.stat().st_mode) == 0o640


def test_a_new_report_has_the_permissions_of_any_new_file(folder: Path, call: Call) -> None:
    (folder / "other").write_text("", "utf-8")

    call("review", "meets.yaml", "--on", ON, "--output", "report")

    assert stat.S_IMODE((folder / "report").stat().st_mode) == stat.S_IMODE((folder / "other").stat().st_mode)


def test_a_usage_mistake_leaves_the_old_report(folder: Path, call: Call) -> None:
    (folder / "report").write_text("old", "utf-8")

    assert call("review", "missing.yaml", "--output", "report").code == 2
    assert (folder / "report").read_text("utf-8") == "old"


@pytest.mark.parametrize("output", ["missing/report", "folder", "meets.yaml/report", "x" * 300])
def test_an_output_that_cannot_be_written_is_exit_2(folder: Path, call: Call, output: str) -> None:
    (folder / "folder").mkdir()
    before = sorted(path.name for path in folder.iterdir())

    ran = call("review", "meets.yaml", "--on", ON, "--output", output)

    assert ran.code == 2
    assert ran.out == ""
    assert re.fullmatch(r"watchglass: [^\n]+\n", ran.err)
    assert output in ran.err
    assert sorted(path.name for path in folder.iterdir()) == before


@pytest.mark.parametrize("step", ["fsync", "replace", "chmod"])
def test_a_write_that_fails_half_way_leaves_the_old_report_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    report = tmp_path / "report"
    report.write_text("old", "utf-8")

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, refuse)

    with pytest.raises(CannotRun, match="No space left on device"):
        write_file(report, "new")
    assert report.read_text("utf-8") == "old"
    assert list(tmp_path.iterdir()) == [report]


def test_a_character_that_cannot_be_encoded_is_written_as_an_escape(tmp_path: Path) -> None:
    report = tmp_path / "report"
    report.write_text("old", "utf-8")

    write_file(report, "name \udcff")

    assert report.read_text("utf-8") == "name \\udcff"
    assert list(tmp_path.iterdir()) == [report]


def test_an_output_that_is_a_link_is_written_where_it_leads(folder: Path, call: Call) -> None:
    (folder / "real").write_text("old", "utf-8")
    (folder / "report").symlink_to("real")

    call("review", "meets.yaml", "--on", ON, "--output", "report")

    assert (folder / "report").is_symlink()
    assert (folder / "real").read_text("utf-8").splitlines()[-1].startswith("outcome: meets")


# as root the rename would put a plain file in the place of /dev/null for every program on the machine
def test_an_output_that_is_a_device_or_a_pipe_is_never_replaced_by_a_file(folder: Path, call: Call) -> None:
    os.mkfifo(folder / "report")
    reader = os.open(folder / "report", os.O_RDWR | os.O_NONBLOCK)

    try:
        ran = call("review", "meets.yaml", "--on", ON, "--output", "report")
    finally:
        os.close(reader)

    assert stat.S_ISFIFO((folder / "report").stat().st_mode)
    assert ran.code in (0, 2)


@pytest.mark.parametrize(
    "arguments",
    [["cite"], ["schema", "rules"], *(["review", "many", "--on", ON, "--format", form] for form in FORMATS)],
)
def test_a_reader_that_goes_away_gives_no_traceback(tmp_path: Path, arguments: list[str]) -> None:
    (tmp_path / "many").mkdir()
    for number in range(200):
        (tmp_path / "many" / f"{number}.yaml").write_text(ERROR, "utf-8")

    ran = process(*arguments, folder=tmp_path, shell="| head -1")

    assert len(ran.out.splitlines()) == 1
    assert ran.err == ""


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no /dev/full")
@pytest.mark.parametrize("arguments", [["review", "meets.yaml", "--on", ON], ["cite"], ["schema"], ["--help"]])
def test_a_full_disk_behind_standard_output_is_a_plain_refusal_and_exit_2(folder: Path, arguments: list[str]) -> None:
    ran = process(*arguments, folder=folder, shell="> /dev/full")

    assert ran.code == 2
    assert re.fullmatch(r"watchglass: [^\n]+\n", ran.err)


def test_a_closed_standard_output_is_no_traceback_and_exit_2(folder: Path) -> None:
    assert process("review", "meets.yaml", "--on", ON, folder=folder, shell=">&-").code == 2


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
@pytest.mark.parametrize("form", FORMATS)
def test_a_terminal_of_few_characters_does_not_stop_the_review(tmp_path: Path, encoding: str, form: str) -> None:
    (tmp_path / "a.yaml").write_text(MEETS.replace("Balm", "Crème 😀 № 5"), "utf-8")

    ran = process(
        "review", "a.yaml", "--on", ON, "--format", form, folder=tmp_path, PYTHONIOENCODING=encoding, PYTHONUTF8="0"
    )

    assert ran.code == 0
    assert "meets" in ran.out or (form, ran.out) == ("gitlab", "[]\n")


# -- colour ------------------------------------------------------------------------------------------------------

ESCAPE = "\x1b["


@pytest.mark.parametrize(
    ("option", "variables", "coloured"),
    [
        ([], {}, False),  # the test's output is no terminal
        ([], {"FORCE_COLOR": "1"}, True),
        ([], {"NO_COLOR": "1"}, False),
        ([], {"NO_COLOR": "1", "FORCE_COLOR": "1"}, False),
        ([], {"NO_COLOR": "", "FORCE_COLOR": "1"}, True),  # the NO_COLOR convention: an empty value does not count
        ([], {"FORCE_COLOR": ""}, False),
        (["--color", "always"], {}, True),
        (["--color", "always"], {"NO_COLOR": "1"}, True),
        (["--color", "never"], {"FORCE_COLOR": "1"}, False),
        (["--color", "auto"], {"FORCE_COLOR": "1"}, True),
        *((["--format", form, "--color", "always"], {"FORCE_COLOR": "1"}, False) for form in FORMATS if form != "text"),
    ],
)
def test_an_option_beats_the_environment_and_that_beats_the_look_at_the_terminal(
    folder: Path,
    call: Call,
    monkeypatch: pytest.MonkeyPatch,
    option: list[str],
    variables: dict[str, str],
    coloured: bool,
) -> None:
    for name, value in variables.items():
        monkeypatch.setenv(name, value)

    ran = call("review", "error.yaml", "--on", ON, *option)

    assert (ESCAPE in ran.out) == coloured
    assert ran.code == 1


def test_colour_only_adds_escapes(folder: Path, call: Call) -> None:
    plain = call("review", "error.yaml", "--on", ON, "--color", "never").out

    coloured = call("review", "error.yaml", "--on", ON, "--color", "always").out

    assert coloured != plain
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_a_report_in_a_file_is_coloured_only_on_request(
    folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("FORCE_COLOR", "1")
    call("review", "error.yaml", "--on", ON, "--output", "report")
    assert ESCAPE not in (folder / "report").read_text("utf-8")

    call("review", "error.yaml", "--on", ON, "--output", "report", "--color", "always")
    assert ESCAPE in (folder / "report").read_text("utf-8")


@pytest.mark.parametrize(
    ("variables", "coloured"),
    [({"TERM": "xterm"}, True), ({"TERM": "dumb"}, False), ({"TERM": "xterm", "NO_COLOR": "1"}, False)],
)
def test_a_terminal_gets_colour_unless_it_is_dumb_or_does_not_want_it(
    folder: Path, variables: dict[str, str], coloured: bool
) -> None:
    pty = pytest.importorskip("pty", reason="the system has no pseudo-terminals")
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "watchglass", "review", "error.yaml", "--on", ON]
    with subprocess.Popen(command, cwd=folder, stdout=theirs, stderr=theirs, env=environment(**variables)) as running:
        os.close(theirs)
        shown = b""
        try:
            while data := os.read(ours, 65_536):
                shown += data
        except OSError:  # the end of a pseudo-terminal
            pass
        os.close(ours)

    assert running.returncode == 1
    assert b"outcome: " in shown
    assert (ESCAPE.encode() in shown) == coloured


# -- more and less told ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("sort", FAILS_AT)
def test_quiet_leaves_the_findings_alone_and_the_exit_code_as_it_was(folder: Path, call: Call, sort: str) -> None:
    loud, quiet = call("review", f"{sort}.yaml", "--on", ON), call("review", f"{sort}.yaml", "--on", ON, "-q")

    assert quiet.code == loud.code
    assert quiet.err == ""
    assert all(line in loud.out.splitlines() for line in quiet.out.splitlines())
    places = [line for line in loud.out.splitlines() if line.startswith(f"{sort}.yaml:")]
    assert [line for line in quiet.out.splitlines() if not line.startswith("    ")] == places
    assert bool(places) == (sort != "meets")


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("sort", FAILS_AT)
def test_twice_quiet_says_nothing_in_any_format(folder: Path, call: Call, sort: str, form: str) -> None:
    code = call("review", f"{sort}.yaml", "--on", ON).code

    assert call("review", f"{sort}.yaml", "--on", ON, "-qq", "--format", form) == Ran(code, "", "")


def test_a_file_that_was_asked_for_is_written_however_quiet(folder: Path, call: Call) -> None:
    assert call("review", "error.yaml", "--on", ON, "-qq", "--format", "sarif", "--output", "a.sarif").out == ""
    assert json.loads((folder / "a.sarif").read_text("utf-8"))["runs"]


@pytest.mark.parametrize("form", [form for form in FORMATS if form != "text"])
def test_quiet_takes_nothing_out_of_a_format_for_programs(folder: Path, call: Call, form: str) -> None:
    whole = call("review", "error.yaml", "--on", ON, "--format", form)

    assert call("review", "error.yaml", "--on", ON, "--format", form, "-q") == whole


def test_verbose_tells_times_and_what_was_passed_over_on_standard_error_alone(folder: Path, call: Call) -> None:
    (folder / "shelf.yaml").write_text("materials: {lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}}\n", "utf-8")
    silent = call("review", ".", "--on", ON)

    told = call("review", ".", "--on", ON, "-v")

    assert (told.code, told.out) == (silent.code, silent.out)
    assert "watchglass: shelf.yaml: passed over, a shelf of materials and no formula\n" in told.err
    assert re.search(r"^watchglass: reviewed 5 formulas: [0-9.]+ s$", told.err, re.MULTILINE)


def on_a_terminal(*arguments: str, folder: Path) -> bytes:
    """What stands on standard error when that is a terminal, and standard output is none."""
    pty = pytest.importorskip("pty", reason="the system has no pseudo-terminals")
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "watchglass", *arguments]
    with subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=theirs, env=environment()) as running:
        os.close(theirs)
        shown = b""
        try:
            while data := os.read(ours, 65_536):
                shown += data
        except OSError:  # the end of a pseudo-terminal
            pass
        os.close(ours)
    assert running.returncode == 0
    return shown


def test_a_long_run_shows_a_bar_on_a_terminal_and_only_there(tmp_path: Path) -> None:
    for number in range(MANY):
        (tmp_path / f"{number}.yaml").write_text(MEETS, "utf-8")

    assert b"100%" in on_a_terminal("review", ".", "--on", ON, folder=tmp_path)
    assert on_a_terminal("review", ".", "--on", ON, "-q", folder=tmp_path) == b""
    assert on_a_terminal("review", "0.yaml", "--on", ON, folder=tmp_path) == b""
    assert process("review", ".", "--on", ON, folder=tmp_path).err == ""


# -- several processes -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["text", "json", "sarif"])
def test_any_number_of_processes_gives_the_same_bytes(
    folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch, form: str
) -> None:
    (folder / "shelf.yaml").write_text("materials: {lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}}\n", "utf-8")
    (folder / "unreadable.yaml").write_text("formula: [\n", "utf-8")
    alone = call("review", ".", "--on", ON, "--format", form, "--jobs", "1")
    monkeypatch.setattr(jobs, "FEW", 2)
    monkeypatch.setattr(jobs, "_CHUNK", 2)
    pools: list[int] = []
    begin = jobs._pool

    def counted(number: int, rules: tuple[Path, ...]) -> Any:
        pools.append(number)
        return begin(number, rules)

    monkeypatch.setattr(jobs, "_pool", counted)

    assert call("review", ".", "--on", ON, "--format", form, "--jobs", "2") == alone
    assert call("review", ".", "--on", ON, "--format", form, "--jobs", "3") == alone
    assert pools == [2, 3]
    assert alone.code == 1


def test_standard_input_is_read_among_files_of_other_processes(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "FEW", 1)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(ERROR.encode())))
    tasks = [jobs.Task(item, settings_for(folder)) for item in inputs(["-", str(folder / "meets.yaml")], "given.yaml")]

    found = {each.path: each.outcome for each in jobs.reviews_of(tasks, jobs.Order(ON), 2) if each}

    assert found.pop("given.yaml") == "breaks"
    assert list(found.values()) == ["meets"]


def test_a_few_files_start_no_other_process(folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "_pool", lambda *_: pytest.fail("a process was started"))

    assert call("review", ".", "--on", ON, "--jobs", "4").code == 1


def test_where_the_system_gives_no_processes_the_review_runs_in_one(
    folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    def none(*_: object, **__: object) -> None:
        raise OSError("no semaphores")

    alone = call("review", ".", "--on", ON)
    monkeypatch.setattr(jobs, "FEW", 2)
    monkeypatch.setattr("concurrent.futures.ProcessPoolExecutor", none)

    assert call("review", ".", "--on", ON, "--jobs", "2") == alone


def test_a_process_that_is_killed_is_one_line_and_exit_2(
    folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "FEW", 2)
    monkeypatch.setattr(jobs, "_reviewed_there", kill_this_process)

    ran = call("review", ".", "--on", ON, "--jobs", "2")

    assert (ran.code, ran.out) == (2, "")
    assert re.fullmatch(r"watchglass: [^\n]+--jobs 1[^\n]+\n", ran.err)


def kill_this_process(*_: object) -> None:
    os._exit(1)


# -- hostile words -----------------------------------------------------------------------------------------------

HOSTILE = '"a\\e[31m\\e]0;x\\ab\\x9b2J\\u202ec\\rd\\ne\\u2066"'
CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f]")
DANGER = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@pytest.mark.parametrize(
    "text",
    [
        MEETS.replace("Balm", HOSTILE),
        MEETS + f"code: {HOSTILE}\n",
        MEETS + f"{HOSTILE}: 1\n",
        MEETS + f"shelf: {HOSTILE}\n",
        MEETS.replace("Squalane", HOSTILE),
        MEETS.replace("[eu]", f"[{HOSTILE}]"),
        MEETS.replace("100", HOSTILE),
        MEETS.replace("oil:", f"{HOSTILE}:").replace("Squalane", "Zinc Oxide"),
        MEETS.replace("Squalane", "x") + f"materials: {{x: {{name: {HOSTILE}, contains: {{{HOSTILE}: 100}}}}}}\n",
        WARNING + f"deviations: [{{rule: practice-preserved, reason: {HOSTILE}}}]\n",
        WARNING + f"deviations: [{{rule: {HOSTILE}, reason: x}}]\n",
        f"a: 1\n{HOSTILE}: 1\n{HOSTILE}: 2\n",
    ],
    ids=["title", "code", "key", "shelf", "material", "market", "percent", "phase", "part", "reason", "rule", "twice"],
)  # fmt: skip
@pytest.mark.parametrize("form", FORMATS)
def test_a_formula_cannot_move_the_cursor_or_forge_a_line(tmp_path: Path, call: Call, text: str, form: str) -> None:
    (tmp_path / "a.yaml").write_text(text, "utf-8")

    ran = call("review", "a.yaml", "--on", ON, "--format", form)

    assert ran.code in (0, 1)
    assert not (DANGER if form == "text" else CONTROL).search(ran.out)
    assert not [line for line in ran.out.split("\n") if line.startswith(("e", "d"))]


@pytest.mark.parametrize("name", ["\x1b[31mx.yaml", "\x07x.yaml", "\x9b31mx.yaml", "x\ny.yaml", "x\u202ey.yaml"])
def test_a_file_name_cannot_move_the_cursor_or_forge_a_line(tmp_path: Path, call: Call, name: str) -> None:
    missing = call("review", name, "--on", ON)
    assert missing.code == 2
    assert not DANGER.search(missing.err)
    assert len(missing.err.splitlines()) == 1

    (tmp_path / name).write_text(ERROR, "utf-8")
    there = call("review", name, "--on", ON)
    assert there.code == 1
    assert not DANGER.search(there.out)
    assert not [line for line in there.out.splitlines() if line.startswith("y")]


@pytest.mark.parametrize(
    "arguments", [["cite", "\x9b31m"], ["schema", "\x07"], ["\x9b"], ["review", "x", "--market", "\u202e"]]
)
def test_a_word_on_the_command_line_is_not_sent_back_raw(call: Call, arguments: list[str]) -> None:
    ran = call(*arguments)

    assert ran.code == 2
    assert not DANGER.search(ran.err)


# -- the same bytes ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMATS)
def test_the_same_input_gives_the_same_bytes(folder: Path, form: str) -> None:
    arguments = ("review", ".", "--on", ON, "--format", form)

    first = process(*arguments, folder=folder, PYTHONHASHSEED="1", TZ="Pacific/Auckland")

    assert process(*arguments, folder=folder, PYTHONHASHSEED="2", TZ="America/Los_Angeles", LC_ALL="C") == first
    assert first.code == 1


def test_the_order_of_the_arguments_does_not_change_the_report(folder: Path, call: Call) -> None:
    forth = call("review", "error.yaml", "meets.yaml", "note.yaml", "--on", ON)

    assert call("review", "note.yaml", "meets.yaml", "error.yaml", "--on", ON) == forth


def test_line_ends_and_a_byte_order_mark_do_not_change_the_report(tmp_path: Path, call: Call) -> None:
    (tmp_path / "a.yaml").write_bytes(ERROR.encode())
    first = call("review", "a.yaml", "--on", ON)

    (tmp_path / "a.yaml").write_bytes(b"\xef\xbb\xbf" + ERROR.replace("\n", "\r\n").encode())

    assert call("review", "a.yaml", "--on", ON) == first


# -- date and market ---------------------------------------------------------------------------------------------


def test_the_date_is_printed(folder: Path, call: Call) -> None:
    assert ON in call("review", "meets.yaml", "--on", ON).out
    assert json.loads(call("review", "meets.yaml", "--on", "2024-02-29", "--format", "json").out)["on"] == "2024-02-29"


def test_without_a_date_today_is_taken(folder: Path, call: Call) -> None:
    before = datetime.datetime.now().astimezone().date().isoformat()
    on = json.loads(call("review", "meets.yaml", "--format", "json").out)["on"]
    after = datetime.datetime.now().astimezone().date().isoformat()

    assert on in (before, after)


# Regulation (EU) 2017/1224: methylisothiazolinone only in rinse-off products, placed on the market from 27 January 2018
@pytest.mark.parametrize(("on", "breaks"), [("2018-01-26", False), ("2018-01-27", True), (ON, True)])
def test_the_law_of_the_day_decides(tmp_path: Path, call: Call, on: str, breaks: bool) -> None:
    lines = "      - {material: Aqua, percent: qs}\n      - {material: Methylisothiazolinone, percent: 0.01}\n"
    (tmp_path / "a.yaml").write_text(formula(lines), "utf-8")

    (review,) = reviewed(call("review", "a.yaml", "--on", on, "--format", "json").out)

    broken = [
        found["rule"] for found in review["findings"] if (found["verdict"], found["severity"]) == ("breaks", "error")
    ]
    assert (broken == ["eu-annex-v"]) == breaks
    assert (review["outcome"] == "breaks") == breaks


def test_a_market_on_the_command_line_stands_in_for_the_formulas_own(tmp_path: Path, call: Call) -> None:
    lines = "      - {material: Aqua, percent: qs}\n      - {material: Methylisothiazolinone, percent: 0.01}\n"
    (tmp_path / "a.yaml").write_text(formula(lines), "utf-8")

    def markets(*options: str) -> set[str]:
        (review,) = reviewed(call("review", "a.yaml", "--on", ON, "--format", "json", *options).out)
        return {found["market"] for found in review["findings"] if found["rule"].startswith(("eu-", "uk-"))}

    assert markets() == {"eu"}
    assert markets("--market", "uk") == {"uk"}
    assert markets("--market", "uk", "--market", "eu") == {"uk", "eu"}
    assert markets("--market", "asean") == set()


# -- lazy --------------------------------------------------------------------------------------------------------

HEAVY = {"jsonschema", "numpy", "scipy", "jinja2", "pygls", "asyncio", "multiprocessing", "rich", "typst"}


def imports(*arguments: str) -> set[str]:
    command = [sys.executable, "-X", "importtime", *arguments]
    ran = subprocess.run(command, capture_output=True, text=True, timeout=60, env=environment(), check=True)
    return {line.rsplit("|", 1)[1].strip() for line in ran.stderr.splitlines() if line.startswith("import time:")}


@pytest.mark.parametrize(
    "arguments",
    [("-m", "watchglass", "--help"), ("-m", "watchglass", "--version"), ("-c", "import watchglass")],
    ids=["help", "version", "import"],
)
def test_help_version_and_import_load_nothing_heavy(arguments: tuple[str, ...]) -> None:
    loaded = imports(*arguments)

    assert "watchglass" in loaded or any(name.startswith("watchglass.") for name in loaded)
    assert {name.split(".")[0] for name in loaded} & HEAVY == set()
    assert not any(name.startswith(("yaml", "watchglass.rulebook", "watchglass.sheet")) for name in loaded)


def test_the_review_of_one_file_loads_nothing_heavy(folder: Path) -> None:
    loaded = imports("-m", "watchglass", "review", str(folder / "meets.yaml"), "--on", ON)

    assert "watchglass.judge" in loaded
    heavy = HEAVY | {"concurrent", "xml", "sqlite3"}
    assert ({name.split(".")[0] for name in loaded} | loaded) & heavy == set()


def test_the_look_at_imports_sees_a_heavy_one() -> None:
    assert "asyncio" in {name.split(".")[0] for name in imports("-c", "import asyncio")}


# -- cite and schema ---------------------------------------------------------------------------------------------


def test_cite_alone_lists_every_rule_once_with_binding_and_title(call: Call) -> None:
    ran = call("cite")

    book = load()
    assert ran.code == 0
    told = {line.split(": ")[0]: line for line in ran.out.splitlines()}
    assert told.keys() == {rule.id for rule in book.rules}
    assert len(told) == len(ran.out.splitlines())
    for rule in book.rules:
        assert rule.facts["title"] in told[rule.id]
        assert rule.binding in told[rule.id]


def test_cite_shows_every_rule_with_its_source_its_reason_and_how_it_was_read(call: Call) -> None:
    book = load()

    for address in {rule.id: None for rule in book.rules}:
        ran = call("cite", address)
        first = book.find(address)[0]
        words = " ".join(ran.out.split())
        assert (ran.code, ran.err) == (0, "")
        assert ran.out.startswith(f"{address}: ")
        assert " ".join(book.sources[first.source["ref"]]["title"].split()) in words
        assert " ".join(first.facts["why"].split()) in words
        assert "  read: " in ran.out


# Regulation (EC) No 1223/2009, Annex V, entry 29: phenoxyethanol, at most 1.0 %; the annex applies from 11 July 2013
def test_cite_shows_one_row_of_a_table_with_its_values_by_date(call: Call) -> None:
    ran = call("cite", "eu-annex-v#29")

    assert ran.code == 0
    assert "eu-annex-v#29" in ran.out
    assert "eu-annex-v#30" not in ran.out
    assert "Phenoxyethanol" in ran.out
    assert re.search(r"from 2013-07-11: .*\b1\b", ran.out)
    assert "1223/2009" in ran.out


def test_cite_gives_the_same_bytes_whatever_the_width_of_the_window(tmp_path: Path) -> None:
    first = process("cite", "practice-preserved", folder=tmp_path, COLUMNS="40")

    assert process("cite", "practice-preserved", folder=tmp_path, COLUMNS="200") == first
    assert first.code == 0


@pytest.mark.parametrize("name", schema.names())
def test_schema_prints_a_json_schema_by_its_name(call: Call, name: str) -> None:
    ran = call("schema", name)

    assert (ran.code, ran.err) == (0, "")
    assert json.loads(ran.out) == schema.load(name)
    assert jsonschema_rs.meta.is_valid(json.loads(ran.out))


def test_schema_alone_is_the_formulas(call: Call) -> None:
    assert call("schema") == call("schema", "formula")
