import random
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from helpers import FACE, FIRST_LINE, ON, formula_from, only, pointed_at, reviewed, rule, sheet, verdict
from watchglass.intake import formula_of
from watchglass.judge import review
from watchglass.rulebook import load

SHIPPED = Path(__file__).parents[1] / "formulas" / "clean"
BREAKING = sheet("Glycolic Acid 12", "Aqua qs")


def at_most(values: dict[str, Any], **facts: Any) -> dict[str, Any]:
    return rule({"percent": {"of": "Glycolic Acid"}}, values=values, **facts)


def sold(since: str, text: str = BREAKING) -> str:
    return f"{text}on_market_since: {since}\n"


# -- dated values --------------------------------------------------------------------------------------------------

DATED = at_most({"2020-01-01": {"max": 15}, "2024-05-01": {"max": 10}})


@pytest.mark.parametrize(
    ("on", "said"),
    [
        ("2019-12-31", "coming"),
        ("2020-01-01", "coming"),
        ("2024-04-30", "coming"),
        ("2024-05-01", "breaks"),
        ("2026-11-25", "breaks"),
    ],
)
def test_a_value_holds_from_its_day_on_and_a_later_one_supersedes_it(on: str, said: str) -> None:
    assert verdict(reviewed(BREAKING, DATED, on=on)) == said


def test_before_its_first_day_a_rule_is_not_in_force() -> None:
    text = sheet("Glycolic Acid 9", "Aqua qs")

    assert verdict(reviewed(text, DATED, on="2019-12-31")) == "not in force"
    assert verdict(reviewed(text, DATED, on="2020-01-01")) == "meets"


def test_the_order_in_which_a_file_writes_its_dates_does_not_matter() -> None:
    turned = at_most({"2024-05-01": {"max": 10}, "2020-01-01": {"max": 15}})

    assert verdict(reviewed(BREAKING, turned, on="2024-04-30")) == "coming"
    assert verdict(reviewed(BREAKING, turned, on="2024-05-01")) == "breaks"


def test_always_holds_on_every_day_until_a_date_supersedes_it() -> None:
    loosened = at_most({"always": {"max": 10}, "2024-05-01": {"max": 18}})

    assert verdict(reviewed(BREAKING, loosened, on="1970-01-01")) == "breaks"
    assert verdict(reviewed(BREAKING, loosened, on="2024-04-30")) == "breaks"
    assert verdict(reviewed(BREAKING, loosened, on="2024-05-01")) == "meets"


def test_a_repealed_rule_is_not_in_force_from_its_day_on() -> None:
    repealed = at_most({"2014-01-01": {"max": 10}, "2024-05-01": None})

    assert verdict(reviewed(BREAKING, repealed, on="2024-04-30")) == "breaks"
    assert verdict(reviewed(BREAKING, repealed, on="2024-05-01")) == "not in force"


def test_a_repeal_is_not_announced_as_a_break() -> None:
    text = sheet("Glycolic Acid 9", "Aqua qs")
    repealed = at_most({"2014-01-01": {"max": 10}, "2024-05-01": None})

    assert verdict(reviewed(text, repealed, on="2024-04-30")) == "meets"


def test_a_figure_that_was_not_read_is_undecided_with_the_reason_and_no_limit() -> None:
    unread = at_most({"2014-01-01": {"max": 10}, "2024-05-01": {"unread": "the figure of May 2024"}})
    found = reviewed(BREAKING, unread, on="2024-05-01")

    assert verdict(reviewed(BREAKING, unread, on="2024-04-30")) == "breaks"
    finding = only(found)
    assert (finding.verdict, finding.severity, finding.limit) == ("undecided", "warning", None)
    assert "not read: the figure of May 2024" in finding.message
    assert "12 % w/w" in finding.message
    assert found.outcome == "cannot tell"


def test_before_the_day_from_which_a_figure_is_known_the_verdict_is_open() -> None:
    known = at_most({"2015-04-16": {"max": 10}}, known_from="2015-04-16")

    for percent in ("9", "12"):
        text = sheet(f"Glycolic Acid {percent}", "Aqua qs")
        finding = only(reviewed(text, known, on="2015-04-15"))
        assert finding.verdict == "undecided"
        assert "2015-04-16" in finding.message
    assert verdict(reviewed(sheet("Glycolic Acid 9", "Aqua qs"), known, on="2015-04-16")) == "meets"
    assert verdict(reviewed(BREAKING, known, on="2015-04-16")) == "breaks"


