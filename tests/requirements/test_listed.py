import pytest

from helpers import only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.rulebook import load

FACT = "listed-in-annex-iv-for-this-use"


def asks(function: str = "preservative", **parameters: object) -> dict[str, object]:
    usual: dict[str, object] = {"function": function, "also_allowed": ["Phenoxyethanol", "Dehydroacetic Acid"]}
    return rule({"listed": usual | parameters})


def table(*names: str) -> dict[str, object]:
    rows = [{"entry": str(number), "of": name} for number, name in enumerate(names)]
    return rule({"percent": {}}, rule="the-table", values={"always": {"max": 1}}, rows=rows)


@pytest.mark.parametrize("line", ["Phenoxyethanol 0.9 as preservative", "Phenoxyethanol 0.9"])
def test_what_is_on_the_list_meets_whether_its_function_is_said_or_usual(line: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs"), asks())) == "meets"


def test_what_a_line_calls_a_preservative_and_the_list_does_not_know_breaks_at_that_line() -> None:
    text = sheet("Aqua qs", "Caprylyl Glycol 0.5 as preservative")
    finding = only(reviewed(text, asks()))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert finding.message == "Caprylyl Glycol: not on the list of allowed preservatives"
    assert "state what Caprylyl Glycol is there for" in finding.needs[0]
    assert pointed_at(text, finding).startswith('{material: "Caprylyl Glycol"')


def test_where_only_the_usual_function_says_so_it_is_undecided_and_asks() -> None:
    finding = only(reviewed(sheet("Chlorophene 0.1", "Aqua qs"), asks()))

    assert finding.verdict == "undecided"
    assert finding.needs == ("state the function of Chlorophene on its line",)


@pytest.mark.parametrize(
    "line", ["Pentylene Glycol 3", "Caprylyl Glycol 0.5", "Alcohol 10", "Chlorophene 0.1 as deodorant", "Glycerin 0"]
)
def test_what_is_there_for_something_else_is_not_asked(line: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs"), asks())) == "does not apply"


BLEND = "materials:\n  blend: {contains: {%s}}"


@pytest.mark.parametrize(
    ("parts", "said"),
    [
        ("Phenoxyethanol: 90, Ethylhexylglycerin: 10", "meets"),
        ("Dehydroacetic Acid: 8, Aqua: qs", "meets"),
        ("Caprylyl Glycol: 50, Aqua: qs", "breaks"),
        ("Phenoxyethanol: 90, Chlorophene: 10", "breaks"),
    ],
)
def test_in_a_blend_what_carries_a_listed_part_is_no_question_and_what_preserves_is(parts: str, said: str) -> None:
    text = sheet("blend 1 as preservative", "Aqua qs", extra=BLEND % parts)

    assert verdict(reviewed(text, asks())) == said


def test_the_breach_in_a_blend_names_what_preserves_alone() -> None:
    text = sheet("blend 1 as preservative", "Aqua qs", extra=BLEND % "Phenoxyethanol: 90, Chlorophene: 10")

    assert only(reviewed(text, asks())).substances == ("Chlorophene",)


def test_the_list_is_what_the_rows_of_a_table_are_about() -> None:
    by_table = asks(by="the-table", also_allowed=["Benzoic Acid"])
    text = sheet("Caprylyl Glycol 0.5 as preservative", "Aqua qs")

    assert verdict(reviewed(text, by_table, table("Caprylyl Glycol"))) == "meets"
    assert verdict(reviewed(text, by_table, table("Urea"))) == "breaks"
    assert verdict(reviewed(sheet("Benzoic Acid 0.1", "Aqua qs"), by_table, table("Urea"))) == "meets"


@pytest.mark.parametrize("lines", [("CI 77491 1",), ("CI 77491 1", "CI 77492 0.5", "CI 77499 0.1")])
def test_a_list_read_in_part_leaves_open_in_one_finding_what_is_not_in_the_part(lines: tuple[str, ...]) -> None:
    finding = only(reviewed(sheet(*lines, "Aqua qs"), asks("colourant", in_part=True, unless=FACT)))

    assert finding.verdict == "undecided"
    assert finding.substances == tuple(line.rsplit(" ", 1)[0] for line in lines)
    assert FACT in finding.needs[0]


def test_the_declared_fact_settles_it_and_that_of_one_of_two_does_not() -> None:
    stated = f"materials:\n  red: {{contains: {{CI 77491: 100}}, declares: [{FACT}]}}"
    asked = asks("colourant", in_part=True, unless=FACT)

    assert verdict(reviewed(sheet("red 1", "Aqua qs", extra=stated), asked)) == "meets"
    found = reviewed(sheet("red 1", "CI 77492 1", "Aqua qs", extra=stated), asked)
    assert only(found).substances == ("CI 77492",)


# -- the shipped lists --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("table", ["eu-annex-v", "uk-annex-v", "eu-annex-vi"])
def test_every_row_that_makes_a_list_is_in_force_from_the_day_on_that_its_rule_holds(table: str) -> None:
    book = load()
    asking = [made for made in book.rules if made.word == "listed"]
    asking = [made for made in asking if made.facts["require"]["listed"].get("by") == table]
    whole = [made for made in asking if "in_part" not in made.facts["require"]["listed"]]
    rows = [row for row in book.rules if row.id == table]

    assert [list(made.facts["values"]) for made in whole] == [["2026-05-18"]]
    assert len(asking) == 2
    assert len(rows) >= 33
    for row in rows:
        assert any(tier.series.on("2026-05-18", None) is not None for tier in row.tiers), row.address
