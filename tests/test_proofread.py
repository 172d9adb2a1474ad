from typing import Any

import pytest

from helpers import rule
from watchglass import library
from watchglass.proofread import proofread

LIMITED: dict[str, Any] = {"values": {"always": {"max": 1}}}
SUBSTANCE: dict[str, Any] = {"substance": "Tide Salt", "functions": [], "source": {"ref": "common-practice"}}


def faults_of(*rules: dict[str, Any], substance: dict[str, Any] | None = None) -> list[str]:
    own = [facts | {"file": "rules/test.yaml", "line": 1, "column": 1} for facts in rules]
    return proofread({**library.load(), "rules": own, "substances": [substance] if substance else []})


def test_the_shipped_rules_have_no_fault() -> None:
    assert library.read_folder(library.rules_folder())["rules"]


@pytest.mark.parametrize(
    ("rules", "told"),
    [
        ([rule({"percent": {"of": "Lactic Acid"}}, **LIMITED)] * 2, "stands twice"),
        ([rule({"percent": {"of": "Glycolic Acit"}}, **LIMITED)], 'did you mean "Glycolic Acid"?'),
        ([rule({"percent": {"of": "Lactic Acid", "as": "Lactic Acit"}}, **LIMITED)], "counts as Lactic Acit"),
        (
            [rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, source={"ref": "hearsay", "read": "primary"})],
            "the source hearsay",
        ),
        ([rule({"statement": {"say": ["sunburn-allert"], "of": "Lactic Acid"}})], 'did you mean "sunburn-alert"?'),
        ([rule({"statement": {"of": "Lactic Acid"}})], "which statement"),
        ([rule({"percent": {}}, **LIMITED)], "of what"),
        ([rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, applies={"type": "toothpast"})], 'mean "toothpaste"?'),
        (
            [rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, applies={"not": {"type": ["hair", "lip"]}})],
            "the product type lip,",
        ),
        ([rule({"together": {"of": "Lactic Acid"}}, **LIMITED)], "with what"),
        ([rule({"together": {"of": "Urea", "beside": "Aqua", "against": "ionic strength"}}, **LIMITED)], "with what"),
        ([rule({"together": {"of": "Urea", "beside": "Aqua"}})], "without a limit always meets"),
        ([rule({"together": {"of": "Urea", "beside": "Aqua", "settled_by": "Glycerinn"}}, **LIMITED)], "Glycerinn"),
        ([rule({"statement": {"say": ["sunburn-alert"]}}, applies={"markets": ["us"]})], "of what"),
        (
            [rule({"statement": {"say": ["sunburn-alert"], "unless": "a-fact"}}, applies={"form": "aerosol"})],
            "gives unless without of",
        ),
        ([rule({"percent": {"of": "Lactic Acid"}})], "without a limit always meets"),
        ([rule({"percent": {"of": "Lactic Acid"}}, values={"2026-02-30": {"max": 1}})], "on no calendar"),
        (
            [rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, tiers=[{"when": {}, "values": {}}])],
            "values beside tiers",
        ),
        ([rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, severity="note")], "gives a severity"),
        ([rule({"percent": {"of": "Lactic Acid"}}, values={"always": {"min": 5, "max": 1}})], "min 5 is above its max"),
        ([rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, examples=[{"says": ["x"]}])], "no verdict"),
        (
            [
                rule(
                    {"percent": {"of": "Lactic Acid"}},
                    **LIMITED,
                    examples=[{"meets": {"Urea": 1}, "breaks": {"Urea": 2}}],
                )
            ],
            "the verdicts meets and breaks",
        ),
        (
            [rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, examples=[{"does_not_apply": {"Glycerinn": 1}}])],
            'did you mean "Glycerin"?',
        ),
        (
            [rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, applies=[{"markets": ["eu"]}, {"use": "rinse-off"}])],
            "in all or in none",
        ),
        ([rule({"percent": {"of": "Lactic Acid"}}, **LIMITED, applies={"not": {"markets": ["eu"]}})], "under not"),
    ],
)
def test_a_rule_that_cannot_be_right_is_told_by_name(rules: list[dict[str, Any]], told: str) -> None:
    (fault,) = faults_of(*rules)

    assert fault.startswith("rules/test.yaml:1:1: rule the-rule ")
    assert told in fault


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ({"cas": ["62-53-4"]}, "the CAS number 62-53-4"),
        ({"members": [{"name": "A salt", "cas": ["542-14-4"]}]}, "the CAS number 542-14-4"),
        ({"ec": ["200-539-4"]}, "the EC number 200-539-4"),
        ({"also": ["tide  GLASS"]}, '"tide glass" twice'),
        ({"cas": ["62-53-3"], "members": [{"name": "A salt", "cas": ["62-53-3"]}]}, '"62-53-3" twice'),
        ({}, "needs the key of, cas, ec, also or members"),
    ],
)
def test_a_row_that_identifies_nothing_or_wrongly_is_told_by_its_address(row: dict[str, Any], told: str) -> None:
    (fault,) = faults_of(rule({"absent": {}}, rows=[{"entry": "7", "title": "Tide glass"} | row]))

    assert fault.startswith("rules/test.yaml:1:1: rule the-rule#7 ")
    assert told in fault


