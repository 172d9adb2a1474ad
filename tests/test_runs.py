import datetime
import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import watchglass
from watchglass import schema
from watchglass.sheet import plain, read

ON = "2026-11-25"
README = (Path(__file__).parents[1] / "README.md").read_text("utf-8")
PRODUCT = "product: {use: leave-on, site: body, form: balm, audience: adults}"
LINE = "      - {material: Squalane, percent: 100}\n"
SOUND = f"formula: Balm\n{PRODUCT}\nmarkets: [eu]\nphases:\n  oil:\n    lines:\n{LINE}"
SHORT = SOUND.replace("percent: 100", "percent: 99")
HOUSE = """\
- rule: house-no-squalane
  title: Squalane in balms of this workshop
  applies: {form: balm}
  require: {absent: {of: Squalane}}
  source: {ref: house-book, at: page 4, read: primary}
  binding: practice
  why: Our own buyers ask for balms without it.
  examples: [{breaks: {Squalane: 100}, product: {form: balm}}]
"""
OWN = """\
- substance: {name}
  cas: ['{cas}']
  state: liquid
  functions: [emollient]
  acidity: none
"""
SOURCES = """\
house-book:
  title: Recipe book of the workshop
  body: the workshop
  published: 2026-01-05
  read_on: 2026-01-05
"""

