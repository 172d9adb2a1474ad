"""What is really in the jar: materials and premixes expanded, totals, tolerances, names."""

from __future__ import annotations

import random
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from jar import HEAD, formula_from, verdict
from watchglass.composition import MOST_OPENED, MOST_PREMIX_DEPTH, Complaint, Composition, expand, expansion
from watchglass.formula import Formula
from watchglass.interval import Interval
from watchglass.nearest import folded
from watchglass.rulebook import load

SUBSTANCES = load().substances


def made(lines: list[str], materials: str = "", extra: str = "") -> Formula:
    body = "\n".join(f"      - {{{line}}}" for line in lines)
    return formula_from(f"{HEAD}{extra}phases:\n  jar:\n    lines:\n{body}\n{materials}")


def expanded(lines: list[str], materials: str = "", extra: str = "") -> Composition:
    return expand(made(lines, materials, extra), SUBSTANCES)


def complaints(found: Composition, about: str) -> list[Complaint]:
    return [complaint for complaint in found.complaints if complaint.about == about]


def exactly(found: Composition) -> dict[str, str]:
    """Substance to percent, all of them exact."""
    by_substance = found.by_substance()
    assert all(percent.is_exact for percent in by_substance.values())
    return {name: f"{percent.low.normalize():f}" for name, percent in by_substance.items()}


# -- percents ---------------------------------------------------------------------------------------------------------


def test_the_qs_line_takes_the_rest() -> None:
    found = expanded(["material: Aqua, percent: qs", "material: Glycerin, percent: 5.25", "material: Urea, percent: 3"])
    assert exactly(found) == {"Aqua": "91.75", "Glycerin": "5.25", "Urea": "3"}
    assert found.total_percent == 100
    assert found.complaints == ()


def test_two_lines_of_one_substance_add_up() -> None:
    found = expanded(
        ["material: Aqua, percent: qs", "material: Glycerin, percent: 2", "material: Glycerin, percent: 3"]
    )
    assert found.percent(["Glycerin"]) == Interval.exactly(5)
    assert len(found.portions) == 3


def test_twelve_digits_are_kept() -> None:
    found = expanded(["material: Aqua, percent: qs", "material: Glycerin, percent: 0.123456789012"])
    assert exactly(found)["Aqua"] == "99.876543210988"
    assert found.total_percent == 100


def test_a_share_of_a_share_has_no_rounding() -> None:
    # 12.3456789 % of 12.3456789 % of 12.3456789 %: by whole numbers
    materials = """\
materials:
  one: {contains: {two: 12.3456789, Aqua: qs}}
  two: {contains: {Urea: 12.3456789, Aqua: qs}}
"""
    found = expanded(["material: one, percent: 12.3456789", "material: Aqua, percent: qs"], materials)
    assert found.percent(["Urea"]).low == Decimal(123456789**3).scaleb(-25)
    assert found.percent(["Urea", "Aqua"]) == Interval.exactly(100)


@pytest.mark.parametrize("total", ["33.3333", "33.33"])
def test_three_thirds_are_told_apart_from_a_hundred(total: str) -> None:
    lines = [f"material: {name}, percent: {total}" for name in ("Aqua", "Glycerin", "Propanediol")]
    found = expanded(lines)
    assert found.total_percent == 3 * Decimal(total)
    # 99.9999 is within the hundredth that rounding is allowed, 99.99 is on its edge
    assert verdict("product-total", made(lines)) == "meets"


@pytest.mark.parametrize(
    ("last", "expected"),
    [("49.98", "breaks"), ("49.99", "meets"), ("50", "meets"), ("50.01", "meets"), ("50.02", "breaks")],
)
def test_the_lines_make_a_hundred_within_a_hundredth(last: str, expected: str) -> None:
    assert (
        verdict("product-total", made(["material: Aqua, percent: 50", f"material: Urea, percent: {last}"])) == expected
    )


def test_two_qs_lines_are_told_at_the_second() -> None:
    found = expanded(["material: Aqua, percent: qs", "material: Glycerin, percent: qs", "material: Urea, percent: 3"])
    (complaint,) = complaints(found, "product")
    assert "second qs" in complaint.message
    assert complaint.where == "phases.jar.lines[1]"
    assert complaint.place.line == 8
    assert exactly(found)["Aqua"] == "97"


