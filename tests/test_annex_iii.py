"""Annex III to the cosmetics regulation of the EU: the rules against a second table and against the official list.

Source: ECHA export of Annex III to Regulation (EC) No 1223/2009, 16 May 2024, which lies beside this checkout or not at
all. Molar masses are computed here, from formulas of
`data/annex-iii-weighed.yaml` and weights of our own.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import yaml

from helpers import formula_from, sheet
from watchglass import library
from watchglass.conditions import Kinds, of_type
from watchglass.findings import Review
from watchglass.judge import review
from watchglass.rulebook import load

HERE = Path(__file__).parent
OFFICIAL = HERE.parents[1] / "shared" / "evidence" / "official" / "eu-annex-iii-2024-05-16.csv"
READ: dict[str, Any] = yaml.load((HERE / "data" / "annex-iii-weighed.yaml").read_text("utf-8"), yaml.BaseLoader)
ON = "2026-11-25"
DELETED = {"311": "2025-08-31"}  # Regulation (EU) 2025/877 deleted the entry from 1 September 2025 on
KINDS = Kinds(library.load()["kinds"], library.load()["product-types"]["types"])
PHRASES = {phrase: name for name, facts in KINDS.types.items() for phrase in facts["phrases"]}
PROFESSIONAL = re.compile("rofessional use|sold to dental practitioners")
FOURTH, SIXTH = Decimal("0.0001"), Decimal("0.000001")

# IUPAC, standard atomic weights 2021, abridged to five figures.
WEIGHTS = {
    symbol: Decimal(weight)
    for symbol, weight in {
        "H": "1.0080", "C": "12.011", "N": "14.007", "O": "15.999", "F": "18.998", "Na": "22.990", "Mg": "24.305",
        "Al": "26.982", "Si": "28.085", "P": "30.974", "S": "32.06", "Cl": "35.45", "K": "39.098", "Ca": "40.078",
        "Zn": "65.38", "Sr": "87.62", "Sn": "118.71", "Li": "6.94",
    }.items()
}  # fmt: skip


class Row(NamedTuple):
    """One product type of one substance: what may be weighed and what may not, % w/w."""

    entry: str
    weighed: str
    product: tuple[tuple[str, str], ...]
    lawful: str
    unlawful: str
    on: str

    @property
    def name(self) -> str:
        return f"{self.entry}: {self.weighed} {self.lawful} in {dict(self.product)}"


def molar_mass(formula: str) -> Decimal:
    parts = re.findall(r"([A-Z][a-z]?)([0-9]*)", formula)
    return sum((WEIGHTS[symbol] * int(count or 1) for symbol, count in parts), Decimal(0))


# -- the second table ----------------------------------------------------------------------------------------------


def second_table() -> Iterator[Row]:
    """`data/annex-iii.csv`, written by product: a product, then entry, what is weighed, lawful and unlawful amount."""
    for line in csv.reader((HERE / "data" / "annex-iii.csv").read_text("utf-8").splitlines()):
        if line and not line[0].startswith("#"):
            words, entry, weighed, lawful, unlawful, on = line
            product = tuple(tuple(word.split("=", 1)) for word in words.split("; "))
            yield Row(entry, weighed, product, lawful, unlawful, on)  # type: ignore[arg-type]  # split(…, 1) gives pairs


def said(row: Row, amount: str) -> set[str]:
    """What the row's entry says of an amount: the verdicts of its findings, and meets."""
    product = ", ".join(f"{key}: {word}" for key, word in row.product)
    text = sheet(f"{row.weighed} {amount} as skin conditioning", "Aqua qs", product=product)
    found = review(formula_from(text), load(), row.on)
    return _of_entry(found, row.entry)


def _of_entry(found: Review, entry: str) -> set[str]:
    own = re.compile(rf"eu-annex-iii#{entry}(-.+)?")
    verdicts = {finding.verdict for finding in found.findings if own.fullmatch(finding.address)}
    return verdicts | ({"meets"} if any(own.fullmatch(address) for address in found.meets) else set())


def test_each_row_of_the_second_table_meets_at_its_lawful_amount_and_breaks_at_the_unlawful_one() -> None:
    rows = list(second_table())

    wrong = [f"{row.name}: {said(row, row.lawful)}" for row in rows if said(row, row.lawful) - {"coming"} != {"meets"}]
    passed = [f"{row.name}: {row.unlawful}" for row in rows if "breaks" not in said(row, row.unlawful)]

    assert wrong == []
    assert passed == []
    assert len(rows) == int(READ["rows of the second table"])


# -- the official list ---------------------------------------------------------------------------------------------


@cache
def official() -> list[dict[str, str]]:
    if not OFFICIAL.is_file():
        pytest.skip("the official list of Annex III is not beside this checkout")
    with OFFICIAL.open(encoding="utf-8-sig", newline="") as file:
        return [row for row in csv.DictReader(file) if row["max_percent"]]


