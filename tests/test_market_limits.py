"""What the laws of single markets prohibit, limit and want said, against figures written down apart from the rules.

Amounts are as a maker weighs them. Sources: Canada's Cosmetic Ingredient Hotlist, 21 CFR 250, 700 and 740, California
Health and Safety Code 108980, Washington chapter 70A.560 RCW, REACH Annex XVII entry 70, S.I. 2024 No. 1334 and
S.I. 2025 No. 413 of Great Britain, read in part in restatements.
"""

from __future__ import annotations

import pytest

from helpers import formula_from, sheet, verdict
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load

BROW = "use: rinse-off, site: eye area, form: cream, audience: adults, kind: eyelash dye"
NAILS = "use: leave-on, site: nails, form: liquid, audience: adults"
PRODUCTS = {
    "body lotion": "use: leave-on, site: body, form: lotion, audience: adults",
    "body wash": "use: rinse-off, site: body, form: liquid, audience: adults, kind: shower gel",
    "foot lotion": "use: leave-on, site: feet, form: lotion, audience: adults",
    "face cream": "use: leave-on, site: face, form: cream, audience: adults, kind: other",
    "foundation": "use: leave-on, site: face, form: cream, audience: adults, kind: make-up",
    "lip balm": "use: leave-on, site: lips, form: balm, audience: adults, kind: other",
    "eye cream": "use: leave-on, site: eye area, form: cream, audience: adults, kind: other",
    "hair bleach": "use: rinse-off, site: hair, form: cream, audience: adults, kind: hair dye",
    "brow tint": f"{BROW}, applied_by: professional",
    "nail kit": f"{NAILS}, kind: artificial nails, applied_by: professional",
    "nail polish": f"{NAILS}, kind: other",
    "body spray": "use: leave-on, site: body, form: aerosol, audience: adults, kind: other",
    "antiperspirant can": "use: leave-on, site: underarm, form: aerosol, audience: adults, kind: antiperspirant",
    "antiperspirant stick": "use: leave-on, site: underarm, form: stick, audience: adults, kind: antiperspirant",
    "intimate spray": "use: leave-on, site: intimate area, form: spray, audience: adults, kind: deodorant",
    "bubble bath": "use: rinse-off, site: body, form: liquid, audience: family, kind: bath product",
    "bubble bath for adults": "use: rinse-off, site: body, form: liquid, audience: adults, kind: bath product",
    "tanning lotion": "use: leave-on, site: body, form: lotion, audience: adults, kind: self-tanner",
    "hand wash": "use: rinse-off, site: hands, form: liquid, audience: adults, kind: hand wash",
    "mascara": "use: leave-on, site: eye area, form: cream, audience: adults, kind: mascara",
    "make-up remover": "use: rinse-off, site: eye area, form: liquid, audience: adults, kind: make-up remover",
    "toothpaste": "use: rinse-off, site: mouth, form: gel, audience: adults, kind: toothpaste",
    "mouthwash": "use: rinse-off, site: mouth, form: liquid, audience: adults, kind: mouthwash",
    "mouthwash for a school": "use: rinse-off, site: mouth, form: liquid, audience: children, kind: mouthwash",
    "mouth spray": "use: leave-on, site: mouth, form: spray, audience: adults, kind: other",
    "cologne": "use: leave-on, site: body, form: spray, audience: adults, kind: eau de toilette",
    "hair lacquer": "use: leave-on, site: hair, form: aerosol, audience: adults, kind: hair styling",
    "chest balm": "use: leave-on, site: body, form: stick, audience: adults, kind: other",
}


def held(market: str, product: str, *lines: str, on: str, says: str | None = None) -> Review:
    extra = f"label: {{statements: [{says}]}}" if says else ""
    text = sheet(*lines, "Aqua qs", product=PRODUCTS[product], markets=market, extra=extra)
    return review(formula_from(text), load(), on)