def test_a_negative_qs_is_told_with_both_figures() -> None:
    found = expanded(["material: Aqua, percent: qs", "material: Glycerin, percent: 60", "material: Urea, percent: 41"])
    (complaint,) = complaints(found, "product")
    assert "-1 %" in complaint.message
    assert "101 %" in complaint.message
    assert found.percent(["Aqua"]) == Interval.exactly(0)


def test_a_qs_of_nothing_is_no_fault() -> None:
    found = expanded(["material: Aqua, percent: qs", "material: Glycerin, percent: 60", "material: Urea, percent: 40"])
    assert found.complaints == ()
    assert found.percent(["Aqua"]) == Interval.exactly(0)


# -- grams ------------------------------------------------------------------------------------------------------------

HALVES = ["material: Aqua, grams: 150", "material: Glycerin, grams: 50"]


def test_grams_are_shares_of_their_sum() -> None:
    assert exactly(expanded(HALVES)) == {"Aqua": "75", "Glycerin": "25"}
    found = expanded(["material: Aqua, grams: 2", "material: Glycerin, grams: 1"])
    assert found.percent(["Glycerin"]).rounded(10) == Interval.exactly("33.3333333333")
    assert abs(found.total_percent - 100) < Decimal("1e-24")
    thirds = ["material: Aqua, grams: 1", "material: Glycerin, grams: 1", "material: Urea, grams: 1"]
    assert verdict("product-total", made(thirds)) == "meets"


@pytest.mark.parametrize(
    ("batch", "expected"),
    [
        ("200 g", "meets"),
        ("0.2 kg", "meets"),
        ("200.02 g", "meets"),  # 99.99 %
        ("199.98 g", "meets"),  # 100.01 %
        ("200.03 g", "breaks"),
        ("199.97 g", "breaks"),
        ("500 g", "breaks"),
    ],
)
def test_grams_agree_with_the_batch_within_a_hundredth_of_a_percent(batch: str, expected: str) -> None:
    assert verdict("batch-weight", made(HALVES, extra=f"batch: {batch}\n")) == expected


def test_grams_without_a_batch_are_not_asked_to_agree() -> None:
    assert verdict("batch-weight", made(HALVES)) is None


def test_grams_beside_percents_are_a_share_of_the_batch() -> None:
    mixed = ["material: Aqua, percent: qs", "material: Glycerin, grams: 25", "material: Urea, percent: 3"]
    found = expanded(mixed, extra="batch: 500 g\n")
    assert exactly(found) == {"Aqua": "92", "Glycerin": "5", "Urea": "3"}
    assert found.complaints == ()


def test_grams_beside_percents_without_a_batch_are_told() -> None:
    mixed = ["material: Aqua, percent: qs", "material: Glycerin, grams: 25", "material: Urea, percent: 3"]
    (complaint,) = complaints(expanded(mixed), "batch")
    assert "need the batch" in complaint.message
    assert complaint.where == "phases.jar.lines[1]"
    assert verdict("batch-weight", made(mixed)) == "breaks"


def test_lines_that_weigh_nothing_are_told() -> None:
    found = expanded(["material: Aqua, grams: 0", "material: Glycerin, grams: 0"])
    (complaint,) = complaints(found, "batch")
    assert "0 g" in complaint.message


# -- materials --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("water", "expected"),
    [("11", "breaks"), ("11.99", "meets"), ("12", "meets"), ("12.01", "meets"), ("12.02", "breaks")],
)
def test_the_parts_of_a_material_make_a_hundred_within_a_hundredth(water: str, expected: str) -> None:
    materials = f"materials: {{lactic-88: {{contains: {{Lactic Acid: 88, Aqua: {water}}}}}}}"
    lines = ["material: lactic-88, percent: 4.5", "material: Aqua, percent: qs"]
    assert verdict("material-total", made(lines, materials)) == expected


@pytest.mark.parametrize("total", [99, 101])
def test_a_material_that_no_line_uses_is_checked_too(total: int) -> None:
    materials = f"materials: {{spare: {{contains: {{Lactic Acid: {total - 12}, Aqua: 12}}}}}}"
    lines = ["material: Glycerin, percent: 5", "material: Aqua, percent: qs"]
    assert verdict("material-total", made(lines, materials)) == "breaks"


