"""Every format for programs, read back by other people's readers, says what the JSON document says."""

import json
import os
import pickle
import re
import subprocess
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import jsonschema
import junitparser
import pytest
from lxml import etree

from helpers import ON
from test_reports import BOOK, HOSTILE, QUOTED, TEXTS, hostile_texts, in_json, in_text, review_of, reviewed
from watchglass.files import inputs
from watchglass.findings import Review
from watchglass.jobs import Order, Task
from watchglass.jobs import reviewed as review_of_file
from watchglass.reports import github, gitlab, jsonl, junit, sarif
from watchglass.reports import json as as_json
from watchglass.rulebook import load
from watchglass.settings import settings_for

ROOT = Path(__file__).parents[1]
WRITERS = {
    "jsonl": jsonl.write,
    "sarif": sarif.write,
    "junit": junit.write,
    "github": github.write,
    "gitlab": gitlab.write,
}
VERDICTS = ("undecided", "coming", "deviation")
ALL = "all together"


def reviews_of(name: str) -> list[Review]:
    return [reviewed(each) for each in TEXTS] if name == ALL else [reviewed(name)]


def written(form: str, *reviews: Review) -> str:
    return WRITERS[form](reviews, BOOK, ON)


def json_of(review: Review) -> str:
    return as_json.write([review], BOOK, ON)


def standard(name: str) -> Path:
    """A file that the project does not hold: fetched by .ci/standards, or in the folder of standards beside it."""
    for folder in (ROOT / ".standards", ROOT.parent / "shared" / "standards"):
        if (folder / name).exists():
            return folder / name
    pytest.skip(f"{name} is not here: .ci/standards fetches what can be fetched")


# -- each format read back -----------------------------------------------------------------------------------------


class Told(NamedTuple):
    """What every format says of a finding."""

    path: str
    line: int
    rule: str
    verdict: str
    severity: str


def told_in_json(*reviews: Review) -> list[Told]:
    return [
        Told(
            review["path"], f["line"], f["rule"] + (f"#{f['entry']}" if f["entry"] else ""), f["verdict"], f["severity"]
        )
        for review in in_json(*reviews)["reviews"]
        for f in review["findings"]
    ]


def told_in_jsonl(text: str) -> list[Told]:
    rows = [json.loads(line) for line in text.splitlines()]
    return [
        Told(row["path"], f["line"], f["rule"] + (f"#{f['entry']}" if f["entry"] else ""), f["verdict"], f["severity"])
        for row in rows[:-1]
        for f in row["findings"]
    ]


def told_in_sarif(text: str) -> list[Told]:
    (run,) = json.loads(text)["runs"]
    found = []
    for result in run["results"]:
        at = result["locations"][0]["physicalLocation"]
        said = result["properties"]
        path, line = at["artifactLocation"]["uri"], at["region"]["startLine"]
        found.append(Told(path, line, result["ruleId"], said["verdict"], said["severity"]))
    return found


def told_in_junit(text: str) -> list[Told]:
    found = []
    for suite in junitparser.JUnitXml.fromstring(text.encode()):
        for case in suite:
            for result in case.result:
                severity = re.search(r", (error|warning|note): ", result.text)
                line = result.text.removeprefix(f"{suite.name}:").split(":")[0]
                assert severity is not None
                verdict = result.type if result.type in VERDICTS else "breaks"
                rule = case.name.split(" at ")[0].split(" (")[0]
                found.append(Told(suite.name, int(line), rule, verdict, severity[1]))
    return found


ANNOTATION = re.compile(r"::(?P<command>error|warning|notice) (?P<properties>[^:]*)::(?P<message>.*)")


