import pytest

from helpers import FIRST_LINE, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.rulebook import text_of

SAY = ["sunburn-alert", "daily-sun-protection"]
FACT = "formulated-not-to-raise-sun-sensitivity"


def asks(limit: dict[str, float] | None = None, **parameters: object) -> dict[str, object]:
    due = {"statement": {"say": SAY, "of": "Glycolic Acid"} | parameters}
    return rule(due, values={"always": {"above": 0} if limit is None else limit})


def labelled(*statements: str, line: str = "Glycolic Acid 5", more: str = "") -> str:
    return sheet(line, "Aqua qs", extra=f"label: {{statements: [{', '.join(statements)}]}}\n{more}")


def test_a_duty_without_a_label_breaks_and_names_the_statement_to_add() -> None:
    text = sheet("Aqua qs", "Glycolic Acid 5")
    finding = only(reviewed(text, asks()))

    assert (finding.verdict, finding.severity) == ("breaks", "error")
    assert "sunburn-alert or daily-sun-protection" in finding.message
    assert "5 % w/w" in finding.message
    assert finding.needs == ("add sunburn-alert to label.statements",)
    assert finding.statements == tuple(SAY)
    assert finding.place.line == FIRST_LINE + 1


def test_a_label_with_other_statements_breaks_too() -> None:
    assert verdict(reviewed(labelled("for-professional-use"), asks())) == "breaks"


@pytest.mark.parametrize("statement", SAY)
def test_any_one_of_the_alternatives_meets(statement: str) -> None:
    assert verdict(reviewed(labelled("for-professional-use", statement), asks())) == "meets"


def test_a_statement_that_is_nearly_the_id_does_not_meet() -> None:
    assert verdict(reviewed(labelled("sunburn-allert"), asks())) == "breaks"


def test_without_the_substance_nothing_is_due() -> None:
    assert verdict(reviewed(sheet("Lactic Acid 5", "Aqua qs"), asks())) == "does not apply"


@pytest.mark.parametrize(
    ("limit", "due", "free"),
    [({"above": 3}, "3.001", "3"), ({"min": 3}, "3", "2.999")],
)
def test_the_amount_says_from_where_it_is_due(limit: dict[str, float], due: str, free: str) -> None:
    assert verdict(reviewed(sheet(f"Glycolic Acid {due}", "Aqua qs"), asks(limit))) == "breaks"
    assert verdict(reviewed(sheet(f"Glycolic Acid {free}", "Aqua qs"), asks(limit))) == "does not apply"


def test_the_amount_is_counted_as_the_acid_where_the_rule_says_so() -> None:
    salt = asks({"above": 3}, of="Sodium Glycolate", **{"as": "acid"})

    assert 3.866 * 76.051 / 98.033 < 3  # atomic weights of IUPAC 2021
    assert 3.868 * 76.051 / 98.033 > 3
    assert verdict(reviewed(sheet("Sodium Glycolate 3.866", "Aqua qs"), salt)) == "does not apply"
    assert verdict(reviewed(sheet("Sodium Glycolate 3.868", "Aqua qs"), salt)) == "breaks"


def test_a_tolerance_across_the_amount_is_undecided_and_the_statement_settles_it() -> None:
    strength = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"
    bare = sheet("glycolic-70 10", "Aqua qs", extra=strength)
    finding = only(reviewed(bare, asks({"above": 7})))

    assert finding.verdict == "undecided"
    assert "6.9 to 7.1" in finding.message
    assert "add sunburn-alert" in finding.needs[0]
    assert (
        verdict(reviewed(labelled("sunburn-alert", line="glycolic-70 10", more=strength), asks({"above": 7})))
        == "meets"
    )


def test_a_claimed_function_takes_the_duty_away_and_an_unclaimed_one_leaves_it_open() -> None:
    exempt = asks(of="Sodium Lactate", not_as=["humectant"])

    assert verdict(reviewed(sheet("Sodium Lactate 2 as humectant", "Aqua qs"), exempt)) == "does not apply"
    assert verdict(reviewed(sheet("Sodium Lactate 2 as exfoliant", "Aqua qs"), exempt)) == "breaks"
    assert verdict(reviewed(sheet("Sodium Lactate 2", "Aqua qs"), exempt)) == "undecided"
    assert verdict(reviewed(labelled("sunburn-alert", line="Sodium Lactate 2"), exempt)) == "meets"