def test_a_material_counts_as_what_it_contains() -> None:
    materials = "materials: {lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}}"
    found = expanded(["material: Aqua, percent: qs", "material: lactic-88, percent: 4.5"], materials)
    assert exactly(found) == {"Aqua": "96.04", "Lactic Acid": "3.96"}
    (lactic,) = [portion for portion in found.portions if portion.substance.name == "Lactic Acid"]
    assert lactic.strength == Interval.exactly(88)
    assert lactic.line.material == "lactic-88"


def test_a_material_is_used_whatever_its_case() -> None:
    materials = "materials: {our urea: {contains: {Glycerin: 86, Aqua: qs}}}"
    found = expanded(["material: OUR Urea, percent: 10", "material: Aqua, percent: qs"], materials)
    assert exactly(found) == {"Aqua": "91.4", "Glycerin": "8.6"}


def test_a_material_with_the_name_of_a_substance_is_told_and_not_counted_as_pure() -> None:
    materials = "materials: {glycerin: {contains: {Glycerin: 86, Aqua: qs}}}"
    found = expanded(["material: Glycerin, percent: 10", "material: Aqua, percent: qs"], materials)
    told = [complaint.message for complaint in complaints(found, "material")]
    assert told[0] == 'the material "glycerin" has the name of a substance; give it a name of its own'
    assert found.percent(["Glycerin"]) == Interval.exactly(0)


def test_materials_whose_names_differ_only_in_case_are_told() -> None:
    materials = "materials: {stock: {contains: {Aqua: 100}}, Stock: {contains: {Urea: 100}}}"
    found = expanded(["material: stock, percent: 10", "material: Aqua, percent: qs"], materials)
    (complaint,) = complaints(found, "material")
    assert complaint.message == 'the materials "stock" and "Stock" have the same name but for its case'


def test_materials_that_all_hold_one_another_end_soon_and_are_told() -> None:
    names = [f"m{number}" for number in range(12)]
    rows = [
        f"  {name}: {{contains: {{{', '.join(f'{other}: 5' for other in names if other != name)}}}}}" for name in names
    ]
    found = expanded(["material: m0, percent: 100"], "\n".join(["materials:", *rows]))
    told = [complaint.message for complaint in complaints(found, "material")]
    assert any("goes round in a circle" in message for message in told)
    assert any(f"more than {MOST_OPENED:,} parts" in message for message in told)


def test_a_blend_and_its_premix_have_the_same_arithmetic() -> None:
    lines = ["material: Aqua, percent: qs", "material: stock, percent: 5.4"]
    parts = "{Sodium Hydroxide: 20, Aqua: 80}"
    bought = expanded(lines, f"materials: {{stock: {{contains: {parts}}}}}")
    own = expanded(lines, f"materials: {{stock: {{premix: {parts}}}}}")
    assert exactly(bought) == exactly(own) == {"Aqua": "98.92", "Sodium Hydroxide": "1.08"}


def nested(depth: int) -> str:
    """Materials inside one another, the innermost holding urea."""
    rows = [f"  m{n}: {{contains: {{m{n + 1}: 50, Aqua: 50}}}}" for n in range(1, depth)]
    return "\n".join(["materials:", *rows, f"  m{depth}: {{contains: {{Urea: 50, Aqua: 50}}}}"])


def test_materials_inside_materials_are_opened_to_the_limit() -> None:
    lines = ["material: m1, percent: 100"]
    assert MOST_PREMIX_DEPTH == 8
    found = expanded(lines, nested(8))
    assert found.complaints == ()
    assert found.percent(["Urea"]).low == Decimal(100) / 2**8
    deeper = expanded(lines, nested(9))
    (complaint,) = complaints(deeper, "material")
    assert "deeper than 8" in complaint.message
    assert verdict("material-total", made(lines, nested(9))) == "breaks"


@pytest.mark.parametrize(
    "materials",
    [
        "materials: {a: {contains: {a: 50, Aqua: 50}}}",
        "materials: {a: {contains: {b: 50, Aqua: 50}}, b: {contains: {a: 50, Aqua: 50}}}",
        "materials: {a: {contains: {B: 50, Aqua: 50}}, b: {contains: {c: 50, Aqua: 50}}, c: {premix: {A: 100}}}",
    ],
)
def test_a_circle_of_materials_is_told_and_ends(materials: str) -> None:
    lines = ["material: a, percent: 10", "material: Aqua, percent: qs"]
    found = expanded(lines, materials)
    (complaint,) = complaints(found, "material")
    assert "circle" in complaint.message
    assert verdict("material-total", made(lines, materials)) == "breaks"