def told_in_github(text: str) -> list[Told]:
    """Read back as the runner does: properties are split at commas, then the escapes are undone."""
    found = []
    for line in text.split("\n"):
        if read := ANNOTATION.fullmatch(line):
            properties = dict(each.split("=", 1) for each in read["properties"].split(","))
            path = properties["file"].replace("%2C", ",").replace("%3A", ":").replace("%0A", "\n").replace("%25", "%")
            verdict = read["message"].split(":")[0]
            found.append(
                Told(
                    path,
                    int(properties["line"]),
                    properties["title"].split(" (")[0],
                    verdict if verdict in VERDICTS else "breaks",
                    {"notice": "note"}.get(read["command"], read["command"]),
                )
            )
    return found


def told_in_gitlab(text: str) -> list[Told]:
    return [
        Told(
            entry["location"]["path"],
            entry["location"]["lines"]["begin"],
            entry["check_name"],
            entry["watchglass"]["verdict"],
            entry["watchglass"]["severity"],
        )
        for entry in json.loads(text)
    ]


READERS: dict[str, Callable[[str], list[Told]]] = {
    "jsonl": told_in_jsonl,
    "sarif": told_in_sarif,
    "junit": told_in_junit,
    "github": told_in_github,
    "gitlab": told_in_gitlab,
}


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("name", [*TEXTS, ALL])
def test_a_format_read_back_tells_the_findings_of_the_json_document(name: str, form: str) -> None:
    reviews = reviews_of(name)

    assert READERS[form](written(form, *reviews)) == told_in_json(*reviews)


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("name", [*TEXTS, ALL])
def test_the_counts_of_a_format_read_back_are_those_of_the_json_document(name: str, form: str) -> None:
    reviews = reviews_of(name)
    found = READERS[form](written(form, *reviews))
    breaks = Counter(told.severity for told in found if told.verdict == "breaks")
    verdicts = Counter(told.verdict for told in found)

    counts = in_json(*reviews)["counts"]
    assert {severity: breaks[severity] for severity in ("error", "warning", "note")} | {
        verdict: verdicts[verdict] for verdict in VERDICTS
    } == {key: value for key, value in counts.items() if key not in ("files", "known")}


def test_the_cases_hold_every_verdict_and_severity() -> None:
    found = told_in_json(*reviews_of(ALL))

    assert {told.verdict for told in found} == {"breaks", *VERDICTS}
    assert {told.severity for told in found} == {"error", "warning", "note"}


@pytest.mark.parametrize("form", WRITERS)
def test_the_same_reviews_give_the_same_bytes_in_ascii_or_one_line_a_finding(form: str) -> None:
    first = written(form, *reviews_of(ALL))

    assert written(form, *reviews_of(ALL)) == first
    assert first.endswith("\n")
    assert form == "github" or first.isascii()


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("character", list(HOSTILE.values()), ids=list(HOSTILE))
@pytest.mark.parametrize("where", list(hostile_texts('"x"')))
def test_no_character_of_the_author_spoils_a_format(where: str, character: str, form: str) -> None:
    review = review_of(hostile_texts(QUOTED[character])[where])
    text = written(form, review)

    assert READERS[form](text) == told_in_json(review)
    assert character not in text.replace("\r\n", "")


TRICKS = ["100 % :: , a", "a%0Ab", "<b>&amp;", "]]>", "::error::x", "'\"; --", "naïve № 🧴", "x::set-output name=a::b"]


@pytest.mark.parametrize("form", WRITERS)
@pytest.mark.parametrize("trick", TRICKS)
def test_what_means_something_in_a_format_means_nothing_in_a_name(trick: str, form: str) -> None:
    quoted = json.dumps(trick, ensure_ascii=False)
    text = TEXTS["unknown"].replace('"Unheard-of Root"', quoted).replace("a test jar", quoted)
    review = review_of(text)
    assert any(trick in finding.message for finding in review.findings)

    assert READERS[form](written(form, review)) == told_in_json(review)