def excepted(row: dict[str, str]) -> str | None:
    """Why a row is not held as an amount; None where it is."""
    for exception in READ["exceptions"]:
        fits = row["entry"] == exception["entry"] and row["expressed_as"] == exception.get("as", row["expressed_as"])
        if fits and re.search(exception.get("listed", ""), row["listed_as"]):
            reason: str = exception["why"]
            return reason
    return None


def weighed(row: dict[str, str]) -> tuple[str, Decimal]:
    """What is weighed for a row, and grams that one gram of it counts as."""
    key = f"{row['entry']} {row['listed_as']}"
    facts = READ["weighed"].get(
        max((known for known in READ["weighed"] if key.startswith(known)), key=len, default=""), {}
    )
    name = facts.get("name") or row["cas"].split(",")[0].strip() or row["listed_as"]
    if row["expressed_as"] not in facts:
        return name, Decimal(1)
    counted, formula, moles = facts[row["expressed_as"]]
    return name, Decimal(moles) * molar_mass(counted) / molar_mass(formula)


def products(row: dict[str, str]) -> Iterator[tuple[tuple[str, str], ...]]:
    """A product for each way in which the row's phrase can be meant; of no kind where the phrase says none."""
    for block in of_type(PHRASES[row["product_type"]], KINDS):
        kind = _first(block.get("kind", "other"))
        place = KINDS.places[kind]
        barred = block.get("not", {})
        words = {
            "use": _first(block.get("use") or place["use"] or ["leave-on"]),
            "site": _first(
                block.get("site") or [s for s in place["site"] or ["face"] if s not in _all(barred, "site")]
            ),
            "form": _first(block.get("form") or place.get("form", ["gel"])),
            "audience": _first(block.get("audience", "adults")),
            "applied_by": "professional" if PROFESSIONAL.search(row["restriction"]) else _hand(block),
            "kind": kind,
        }
        yield tuple(words.items())


def _hand(block: Any) -> str:
    return _first(block.get("applied_by", "consumer"))


def _first(words: str | Iterable[str]) -> str:
    return words if isinstance(words, str) else next(iter(words))


def _all(block: Any, key: str) -> list[str]:
    words = block.get(key, [])
    return [words] if isinstance(words, str) else list(words)


def limit_of(row: dict[str, str]) -> Decimal:
    figure = row["max_percent"]
    per_kg = figure.removesuffix(" mg/kg")
    return Decimal(per_kg) / 10000 if per_kg != figure else Decimal(figure)


def rows_of(row: dict[str, str]) -> Iterator[Row]:
    """The official row as amounts to weigh: the most that is lawful, and 1.001 times the limit.

    A converted figure is held to four decimals, so there the unlawful amount is at least one of the last more.
    """
    limit, (name, factor) = limit_of(row), weighed(row)
    beyond = limit * Decimal("1.001") if factor == 1 else max(limit * Decimal("1.001"), limit + FOURTH)
    lawful = limit if factor == 1 else (limit / factor).quantize(SIXTH, ROUND_FLOOR)
    unlawful = beyond if factor == 1 else (beyond / factor).quantize(SIXTH, ROUND_CEILING)
    on = DELETED.get(row["entry"], ON)
    for product in products(row):
        yield Row(row["entry"], name, product, f"{lawful.normalize():f}", f"{unlawful.normalize():f}", on)


def test_every_numeric_row_of_the_official_list_meets_at_its_limit_and_breaks_above_or_is_excepted() -> None:
    held = [row for row in official() if excepted(row) is None]
    shapes = {shape for row in held for shape in rows_of(row)}

    wrong = sorted(f"{shape.name}: {said(shape, shape.lawful)}" for shape in shapes if not _lawful(shape))
    passed = sorted(
        f"{shape.name}: {shape.unlawful}" for shape in shapes if "breaks" not in said(shape, shape.unlawful)
    )

    assert wrong == []
    assert passed == []
    assert {"numeric": len(official()), "held": len(held), "excepted": len(official()) - len(held)} == {
        key: int(count) for key, count in READ["official"].items()
    }


def _lawful(shape: Row) -> bool:
    return said(shape, shape.lawful) - {"coming"} == {"meets"}


ORDINARY = (
    ["Sodium Hydroxide 0.1", "Triethanolamine 0.8", "Ethoxydiglycol 2", "Titanium Dioxide 3"],
    ["BHT 0.05", "Retinyl Palmitate 0.2", "Hexyl Salicylate 0.1", "Benzyl Salicylate 0.1", "Citral 0.05"],
    ["Kojic Acid 0.5", "Alpha-Arbutin 1", "Zinc PCA 0.5", "Methyl Salicylate 0.01", "Salicylic Acid 0.5"],
)