Call = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A repository with a sound formula, a short one and a folder of house rules."""
    (tmp_path / ".git").mkdir()
    (tmp_path / "house").mkdir()
    (tmp_path / "sound.yaml").write_text(SOUND, "utf-8")
    (tmp_path / "short.yaml").write_text(SHORT, "utf-8")
    (tmp_path / "house" / "balms.yaml").write_text(HOUSE, "utf-8")
    (tmp_path / "house" / "sources.yaml").write_text(SOURCES, "utf-8")
    return tmp_path


@pytest.fixture
def call(folder: Path, monkeypatch: pytest.MonkeyPatch) -> Call:
    """Run the command line in the folder."""

    def run(*arguments: str, given: str = "") -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-m", "watchglass", *arguments]
        ran = subprocess.run(command, cwd=folder, input=given, capture_output=True, encoding="utf-8", check=False)
        assert "Traceback" not in ran.stderr, ran.stderr
        return ran

    return run


# -- from Python ---------------------------------------------------------------------------------------------------


def test_a_run_has_the_reviews_the_counts_and_the_outcome(folder: Path) -> None:
    run = watchglass.review(folder / "sound.yaml", str(folder / "short.yaml"), on=datetime.date(2026, 11, 25))

    assert isinstance(run, watchglass.Run)
    assert [review.outcome for review in run.reviews] == ["breaks", "meets"]
    assert (run.on, run.outcome, run.counts["error"], run.fails()) == (ON, "breaks", 1, True)
    assert all(isinstance(finding, watchglass.Finding) for review in run.reviews for finding in review.findings)


def test_the_function_and_the_command_line_say_the_same(folder: Path, call: Call) -> None:
    run = watchglass.review(folder / "short.yaml", on=ON)
    told = call("review", str(folder / "short.yaml"), "--on", ON, "--format", "json")

    ours, theirs = json.loads(run.json()), json.loads(told.stdout)
    for document in (ours, theirs):
        document["reviews"][0].pop("path")
    assert ours == theirs
    assert run.text().splitlines()[-1] == "outcome: breaks (1 breaks)"


def test_the_name_stays_a_function_whatever_was_imported_before() -> None:
    import watchglass.judge
    import watchglass.runs

    assert callable(watchglass.review)
    assert watchglass.review is watchglass.runs.review


def test_every_name_of_the_interface_is_there_and_no_other() -> None:
    assert all(getattr(watchglass, name) is not None for name in watchglass.__all__)
    with pytest.raises(AttributeError, match="no_such_name"):
        watchglass.no_such_name  # noqa: B018 - looking it up is what fails


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ({"on": "25.11.2026"}, "year-month-day"),
        ({"on": ON, "markets": ["atlantis"]}, "known: eu"),
        ({"on": ON, "fail_at": "eror"}, 'did you mean "error"?'),
        ({"on": ON, "horizon": "36"}, "36m or 3y"),
        ({"on": "9990-01-01", "horizon": "100y"}, "9999"),
        ({"on": ON, "known": "no.txt"}, "there is no such file"),
        ({"on": ON, "config": "no.yaml"}, "there is no such file"),
        ({"on": ON, "rules": ["nowhere"]}, "nowhere"),
        ({"on": ON, "against": "no.yaml"}, "no such file"),
    ],
)
def test_an_argument_that_cannot_be_is_refused_in_one_line(folder: Path, arguments: dict[str, Any], told: str) -> None:
    with pytest.raises(watchglass.CannotRun) as refused:
        watchglass.review(folder / "sound.yaml", **arguments)

    assert told in str(refused.value)
    assert "\n" not in str(refused.value)


def test_the_example_of_the_readme_runs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    (example,) = re.findall(r"^```python\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    monkeypatch.chdir(Path(__file__).parents[1])
    exec(example, {})

    assert capsys.readouterr().out.startswith("breaks ")


def test_the_configuration_of_the_readme_is_one() -> None:
    text = re.findall(r"^```yaml\n(.*?)^```", README, re.MULTILINE | re.DOTALL)[2]

    assert schema.faults(read(text), "configuration") == []
    assert set(plain(read(text))) == set(schema.load("configuration")["properties"])


# -- known findings ------------------------------------------------------------------------------------------------


def test_a_written_list_lets_the_next_run_pass_and_a_new_finding_fail(folder: Path, call: Call) -> None:
    first = call("review", "short.yaml", "--on", ON, "--write-known", "known.txt")
    again = call("review", "short.yaml", "--on", ON, "--known", "known.txt")
    (folder / "sound.yaml").write_text(SHORT, "utf-8")
    more = call("review", ".", "--on", ON, "--known", "known.txt")

    assert (first.returncode, again.returncode, more.returncode) == (1, 0, 1)
    assert "product-total, error, known: " in again.stdout
    last = "outcome: breaks (1 breaks; 1 known finding not counted in the exit code)"
    assert again.stdout.splitlines()[-1] == last


@pytest.mark.parametrize("form", ["json", "jsonl", "sarif", "junit", "github", "gitlab"])
def test_a_known_finding_is_marked_in_every_format(folder: Path, call: Call, form: str) -> None:
    call("review", "short.yaml", "--on", ON, "--write-known", "known.txt")
    told = call("review", "short.yaml", "--on", ON, "--known", "known.txt", "--format", form)

    assert (told.returncode, told.stderr) == (0, "")
    assert "known" in told.stdout
    if form == "json":
        assert json.loads(told.stdout)["counts"]["known"] == 1
        assert json.loads(told.stdout)["outcome"] == "breaks"
        assert schema.faults(read(told.stdout), "review") == []


def test_the_list_holds_wherever_the_run_is_started(folder: Path, call: Call, monkeypatch: pytest.MonkeyPatch) -> None:
    call("review", "short.yaml", "--on", ON, "--write-known", "known.txt")
    monkeypatch.chdir(folder.parent)

    assert not watchglass.review(folder / "short.yaml", on=ON, known=folder / "known.txt").fails()


def test_what_is_gone_is_named_on_standard_error(folder: Path, call: Call) -> None:
    call("review", "short.yaml", "--on", ON, "--write-known", "known.txt")
    (folder / "short.yaml").write_text(SOUND, "utf-8")
    ran = call("review", "short.yaml", "--on", ON, "--known", "known.txt")

    assert ran.returncode == 0
    assert re.fullmatch(
        r"watchglass: no longer found, [^\n]*known\.txt: short\.yaml: product-total[^\n]*\n", ran.stderr
    )


@pytest.mark.parametrize(
    ("name", "told"),
    [("sound.yaml", "formulas to review"), ("house/balms.yaml", "a sheet"), ("notes.txt", "no list of known findings")],
)
def test_a_list_is_written_over_nothing_but_a_list(folder: Path, call: Call, name: str, told: str) -> None:
    (folder / "notes.txt").write_text("mine\n", "utf-8")
    before = (folder / name).read_bytes()
    ran = call("review", "sound.yaml", "--on", ON, "--write-known", name)

    assert (ran.returncode, ran.stdout) == (2, "")
    assert told in ran.stderr
    assert (folder / name).read_bytes() == before


def test_a_list_that_is_broken_ends_the_run(folder: Path, call: Call) -> None:
    (folder / "known.txt").write_text("", "utf-8")
    ran = call("review", "sound.yaml", "--on", ON, "--known", "known.txt")

    assert (ran.returncode, ran.stdout) == (2, "")
    assert ran.stderr.startswith("watchglass: known.txt:1:1: this is no list of known findings")


# -- horizon and comparison ----------------------------------------------------------------------------------------


def test_a_horizon_is_told_in_text_and_json(folder: Path, call: Call) -> None:
    text = call("review", "sound.yaml", "--on", ON, "--horizon", "36m").stdout
    document = json.loads(call("review", "sound.yaml", "--on", ON, "--horizon", "3y", "--format", "json").stdout)

    assert "up to 2029-11-25 the verdict changes on no day" in text
    assert document["reviews"][0]["calendar"] == {"until": "2029-11-25", "turns": []}
    assert "verdict changes" not in call("review", "sound.yaml", "--on", ON).stdout


def test_a_comparison_is_told_in_text_and_json(folder: Path, call: Call) -> None:
    text = call("review", "sound.yaml", "--on", ON, "--against", "short.yaml").stdout
    told = call("review", "sound.yaml", "--on", ON, "--against", "short.yaml", "--format", "json").stdout
    comparison = json.loads(told)["reviews"][0]["comparison"]

    assert "Squalane: from 99 % to 100 % (+1)" in text
    assert comparison["outcome"] == {"was": "breaks", "now": "meets"}
    assert [change["rule"] for change in comparison["changes"]] == ["product-total"]
    assert schema.faults(read(told), "review") == []


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["."], "one formula is compared with one earlier version, not 2"),
        (["sound.yaml", "--against", "."], "compare with one file"),
        (["sound.yaml", "--against", "broken.yaml"], "nothing to compare: broken.yaml:1:11: "),
    ],
)
def test_what_cannot_be_compared_is_refused(folder: Path, call: Call, arguments: list[str], told: str) -> None:
    extra = [] if "--against" in arguments else ["--against", "sound.yaml"]
    if "broken.yaml" in arguments:
        (folder / "broken.yaml").write_text("formula: [\n", "utf-8")
    ran = call("review", *arguments, *extra, "--on", ON, "--rules", "house")

    assert (ran.returncode, ran.stdout) == (2, "")
    assert told in ran.stderr


# -- configuration -------------------------------------------------------------------------------------------------


def test_the_configuration_sets_the_level_and_an_option_beats_it(folder: Path, call: Call) -> None:
    (folder / "watchglass.yaml").write_text("rules: [house]\nfail_at: warning\n", "utf-8")

    assert call("review", "sound.yaml", "--on", ON).returncode == 1
    assert call("review", "sound.yaml", "--on", ON, "--fail-at", "error").returncode == 0
    assert call("review", "sound.yaml", "--on", ON, "--isolated").returncode == 0


def test_neither_the_configuration_nor_the_house_rules_are_reviewed_as_formulas(folder: Path, call: Call) -> None:
    (folder / "watchglass.yaml").write_text("rules: [house]\n", "utf-8")
    document = json.loads(call("review", ".", "--on", ON, "--format", "json").stdout)

    assert [review["path"] for review in document["reviews"]] == ["short.yaml", "sound.yaml"]


def test_markets_come_from_the_configuration_where_a_formula_names_none(folder: Path, call: Call) -> None:
    (folder / "watchglass.yaml").write_text("markets: [ca]\n", "utf-8")
    (folder / "sound.yaml").write_text(SOUND.replace("markets: [eu]\n", ""), "utf-8")
    document = json.loads(call("review", ".", "--on", ON, "--format", "json").stdout)

    assert {review["path"]: review.get("markets") for review in document["reviews"]}["sound.yaml"] == ["ca"]


def test_standard_input_has_the_configuration_of_the_folder_that_its_name_says(folder: Path, call: Call) -> None:
    (folder / "gels").mkdir()
    (folder / "gels" / "watchglass.yaml").write_text("markets: [ca]\n", "utf-8")
    given = SOUND.replace("markets: [eu]\n", "")

    assert call("review", "-", "--on", ON, "--stdin-filename", "gels/new.yaml", given=given).returncode == 0
    assert "lacks the key" in call("review", "-", "--on", ON, given=given).stdout


def test_the_settings_are_shown_with_their_origin_and_nothing_is_reviewed(folder: Path, call: Call) -> None:
    (folder / "watchglass.yaml").write_text("fail_at: warning\n", "utf-8")
    shown = call("review", "--show-config", "--market", "us")

    assert shown.returncode == 0
    assert "fail_at: warning (watchglass.yaml:1:1)" in shown.stdout
    assert "markets: us (option --market)" in shown.stdout
    assert call("review", "short.yaml", "--show-config").stdout.startswith("configuration: watchglass.yaml\n")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--config", "no.yaml"], "no such file"),
        (["--config", "watchglass.yaml", "--isolated"], "one of them"),
        (["--horizon", "soon"], '--horizon is "soon"'),
        (["--known", "no.txt"], "no such file"),
        (["--rules", "nowhere"], "nowhere"),
        (["--rules", "empty"], "no file *.yaml"),
        (["--rules", "other"], "own.yml would not be read"),
        ([], 'watchglass.yaml:1:1: unknown key "fail-at"; did you mean "fail_at"?'),
    ],
)
def test_a_setting_that_cannot_be_is_one_line_and_exit_2(
    folder: Path, call: Call, arguments: list[str], told: str
) -> None:
    (folder / "empty").mkdir()
    (folder / "other").mkdir()
    (folder / "other" / "own.yml").write_text(HOUSE, "utf-8")
    if not arguments:
        (folder / "watchglass.yaml").write_text("fail-at: note\n", "utf-8")
    ran = call("review", "sound.yaml", "--on", ON, *arguments)

    assert (ran.returncode, ran.stdout) == (2, "")
    assert told in ran.stderr
    assert re.fullmatch(r"watchglass: [^\n]+\n", ran.stderr)


def test_neutralising_reads_the_configuration_too(folder: Path, call: Call) -> None:
    acid = "      - {material: Aqua, percent: qs}\n      - {material: Glycolic Acid, percent: 5}\n"
    base = "      - {material: Sodium Hydroxide, percent: 1}\n"
    text = SOUND.replace("markets: [eu]\n", "").replace(LINE, acid + base).replace("form: balm", "form: gel")
    (folder / "gel.yaml").write_text(text, "utf-8")
    assert "lacks the key" in call("neutralise", "gel.yaml", "--to", "4").stderr
    (folder / "watchglass.yaml").write_text("markets: [ca]\n", "utf-8")

    assert call("neutralise", "gel.yaml", "--to", "4").returncode == 0


# -- house rules ---------------------------------------------------------------------------------------------------


def test_a_house_rule_is_judged_beside_the_shipped_ones(folder: Path, call: Call) -> None:
    ran = call("review", "short.yaml", "--on", ON, "--rules", "house")

    assert "house-no-squalane, warning: Squalane must not be in this product" in ran.stdout
    assert "Recipe book of the workshop, page 4 (practice, read: primary)" in ran.stdout
    assert "product-total, error" in ran.stdout


def test_a_house_rule_is_cited(folder: Path, call: Call) -> None:
    assert "Our own buyers ask for balms without it." in call("cite", "house-no-squalane", "--rules", "house").stdout
    assert call("cite", "house-no-squalane").returncode == 2
    (folder / "watchglass.yaml").write_text("rules: [house]\n", "utf-8")
    assert "house-no-squalane: " in call("cite").stdout


def test_house_rules_change_the_hash_of_the_rulebook(folder: Path) -> None:
    plain_run = watchglass.review(folder / "sound.yaml", on=ON)
    first = watchglass.review(folder / "sound.yaml", on=ON, rules=[folder / "house"])

    assert len({plain_run.book.hash, first.book.hash}) == 2


@pytest.mark.parametrize(
    ("file", "text", "told"),
    [
        ("balms.yaml", HOUSE.replace("  title:", "  titel:"), 'balms.yaml:2:3: unknown key "titel"'),
        ("balms.yaml", HOUSE.replace("absent:", "abzent:"), 'did you mean "absent"?'),
        (
            "balms.yaml",
            HOUSE.replace("house-book", "no-book"),
            "balms.yaml:1:3: rule house-no-squalane cites the source",
        ),
        ("balms.yaml", HOUSE.replace("of: Squalane", "of: Squalan"), 'did you mean "Squalane"?'),
        ("balms.yaml", HOUSE.replace("house-no-squalane", "product-total"), "rule product-total stands twice"),
        (
            "balms.yaml",
            HOUSE.replace("absent: {of: Squalane}", "percent: {of: Squalane}").replace(
                "  source:", "  values: {always: {min: 5, max: 4}}\n  source:"
            ),
            "min 5 is above its max 4",
        ),
        ("balms.yaml", "- rule: [\n", "balms.yaml:"),
        (
            "sources.yaml",
            SOURCES.replace("house-book", "common-practice"),
            "sources.yaml:1:1: common-practice is there",
        ),
        ("model.yaml", "a: 1\n", "model.yaml: house rules are rules"),
        (
            "substances/own.yaml",
            OWN.format(name="Squalane", cas="50-00-0"),
            "Squalane is Squalane, which is there already",
        ),
        ("substances/own.yaml", OWN.format(name="Tide Oil", cas="111-01-3"), "111-01-3 is Squalane"),
    ],
)
def test_a_house_rule_that_cannot_be_is_told_at_its_place(
    folder: Path, call: Call, file: str, text: str, told: str
) -> None:
    (folder / "house" / file).parent.mkdir(exist_ok=True)
    (folder / "house" / file).write_text(text, "utf-8")
    ran = call("review", "sound.yaml", "--on", ON, "--rules", "house")

    assert (ran.returncode, ran.stdout) == (2, "")
    assert told in ran.stderr


def test_formulas_under_different_house_rules_are_not_put_into_one_report(folder: Path, call: Call) -> None:
    (folder / "other").mkdir()
    (folder / "other" / "watchglass.yaml").write_text("rules: [../house]\n", "utf-8")
    (folder / "other" / "a.yaml").write_text(SOUND, "utf-8")
    ran = call("review", "sound.yaml", "other", "--on", ON)

    assert ran.returncode == 2
    assert "different house rules" in ran.stderr