@pytest.mark.parametrize("path", ["a b.yaml", "50 %, a:b.yaml", "ä/№.yaml", "a\nb.yaml", "a::b.yaml", "a#b?c.yaml"])
def test_an_annotation_names_its_file_whatever_its_name(path: str) -> None:
    told = told_in_github(written("github", review_of(TEXTS["breaks"], path)))

    assert {each.path for each in told} == {path}


def test_a_review_survives_the_way_between_processes(shipped: list[Review]) -> None:
    assert len(shipped) > 20

    for review in [*shipped, *reviews_of(ALL)]:
        assert json_of(pickle.loads(pickle.dumps(review))) == json_of(review)


# -- JSON Lines ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*TEXTS, ALL])
def test_json_lines_hold_the_json_document_line_by_line(name: str) -> None:
    *rows, last = (json.loads(line) for line in written("jsonl", *reviews_of(name)).splitlines())

    assert {**last, "reviews": rows} == in_json(*reviews_of(name))
    assert "path" not in last
    assert list(last)[-1] == "outcome"


# -- SARIF ---------------------------------------------------------------------------------------------------------


def run_of(*reviews: Review) -> dict[str, Any]:
    (run,) = json.loads(written("sarif", *reviews))["runs"]
    assert isinstance(run, dict)
    return run


@pytest.fixture(scope="module")
def shipped() -> list[Review]:
    """The reviews of the example formulas with the shipped rules."""
    found = (
        review_of_file(Task(item, settings_for(item.folder)), Order(ON))
        for item in inputs([str(ROOT / "formulas")], "-")
    )
    return [review for review in found if review is not None]


# OASIS, Static Analysis Results Interchange Format 2.1.0, its JSON schema
def test_sarif_fits_the_schema_of_the_standard(shipped: list[Review]) -> None:
    validator = jsonschema.Draft4Validator(json.loads(standard("sarif-schema-2.1.0.json").read_text("utf-8")))

    for text in (written("sarif", *reviews_of(ALL)), sarif.write(shipped, load(), ON), written("sarif")):
        assert [error.message for error in validator.iter_errors(json.loads(text))] == []
    assert not validator.is_valid(json.loads(text) | {"version": "2.0.0"})