# -- coming --------------------------------------------------------------------------------------------------------


def test_what_meets_today_and_breaks_on_a_known_day_is_coming_with_the_day() -> None:
    found = reviewed(BREAKING, DATED, on="2024-04-30")
    finding = only(found)

    assert (finding.verdict, finding.severity, finding.changes_on) == ("coming", "warning", "2024-05-01")
    assert finding.message.startswith("from 2024-05-01: ")
    assert "12 % w/w" in finding.message
    assert "at most 10" in finding.message
    assert found.meets == ("the-rule",)
    assert found.outcome == "meets"


def test_what_is_not_in_force_yet_and_will_break_is_coming() -> None:
    found = reviewed(BREAKING, at_most({"2027-01-01": {"max": 10}}))

    assert only(found).changes_on == "2027-01-01"
    assert found.not_in_force == ("the-rule",)
    assert found.outcome == "meets"


def test_the_first_day_on_which_it_breaks_is_told() -> None:
    steps = at_most(
        {"2020-01-01": {"max": 20}, "2027-01-01": {"max": 15}, "2028-01-01": {"max": 10}, "2029-01-01": {"max": 5}}
    )

    assert only(reviewed(BREAKING, steps)).changes_on == "2028-01-01"


def test_what_breaks_today_is_not_coming_as_well() -> None:
    found = reviewed(BREAKING, at_most({"2020-01-01": {"max": 10}, "2027-01-01": {"max": 5}}))

    assert [finding.verdict for finding in found.findings] == ["breaks"]


def test_every_substance_that_will_break_is_told_and_not_only_the_first() -> None:
    each = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"], "each": True}}, values={"2027-01-01": {"max": 5}})
    found = reviewed(sheet("Glycolic Acid 6", "Lactic Acid 7", "Aqua qs"), each)

    assert [(finding.verdict, finding.substances) for finding in found.findings] == [
        ("coming", ("Glycolic Acid",)),
        ("coming", ("Lactic Acid",)),
    ]


def test_a_coming_break_of_guidance_keeps_its_warning_and_of_a_note_its_note() -> None:
    later = {"2027-01-01": {"max": 10}}

    assert only(reviewed(BREAKING, at_most(later, binding="guidance"))).severity == "warning"
    assert only(reviewed(BREAKING, at_most(later, binding="practice", severity="note"))).severity == "note"


# -- stock ---------------------------------------------------------------------------------------------------------

STOCK = at_most({"2024-07-31": {"max": 10}}, stock={"2026-07-31": {"max": 10}})


@pytest.mark.parametrize(
    ("since", "on", "said"),
    [
        ("2024-07-30", "2024-07-30", "coming"),
        ("2024-07-30", "2024-07-31", "coming"),
        ("2024-07-30", "2026-07-30", "coming"),
        ("2024-07-30", "2026-07-31", "breaks"),
        ("2024-07-31", "2024-07-31", "breaks"),
        ("2025-01-01", "2026-07-30", "breaks"),
    ],
)
def test_stock_follows_later_when_it_was_on_the_market_before_the_day_of_new_products(
    since: str, on: str, said: str
) -> None:
    assert verdict(reviewed(sold(since), STOCK, on=on)) == said


def test_stock_is_told_its_own_day() -> None:
    assert only(reviewed(sold("2024-07-30"), STOCK, on="2025-01-01")).changes_on == "2026-07-31"


def test_a_product_that_states_no_day_is_new() -> None:
    assert verdict(reviewed(BREAKING, STOCK, on="2024-07-31")) == "breaks"
    assert only(reviewed(BREAKING, STOCK, on="2024-07-30")).changes_on == "2024-07-31"


def test_without_a_day_for_stock_the_day_of_new_products_holds_for_all() -> None:
    assert verdict(reviewed(sold("2019-01-01"), DATED, on="2024-05-01")) == "breaks"