@pytest.mark.parametrize("lines", ORDINARY, ids=["base", "oils", "actives"])
def test_an_ordinary_face_cream_that_states_no_kind_leaves_no_amount_of_the_list_open(lines: list[str]) -> None:
    product = "use: leave-on, site: face, form: cream, audience: adults"
    jar = [f"{line} as skin conditioning" for line in lines]

    found = review(formula_from(sheet(*jar, "Aqua qs", product=product)), load(), ON)

    assert [finding.message for finding in found.findings if finding.rule == "eu-annex-iii"] == []
    assert sum(address.startswith("eu-annex-iii#") for address in found.meets) >= 2


@pytest.mark.parametrize(
    ("weighed", "product"),
    [
        ("p-Phenylenediamine", "use: leave-on, site: face, form: cream"),
        ("Benzoyl Peroxide", "use: leave-on, site: face, form: gel"),
        ("Disodium Etidronate", "use: leave-on, site: face, form: cream"),
        ("Stannous Fluoride", "use: leave-on, site: body, form: cream"),
        ("Selenium Sulfide", "use: leave-on, site: scalp, form: liquid"),
        ("Kojic Acid", "use: leave-on, site: body, form: lotion"),
        ("Arbutin", "use: rinse-off, site: face, form: gel"),
    ],
)
def test_a_restricted_substance_may_not_be_in_a_product_for_which_its_entry_names_no_limit(
    weighed: str, product: str
) -> None:
    text = sheet(f"{weighed} 0.001 as skin conditioning", "Aqua qs", product=f"{product}, audience: adults")

    found = review(formula_from(text), load(), ON)

    assert {finding.verdict for finding in found.findings if finding.rule == "eu-annex-iii"} == {"breaks"}


def verdicts_on_lye(product: str, ph: str) -> dict[str, str]:
    extra = f"measured: {{ph: {ph}, tolerance: 0}}"
    text = sheet("Sodium Hydroxide 1.9", "Aqua qs", product=f"{product}, audience: adults", extra=extra)
    found = review(formula_from(text), load(), ON)
    return {f.address: f.verdict for f in found.findings if f.rule.startswith("eu-annex-iii")}


def test_lye_that_only_sets_the_ph_asks_a_hair_product_for_no_warning_and_lye_that_does_more_for_its_kind() -> None:
    hair = "use: rinse-off, site: hair, form: cream"

    assert verdicts_on_lye(hair, "5.5") == {}
    assert verdicts_on_lye(hair, "12") == {"eu-annex-iii-ph#15a": "undecided"}
    said = verdicts_on_lye(f"{hair}, kind: hair straightener", "12")
    assert said["eu-annex-iii-statements#15a-can-cause-blindness"] == "breaks"


def test_what_a_hair_product_is_has_to_be_said_where_its_kind_decides() -> None:
    text = sheet("Resorcinol 1", "Aqua qs", product="use: rinse-off, site: hair, form: cream, audience: adults")

    found = review(formula_from(text), load(), ON)

    own = [finding for finding in found.findings if finding.address == "eu-annex-iii#22"]
    assert [finding.verdict for finding in own] == ["undecided"]
    assert own[0].needs == ("state the finest product.kind that fits; other, if it is none",)


def test_every_exception_is_one_of_the_list_and_has_its_reason() -> None:
    reasons = Counter(reason for row in official() if (reason := excepted(row)) is not None)

    assert set(reasons) == {exception["why"] for exception in READ["exceptions"]}


def test_every_substance_of_the_list_that_the_library_knows_is_one_that_a_rule_speaks_of() -> None:
    book = load()
    words = (word.strip() for row in _listed() for word in (*row["cas"].split(","), row["listed_as"], row["name"]))
    known = {substance.name for word in words if word and (substance := book.substances.find(word)) is not None}
    european = [rule.check.touches for rule in book.rules if rule.id.startswith("eu-") and rule.check.touches]

    assert known - {name for names in european for name in names} == set()
    assert len(known) >= 300


def _listed() -> list[dict[str, str]]:
    """Every row, those without an amount too."""
    official()
    with OFFICIAL.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


ONLY_THE_SUPPLIER = {
    "Methyl Alcohol": "hands",
    "Cocamide DEA": "body",
    "Benzalkonium Chloride": "hair",
    "Polyacrylamide": "face",
    "Arachis Hypogaea Oil": "body",
    "Hydrolyzed Wheat Protein": "hair",
}


@pytest.mark.parametrize("market", ["eu", "uk"])
@pytest.mark.parametrize(("name", "site"), ONLY_THE_SUPPLIER.items())
def test_what_only_the_supplier_can_tell_of_a_restricted_substance_leaves_a_formula_open(
    name: str, site: str, market: str
) -> None:
    product = f"use: rinse-off, site: {site}, form: liquid, audience: adults, kind: other"
    text = sheet(f"{name} 1 as skin conditioning", "Aqua qs", product=product, markets=market)

    found = review(formula_from(text), load(), ON)

    own = [finding for finding in found.findings if finding.rule == f"{market}-annex-iii-supplier"]
    assert [finding.verdict for finding in own] == ["undecided"]
    assert own[0].needs[0].startswith("declare ")
    assert found.outcome != "meets"