# market, day and rule: product, substance, lawful amount, unlawful amount. No lawful amount: prohibited in any.
BY_RULE: dict[tuple[str, str, str], list[tuple[str, str, str | None, str]]] = {
    # Molar masses by IUPAC 2021: retinol 286.46, its acetate 328.50, its palmitate 524.87 g/mol.
    ("ca", "2025-03-01", "ca-hotlist-restricted#retinol"): [
        ("body lotion", "Retinol", "0.2", "0.201"),
        ("body lotion", "Retinyl Acetate", "0.229", "0.230"),
        ("body lotion", "Retinyl Palmitate", "0.366", "0.367"),
        ("face cream", "Retinol", "1.0", "1.001"),
        ("face cream", "Retinyl Palmitate", "1.832", "1.833"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-restricted#retinal"): [
        ("body lotion", "Retinal", "0.01", "0.0101"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-restricted#hydrogen-peroxide"): [
        ("hair bleach", "Hydrogen Peroxide", "10", "10.01"),
        ("brow tint", "Hydrogen Peroxide", "10", "10.01"),
        # Carbamide peroxide 94.07, hydrogen peroxide 34.01 g/mol.
        ("hair bleach", "Carbamide Peroxide", "27.65", "27.66"),
        ("intimate spray", "Hydrogen Peroxide", None, "0.001"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-restricted#benzoyl-peroxide"): [
        ("nail kit", "Benzoyl Peroxide", "10", "10.1"),
        ("nail polish", "Benzoyl Peroxide", None, "0.001"),
        ("face cream", "Benzoyl Peroxide", None, "2.5"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-restricted#cresols"): [
        ("body lotion", "m-Cresol", "0.1", "0.101"),
        ("body lotion", "o-Cresol", "0.1", "0.101"),
        ("lip balm", "m-Cresol", None, "0.001"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-prohibited#p-cresol-and-mixtures"): [
        ("body lotion", "p-Cresol", None, "0.001"),
    ],
    ("ca", "2024-06-01", "ca-hotlist-restricted#benzophenone"): [
        ("body lotion", "Benzophenone", "3", "3.001"),
    ],
    ("ca", "2024-06-01", "ca-hotlist-restricted#solvent-violet-13"): [
        ("body lotion", "CI 60725", "0.3", "0.301"),
    ],
    ("ca", "2022-09-01", "ca-hotlist-restricted#ethylhexyl-ethylhexanoate"): [
        ("body lotion", "Ethylhexyl Ethylhexanoate", "0.1", "0.101"),
        ("foot lotion", "Ethylhexyl Ethylhexanoate", "0.5", "0.501"),
        ("foundation", "Ethylhexyl Ethylhexanoate", "0.6", "0.601"),
    ],
    ("ca", "2025-03-01", "ca-hotlist-prohibited#thioglycolic-acid-esters"): [
        ("hair bleach", "Glyceryl Thioglycolate", None, "0.001"),
    ],
    ("ca", "2024-06-01", "ca-hotlist-prohibited#secondary-amines"): [
        ("body lotion", "Diethanolamine", None, "0.001"),
    ],
    ("us", "2026-11-25", "us-prohibited#700.13"): [("eye cream", "Mercurous Chloride", None, "0.0001")],
    ("us", "2026-11-25", "us-prohibited#700.16"): [
        ("antiperspirant can", "Aluminum Zirconium Tetrachlorohydrex GLY", None, "5"),
    ],
    ("us", "2026-11-25", "us-prohibited#700.14"): [("body spray", "Vinyl Chloride", None, "0.001")],
    ("us", "2026-11-25", "us-prohibited#700.18"): [("body lotion", "67-66-3", None, "0.001")],
    ("us", "2026-11-25", "us-prohibited#700.19"): [("body lotion", "75-09-2", None, "0.001")],
    ("us", "2026-11-25", "us-prohibited#700.23"): [("body spray", "75-71-8", None, "20")],
    ("us-california", "2025-01-01", "us-california-prohibited#dibutyl-phthalate"): [
        ("nail polish", "84-74-2", None, "0.001"),
    ],
    ("us-california", "2025-01-01", "us-california-prohibited#diethylhexyl-phthalate"): [
        ("nail polish", "117-81-7", None, "0.001"),
    ],
    ("us-california", "2025-01-01", "us-california-prohibited#m-phenylenediamine"): [
        ("hair bleach", "108-45-2", None, "0.001"),
    ],
    ("us-california", "2025-01-01", "us-california-prohibited#o-phenylenediamine"): [
        ("hair bleach", "95-54-5", None, "0.001"),
    ],
    ("us-california", "2025-01-01", "us-california-prohibited#mercury"): [
        ("body lotion", "7439-97-6", None, "0.001"),
    ],
    ("us-california", "2027-01-01", "us-california-prohibited#lily-aldehyde"): [
        ("body lotion", "80-54-6", None, "0.001"),
    ],
    ("us-california", "2027-01-01", "us-california-prohibited#acetaldehyde"): [
        ("body lotion", "75-07-0", None, "0.001"),
    ],
    ("us-california", "2027-01-01", "us-california-prohibited#cyclohexylamine"): [
        ("body lotion", "108-91-8", None, "0.001"),
    ],
    ("us-california", "2027-01-01", "us-california-prohibited#styrene"): [
        ("body lotion", "100-42-5", None, "0.001"),
    ],
    ("us-washington", "2025-01-01", "us-washington-prohibited#ortho-phthalates"): [
        ("nail polish", "84-66-2", None, "0.001"),
    ],
    ("us-washington", "2025-01-01", "us-washington-prohibited#perfluoroalkyl-substances"): [
        ("foundation", "9002-84-0", None, "0.001"),
    ],
    ("us-washington", "2025-01-01", "us-washington-prohibited#lead"): [
        ("hair bleach", "301-04-2", None, "0.001"),
    ],
    ("eu", "2020-01-31", "eu-reach-siloxanes#70-cyclopentasiloxane-rinse-off"): [
        ("body wash", "541-02-6", "0.0999", "0.1"),
    ],
    ("eu", "2026-06-06", "eu-reach-siloxanes#70-cyclohexasiloxane-rinse-off"): [
        ("body wash", "540-97-6", "0.0999", "0.1"),
    ],
    ("eu", "2027-06-06", "eu-reach-siloxanes#70-leave-on"): [
        ("body lotion", "541-02-6", "0.0999", "0.1"),
        ("body lotion", "540-97-6", "0.0999", "0.1"),
    ],
    # S.I. 2025 No. 413, Schedule: methyl salicylate. S.I. 2024 No. 1334: kojic acid and prohibited substances.
    ("uk", "2025-09-30", "uk-annex-iii#324"): [
        ("body lotion", "119-36-8", "0.06", "0.0601"),
        ("body wash", "119-36-8", "0.06", "0.0601"),
        ("hand wash", "119-36-8", "0.6", "0.601"),
        ("lip balm", "119-36-8", "0.03", "0.0301"),
        ("foundation", "119-36-8", "0.05", "0.0501"),
        ("mascara", "119-36-8", "0.002", "0.0021"),
        ("make-up remover", "119-36-8", "0.002", "0.0021"),
        ("toothpaste", "119-36-8", "2.5", "2.51"),
        ("mouthwash for a school", "119-36-8", "0.1", "0.101"),
        ("mouthwash", "119-36-8", "0.4", "0.401"),
        ("mouth spray", "119-36-8", "0.65", "0.651"),
        ("cologne", "119-36-8", "0.6", "0.601"),
        ("antiperspirant can", "119-36-8", "0.003", "0.0031"),
        ("hair lacquer", "119-36-8", "0.009", "0.0091"),
        ("body spray", "119-36-8", "0.04", "0.0401"),
    ],
    ("uk", "2025-06-20", "uk-annex-iii#kojic-acid"): [
        ("face cream", "501-30-4", "1", "1.001"),
        ("body lotion", "501-30-4", None, "0.001"),
    ],
    ("uk", "2025-04-20", "uk-annex-ii#1680-1730"): [
        ("body lotion", "119-47-1", None, "0.001"),
        ("nail polish", "108-10-1", None, "0.001"),
        ("body lotion", "119-61-9", None, "0.001"),
        ("body lotion", "58-55-9", None, "0.001"),
        ("nail kit", "15625-89-5", None, "0.001"),
        ("nail polish", "108-78-1", None, "0.001"),
    ],
    ("uk", "2025-09-02", "uk-annex-ii#1731-1743"): [("nail kit", "99-97-8", None, "0.001")],
    ("uk", "2026-07-15", "uk-annex-ii#4-methylbenzylidene-camphor"): [("body lotion", "36861-47-9", None, "0.001")],
}  # fmt: skip
LIMITS = [
    (market, product, name, lawful, unlawful, day, rule)
    for (market, day, rule), rows in BY_RULE.items()
    for product, name, lawful, unlawful in rows
]
IDS = [f"{market} {product} {name}" for market, product, name, *_ in LIMITS]


@pytest.mark.parametrize(("market", "product", "name", "lawful", "unlawful", "day", "rule"), LIMITS, ids=IDS)
def test_a_market_lets_the_lawful_amount_pass_and_stops_the_next_step(
    market: str, product: str, name: str, lawful: str | None, unlawful: str, day: str, rule: str
) -> None:
    if lawful is not None:
        assert verdict(held(market, product, f"{name} {lawful}", on=day), rule) == "meets"
    assert verdict(held(market, product, f"{name} {unlawful}", on=day), rule) == "breaks"


# The last day before a date that the law gives: the break is announced.
ANNOUNCED = [
    ("us-california", "nail polish", "Dibutyl Phthalate 1", "2024-12-31", "us-california-prohibited#dibutyl-phthalate"),
    ("us-california", "body lotion", "Styrene 1", "2026-12-31", "us-california-prohibited#styrene"),
    ("us-washington", "foundation", "PTFE 1", "2024-12-31", "us-washington-prohibited#perfluoroalkyl-substances"),
    ("us-washington", "nail polish", "Diethyl Phthalate 1", "2024-12-31", "us-washington-prohibited#ortho-phthalates"),
    ("uk", "body lotion", "Methyl Salicylate 0.1", "2025-09-29", "uk-annex-iii#324"),
    ("uk", "face cream", "Kojic Acid 2", "2025-06-19", "uk-annex-iii#kojic-acid"),
    ("uk", "nail polish", "Melamine 1", "2025-04-19", "uk-annex-ii#1680-1730"),
    ("uk", "nail kit", "99-97-8 1", "2025-09-01", "uk-annex-ii#1731-1743"),
    ("uk", "body lotion", "36861-47-9 1", "2026-07-14", "uk-annex-ii#4-methylbenzylidene-camphor"),
    ("eu", "body wash", "Cyclopentasiloxane 1", "2020-01-30", "eu-reach-siloxanes#70-cyclopentasiloxane-rinse-off"),
    ("eu", "body wash", "Cyclohexasiloxane 1", "2026-06-05", "eu-reach-siloxanes#70-cyclohexasiloxane-rinse-off"),
    ("eu", "body lotion", "Cyclopentasiloxane 1", "2027-06-05", "eu-reach-siloxanes#70-leave-on"),
]


@pytest.mark.parametrize(("market", "product", "line", "day", "rule"), ANNOUNCED)
def test_the_day_before_a_date_of_the_law_the_break_is_coming(
    market: str, product: str, line: str, day: str, rule: str
) -> None:
    assert verdict(held(market, product, line, on=day), rule) == "coming"


# A figure that is only remembered fails nothing as law and passes nothing.
REMEMBERED = [
    ("ca", "body lotion", "Methyl Salicylate", "1", "1.01", "ca-hotlist-restricted#methyl-salicylate"),
    ("ca", "body lotion", "Phenol", "2", "2.01", "ca-hotlist-restricted#phenol"),
]


@pytest.mark.parametrize(("market", "product", "name", "under", "over", "rule"), REMEMBERED)
def test_a_remembered_figure_of_the_hotlist_passes_nothing_and_gives_no_error(
    market: str, product: str, name: str, under: str, over: str, rule: str
) -> None:
    on = "2026-11-25"

    assert verdict(held(market, product, f"{name} {under}", on=on), rule) == "undecided"
    found = held(market, product, f"{name} {over}", on=on)
    assert verdict(found, rule) == "breaks"
    assert {f.severity for f in found.findings if f.address == rule} == {"warning"}


# product, what is in it, statement, rule; and a near product that is let off.
STATEMENTS = [
    ("bubble bath", "Sodium Laureth Sulfate 8", "us-foaming-bath", "us-foaming-bath-caution", "bubble bath for adults"),
    ("tanning lotion", "Dihydroxyacetone 5", "us-tanning-without-sunscreen", "us-tanning-warning", "body lotion"),
]


@pytest.mark.parametrize(("product", "line", "statement", "rule", "let_off"), STATEMENTS)
def test_a_federal_warning_is_due_on_its_kind_of_product(
    product: str, line: str, statement: str, rule: str, let_off: str
) -> None:
    # 21 CFR 740.17 and 740.19.
    on = "2026-11-25"

    assert verdict(held("us", product, line, on=on), rule) == "breaks"
    assert verdict(held("us", product, line, on=on, says=statement), rule) == "meets"
    assert verdict(held("eu", product, line, on=on), rule) == "does not apply"
    assert verdict(held("us", let_off, line, on=on), rule) in ("does not apply", "undecided")


def test_a_tanning_product_with_a_sunscreen_does_not_say_that_it_has_none() -> None:
    found = held("us", "tanning lotion", "Dihydroxyacetone 5", "Octocrylene 5 as UV filter", on="2026-11-25")

    assert verdict(found, "us-tanning-warning") == "does not apply"


@pytest.mark.parametrize(
    ("product", "rule"),
    [("body spray", "us-aerosol-warning"), ("intimate spray", "us-intimate-spray-cautions")],
)
def test_a_warning_whose_wording_is_remembered_gives_a_warning_at_most(product: str, rule: str) -> None:
    # 21 CFR 740.11 and 740.12: the titles were read, the wording was not.
    found = held("us", product, "Glycerin 2", on="2026-11-25")

    assert verdict(found, rule) == "breaks"
    assert {f.severity for f in found.findings if f.address == rule} == {"warning"}
    assert verdict(held("us", "body lotion", "Glycerin 2", on="2026-11-25"), rule) == "does not apply"


@pytest.mark.parametrize(
    ("product", "amount", "said"),
    [
        ("body lotion", "0.0221", "breaks"),
        ("body lotion", "0.022", "does not apply"),
        ("chest balm", "2", "does not apply"),
    ],
)
def test_eucalyptus_oil_asks_for_its_caution_above_the_threshold_unless_solid(
    product: str, amount: str, said: str
) -> None:
    # Cosmetic Ingredient Hotlist, August 2022: above 0.022 % in products that are not in solid form.
    found = held("ca", product, f"Eucalyptus Globulus Oil {amount}", on="2022-09-01")

    assert verdict(found, "ca-hotlist-statements#eucalyptus-oil") == said


@pytest.mark.parametrize(
    "line",
    ["Aluminum Zirconium Tetrachlorohydrex GLY 18", "Vinyl Chloride 0.001"],
)
def test_what_is_prohibited_in_aerosols_alone_may_be_in_a_stick(line: str) -> None:
    found = held("us", "antiperspirant stick", line, on="2026-11-25")

    assert {f.address for f in found.findings if f.rule == "us-prohibited"} == set()


# Stock that was on the market before the date may stay until the second one: its last day, and the day after.
STOCK = [
    ("body lotion", "Methyl Salicylate 0.1", "2025-09-29", "2026-03-30", "2026-03-31", "uk-annex-iii#324"),
    ("face cream", "Kojic Acid 2", "2025-06-19", "2025-10-31", "2025-11-01", "uk-annex-iii#kojic-acid"),
    ("nail polish", "Melamine 1", "2025-04-19", "2025-10-19", "2025-10-20", "uk-annex-ii#1680-1730"),
    ("nail kit", "99-97-8 1", "2025-09-01", "2026-03-01", "2026-03-02", "uk-annex-ii#1731-1743"),
]


@pytest.mark.parametrize(("product", "line", "since", "last", "over", "rule"), STOCK)
def test_stock_in_great_britain_has_until_its_own_date(
    product: str, line: str, since: str, last: str, over: str, rule: str
) -> None:
    # S.I. 2025 No. 413 and S.I. 2024 No. 1334: dates of placing on the market and of making available.
    extra = f"on_market_since: {since}"
    text = sheet(line, "Aqua qs", product=PRODUCTS[product], markets="uk", extra=extra)

    assert verdict(review(formula_from(text), load(), last), rule) == "coming"
    assert verdict(review(formula_from(text), load(), over), rule) == "breaks"