def test_stock_keeps_the_older_value_until_its_day() -> None:
    steps = at_most({"2015-01-01": {"max": 15}, "2024-07-31": {"max": 10}}, stock={"2026-07-31": {"max": 10}})

    assert verdict(reviewed(sold("2020-01-01"), steps, on="2026-07-30")) == "coming"
    sixteen = sold("2020-01-01", sheet("Glycolic Acid 16", "Aqua qs"))
    assert verdict(reviewed(sixteen, steps, on="2026-07-30")) == "breaks"
    assert verdict(reviewed(sold("2020-01-01"), steps, on="2026-07-31")) == "breaks"


# -- memory --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("binding", ["law", "guidance", "opinion", "practice"])
def test_a_rule_from_memory_never_meets_and_never_gives_an_error(binding: str) -> None:
    memory = at_most({"always": {"max": 10}}, binding=binding, source={"ref": "common-practice", "read": "memory"})
    under = only(reviewed(sheet("Glycolic Acid 9", "Aqua qs"), memory))
    over = only(reviewed(BREAKING, memory))

    assert (under.verdict, under.severity) == ("undecided", "note")
    assert (over.verdict, over.severity) == ("breaks", "warning")
    for finding in (under, over):
        assert "from memory" in finding.message
        assert finding.read == "memory"


@pytest.mark.parametrize("amount", ["9", "12"])
def test_more_of_a_substance_does_not_turn_a_review_by_a_remembered_law_green(amount: str) -> None:
    memory = at_most({"always": {"max": 10}}, source={"ref": "common-practice", "read": "memory"})

    assert reviewed(sheet(f"Glycolic Acid {amount}", "Aqua qs"), memory).outcome == "cannot tell"


def test_law_from_memory_leaves_the_outcome_open_and_practice_from_memory_does_not() -> None:
    text = sheet("Glycolic Acid 9", "Aqua qs")
    source = {"ref": "common-practice", "read": "memory"}

    assert reviewed(text, at_most({"always": {"max": 10}}, source=source)).outcome == "cannot tell"
    assert reviewed(text, at_most({"always": {"max": 10}}, source=source, binding="practice")).outcome == "meets"


@pytest.mark.parametrize("read", ["primary", "secondary"])
def test_a_figure_that_was_read_decides(read: str) -> None:
    source = {"ref": "common-practice", "read": read}

    assert (
        verdict(reviewed(sheet("Glycolic Acid 9", "Aqua qs"), at_most({"always": {"max": 10}}, source=source)))
        == "meets"
    )
    assert only(reviewed(BREAKING, at_most({"always": {"max": 10}}, source=source))).severity == "error"


# -- severities and outcome ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("facts", "severity", "outcome"),
    [
        ({"binding": "law"}, "error", "breaks"),
        ({"binding": "arithmetic"}, "error", "breaks"),
        ({"binding": "guidance"}, "warning", "meets"),
        ({"binding": "opinion"}, "warning", "meets"),
        ({"binding": "practice"}, "warning", "meets"),
        ({"binding": "practice", "severity": "warning"}, "warning", "meets"),
        ({"binding": "practice", "severity": "note"}, "note", "meets"),
    ],
)
def test_the_binding_gives_the_severity_of_a_break_and_only_an_error_breaks_the_whole(
    facts: dict[str, str], severity: str, outcome: str
) -> None:
    found = reviewed(BREAKING, at_most({"always": {"max": 10}}, **facts))

    assert only(found).severity == severity
    assert found.outcome == outcome


@pytest.mark.parametrize(
    ("facts", "severity", "outcome"),
    [
        ({"binding": "law"}, "warning", "cannot tell"),
        ({"binding": "arithmetic"}, "warning", "cannot tell"),
        ({"binding": "guidance"}, "warning", "meets"),
        ({"binding": "opinion"}, "warning", "meets"),
        ({"binding": "practice", "severity": "warning"}, "warning", "meets"),
        ({"binding": "practice", "severity": "note"}, "note", "meets"),
    ],
)
def test_an_open_question_is_at_most_a_warning_and_leaves_the_whole_open_for_law_and_arithmetic(
    facts: dict[str, str], severity: str, outcome: str
) -> None:
    found = reviewed(BREAKING, at_most({"always": {"unread": "the figure"}}, **facts))

    assert (only(found).verdict, only(found).severity) == ("undecided", severity)
    assert found.outcome == outcome