def test_only_as_asks_for_lines_of_that_function() -> None:
    exfoliant = asks(only_as=["exfoliant"])

    assert verdict(reviewed(sheet("Glycolic Acid 2 as pH adjuster", "Aqua qs"), exfoliant)) == "does not apply"
    assert verdict(reviewed(sheet("Glycolic Acid 2 as exfoliant", "Aqua qs"), exfoliant)) == "breaks"


# -- unless --------------------------------------------------------------------------------------------------------

DECLARED = f"materials:\n  stock: {{contains: {{Glycolic Acid: 70, Aqua: qs}}, declares: [{FACT}]}}"


def test_without_the_fact_and_the_statement_it_is_undecided_and_offers_both() -> None:
    finding = only(reviewed(sheet("Glycolic Acid 5", "Aqua qs"), asks(unless=FACT)))

    assert finding.verdict == "undecided"
    assert FACT in finding.message
    assert "add sunburn-alert" in finding.needs[0]
    assert FACT in finding.needs[1]


def test_the_declared_fact_takes_the_duty_away() -> None:
    assert verdict(reviewed(sheet("stock 5", "Aqua qs", extra=DECLARED), asks(unless=FACT))) == "does not apply"


def test_the_fact_on_one_of_two_materials_is_not_enough() -> None:
    text = sheet("stock 5", "Glycolic Acid 1", "Aqua qs", extra=DECLARED)

    assert verdict(reviewed(text, asks(unless=FACT))) == "undecided"


def test_the_statement_meets_whatever_the_supplier_says() -> None:
    assert verdict(reviewed(labelled("sunburn-alert"), asks(unless=FACT))) == "meets"


def test_an_undecided_statement_rests_on_the_label_line_that_is_there() -> None:
    memory = asks() | {"source": {"ref": "common-practice", "read": "memory"}}
    text = labelled("sunburn-alert")
    finding = only(reviewed(text, memory))

    assert finding.verdict == "undecided"
    assert pointed_at(text, finding).startswith("sunburn-alert")


# -- duties of the product, whatever it holds ----------------------------------------------------------------------

CAN = "use: leave-on, site: body, form: aerosol, audience: adults"
OF_AEROSOLS = rule({"statement": {"say": SAY}}, applies={"form": "aerosol"}, values={"always": {"above": 0}})
OF_FOAM = rule(
    {"statement": {"say": SAY, "only_as": ["surfactant"]}}, applies={"use": "leave-on"}, values={"always": {"above": 0}}
)


def test_a_product_of_the_kind_needs_the_statement_whatever_it_holds() -> None:
    text = sheet("Glycerin 5", "Aqua qs", product=CAN)
    finding = only(reviewed(text, OF_AEROSOLS))

    assert (finding.verdict, finding.where, finding.substances) == ("breaks", "product", ())
    assert "sunburn-alert or daily-sun-protection" in finding.message
    assert finding.statements == tuple(SAY)
    assert finding.limit is None
    assert pointed_at(text, finding).startswith("product")


def test_a_product_of_the_kind_meets_with_the_statement() -> None:
    text = sheet("Glycerin 5", "Aqua qs", product=CAN, extra="label: {statements: [sunburn-alert]}")

    assert verdict(reviewed(text, OF_AEROSOLS)) == "meets"


def test_a_product_of_another_kind_needs_no_statement() -> None:
    assert verdict(reviewed(sheet("Glycerin 5", "Aqua qs"), OF_AEROSOLS)) == "does not apply"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("Sodium Laureth Sulfate 5", "breaks"),
        ("Sodium Laureth Sulfate 5 as emulsifier", "does not apply"),
        ("Sodium Laureth Sulfate 0", "does not apply"),
        ("Glycerin 5 as surfactant", "breaks"),
        ("Glycerin 5", "does not apply"),
    ],
)
def test_a_duty_of_a_function_is_due_where_a_line_has_it(line: str, said: str) -> None:
    assert verdict(reviewed(sheet(line, "Aqua qs"), OF_FOAM)) == said


@pytest.mark.parametrize(
    ("other", "said"),
    [("Octocrylene 2", "does not apply"), ("Octocrylene 2 as solvent", "breaks"), ("Urea 2", "breaks")],
)
def test_a_line_of_another_function_lifts_the_duty(other: str, said: str) -> None:
    text = sheet("Glycolic Acid 5", other, "Aqua qs")

    assert verdict(reviewed(text, asks(without_as=["UV filter"]))) == said


@pytest.mark.parametrize(("how", "told"), [("primary", "(word for word)"), ("memory", "read it at the source")])
def test_a_remembered_wording_is_not_called_word_for_word(how: str, told: str) -> None:
    assert told in text_of({"wording": "Keep cool.", "source": {"ref": "common-practice", "read": how}})
