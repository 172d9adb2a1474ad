"""Verdicts of the shipped rulebook against figures of the laws and opinions themselves, with arithmetic of our own."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import ROUND_FLOOR, Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

from helpers import ON, formula_from, sheet, verdict
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load

TABLE: list[dict[str, Any]] = yaml.load(
    (Path(__file__).parent / "data" / "published-limits.yaml").read_text("utf-8"), yaml.BaseLoader
)
FACE = "use: leave-on, site: face, form: gel, audience: adults"
STEP, ROUNDING = Decimal("0.001"), Decimal("0.00005")

# IUPAC, standard atomic weights 2021, abridged to five figures.
WEIGHTS = {
    symbol: Decimal(weight)
    for symbol, weight in {
        "H": "1.008", "C": "12.011", "N": "14.007", "O": "15.999", "Na": "22.990", "K": "39.098",
    }.items()
}  # fmt: skip


def molar_mass(formula: str) -> Decimal:
    parts = re.findall(r"([A-Z][a-z]?)([0-9]*)", formula)
    return sum((WEIGHTS[symbol] * int(count or 1) for symbol, count in parts), Decimal(0))


def shipped(text: str, on: str = ON) -> Review:
    return review(formula_from(text), load(), on)


# -- ceilings and floors of the table ------------------------------------------------------------------------------


def ceilings() -> Iterator[Any]:
    for row in TABLE:
        for ceiling in row["ceilings"]:
            yield pytest.param(row, ceiling, id=f"{row['source']}: {ceiling['weighed']} {ceiling['max']}")


def floors() -> Iterator[Any]:
    for row in TABLE:
        for floor in row.get("floors", ()):
            yield pytest.param(row, floor, id=f"{row['source']}: pH {floor['min']} beside {floor['beside']}")


def both_sides(ceiling: dict[str, str]) -> tuple[str | None, str]:
    """The most that may be weighed and the least that may not, on a balance that shows a thousandth of a percent.

    A converted figure is held to four decimals, as docs/requirements/percent.md says: half of the last one is allowed.
    """
    limit = Decimal(ceiling["max"])
    if limit == 0:
        return None, "0.0001"
    if "of" not in ceiling:
        return f"{limit}", f"{limit * Decimal('1.001')}"
    most = weighable(limit, ceiling["counted_as"], ceiling["of"])
    return f"{most}", f"{most + STEP}"


def weighable(limit: Decimal, counted_as: str, of: str) -> Decimal:
    """The most of a salt or ester, to a thousandth, that counts as no more than the limit to four decimals."""
    factor = molar_mass(counted_as) / molar_mass(of)
    most = ((limit + ROUNDING) / factor).quantize(STEP, ROUND_FLOOR)
    assert most * factor <= limit + ROUNDING < (most + STEP) * factor
    return most


def formula_of_row(row: dict[str, Any], lines: list[str], extra: str = "") -> str:
    product = ", ".join(f"{key}: {value}" for key, value in row["product"].items())
    return sheet(*lines, "Aqua qs", product=product, markets=row["markets"], extra=extra)


@pytest.mark.parametrize(("row", "ceiling"), list(ceilings()))
def test_the_most_that_a_source_allows_meets_and_a_thousandth_more_breaks(
    row: dict[str, Any], ceiling: dict[str, str]
) -> None:
    function = f" as {ceiling['function']}" if "function" in ceiling else ""
    within, beyond = both_sides(ceiling)
    address = row["rule"]["ceiling"]

    if within is not None:
        allowed = formula_of_row(row, [f"{ceiling['weighed']} {within}{function}"])
        assert verdict(shipped(allowed, row["on"]), address) in ("meets", "coming")
    refused = formula_of_row(row, [f"{ceiling['weighed']} {beyond}{function}"])
    assert verdict(shipped(refused, row["on"]), address) == "breaks"


@pytest.mark.parametrize(("row", "floor"), list(floors()))
def test_the_lowest_ph_that_a_source_allows_meets_and_a_hundredth_less_breaks(
    row: dict[str, Any], floor: dict[str, str]
) -> None:
    lowest = Decimal(floor["min"])
    for ph, said in ((lowest, "meets"), (lowest - Decimal("0.01"), "breaks")):
        extra = f"measured: {{ph: {ph}, tolerance: 0}}"
        text = formula_of_row(row, [f"{floor['beside']} 2 as exfoliant"], extra)
        assert verdict(shipped(text, row["on"]), row["rule"]["floor"]) == said


# -- sums ----------------------------------------------------------------------------------------------------------


def test_the_panel_counts_glycolic_and_lactic_acid_salts_and_esters_together_as_acid() -> None:
    # Cosmetic Ingredient Review, conclusion of 1998: 10 % of the acids, their common salts and simple esters.
    most = weighable(Decimal(10 - 6), "C3H6O3", "C3H5NaO3")

    for salt, said in ((most, "meets"), (most + STEP, "breaks")):
        text = sheet("Glycolic Acid 6", f"Sodium Lactate {salt}", "Aqua qs", markets="us")
        assert verdict(shipped(text), "cir-glycolic-lactic-ceiling") == said


def test_what_a_professional_leaves_on_the_skin_is_no_salon_product_of_the_panel() -> None:
    # The salon conclusion is for brief, discontinuous use followed by thorough rinsing.
    text = sheet("Glycolic Acid 25", "Aqua qs", product=f"{FACE}, applied_by: professional", markets="us")

    assert verdict(shipped(text), "cir-glycolic-lactic-ceiling") == "breaks"
    assert verdict(shipped(text), "cir-salon-glycolic-lactic-ceiling") == "does not apply"


def test_benzoic_acid_and_its_sodium_salt_share_one_ceiling() -> None:
    # Annex V, entry 1.
    most = weighable(Decimal("0.3"), "C7H6O2", "C7H5NaO2")

    for salt, said in ((most, "meets"), (most + STEP, "breaks")):
        text = sheet("Benzoic Acid 0.2", f"Sodium Benzoate {salt}", "Aqua qs")
        assert verdict(shipped(text), "eu-annex-v#1") == said


def test_each_paraben_has_its_own_ceiling_and_all_together_another() -> None:
    # Annex V, entries 12 and 12a: 0.4 % as acid for one ester, 0.8 % for mixtures, of which 0.14 % propyl and butyl.
    acid = molar_mass("C7H6O3")
    methyl, ethyl = acid / molar_mass("C8H8O3"), acid / molar_mass("C9H10O3")
    assert Decimal("0.44") * methyl < Decimal("0.4")
    assert Decimal("0.48") * ethyl < Decimal("0.4")
    assert Decimal("0.44") * methyl + Decimal("0.48") * ethyl < Decimal("0.8")
    within = shipped(sheet("Methylparaben 0.44", "Ethylparaben 0.48", "Aqua qs"))

    assert verdict(within, "eu-annex-v#12-methyl") == "meets"
    assert verdict(within, "eu-annex-v#12-ethyl") == "meets"
    assert verdict(within, "eu-annex-v#12+12a") == "meets"


def test_three_parabens_each_under_its_ceiling_can_pass_the_sum() -> None:
    acid = molar_mass("C7H6O3")
    methyl, ethyl, propyl = (acid / molar_mass(formula) for formula in ("C8H8O3", "C9H10O3", "C10H12O3"))
    total = Decimal("0.44") * methyl + Decimal("0.48") * ethyl + Decimal("0.003") * propyl
    assert total > Decimal("0.8")
    assert Decimal("0.003") * propyl < Decimal("0.14")
    found = shipped(sheet("Methylparaben 0.44", "Ethylparaben 0.48", "Propylparaben 0.003", "Aqua qs"))

    assert verdict(found, "eu-annex-v#12-methyl") == "meets"
    assert verdict(found, "eu-annex-v#12-ethyl") == "meets"
    assert verdict(found, "eu-annex-v#12a") == "meets"
    assert verdict(found, "eu-annex-v#12+12a") == "breaks"


def test_propyl_and_butylparaben_share_one_ceiling() -> None:
    # Annex V, entry 12a, the sum of the individual concentrations: 0.14 % as acid.
    acid = molar_mass("C7H6O3")
    propyl = acid / molar_mass("C10H12O3")
    most = weighable(Decimal("0.14") - Decimal("0.1") * propyl, "C7H6O3", "C11H14O3")

    for amount, said in ((most, "meets"), (most + STEP, "breaks")):
        text = sheet("Propylparaben 0.1", f"Butylparaben {amount}", "Aqua qs")
        assert verdict(shipped(text), "eu-annex-v#12a") == said


def test_the_isothiazolinone_mixture_and_the_single_one_are_not_used_together() -> None:
    # Annex V, entries 39 and 57: the uses exclude each other.
    product = "use: rinse-off, site: hair, form: liquid, audience: adults"
    mixture = "Methylchloroisothiazolinone (and) Methylisothiazolinone 0.0015"
    both = sheet(mixture, "Methylisothiazolinone 0.0001", "Aqua qs", product=product)

    assert shipped(both).outcome == "breaks"
    said = {finding.address for finding in shipped(both).findings if finding.severity == "error"}
    assert said == {"eu-annex-v-pairs#39+57"}


@pytest.mark.parametrize(("chloro", "other"), [("0.0006", "0.0002"), ("0.0006", "0.0008"), ("0.0014", "0")])
def test_the_parts_of_the_isothiazolinone_mixture_written_apart_are_never_passed(chloro: str, other: str) -> None:
    # Annex V, entry 39, allows the mixture of 3 to 1 and no other ratio.
    product = "use: rinse-off, site: hair, form: liquid, audience: adults, kind: shampoo"
    lines = f"Methylchloroisothiazolinone {chloro}", f"Methylisothiazolinone {other}"
    found = shipped(sheet(*lines, "Aqua qs", product=product))

    assert verdict(found, "eu-annex-v#39-apart") == "undecided"
    assert found.outcome == "cannot tell"


@pytest.mark.parametrize(("peel", "said"), [("2.56", "meets"), ("2.57", "breaks")])
def test_the_ceiling_of_salicylic_acid_counts_its_salt_that_preserves(peel: str, said: str) -> None:
    # Annex III, entry 98: the levels include any use of salicylic acid; 0.5 x 138.12 / 160.10 = 0.4314 % comes on top.
    product = "use: rinse-off, site: hair, form: liquid, audience: adults, kind: shampoo"
    found = shipped(
        sheet(
            f"Salicylic Acid {peel} as exfoliant", "Sodium Salicylate 0.5 as preservative", "Aqua qs", product=product
        )
    )

    assert verdict(found, "eu-annex-iii#98") == said


def test_salicylic_acid_as_a_preservative_is_another_entry() -> None:
    # Annex III, entry 98, is for other purposes than preservation; Annex V, entry 3, allows 0.5 % as a preservative.
    for amount, said in (("0.5", "meets"), ("0.501", "breaks")):
        found = shipped(sheet(f"Salicylic Acid {amount} as preservative", "Aqua qs"))
        assert verdict(found, "eu-annex-v#3") == said
        assert verdict(found, "eu-annex-iii#98") == "does not apply"


def test_benzyl_alcohol_as_a_perfume_has_no_ceiling_as_a_preservative() -> None:
    # Annex V, entry 34, limits its use as a preservative.
    assert verdict(shipped(sheet("Benzyl Alcohol 2 as perfuming", "Aqua qs")), "eu-annex-v#34") == "does not apply"


# -- dates ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("percent", "on", "said"),
    [
        ("10", "2024-04-30", "meets"),
        ("12", "2024-04-30", "breaks"),
        ("12", "2026-11-25", "meets"),
        ("18", "2026-11-25", "meets"),
        ("18.1", "2026-11-25", "breaks"),
    ],
)
def test_canada_raised_its_ceiling_in_may_2024(percent: str, on: str, said: str) -> None:
    # Cosmetic Ingredient Hotlist, alpha-hydroxy acids: 10 % before, 18 % after May 2024, read in restatements.
    found = shipped(sheet(f"Glycolic Acid {percent}", "Aqua qs", markets="ca"), on)
    rules = ("ca-alpha-hydroxy-ceiling-until-april-2024", "ca-alpha-hydroxy-ceiling")
    said_by = {verdict(found, rule) for rule in rules} - {"not in force", "does not apply", "coming"}

    assert said_by == {said}


def test_canada_counts_polyhydroxy_and_bionic_acids_since_may_2024() -> None:
    text = sheet("Glycolic Acid 10", "Gluconic Acid 8.1", "Aqua qs", markets="ca")

    assert verdict(shipped(text), "ca-alpha-hydroxy-ceiling") == "breaks"
    assert verdict(shipped(text, "2024-04-30"), "ca-alpha-hydroxy-ceiling-until-april-2024") == "meets"


def releaser(market: str, statement: str | None, since: str | None = None) -> str:
    extra = f"label: {{statements: [{statement}]}}" if statement else ""
    extra += f"\non_market_since: {since}" if since else ""
    return sheet("DMDM Hydantoin 0.3", "Aqua qs", markets=market, extra=extra)


# Regulation (EU) 2022/1181: new products from 31 July 2024, everything on sale from 31 July 2026 (read in the act).
# Great Britain, Cosmetic Products (Restriction of Chemical Substances) Regulations 2026: new products from 15 July
# 2026, stock to 14 January 2027 (read in restatements).
NEWER, OLDER = "releases-formaldehyde", "contains-formaldehyde"


@pytest.mark.parametrize(
    ("market", "since", "on", "due"),
    [
        ("eu", None, "2024-07-30", OLDER),
        ("eu", None, "2024-07-31", NEWER),
        ("eu", "2024-07-30", "2024-07-31", OLDER),
        ("eu", "2024-07-30", "2026-07-30", OLDER),
        ("eu", "2024-07-30", "2026-07-31", NEWER),
        ("eu", "2024-07-31", "2024-07-31", NEWER),
        ("uk", None, "2026-07-14", OLDER),
        ("uk", None, "2026-07-15", NEWER),
        ("uk", "2026-07-14", "2026-07-15", OLDER),
        ("uk", "2026-07-14", "2027-01-14", OLDER),
        ("uk", "2026-07-14", "2027-01-15", NEWER),
    ],
)
def test_the_formaldehyde_statement_that_is_due_follows_the_day_and_the_stock(
    market: str, since: str | None, on: str, due: str
) -> None:
    rules = {
        NEWER: f"{market}-releases-formaldehyde",
        OLDER: f"{market}-contains-formaldehyde-until-{2024 if market == 'eu' else 2026}",
    }
    other = OLDER if due == NEWER else NEWER

    assert verdict(shipped(releaser(market, due, since), on), rules[due]) == "meets"
    assert verdict(shipped(releaser(market, other, since), on), rules[due]) == "undecided"
    announced = "coming" if other == NEWER else "not in force"
    assert verdict(shipped(releaser(market, None, since), on), rules[other]) == announced


def test_the_supplier_can_show_that_too_little_formaldehyde_is_released() -> None:
    # The threshold is 0.001 % of released formaldehyde in total, which only a test can show.
    fact = "formaldehyde-released-at-most-10-ppm"
    extra = f"materials:\n  blend: {{contains: {{DMDM Hydantoin: 55, Aqua: qs}}, declares: [{fact}]}}"
    text = sheet("blend 0.1", "Aqua qs", extra=extra)

    assert verdict(shipped(text), "eu-releases-formaldehyde") == "does not apply"


# -- prohibitions --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("market", "address"), [("eu", "eu-annex-ii#10"), ("uk", "uk-annex-ii#10")])
def test_trichloroacetic_acid_is_prohibited_in_any_amount(market: str, address: str) -> None:
    # Regulation (EC) No 1223/2009, Annex II, entry 10 (official list of 16 May 2024), and as retained in Great Britain.
    found = shipped(sheet("Trichloroacetic Acid 0.0001", "Aqua qs", markets=market))

    assert verdict(found, address) == "breaks"
    assert found.outcome == "breaks"


def test_without_it_annex_ii_has_nothing_to_say_of_the_entry() -> None:
    assert verdict(shipped(sheet("Glycolic Acid 4", "Aqua qs")), "eu-annex-ii#10") == "does not apply"