def test_an_error_outweighs_an_open_question() -> None:
    broken = at_most({"always": {"max": 10}}, rule="broken")
    unread = at_most({"always": {"unread": "the figure"}}, rule="unread")

    assert reviewed(BREAKING, broken, unread).outcome == "breaks"
    assert reviewed(BREAKING, unread, broken).outcome == "breaks"


def test_without_a_finding_the_outcome_is_meets() -> None:
    found = reviewed(sheet("Glycolic Acid 9", "Aqua qs"), at_most({"always": {"max": 10}}))

    assert (found.findings, found.outcome, found.meets) == ((), "meets", ("the-rule",))


# -- markets -------------------------------------------------------------------------------------------------------


def for_market(market: str) -> dict[str, Any]:
    return at_most({"always": {"max": 10}}, applies={"markets": [market]})


@pytest.mark.parametrize(
    ("sold_in", "law_of", "said"),
    [
        ("eu", "eu", "breaks"),
        ("uk", "eu", "does not apply"),
        ("eu", "uk", "does not apply"),
        ("us-california", "us", "breaks"),
        ("us-washington", "us", "breaks"),
        ("us", "us-california", "does not apply"),
        ("us-california", "us-washington", "does not apply"),
        ("ca", "us", "does not apply"),
        ("asean", "eu", "does not apply"),
    ],
)
def test_a_state_has_the_law_of_its_country_and_no_market_that_of_another(sold_in: str, law_of: str, said: str) -> None:
    assert verdict(reviewed(sheet("Glycolic Acid 12", "Aqua qs", markets=sold_in), for_market(law_of))) == said


def test_federal_law_is_told_once_for_a_product_sold_in_the_country_and_in_a_state() -> None:
    text = sheet("Glycolic Acid 12", "Aqua qs", markets="us, us-california, us-washington")

    assert only(reviewed(text, for_market("us"))).market == "us"


def test_a_rule_of_two_markets_gives_one_finding_for_each_that_the_product_is_sold_in() -> None:
    both = at_most({"always": {"max": 10}}, applies={"markets": ["eu", "uk", "ca"]})
    found = reviewed(sheet("Glycolic Acid 12", "Aqua qs", markets="uk, eu, us"), both)

    assert [finding.market for finding in found.findings] == ["eu", "uk"]


def test_a_rule_without_a_market_holds_everywhere_and_names_none() -> None:
    text = sheet("Glycolic Acid 12", "Aqua qs", markets="eu, us, ca")

    assert only(reviewed(text, at_most({"always": {"max": 10}}))).market is None


def test_the_asked_markets_stand_in_for_the_formulas_own() -> None:
    assert verdict(reviewed(BREAKING, for_market("ca"), markets=["ca"])) == "breaks"
    assert verdict(reviewed(BREAKING, for_market("eu"), markets=["ca"])) == "does not apply"


# -- what kind of product ------------------------------------------------------------------------------------------

HAIR = "use: rinse-off, site: hair, form: liquid, audience: adults"


def for_product(applies: Any, **facts: Any) -> dict[str, Any]:
    return at_most({"always": {"max": 10}}, applies=applies, **facts)


def of_product(product: str, percent: str = "12") -> str:
    return sheet(f"Glycolic Acid {percent}", "Aqua qs", product=product)


@pytest.mark.parametrize(
    ("applies", "said"),
    [
        ({"use": "leave-on"}, "breaks"),
        ({"use": "rinse-off"}, "does not apply"),
        ({"use": "leave-on", "site": ["face", "body"]}, "breaks"),
        ({"use": "leave-on", "site": ["hair", "body"]}, "does not apply"),
        ([{"site": "hair"}, {"form": "gel"}], "breaks"),
        ([{"site": "hair"}, {"form": "cream"}], "does not apply"),
        ({"not": {"site": "face"}}, "does not apply"),
        ({"not": {"site": "hair"}}, "breaks"),
        ({"not": {"site": "face", "form": "cream"}}, "breaks"),
        ({"use": "leave-on", "not": {"form": "gel"}}, "does not apply"),
        ({"applied_by": "consumer"}, "breaks"),
        ({"applied_by": "professional"}, "does not apply"),
        ({"audience": "adults"}, "breaks"),
        ({"audience": ["family", "children"]}, "does not apply"),
    ],
)
def test_a_rule_applies_where_every_word_of_a_block_fits_and_any_block_does(applies: Any, said: str) -> None:
    assert verdict(reviewed(of_product(FACE), for_product(applies))) == said