def test_a_validator_of_sarif_finds_nothing_but_the_missing_home_page(tmp_path: Path, shipped: list[Review]) -> None:
    program = standard("node_modules/@microsoft/sarif-multitool-linux/Sarif.Multitool")
    program.chmod(0o755)
    (tmp_path / "cases.sarif").write_text(written("sarif", *reviews_of(ALL)), "utf-8")
    (tmp_path / "shipped.sarif").write_text(sarif.write(shipped, load(), ON), "utf-8")

    ran = subprocess.run(
        [program, "validate", "cases.sarif", "shipped.sarif", "--rule-kind", "Sarif;Ghas"],
        cwd=tmp_path,
        env=os.environ | {"DOTNET_SYSTEM_GLOBALIZATION_INVARIANT": "1"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )

    assert ran.returncode == 0, ran.stdout
    assert "2 files scanned" in ran.stdout
    found = re.findall(r": (?:error|warning|note) (\w+):", ran.stdout)
    assert set(found) <= {"SARIF2005"}, ran.stdout  # the program has no home page to name yet


def test_every_result_of_sarif_points_at_its_rule_and_every_rule_at_its_source(shipped: list[Review]) -> None:
    (run,) = json.loads(sarif.write(shipped, load(), ON))["runs"]
    rules, taxa = run["tool"]["driver"]["rules"], run["taxonomies"][0]["taxa"]

    assert len({rule["id"] for rule in rules}) == len(rules) > 5
    for result in run["results"]:
        assert rules[result["ruleIndex"]]["id"] == result["ruleId"]
    pointed = [rule["relationships"][0]["target"] for rule in rules if "relationships" in rule]
    assert len(pointed) > 5
    assert [taxa[target["index"]]["id"] for target in pointed] == [target["id"] for target in pointed]
    assert any(rule["helpUri"].startswith("https://") for rule in rules if "helpUri" in rule)
    help_of = {rule["id"]: rule["help"]["text"] for rule in rules}
    assert "from 2013-07-11: at most" in help_of["eu-annex-v#1"]


def test_a_result_of_sarif_carries_the_value_and_the_limit() -> None:
    result = next(each for each in run_of(reviewed("breaks"))["results"] if each["ruleId"] == "ceiling")

    assert (result["kind"], result["level"]) == ("fail", "error")
    assert result["properties"]["value"] == {"low": "12", "high": "12", "unit": "% w/w"}
    assert result["properties"]["limit"] == {"max": "10"}
    assert result["locations"][0]["logicalLocations"] == [{"fullyQualifiedName": "phases.one.lines[0]"}]


# OASIS SARIF 2.1.0, 3.27.10: a result whose kind is not "fail" has the level "none"
def test_only_a_break_is_a_failure_in_sarif() -> None:
    kinds = {"breaks": "fail", "deviation": "fail", "undecided": "open", "coming": "review"}

    for result in run_of(*reviews_of(ALL))["results"]:
        assert result["kind"] == kinds[result["properties"]["verdict"]]
        assert result["level"] == (result["properties"]["severity"] if result["kind"] == "fail" else "none")


def test_an_accepted_deviation_is_suppressed_with_its_reason_and_nothing_else_is() -> None:
    results = run_of(*reviews_of(ALL))["results"]
    suppressed = [result for result in results if "suppressions" in result]

    assert {result["properties"]["verdict"] for result in suppressed} == {"deviation"}
    assert len(suppressed) == in_json(*reviews_of(ALL))["counts"]["deviation"] > 0
    assert suppressed[0]["suppressions"][0] == {
        "kind": "inSource",
        "status": "accepted",
        "justification": "accepted: patch test on file, until 2027-01-01, by AB",
    }


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("a b/ä#1.yaml", {"uri": "a%20b/%C3%A4%231.yaml", "uriBaseId": "%SRCROOT%"}),
        ("a:b.yaml", {"uri": "a%3Ab.yaml", "uriBaseId": "%SRCROOT%"}),
        ("/tide/a b.yaml", {"uri": "file:///tide/a%20b.yaml"}),
        ("C:/tide/a b.yaml", {"uri": "file:///C:/tide/a%20b.yaml"}),
    ],
)
def test_a_path_in_sarif_is_a_uri_relative_to_the_folder_of_the_run(path: str, place: dict[str, str]) -> None:
    results = run_of(review_of(TEXTS["breaks"], path))["results"]

    assert results
    assert {json.dumps(each["locations"][0]["physicalLocation"]["artifactLocation"]) for each in results} == {
        json.dumps(place)
    }


@pytest.mark.parametrize("form", ["sarif", "gitlab"])
def test_no_two_findings_have_one_fingerprint_and_figures_do_not_change_it(form: str) -> None:
    def prints(*reviews: Review) -> list[str]:
        if form == "gitlab":
            return [entry["fingerprint"] for entry in json.loads(written("gitlab", *reviews))]
        return [result["partialFingerprints"]["watchglass/v1"] for result in run_of(*reviews)["results"]]

    everything = prints(*reviews_of(ALL))
    moved = TEXTS["breaks"].replace("percent: 12", "percent: 12.5").replace("phases:", "# a remark\nphases:")

    assert len(set(everything)) == len(everything) > 10
    assert prints(review_of(moved, "breaks.yaml")) == prints(reviewed("breaks"))
    assert set(prints(review_of(TEXTS["breaks"], "other.yaml"))) & set(prints(reviewed("breaks"))) == set()


# -- JUnit ---------------------------------------------------------------------------------------------------------