def test_one_material_in_two_others_is_no_circle() -> None:
    materials = """\
materials:
  stock: {contains: {Urea: 50, Aqua: 50}}
  one: {premix: {stock: 50, Glycerin: 50}}
  two: {premix: {stock: 20, one: 80}}
"""
    found = expanded(["material: two, percent: 10", "material: Aqua, percent: qs"], materials)
    assert found.complaints == ()
    # 10 x (0.2 x 0.5 + 0.8 x 0.5 x 0.5) = 3
    assert found.percent(["Urea"]) == Interval.exactly(3)


def test_two_qs_parts_and_a_negative_one_are_told() -> None:
    lines = ["material: a, percent: 10", "material: Aqua, percent: qs"]
    two = expanded(lines, "materials: {a: {contains: {Urea: qs, Aqua: qs}}}")
    assert "two qs parts" in complaints(two, "material")[0].message
    over = expanded(lines, "materials: {a: {contains: {Urea: 70, Glycerin: 40, Aqua: qs}}}")
    assert "-10 %" in complaints(over, "material")[0].message


# -- tolerances -------------------------------------------------------------------------------------------------------

TEN = ["material: stock, percent: 10", "material: Glycerin, percent: 90"]


def test_a_tolerance_is_of_each_stated_part_and_qs_takes_the_difference() -> None:
    found = expanded(TEN, "materials: {stock: {contains: {Lactic Acid: 80, Urea: 5, Aqua: qs}, tolerance: 1}}")
    assert found.percent(["Lactic Acid"]) == Interval(Decimal("7.9"), Decimal("8.1"))
    assert found.percent(["Urea"]) == Interval(Decimal("0.4"), Decimal("0.6"))
    assert found.percent(["Aqua"]) == Interval(Decimal("1.3"), Decimal("1.7"))
    assert found.percent(["Glycerin"]).is_exact


def test_a_tolerance_by_part_leaves_the_others_exact() -> None:
    stock = "materials: {stock: {contains: {Lactic Acid: 80, Urea: 5, Aqua: qs}, tolerance: {Urea: 0.5}}}"
    found = expanded(TEN, stock)
    assert found.percent(["Lactic Acid"]) == Interval.exactly(8)
    assert found.percent(["Urea"]) == Interval(Decimal("0.45"), Decimal("0.55"))
    assert found.percent(["Aqua"]) == Interval(Decimal("1.45"), Decimal("1.55"))


def test_a_tolerance_never_goes_below_nothing_or_above_a_hundred() -> None:
    found = expanded(TEN, "materials: {stock: {contains: {Lactic Acid: 99.5, Urea: 0.5, Aqua: qs}, tolerance: 2}}")
    assert found.percent(["Urea"]) == Interval(Decimal(0), Decimal("0.25"))
    assert found.percent(["Lactic Acid"]) == Interval(Decimal("9.75"), Decimal(10))
    assert found.percent(["Aqua"]).low == 0


def test_a_tolerance_inside_a_premix_is_scaled_with_it() -> None:
    materials = """\
materials:
  stock: {contains: {Lactic Acid: 80, Aqua: qs}, tolerance: 2}
  diluted: {premix: {stock: 50, Aqua: 50}}
"""
    found = expanded(["material: diluted, percent: 10", "material: Glycerin, percent: 90"], materials)
    assert found.percent(["Lactic Acid"]) == Interval(Decimal("3.9"), Decimal("4.1"))


def test_a_tolerance_that_names_no_part_is_told() -> None:
    found = expanded(TEN, "materials: {stock: {contains: {Lactic Acid: 80, Aqua: qs}, tolerance: {Lactic: 1}}}")
    (complaint,) = complaints(found, "material")
    assert '"Lactic"' in complaint.message
    assert "not one of its parts" in complaint.message


# -- names ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["Lactic Acid", "lactic acid", "LACTIC  ACID", "50-21-5", "2-hydroxypropanoic acid"])
def test_a_line_names_a_substance_by_inci_cas_or_synonym(name: str) -> None:
    found = expanded([f'material: "{name}", percent: 4', "material: water, percent: qs"])
    assert exactly(found) == {"Aqua": "96", "Lactic Acid": "4"}