@pytest.mark.parametrize(
    ("product", "said"),
    [
        (f"{HAIR}, kind: shampoo", "breaks"),
        (f"{HAIR}, kind: conditioner", "does not apply"),
        (f"{HAIR}, kind: other", "does not apply"),
        (HAIR, "undecided"),
        ("use: leave-on, site: hair, form: liquid, audience: adults", "does not apply"),
        ("use: rinse-off, site: hands, form: liquid, audience: adults", "does not apply"),
    ],
)
def test_a_product_without_a_kind_is_open_only_where_its_use_and_site_allow_the_kind(product: str, said: str) -> None:
    assert verdict(reviewed(of_product(product), for_product({"kind": "shampoo"}))) == said


def test_an_open_kind_asks_for_it() -> None:
    found = reviewed(of_product(HAIR), for_product({"kind": "shampoo"}))

    assert "depends on the kind" in only(found).message
    assert "product.kind" in only(found).needs[0]
    assert found.outcome == "cannot tell"


def test_what_meets_is_met_of_whatever_kind_it_is() -> None:
    assert verdict(reviewed(of_product(HAIR, "9"), for_product({"kind": "shampoo"}))) == "meets"


def test_a_ban_on_all_but_a_kind_is_open_as_well() -> None:
    applies = {"use": "rinse-off", "not": {"kind": "shampoo"}}

    assert verdict(reviewed(of_product(HAIR), for_product(applies))) == "undecided"
    assert verdict(reviewed(of_product(f"{HAIR}, kind: shampoo"), for_product(applies))) == "does not apply"
    assert verdict(reviewed(of_product(f"{HAIR}, kind: other"), for_product(applies))) == "breaks"


def test_a_no_by_another_word_settles_an_open_kind() -> None:
    assert verdict(reviewed(of_product(HAIR), for_product({"kind": "shampoo", "form": "cream"}))) == "does not apply"


def test_a_coming_break_that_hangs_on_an_open_kind_asks_for_the_kind() -> None:
    later = at_most({"2027-01-01": {"max": 10}}, applies={"kind": "shampoo"})
    findings = reviewed(of_product(HAIR), later).findings

    assert all("product.kind" in " ".join(finding.needs) for finding in findings)


# -- tiers ---------------------------------------------------------------------------------------------------------


def in_tiers(*tiers: tuple[Any, dict[str, Any]]) -> dict[str, Any]:
    found = [({"applies": applies} if applies else {}) | {"values": values} for applies, values in tiers]
    return rule({"percent": {"of": "Glycolic Acid"}}, tiers=found)


RINSED = in_tiers(({"use": "rinse-off"}, {"always": {"max": 20}}), (None, {"always": {"max": 10}}))


def test_the_first_tier_that_fits_decides() -> None:
    assert verdict(reviewed(of_product(FACE), RINSED)) == "breaks"
    assert verdict(reviewed(of_product(HAIR), RINSED)) == "meets"
    assert verdict(reviewed(of_product(HAIR, "20.1"), RINSED)) == "breaks"


def test_where_no_tier_fits_the_rule_does_not_apply() -> None:
    only_rinsed = in_tiers(({"use": "rinse-off"}, {"always": {"max": 10}}))

    assert verdict(reviewed(of_product(FACE), only_rinsed)) == "does not apply"
    assert verdict(reviewed(of_product(HAIR), only_rinsed)) == "breaks"


def test_tiers_that_agree_decide_and_tiers_that_differ_leave_it_open() -> None:
    kinds = in_tiers(({"kind": "shampoo"}, {"always": {"max": 20}}), (None, {"always": {"max": 10}}))

    assert verdict(reviewed(of_product(HAIR, "9"), kinds)) == "meets"
    assert verdict(reviewed(of_product(HAIR, "12"), kinds)) == "undecided"
    assert verdict(reviewed(of_product(HAIR, "21"), kinds)) == "breaks"
    assert verdict(reviewed(of_product(f"{HAIR}, kind: shampoo", "12"), kinds)) == "meets"
    assert verdict(reviewed(of_product(f"{HAIR}, kind: other", "12"), kinds)) == "breaks"