def test_numbers_without_a_name_for_them_are_told() -> None:
    (fault,) = faults_of(rule({"absent": {}}, rows=[{"entry": "7", "cas": ["62-53-3"]}]))

    assert "without a title" in fault


@pytest.mark.parametrize(
    ("facts", "told"),
    [
        ({"formula": "C2H4Xx"}, "the element Xx"),
        ({"gives": {"Glycolic Acit": 1}}, 'did you mean "Glycolic Acid"?'),
        ({"molar_mass": {"ref": "hearsay"}}, "the source hearsay"),
        ({"synonyms": ["tide  salt"]}, "already a name of Tide Salt"),
    ],
)
def test_a_substance_that_cannot_be_right_is_told_by_name(facts: dict[str, Any], told: str) -> None:
    (fault,) = faults_of(substance=SUBSTANCE | facts)

    assert fault.startswith("rules/substances: Tide Salt: ")
    assert told in fault


NOT_COVERED = {"list": "common-practice", "entry": "7", "title": "The tide table", "why": "it was not read"}


def test_what_is_not_covered_names_its_list_and_each_entry_once() -> None:
    entries = [NOT_COVERED, NOT_COVERED, NOT_COVERED | {"list": "hearsay"}]
    faults = proofread({**library.load(), "rules": [], "substances": [], "not-covered": entries})

    assert faults == [
        "rules/not-covered.yaml: common-practice, 7 stands twice",
        "rules/not-covered.yaml: hearsay, 7: the list hearsay is not in rules/sources.yaml",
    ]


def test_what_is_not_covered_names_substances_that_there_are() -> None:
    entry = NOT_COVERED | {"of": ["Limonen"]}
    (fault,) = proofread({**library.load(), "rules": [], "substances": [], "not-covered": [entry]})

    assert fault.startswith("rules/not-covered.yaml: common-practice, 7 names")
    assert 'did you mean "Limonene"?' in fault


def test_a_duty_of_a_kind_of_product_or_of_a_function_needs_no_substance() -> None:
    say = {"say": ["sunburn-alert"]}

    assert faults_of(rule({"statement": say}, applies={"form": "aerosol"})) == []
    assert faults_of(rule({"statement": say | {"only_as": ["surfactant"]}}, applies={"markets": ["us"]})) == []


def test_what_is_not_covered_ships_with_its_reasons() -> None:
    entries = library.load()["not-covered"]

    assert len(entries) >= 30
    assert all(entry["why"].strip() and entry["title"].strip() for entry in entries)