def test_an_unknown_name_is_told_with_near_ones_and_never_passed_over() -> None:
    lines = ["material: Lactik Acid, percent: 4", "material: Aqua, percent: qs"]
    found = expanded(lines)
    (complaint,) = complaints(found, "names")
    assert complaint.message.startswith('unknown material "Lactik Acid"')
    assert "Lactic Acid" in complaint.message
    assert complaint.where == "phases.jar.lines[0]"
    assert [(unknown.name, unknown.percent) for unknown in found.unknown] == [("Lactik Acid", Interval.exactly(4))]
    assert found.total_percent == 100
    assert verdict("known-names", made(lines)) == "undecided"


def test_an_unknown_part_of_a_premix_is_told_at_the_part() -> None:
    materials = """\
materials:
  blend:
    contains:
      Aqua: 60
      Moon Dust: 40
"""
    lines = ["material: blend, percent: 5", "material: Aqua, percent: qs"]
    found = expanded(lines, materials)
    (complaint,) = complaints(found, "names")
    assert "Moon Dust" in complaint.message
    assert complaint.where == "materials.blend.Moon Dust"
    assert complaint.place == (13, 7)
    assert [unknown.percent for unknown in found.unknown] == [Interval.exactly(2)]


def test_at_most_twenty_unknown_names_of_a_file_get_suggestions() -> None:
    # the last eleven are told without looking for near names
    lines = [f"material: Glyzerin {number}, percent: 1" for number in range(31)] + ["material: Aqua, percent: qs"]
    found = complaints(expanded(lines), "names")
    assert len(found) == 31
    with_hint = [complaint for complaint in found if ";" in complaint.message]
    assert with_hint == found[:20]
    assert all(complaint.message == f'unknown material "Glyzerin {n}"' for n, complaint in enumerate(found) if n >= 20)


def test_a_very_long_name_is_cut_in_the_message() -> None:
    (complaint,) = complaints(expanded([f"material: {'x' * 200}, percent: 1", "material: Aqua, percent: qs"]), "names")
    assert len(complaint.message) < 200
    assert "..." in complaint.message


# -- what must hold for any formula -----------------------------------------------------------------------------------

POOL = ["Glycerin", "Urea", "Lactic Acid", "Propanediol", "Sodium Benzoate", "Allantoin", "Sucrose", "Arginine"]
AMOUNT = st.integers(1, 8_000_000).map(lambda n: Decimal(n).scaleb(-6))
LINES = st.lists(st.tuples(st.sampled_from(POOL), AMOUNT), min_size=1, max_size=8)


def written(pairs: list[tuple[str, Decimal]]) -> list[str]:
    return [f"material: {name}, percent: {amount:f}" for name, amount in pairs] + ["material: Aqua, percent: qs"]


def sums(found: Composition) -> dict[str, tuple[Fraction, Fraction]]:
    return {name: (Fraction(ends.low), Fraction(ends.high)) for name, ends in found.by_substance().items()}


@settings(max_examples=60, deadline=None)
@given(LINES, st.integers(0, 7), st.integers(1, 999_999))
def test_a_line_split_in_two_is_the_same_product(pairs: list[tuple[str, Decimal]], at: int, cut: int) -> None:
    name, amount = pairs[at % len(pairs)]
    first = Decimal(cut).scaleb(-6)
    assume(first < amount)
    split = [*pairs, (name, first)]
    split[at % len(pairs)] = (name, amount - first)
    assert sums(expanded(written(split))) == sums(expanded(written(pairs)))


@settings(max_examples=60, deadline=None)
@given(LINES, st.randoms(use_true_random=False))
def test_the_order_of_the_lines_is_the_same_product(pairs: list[tuple[str, Decimal]], dice: random.Random) -> None:
    lines = written(pairs)
    shuffled = list(lines)
    dice.shuffle(shuffled)
    assert sums(expanded(shuffled)) == sums(expanded(lines))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(POOL), st.integers(1, 1000)), min_size=1, max_size=4, unique_by=lambda p: p[0]),
    st.integers(1, 2000),
)
def test_a_material_is_the_same_product_as_its_contents(parts: list[tuple[str, int]], use: int) -> None:
    # parts in hundredths of a percent, use in hundredths of a percent: the contents have at most four decimals
    inside = ", ".join(f"{name}: {Decimal(share).scaleb(-2)}" for name, share in parts)
    materials = f"materials: {{blend: {{contains: {{{inside}, Aqua: qs}}}}}}"
    percent = Decimal(use).scaleb(-2)
    as_blend = expanded([f"material: blend, percent: {percent}", "material: Aqua, percent: qs"], materials)
    loose = [(name, Decimal(share * use).scaleb(-6)) for name, share in parts]
    assert sums(as_blend) == sums(expanded(written(loose)))