def test_a_tier_that_is_not_in_force_yet_leaves_an_open_kind_open() -> None:
    kinds = in_tiers(({"kind": "shampoo"}, {"2030-01-01": {"max": 10}}), (None, {"2020-01-01": {"max": 10}}))

    assert verdict(reviewed(of_product(f"{HAIR}, kind: other"), kinds)) == "breaks"
    today = {finding.verdict for finding in reviewed(of_product(HAIR), kinds).findings if finding.changes_on is None}
    assert today == {"undecided"}


# -- tables --------------------------------------------------------------------------------------------------------

TABLE = rule(
    {"percent": {}},
    rule="the-table",
    binding="opinion",
    rows=[
        {"entry": "1", "of": "Glycolic Acid", "values": {"always": {"max": 10}}, "why": "Row one has its own reason."},
        {"entry": "2a", "of": "Lactic Acid", "as": "Lactic Acid", "values": {"always": {"max": 10}}, "at": "column g"},
        {
            "entry": "3",
            "of": "Glycerin",
            "applies": {"site": "hair"},
            "values": {"always": {"max": 1}},
            "read": "memory",
        },
    ],
)


def test_a_row_is_addressed_by_rule_and_entry() -> None:
    found = reviewed(sheet("Glycolic Acid 12", "Lactic Acid 5", "Glycerin 5", "Aqua qs"), TABLE)
    finding = only(found, "the-table#1")

    assert (finding.rule, finding.entry, finding.address) == ("the-table", "1", "the-table#1")
    assert finding.why == "Row one has its own reason."
    assert found.meets == ("the-table#2a",)
    assert verdict(found, "the-table#3") == "does not apply"


def test_a_row_can_have_its_own_place_product_and_way_of_reading() -> None:
    assert only(reviewed(sheet("Lactic Acid 12", "Aqua qs"), TABLE), "the-table#2a").source["at"] == "column g"
    hair = sheet("Glycerin 0.5", "Aqua qs", product=HAIR)
    assert (only(reviewed(hair, TABLE), "the-table#3").verdict) == "undecided"


# -- deviations ----------------------------------------------------------------------------------------------------

OPINION = at_most({"always": {"max": 10}}, binding="opinion")


def departing(rule_id: str, more: str = "") -> str:
    return f"{BREAKING}deviations:\n  - {{rule: {rule_id}, reason: a patch test is in the file{more}}}\n"


def about_deviations(text: str, *rules: dict[str, Any], on: str = ON) -> str:
    finding = only(reviewed(text, *rules, on=on), "deviations")
    assert (finding.verdict, finding.severity) == ("breaks", "warning")
    assert pointed_at(text, finding).startswith("{rule:")
    return finding.message


def test_a_deviation_with_a_reason_covers_a_break_as_a_note() -> None:
    found = reviewed(departing("the-rule"), OPINION)
    finding = only(found)

    assert (finding.verdict, finding.severity) == ("deviation", "note")
    assert finding.deviation is not None
    assert finding.deviation.reason == "a patch test is in the file"
    assert found.outcome == "meets"
    assert len(found.findings) == 1


@pytest.mark.parametrize("binding", ["opinion", "guidance", "practice"])
def test_what_is_not_law_can_be_deviated_from(binding: str) -> None:
    assert verdict(reviewed(departing("the-rule"), OPINION | {"binding": binding})) == "deviation"


@pytest.mark.parametrize("binding", ["law", "arithmetic"])
def test_law_and_arithmetic_are_refused_and_still_break(binding: str) -> None:
    firm = OPINION | {"binding": binding}

    assert only(reviewed(departing("the-rule"), firm)).severity == "error"
    assert f"{binding} cannot be deviated from" in about_deviations(departing("the-rule"), firm)


def test_a_deviation_holds_on_its_last_day_and_not_on_the_day_after() -> None:
    text = departing("the-rule", ", until: 2026-11-25")

    assert verdict(reviewed(text, OPINION, on="2026-11-25")) == "deviation"
    assert verdict(reviewed(text, OPINION, on="2026-11-26")) == "breaks"
    assert "ran out on 2026-11-25" in about_deviations(text, OPINION, on="2026-11-26")


def test_a_renewed_deviation_covers_beside_the_one_that_ran_out() -> None:
    text = departing("the-rule", ", until: 2026-01-01") + "  - {rule: the-rule, reason: renewed, until: 2027-01-01}\n"
    found = reviewed(text, OPINION)

    assert verdict(found) == "deviation"
    assert "ran out on 2026-01-01" in only(found, "deviations").message


