"""Mends: the least change that makes a broken rule meet, proved by a review of the changed formula."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator
from decimal import Decimal
from pathlib import Path

import jsonschema
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from broken import formulas
from helpers import ON, book_of, formula_from, rule, sheet
from watchglass import schema
from watchglass.composition import expand
from watchglass.findings import Finding, Mend, Review
from watchglass.formula import QS, Formula
from watchglass.judge import FIGURE, review
from watchglass.mend import mended, with_mends
from watchglass.mend.amounts import Option, altered, options
from watchglass.mend.choice import LITTLE_BUFFER
from watchglass.mend.rewrite import rewritten
from watchglass.reports import json as json_report
from watchglass.reports import text as text_report
from watchglass.rulebook import Rulebook, load

BOOK = load()
REPORT = jsonschema.Draft202012Validator(schema.load("review"))
ROOT = Path(__file__).parents[1]


def reviewed(made: Formula, book: Rulebook = BOOK) -> Review:
    return review(made, book, ON, "jar.yaml")


def with_mend(text: str, *rules: dict[str, object], book: Rulebook | None = None) -> tuple[Formula, Review]:
    made = formula_from(text)
    book = book or book_of(*rules)
    return made, with_mends(reviewed(made, book), book)


def the_mend(text: str, *rules: dict[str, object]) -> Mend:
    """The mend of the one break."""
    _, found = with_mend(text, *rules)
    (mend,) = [finding.mend for finding in found.findings if finding.verdict == "breaks"]
    assert mend is not None
    return mend


def told(mend: Mend) -> list[str]:
    changes = [*mend.changes, *([mend.balance] if mend.balance else [])]
    return [f"{change.material} {change.before} to {change.after} {change.unit}" for change in changes]


def applied(made: Formula, mend: Mend) -> Formula:
    """The formula that a mend makes; a qs line takes the difference by itself."""
    if mend.changes[0].where == "batch":
        return made._replace(batch_grams=mend.changes[0].after)
    rests = {line.where for line in made.lines if line.percent == QS}
    changes = [*mend.changes, *([mend.balance] if mend.balance else [])]
    return altered(made, {change.where: change.after for change in changes if change.where not in rests})


def keys(findings: Iterable[Finding], verdict: str = "breaks") -> set[tuple[str, str | None]]:
    return {(finding.address, finding.market) for finding in findings if finding.verdict == verdict}


def meets(finding: Finding, after: Review) -> bool:
    """Whether a rule says nothing more of what it broke on; a figure from memory is met as far as it can be."""
    about = set(finding.substances)
    return not [
        left
        for left in after.findings
        if (left.address, left.market) == (finding.address, finding.market)
        and (not about or not left.substances or about & set(left.substances) or left.requirement == "preserved")
        and left.verdict != "coming"
        and left.needs != (FIGURE,)
    ]


# -- percent -------------------------------------------------------------------------------------------------------

CEILING = rule({"percent": {"of": "Glycolic Acid"}}, values={"always": {"max": 10}})
FLOOR = rule({"percent": {"of": "Glycerin"}}, rule="the-floor", values={"always": {"min": 5}})


def test_a_line_over_its_ceiling_goes_down_to_it_and_the_qs_line_takes_the_difference() -> None:
    mend = the_mend(sheet("Aqua qs", "Glycolic Acid 12.8"), CEILING)

    assert told(mend) == ["Glycolic Acid 12.8 to 10.00 %", "Aqua 87.2 to 90.00 %"]
    assert not mend.read_again


def test_a_line_under_its_floor_goes_up_to_it() -> None:
    assert told(the_mend(sheet("Aqua qs", "Glycerin 3"), FLOOR))[0] == "Glycerin 3 to 5.00 %"


def test_without_a_qs_line_the_largest_water_takes_the_difference() -> None:
    mend = the_mend(sheet("Aqua 20", "Aqua 67.2", "Glycolic Acid 12.8"), CEILING)

    assert told(mend) == ["Glycolic Acid 12.8 to 10.00 %", "Aqua 67.2 to 70.00 %"]
    assert mend.balance is not None
    assert mend.balance.where == "phases.one.lines[1]"


def test_grams_stay_grams_and_the_batch_keeps_its_weight() -> None:
    mend = the_mend(sheet("Aqua 436 g", "Glycolic Acid 64 g"), CEILING)

    assert [change.unit for change in (*mend.changes, mend.balance) if change] == ["g", "g"]
    assert [change.after for change in (*mend.changes, mend.balance) if change] == [Decimal(50), Decimal(450)]


def test_a_figure_is_rounded_to_the_side_on_which_the_rule_is_met() -> None:
    # 0.5 % as benzoic acid is 0.59003 % of the salt: 0.59 meets, 0.60 does not; 0.51 % is 0.6018 %.
    salt = rule({"percent": {"of": "Sodium Benzoate", "as": "Benzoic Acid"}}, values={"always": {"max": 0.5}})
    least = rule({"percent": {"of": "Sodium Benzoate", "as": "Benzoic Acid"}}, values={"always": {"min": 0.51}})

    assert the_mend(sheet("Aqua qs", "Sodium Benzoate 0.65"), salt).changes[0].after == Decimal("0.59")
    assert the_mend(sheet("Aqua qs", "Sodium Benzoate 0.25"), least).changes[0].after == Decimal("0.61")


def test_the_whole_interval_of_an_assay_is_brought_inside() -> None:
    extra = "materials:\n  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}, tolerance: 1}"

    # 10 / 0.71 is 14.0845
    assert the_mend(sheet("Aqua qs", "glycolic-70 18", extra=extra), CEILING).changes[0].after == Decimal("14.08")


def test_no_figure_is_finer_than_the_balance_shows() -> None:
    text = sheet("Aqua qs", "Glycolic Acid 12.83", extra="batch: 100 g\nbalance: 0.2 g")

    # 9.9 + 0.1 is 10: half a division of 0.2 g on 100 g counts
    assert the_mend(text, CEILING).changes[0].after == Decimal("9.8")


def test_a_narrow_window_is_met_with_more_digits() -> None:
    window = rule({"percent": {"of": "Glycolic Acid"}}, values={"always": {"above": 9.992, "below": 9.998}})

    assert the_mend(sheet("Aqua qs", "Glycolic Acid 12"), window).changes[0].after == Decimal("9.997")


def test_what_must_not_be_in_a_product_is_taken_out() -> None:
    none = rule({"percent": {"of": "Glycolic Acid"}}, values={"always": {"max": 0}})

    assert the_mend(sheet("Aqua qs", "Glycolic Acid 0.3"), none).changes[0].after == 0


def test_a_sum_over_its_ceiling_is_mended_on_one_line_where_one_suffices() -> None:
    both = rule({"percent": {"of": ["Glycolic Acid", "Lactic Acid"]}}, values={"always": {"max": 10}})
    mend = the_mend(sheet("Aqua qs", "Glycolic Acid 2", "Lactic Acid 9"), both)

    assert len(mend.changes) == 1
    assert mend.changes[0].before - mend.changes[0].after == 1


def test_where_two_rules_pull_apart_both_are_named_with_the_gap() -> None:
    at_most = rule({"percent": {"of": "Glycerin"}}, rule="the-ceiling", values={"always": {"max": 4}})
    mend = the_mend(sheet("Aqua qs", "Glycerin 3"), FLOOR, at_most)

    assert mend.changes == ()
    assert mend.none_because is not None
    assert mend.none_because.startswith("the-floor asks for 5 % of Glycerin, and there the-ceiling breaks")
    assert "4 %: they lie 1 % apart" in mend.none_because


def test_without_water_or_qs_nothing_can_take_the_difference() -> None:
    mend = the_mend(sheet("Glycolic Acid 12", "Glycerin 88"), CEILING)

    assert mend.none_because == "no line can take the difference: make the water qs"


# -- pH ------------------------------------------------------------------------------------------------------------

PH = rule({"ph": {"of": "Lactic Acid"}}, values={"always": {"min": 3.5}})
STOCK = "materials:\n  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}}"


def test_a_ph_below_its_floor_is_mended_by_the_base_and_not_by_less_acid() -> None:
    made, found = with_mend(sheet("Aqua qs", "Lactic Acid 5", "caustic-20 0.5", extra=STOCK), PH)
    (mend,) = [finding.mend for finding in found.findings]
    assert mend is not None

    after = reviewed(applied(made, mend), book_of(PH))
    assert [change.material for change in mend.changes] == ["caustic-20"]
    assert mend.changes[0].after > mend.changes[0].before
    assert after.meets == ("the-rule",)
    one_step_less = altered(made, {mend.changes[0].where: mend.changes[0].after - Decimal("0.01")})
    assert reviewed(one_step_less, book_of(PH)).meets == ()


def test_a_ph_above_its_ceiling_is_mended_by_the_acid_that_sets_it_or_by_less_base() -> None:
    high = rule({"ph": {"of": "Sodium Benzoate"}}, values={"always": {"max": 5}})
    lines = ("Aqua qs", "Sodium Benzoate 0.5", "Sodium Citrate 0.5 as buffering", "Citric Acid 0.05 as pH adjuster")
    mend = the_mend(sheet(*lines), high)

    assert [change.material for change in mend.changes] == ["Citric Acid"]


def test_a_reading_is_moved_with_the_prediction_and_not_believed_of_the_new_jar() -> None:
    # The prediction alone meets the floor already; the jar that was read does not.
    text = sheet("Aqua qs", "Lactic Acid 2", "caustic-20 2.6", extra=f"{STOCK}\nmeasured: {{ph: 3.3}}")
    made, found = with_mend(text, PH)
    (mend,) = [finding.mend for finding in found.findings if finding.requirement == "ph"]
    assert mend is not None

    before, after = reviewed(made._replace(measured=None)), reviewed(applied(made, mend))
    assert before.solution is not None
    assert before.solution.predicted is not None
    assert after.solution is not None
    assert after.solution.predicted is not None
    moved = after.solution.predicted.value - before.solution.predicted.value
    assert before.solution.predicted.interval.low > Decimal("3.5")
    assert Decimal("3.25") + moved >= Decimal("3.5")
    assert mend.read_again


def test_a_window_narrower_than_the_prediction_is_told_with_the_amount_that_aims_at_its_middle() -> None:
    narrow = rule({"ph": {"of": "Lactic Acid"}}, values={"always": {"min": 3.95, "max": 4.05}})
    mend = the_mend(sheet("Aqua qs", "Lactic Acid 5", "caustic-20 0.5", extra=STOCK), narrow)

    assert mend.none_because is not None
    aimed = re.search(r"about ([0-9.]+) % of caustic-20 aims at its middle", mend.none_because)
    assert aimed is not None
    made = formula_from(sheet("Aqua qs", "Lactic Acid 5", f"caustic-20 {aimed[1]}", extra=STOCK))
    solution = reviewed(made).solution
    assert solution is not None
    assert solution.predicted is not None
    assert abs(solution.predicted.interval.middle - 4) < Decimal("0.01")


def test_a_ph_that_cannot_be_predicted_is_not_mended_on_paper() -> None:
    text = sheet("Aqua qs", "Lactic Acid 5", "Carbomer 0.5", extra="measured: {ph: 2.4}")
    mend = the_mend(text, PH)

    assert mend.none_because is not None
    assert "Carbomer" in mend.none_because
    assert "titrate" in mend.none_because


def test_a_mend_is_found_beyond_the_neutral_where_no_ph_can_be_told() -> None:
    high = rule({"ph": {"of": "Sodium Hydroxide"}}, values={"always": {"max": 5}})
    made, found = with_mend(sheet("Aqua qs", "caustic-20 0.44", "Mandelic Acid 0.21", extra=STOCK), high)
    (mend,) = [finding.mend for finding in found.findings]
    assert mend is not None

    assert [change.material for change in mend.changes] == ["caustic-20"]
    assert mend.changes[0].after > 0
    assert reviewed(applied(made, mend), book_of(high)).meets == ("the-rule",)


def test_a_larger_change_that_breaks_nothing_still_makes_its_rule_meet() -> None:
    # 8.72 % dissolves the acid and takes another rule's pH; a little more takes the pH out of what can be told.
    text = sheet(
        "Aqua qs",
        "caustic-20 0.49",
        "Salicylic Acid 1.20 as preservative",
        "lactic-88 3.50 as exfoliant",
        product="use: rinse-off, site: hair, form: liquid, audience: adults",
        extra=(
            "batch: 500 g\nbalance: 0.1 g\nmeasured: {ph: 3.3}\n"
            f"{STOCK}\n  lactic-88: {{contains: {{Lactic Acid: 88, Aqua: qs}}, tolerance: 0.5}}"
        ),
    )
    made, found = with_mend(text, book=BOOK)

    for finding in found.findings:
        if finding.mend is not None and finding.mend.changes:
            assert meets(finding, reviewed(applied(made, finding.mend))), finding.message


def test_a_second_line_makes_good_what_the_first_one_breaks() -> None:
    # Less salt leaves too much acid: the pH falls out of its window, and the base brings it back.
    less = rule({"percent": {"of": "Sodium Lactate"}}, rule="the-ceiling", values={"always": {"max": 1}})
    window = rule({"ph": {"of": "Lactic Acid"}}, rule="the-window", values={"always": {"min": 3.5}})
    text = sheet("Aqua qs", "Lactic Acid 4", "Sodium Lactate 6", "caustic-20 0.5", extra=STOCK)
    made, found = with_mend(text, less, window)
    (mend,) = [finding.mend for finding in found.findings if finding.verdict == "breaks"]
    assert mend is not None

    assert len(mend.changes) == 2
    assert mend.changes[0].material == "Sodium Lactate"
    assert set(reviewed(applied(made, mend), book_of(less, window)).meets) == {"the-ceiling", "the-window"}


# -- totals --------------------------------------------------------------------------------------------------------


def shipped_mend(text: str, address: str) -> Mend | None:
    _, found = with_mend(text, book=BOOK)
    return next(finding.mend for finding in found.findings if finding.address == address)


def test_lines_that_make_less_than_100_get_the_rest_as_water() -> None:
    mend = shipped_mend(sheet("Glycerin 5", "Aqua 94.4"), "product-total")

    assert mend is not None
    assert told(mend) == ["Aqua 94.4 to 95.0 %"]


def test_lines_that_make_more_than_100_lose_it_from_the_water() -> None:
    mend = shipped_mend(sheet("Glycerin 5", "Aqua 95.6"), "product-total")

    assert mend is not None
    assert told(mend) == ["Aqua 95.6 to 95.0 %"]


def test_a_qs_line_without_room_gets_it_from_the_largest_line() -> None:
    made, found = with_mend(sheet("Glycerin 60", "Squalane 42", "Aqua qs"), book=BOOK)
    mend = next(finding.mend for finding in found.findings if finding.address == "product-total")

    assert mend is not None
    assert told(mend) == ["Glycerin 60 to 58 %"]
    assert expand(applied(made, mend), BOOK.substances).total_percent == 100


def test_a_batch_that_the_grams_do_not_make_is_mended_and_no_line_changes() -> None:
    made, found = with_mend(sheet("Glycerin 50 g", "Aqua 450 g", extra="batch: 600 g"), book=BOOK)
    mend = next(finding.mend for finding in found.findings if finding.address == "batch-weight")

    assert mend is not None
    assert told(mend) == ["batch 600 to 500 g"]
    assert keys(reviewed(applied(made, mend)).findings) == keys(reviewed(made).findings) - {("batch-weight", None)}


def test_a_break_without_a_number_has_no_mend() -> None:
    _, found = with_mend(sheet("Aqua qs", "Glycerin 5"), book=BOOK)

    assert [f.mend for f in found.findings if f.address == "practice-preserved"] == [None]


def test_a_formula_that_breaks_nothing_is_handed_back_as_it_is() -> None:
    made = formula_from(sheet("Aqua qs", "Glycolic Acid 5"))
    found = reviewed(made, book_of(CEILING))

    assert with_mends(found, book_of(CEILING)) is found
    assert mended(found, book_of(CEILING)) is None


# -- what is told --------------------------------------------------------------------------------------------------


def test_the_text_tells_a_mend_in_one_line() -> None:
    _, found = with_mend(sheet("Aqua qs", "Glycolic Acid 12.8", extra="measured: {ph: 2}"), CEILING)

    lines = text_report.write([found], book_of(CEILING), ON).splitlines()
    assert "    mend: Glycolic Acid from 12.8 to 10 %, Aqua from 87.2 to 90 %; then read the pH again" in lines


def test_the_text_tells_why_there_is_no_mend() -> None:
    _, found = with_mend(sheet("Glycolic Acid 12", "Glycerin 88"), CEILING)

    lines = text_report.write([found], book_of(CEILING), ON).splitlines()
    assert "    no mend: no line can take the difference: make the water qs" in lines


def test_the_json_holds_the_change_and_what_balances_it() -> None:
    _, found = with_mend(sheet("Aqua qs", "Glycolic Acid 12.8"), CEILING)

    (finding,) = json.loads(json_report.write([found], book_of(CEILING), ON))["reviews"][0]["findings"]
    line = {"unit": "%"}
    assert finding["mend"] == {
        "change": [line | {"where": "phases.one.lines[1]", "material": "Glycolic Acid", "from": "12.8", "to": "10"}],
        "balanced_by": line | {"where": "phases.one.lines[0]", "material": "Aqua", "from": "87.2", "to": "90"},
        "read_ph_again": False,
    }


# -- any formula ---------------------------------------------------------------------------------------------------


def check_mends(text: str) -> None:
    """Each mend holds: the rule meets, nothing new breaks, and the total stays."""
    made = formula_from(text)
    found = with_mends(reviewed(made), BOOK)
    broken = [finding for finding in found.findings if finding.verdict == "breaks"]
    assume(broken)
    assert found.composition is not None
    REPORT.validate(json.loads(json_report.write([found], BOOK, ON)))
    for finding in broken:
        mend = finding.mend
        if mend is None:
            continue
        assert bool(mend.changes) != bool(mend.none_because)
        if mend.changes:
            after = reviewed(applied(made, mend))
            assert meets(finding, after), (finding.message, told(mend), text)
            assert keys(after.findings) <= keys(found.findings) | {("deviations", None)}, (told(mend), text)
            assert after.composition is not None
            is_off = finding.requirement == "total"
            wanted = Decimal(100) if is_off else found.composition.total_percent
            assert abs(after.composition.total_percent - wanted) < Decimal("1e-40"), text
            if all(line.grams is None for line in made.lines):
                assert after.composition.total_percent == wanted, text


def _grid(made: Formula) -> Iterator[tuple[Option, Formula]]:
    """The formula with each line at twenty amounts up to all that there is room for, and at ten near its own."""
    for option in options(made, BOOK.substances).values():
        amounts = {option.most * step / 20 for step in range(21)} | {option.amount * step / 5 for step in range(11)}
        for amount in sorted(amount for amount in amounts if amount <= option.most):
            yield option, altered(made, option.amounts(amount))


WIDEST = Decimal(str(BOOK.model.widest_mended_ph))


def _is_asked(option: Option, finding: Finding) -> bool:
    """Whether a line is one that a mend of this break may change, see decision 10."""
    if finding.unit == "pH":
        return option.line.function != "preservative"
    return finding.requirement == "percent" or option.line.material in finding.substances


def _is_beyond_neutral(finding: Finding, before: Review, after: Review) -> bool:
    """Where two rules pull apart, what lies on the other side of neutral is looked at in places only."""
    assert finding.mend is not None
    sides = {
        review_.solution.predicted.value > 7
        for review_ in (before, after)
        if review_.solution is not None and review_.solution.predicted is not None
    }
    return "asks for" in (finding.mend.none_because or "") and len(sides) == 2


def check_none(text: str) -> None:
    """Where no mend was found, no amount on a grid is one."""
    made = formula_from(text)
    found = with_mends(reviewed(made), BOOK)
    unmended = [f for f in found.findings if f.mend is not None and not f.mend.changes and f.requirement != "total"]
    unmended = [f for f in unmended if f.mend is None or LITTLE_BUFFER not in (f.mend.none_because or "")]
    assume(unmended)
    for option, changed in _grid(made):
        after = reviewed(changed)
        assert after.composition is not None
        if after.solution is None or not after.solution.has_water:
            continue
        for finding in unmended:
            if not _is_asked(option, finding):
                continue
            there = {portion.substance.name for portion in after.composition.portions if portion.percent.high > 0}
            if finding.unit == "pH" and finding.substances and not there & set(finding.substances):
                continue  # without its substances the rule is not met; it does not apply
            predicted = after.solution.predicted
            if (
                finding.unit == "pH"
                and predicted is not None
                and predicted.interval.high - predicted.interval.low > WIDEST
            ):
                continue  # so little buffer is left that no such amount is advised
            if _is_beyond_neutral(finding, found, after):
                continue
            is_mend = meets(finding, after) and keys(after.findings) <= keys(found.findings)
            assert not is_mend, (
                finding.message,
                finding.mend,
                [(line.material, line.percent) for line in changed.lines],
                text,
            )


@settings(max_examples=100, deadline=None)
@given(formulas())
def test_any_mend_makes_its_rule_meet_and_breaks_nothing(text: str) -> None:
    check_mends(text)


@pytest.mark.long
@settings(max_examples=1_000, deadline=None)
@given(formulas(slow=True))
def test_any_of_a_thousand_mends_makes_its_rule_meet_and_breaks_nothing(text: str) -> None:
    check_mends(text)


@settings(max_examples=20, deadline=None)
@given(formulas(reading=False))
def test_where_no_mend_is_told_no_amount_on_a_grid_is_one(text: str) -> None:
    check_none(text)


@pytest.mark.long
@settings(max_examples=300, deadline=None)
@given(formulas(reading=False))
def test_where_no_mend_is_told_no_amount_on_a_grid_is_one_in_hundreds_of_formulas(text: str) -> None:
    check_none(text)


# -- the mended copy -----------------------------------------------------------------------------------------------

NUMBER = re.compile(rb"(?<=[ :])[0-9]+(\.[0-9]+)?")


def copied(text: bytes, folder: Path) -> tuple[bytes, Formula] | None:
    made = formula_from(text.decode("utf-8-sig"))
    after = mended(reviewed(made), BOOK)
    return None if after is None else (rewritten(text, made, after, folder), after)


def without_numbers(text: bytes) -> bytes:
    return NUMBER.sub(b"N", text.replace(b"# measured:", b"measured:"))


@settings(max_examples=25, deadline=None)
@given(formulas(), st.sampled_from(["\n", "\r\n"]), st.sampled_from([b"", b"\xef\xbb\xbf"]))
def test_a_copy_differs_in_its_numbers_alone_and_in_a_reading_that_is_set_aside(
    text: str, end: str, mark: bytes
) -> None:
    data = mark + text.replace("\n", end).encode()
    found = copied(data, ROOT)
    assume(found is not None)
    assert found is not None
    copy, after = found

    assert without_numbers(copy) == without_numbers(data)
    assert copy != data
    again = reviewed(formula_from(copy.decode("utf-8-sig")))
    assert keys(again.findings) == keys(reviewed(after).findings)
    assert keys(again.findings) <= keys(reviewed(formula_from(text)).findings)


def test_a_copy_keeps_comments_order_and_spaces() -> None:
    text = (
        "# kept\nformula:   A jar\nproduct: {use: leave-on, site: face, form: gel, audience: adults}\nmarkets: [us]\n"
        "phases:\n  one:\n    lines:\n    - material: Glycolic Acid   # 12.80\n      percent:  12.80   # see?\n"
        '      function: "exfoliant"\n    - {percent: qs, material: Aqua}\n'
        "    - {material: caustic-20, percent: 13}\n" + STOCK + "\n"
    ).encode()
    found = copied(text, ROOT)

    assert found is not None
    assert found[0] == text.replace(b"percent:  12.80 ", b"percent:  10.00 ")


def test_a_reading_in_several_lines_is_set_aside_whole() -> None:
    text = sheet("Aqua qs", "Glycolic Acid 12.8", "caustic-20 5", markets="us", extra=STOCK).replace(
        "phases:", "measured:\n  # with the new meter\n  ph: 3.8\n  by: meter\n\n# the phases\nphases:"
    )
    found = copied(text.encode(), ROOT)

    assert found is not None
    expected = "# measured:\n#   # with the new meter\n#   ph: 3.8\n#   by: meter\n\n# the phases\nphases:"
    assert expected in found[0].decode()
    assert formula_from(found[0].decode()).measured is None