# -- weighing --------------------------------------------------------------------------------------------------------


def ends(found: Composition, name: str) -> tuple[str, str]:
    low, high = found.by_substance()[name]
    return f"{low.normalize():f}", f"{high.normalize():f}"


def test_each_weighing_is_good_to_half_a_division_and_the_qs_line_takes_the_difference() -> None:
    found = expanded(
        ["material: Glycerin, percent: 5", "material: Urea, percent: 3", "material: Aqua, percent: qs"],
        extra="batch: 200 g\nbalance: 0.1 g\n",
    )

    # half of 0.1 g is 0.025 % of 200 g
    assert ends(found, "Glycerin") == ("4.975", "5.025")
    assert ends(found, "Aqua") == ("91.95", "92.05")
    assert found.total_percent == 100


def test_without_a_qs_line_the_sum_of_the_weighings_may_be_off_as_well() -> None:
    found = expanded(
        ["material: Glycerin, percent: 10", "material: Aqua, percent: 90"], extra="batch: 100 g\nbalance: 2 g\n"
    )

    # 9 of 9 + 91, and 11 of 11 + 89: the sum of two lines that may each be off by 1
    assert ends(found, "Glycerin") == ("9", "11")
    assert ends(found, "Aqua") == ("89", "91")


def test_the_share_of_a_line_is_widest_where_all_others_are_off_to_the_other_side() -> None:
    lines = [f"material: {name}, grams: {grams}" for name, grams in (("Glycerin", 10), ("Urea", 10), ("Aqua", 80))]
    low, high = expanded(lines, extra="balance: 2 g\n").by_substance()["Glycerin"]

    assert float(low) == pytest.approx(100 * 9 / (9 + 11 + 81), abs=2e-6)
    assert float(high) == pytest.approx(100 * 11 / (11 + 9 + 79), abs=2e-6)
    assert Fraction(low) <= Fraction(900, 101)
    assert Fraction(high) >= Fraction(1100, 99)


def test_a_line_of_nothing_is_not_weighed_and_one_below_half_a_division_may_be_nothing() -> None:
    found = expanded(
        ["material: Glycerin, percent: 0", "material: Urea, percent: 0.2", "material: Aqua, percent: qs"],
        extra="batch: 100 g\nbalance: 1 g\n",
    )

    assert ends(found, "Glycerin") == ("0", "0")
    assert ends(found, "Urea") == ("0", "0.7")


def test_a_balance_without_a_batch_is_told_and_widens_nothing() -> None:
    found = expanded(["material: Glycerin, percent: 5", "material: Aqua, percent: qs"], extra="balance: 0.1 g\n")

    assert [complaint.where for complaint in complaints(found, "batch")] == ["balance"]
    assert "batch: 500 g" in complaints(found, "batch")[0].message
    assert ends(found, "Glycerin") == ("5", "5")


@settings(max_examples=60, deadline=None)
@given(LINES)
def test_nothing_is_lost_and_nothing_is_made(pairs: list[tuple[str, Decimal]]) -> None:
    assume(sum(amount for _, amount in pairs) <= 100)
    found = expanded(written(pairs))
    assert found.total_percent == 100
    assert sum((low for low, _ in sums(found).values()), Fraction(0)) == 100
    assert found.complaints == ()


def test_the_names_of_a_tolerance_are_compared_once_each(monkeypatch: pytest.MonkeyPatch) -> None:
    count = 300
    parts = ", ".join(f"part {number}: 0.01" for number in range(count))
    others = ", ".join(f"other {number}: 0.01" for number in range(count))
    lines = ["material: wide, percent: 50", "material: Aqua, percent: qs"]
    formula = made(lines, f"materials: {{wide: {{contains: {{{parts}}}, tolerance: {{{others}}}}}}}")
    calls: list[str] = []

    def counted(name: str) -> str:
        calls.append(name)
        return folded(name)

    monkeypatch.setattr(expansion, "folded", counted)

    found = expand(formula, SUBSTANCES)

    assert sum("not one of its parts" in complaint.message for complaint in found.complaints) == count
    assert len(calls) < 20 * count  # and not one for each pair of them