def test_of_two_deviations_from_one_rule_the_second_is_told() -> None:
    text = departing("the-rule") + "  - {rule: the-rule, reason: twice}\n"
    found = reviewed(text, OPINION)

    assert verdict(found) == "deviation"
    assert "another deviation from the same rule" in only(found, "deviations").message


@pytest.mark.parametrize("reason", ["''", "'   '", "~"])
def test_a_deviation_without_a_reason_is_told_at_its_place_and_accepts_nothing(reason: str) -> None:
    text = departing("the-rule").replace("a patch test is in the file", reason)
    faults = formula_of(text, Path())

    assert isinstance(faults, list)
    assert [(fault.where, fault.place.line) for fault in faults] == [("deviations[0].reason", text.count("\n"))]


def test_a_deviation_from_a_preservative_above_its_usual_dose_may_stay_while_that_is_open() -> None:
    text = sheet("Sodium Benzoate 2 as preservative", "Glycerin 5", "Aqua qs", extra="measured: {ph: 4.5}")
    accepted = f"{text}deviations: [{{rule: 'practice-preserved#benzoic-acid', reason: a test}}]\n"
    found = review(formula_from(accepted), load(), ON)

    assert verdict(found, "practice-preserved#benzoic-acid") == "undecided"
    assert [finding.message for finding in found.findings if finding.rule == "deviations"] == []


def test_an_unknown_rule_is_told_with_the_nearest() -> None:
    message = about_deviations(departing("the-ruel"), OPINION)

    assert '"the-ruel"' in message
    assert '"the-rule"' in message


def test_a_deviation_that_covers_nothing_is_told() -> None:
    loose = at_most({"always": {"max": 20}}, binding="opinion")

    assert "covers nothing" in about_deviations(departing("the-rule"), loose)


@pytest.mark.parametrize("values", [{"always": {"unread": "the figure"}}, {"2027-01-01": {"max": 10}}])
def test_a_deviation_does_not_cover_what_is_undecided_or_coming_and_may_stay_for_then(values: dict[str, Any]) -> None:
    rule_ = at_most(values, binding="opinion")
    found = reviewed(departing("the-rule"), rule_)

    assert verdict(found) in ("undecided", "coming")
    assert [finding.rule for finding in found.findings] == ["the-rule"]


def test_a_deviation_for_a_market_that_is_not_reviewed_may_stay() -> None:
    only_uk = OPINION | {"applies": {"markets": ["uk"]}}

    assert reviewed(departing("the-rule"), only_uk).findings == ()
    assert "covers nothing" in about_deviations(departing("the-rule").replace("12", "1"), OPINION)


def test_a_table_needs_its_row_and_the_bare_id_is_refused() -> None:
    assert "#ENTRY" in about_deviations(departing("the-table"), TABLE)
    assert verdict(reviewed(departing("the-table#1"), TABLE), "the-table#1") == "deviation"
    assert "covers nothing" in about_deviations(departing("the-table#2a"), TABLE)


def test_one_deviation_covers_the_rule_in_every_market() -> None:
    both = OPINION | {"applies": {"markets": ["eu", "uk"]}}
    text = departing("the-rule").replace("markets: [eu]", "markets: [eu, uk]")
    found = reviewed(text, both)

    assert [finding.verdict for finding in found.findings] == ["deviation", "deviation"]


# -- findings ------------------------------------------------------------------------------------------------------


def test_findings_come_in_the_order_of_the_text_and_then_by_rule() -> None:
    first = rule({"percent": {"of": "Lactic Acid"}}, rule="b-rule", values={"always": {"max": 1}})
    second = rule({"percent": {"of": "Lactic Acid"}}, rule="a-rule", values={"always": {"max": 1}})
    third = rule({"percent": {"of": "Glycolic Acid"}}, rule="z-rule", values={"always": {"max": 1}})
    found = reviewed(sheet("Glycolic Acid 2", "Lactic Acid 2", "Aqua qs"), first, second, third)

    assert [(finding.place.line, finding.rule) for finding in found.findings] == [
        (FIRST_LINE, "z-rule"),
        (FIRST_LINE + 1, "a-rule"),
        (FIRST_LINE + 1, "b-rule"),
    ]