# junit-10.xsd as the source distribution of pytest holds it (G. Boissinot, MIT)
def test_junit_fits_the_schema_that_ci_servers_use(shipped: list[Review]) -> None:
    validator = etree.XMLSchema(etree.parse(str(standard("junit-10.xsd"))))

    for text in (written("junit", *reviews_of(ALL)), junit.write(shipped, load(), ON), written("junit")):
        assert validator.validate(etree.fromstring(text.encode())), validator.error_log
    assert not validator.validate(etree.fromstring(b"<testsuites><testcase/></testsuites>"))


def test_the_sums_of_junit_are_those_of_its_cases_and_rules_that_are_met_pass() -> None:
    document = junitparser.JUnitXml.fromstring(written("junit", *reviews_of(ALL)).encode())
    cases = [case for suite in document for case in suite]

    assert document.tests == len(cases)
    assert document.failures == sum(isinstance(r, junitparser.Failure) for case in cases for r in case.result)
    assert document.errors == sum(isinstance(r, junitparser.Error) for case in cases for r in case.result) > 0
    passed = {(suite.name, case.name) for suite in document for case in suite if not case.result}
    met = {
        (review["path"], rule) for review in in_json(*reviews_of(ALL))["reviews"] for rule in review["judged"]["meets"]
    }
    assert passed == met


def test_a_suite_of_junit_names_the_outcome_of_its_formula() -> None:
    root = etree.fromstring(written("junit", *reviews_of(ALL)).encode())
    outcomes = {
        suite.get("name"): dict(suite.findall("properties/property")[-1].attrib) for suite in root.findall("testsuite")
    }

    expected = {review["path"]: review["outcome"] for review in in_json(*reviews_of(ALL))["reviews"]}
    assert outcomes == {path: {"name": "outcome", "value": outcome} for path, outcome in expected.items()}
    assert root.get("name") == "watchglass: breaks"


@pytest.mark.parametrize(("name", "kind"), [("undecided", "error"), ("memory", "skipped"), ("deviation", "skipped")])
def test_an_open_question_of_law_is_an_error_and_other_open_ones_are_skipped(name: str, kind: str) -> None:
    root = etree.fromstring(written("junit", reviewed(name)).encode())

    found = [child.tag for case in root.iter("testcase") for child in case]
    assert set(found) == {kind}


# -- annotations on GitHub -----------------------------------------------------------------------------------------


def test_annotations_end_with_the_counts_and_the_outcome_as_the_text_does() -> None:
    annotations, text = written("github", *reviews_of(ALL)).splitlines(), in_text(*reviews_of(ALL)).splitlines()

    assert annotations[-1] == text[-1]
    assert annotations[-3] in text
    assert "--format sarif" in annotations[-2]
    assert written("github", reviewed("balm")).splitlines() == in_text(reviewed("balm")).splitlines()[-4::3]


def test_an_annotation_says_what_to_do_and_escapes_its_percents() -> None:
    line = next(line for line in written("github", reviewed("interval")).splitlines() if "title=ceiling" in line)

    assert line.startswith("::warning file=interval.yaml,line=7,col=")
    assert "9.798 to 10.082 %25 w/w" in line
    assert "; to do: " in line


# -- code quality on GitLab ----------------------------------------------------------------------------------------


def test_an_entry_of_gitlab_has_what_the_report_format_asks_for() -> None:
    entries = json.loads(written("gitlab", *reviews_of(ALL)))

    for entry in entries:
        assert {"description", "check_name", "fingerprint", "severity", "location"} <= entry.keys()
        assert entry["severity"] in ("info", "minor", "major", "critical", "blocker")
        assert not entry["location"]["path"].startswith(("/", "./"))
    errors = [
        entry
        for entry in entries
        if entry["watchglass"] | {"market": ""}
        == {
            "verdict": "breaks",
            "severity": "error",
            "market": "",
        }
    ]
    assert {entry["severity"] for entry in errors} == {"critical"}
    assert {entry["severity"] for entry in entries if entry not in errors} == {"major", "minor", "info"}
    assert json.loads(written("gitlab", reviewed("balm"))) == []