def test_the_same_text_gives_the_same_review_twice() -> None:
    text = (SHIPPED / "bar-soap.yaml").read_text("utf-8").replace("shelf: ../shelf.yaml\n", "")

    assert review(formula_from(text), load(), ON) == review(formula_from(text), load(), ON)


def test_every_rule_is_met_found_not_in_force_or_counted_as_not_applying() -> None:
    rules = (
        at_most({"always": {"max": 20}}, rule="met"),
        at_most({"always": {"max": 10}}, rule="broken"),
        at_most({"2030-01-01": {"max": 20}}, rule="later"),
        rule({"percent": {"of": "Lactic Acid"}}, rule="other-substance", values={"always": {"max": 1}}),
        at_most({"always": {"max": 1}}, rule="other-market", applies={"markets": ["ca"]}),
        at_most({"always": {"max": 1}}, rule="other-product", applies={"site": "hair"}),
    )
    found = reviewed(BREAKING, *rules)

    assert found.meets == ("met",)
    assert [finding.rule for finding in found.findings] == ["broken"]
    assert found.not_in_force == ("later",)
    assert found.does_not_apply == 3


LINES = (
    "Glycolic Acid 3",
    "Lactic Acid 2.6 as exfoliant",
    "Sodium Lactate 1",
    "Sodium Benzoate 0.55",
    "Benzoic Acid 0.1",
    "Allantoin 0.6",
    "Methylparaben 0.5",
    "DMDM Hydantoin 0.2",
    "Glycerin 5",
    "Aqua qs",
)


def said_of(lines: tuple[str, ...]) -> set[tuple[str, str, str | None, frozenset[str]]]:
    found = review(formula_from(sheet(*lines, markets="eu, us, ca, asean")), load(), ON)
    said = {(f.address, f.verdict, f.market, frozenset(f.substances)) for f in found.findings}
    return said | {(address, "meets", None, frozenset()) for address in found.meets}


@settings(max_examples=25, deadline=None)
@given(st.randoms(use_true_random=False))
def test_the_order_of_the_lines_does_not_change_a_verdict(order: random.Random) -> None:
    shuffled = list(LINES)
    order.shuffle(shuffled)

    assert said_of(tuple(shuffled)) == said_of(LINES)


@settings(max_examples=60, deadline=None)
@given(st.integers(min_value=1, max_value=2000), st.integers(min_value=1, max_value=2000))
def test_more_of_a_substance_never_turns_a_break_of_a_ceiling_into_a_pass(first: int, second: int) -> None:
    less, more = sorted((first, second))
    ceiling = at_most({"always": {"max": 10}})

    if verdict(reviewed(sheet(f"Glycolic Acid {less / 100}", "Aqua qs"), ceiling)) == "breaks":
        assert verdict(reviewed(sheet(f"Glycolic Acid {more / 100}", "Aqua qs"), ceiling)) == "breaks"


# -- a kind that its own use or site rules out -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("product", "words"),
    [
        ("use: rinse-off, site: body, form: liquid, audience: adults, kind: mouthwash", "and for body"),
        ("use: leave-on, site: mouth, form: liquid, audience: adults, kind: mouthwash", "leave-on and for mouth"),
    ],
)
def test_a_kind_that_contradicts_use_or_site_leaves_the_outcome_open_at_its_place(product: str, words: str) -> None:
    text = sheet("Glycolic Acid 1", "Aqua qs", product=product)
    found = reviewed(text, at_most({"always": {"max": 10}}))

    finding = only(found, "product-kind")
    assert (finding.verdict, found.outcome) == ("undecided", "cannot tell")
    assert pointed_at(text, finding).startswith("product: ")
    assert words in finding.message


@pytest.mark.parametrize(
    "product",
    [
        "use: rinse-off, site: mouth, form: liquid, audience: adults, kind: mouthwash",
        "use: leave-on, site: mouth, form: liquid, audience: adults, kind: other",
        "use: leave-on, site: mouth, form: liquid, audience: adults",
    ],
)
def test_a_kind_that_goes_with_use_and_site_or_is_not_stated_contradicts_nothing(product: str) -> None:
    text = sheet("Glycolic Acid 1", "Aqua qs", product=product)

    assert reviewed(text, at_most({"always": {"max": 10}})).findings == ()
