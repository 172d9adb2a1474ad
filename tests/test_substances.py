"""The library of substances against chemistry that is not its own: molar masses, charge and mass, names, groups."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from molmass import Formula as Molecule

from jar import composition, substance
from watchglass.identity import names_of
from watchglass.interval import Interval
from watchglass.rulebook import load
from watchglass.substances import Substances, ion_charge

SUBSTANCES = load().substances
NAMES = tuple(SUBSTANCES.__iter__())
WITH_FORMULA = tuple(name for name in NAMES if "formula" in SUBSTANCES[name].facts)
SALTS = tuple(name for name in NAMES if SUBSTANCES[name].gives)
HYDROGEN = Decimal("1.008")


def mass_by_another_package(formula: str) -> float:
    """Of a formula such as C6H5Na3O7·2H2O; the package has weights with more figures than the abridged ones."""
    whole = 0.0
    for part in formula.split("·"):
        leading = re.match(r"[0-9]+", part)
        count = int(leading.group()) if leading else 1
        whole += count * float(Molecule(part[leading.end() :] if leading else part).mass)
    return whole


# -- molar masses ---------------------------------------------------------------------------------------------------


def test_molar_masses_agree_with_another_package() -> None:
    # five-figure weights differ from full ones by up to 6e-5 (sulfur); a forgotten hydrogen is 1.008
    off = {}
    for name in WITH_FORMULA:
        known = SUBSTANCES[name]
        other = mass_by_another_package(known.facts["formula"])
        assert known.molar_mass is not None
        if abs(float(known.molar_mass) - other) > max(0.01, 7e-5 * other):
            off[name] = (known.molar_mass, other)
    assert off == {}
    assert len(WITH_FORMULA) >= 300


# CRC Handbook and Merck Index, from memory, g/mol
HANDBOOK_MASSES = {
    "Aqua": 18.015, "Lactic Acid": 90.08, "Glycolic Acid": 76.05, "Salicylic Acid": 138.12, "Citric Acid": 192.12,
    "Citric Acid Monohydrate": 210.14, "Sodium Citrate": 294.10, "Sodium Citrate Anhydrous": 258.07,
    "Sodium Hydroxide": 40.00, "Potassium Hydroxide": 56.11, "Sodium Benzoate": 144.10, "Potassium Sorbate": 150.22,
    "Benzoic Acid": 122.12, "Sorbic Acid": 112.13, "Dehydroacetic Acid": 168.15, "Sodium Dehydroacetate": 190.13,
    "Methylparaben": 152.15, "Propylparaben": 180.20, "Triethanolamine": 149.19, "Tromethamine": 121.14,
    "Arginine": 174.20, "Urea": 60.06, "Niacinamide": 122.12, "Allantoin": 158.12, "Caffeine": 194.19,
    "Phenoxyethanol": 138.16, "Azelaic Acid": 188.22, "Mandelic Acid": 152.15, "Disodium EDTA": 372.24,
    "Gluconolactone": 178.14, "Zinc Oxide": 81.38, "Sodium Chloride": 58.44,
}  # fmt: skip


@pytest.mark.parametrize("name", HANDBOOK_MASSES)
def test_a_molar_mass_is_that_of_the_handbook(name: str) -> None:
    mass = substance(name).molar_mass
    assert mass is not None
    assert float(mass) == pytest.approx(HANDBOOK_MASSES[name], abs=0.02)


@pytest.mark.parametrize(
    ("formula", "by_hand"),
    [
        ("H2O", "18.015"),  # 2 x 1.008 + 15.999
        ("NaCl", "58.440"),  # 22.990 + 35.450 (abridged chlorine 35.45)
        ("Ca(OH)2", "74.092"),  # 40.078 + 2 x (15.999 + 1.008)
        ("CuSO4·5H2O", "249.677"),  # 63.546 + 32.06 + 63.996 + 5 x 18.015
    ],
)
def test_a_molar_mass_is_the_sum_of_the_atomic_weights(formula: str, by_hand: str) -> None:
    assert SUBSTANCES.molar_mass(formula) == Decimal(by_hand)


def test_a_formula_with_an_element_of_no_known_weight_is_refused() -> None:
    with pytest.raises(KeyError):
        SUBSTANCES.molar_mass("Xx2O")


# -- what a salt is made of -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ion", "charge"), [("Na+", 1), ("Mg+2", 2), ("Cl-", -1), ("Al+3", 3), ("Lactic Acid", None), ("Aqua", None)]
)
def test_an_ion_shows_its_charge_and_a_substance_none(ion: str, charge: int | None) -> None:
    assert ion_charge(ion) == charge


def test_a_salt_weighs_what_its_parts_weigh() -> None:
    # each charge of the whole ions stands for a proton that the acid left or the base took: 1.008 g/mol
    off: dict[str, Decimal] = {}
    for name in SALTS:
        known = SUBSTANCES[name]
        parts, charge = Decimal(0), Decimal(0)
        for part, moles in known.gives.items():
            z = ion_charge(part)
            mass = SUBSTANCES[part].molar_mass if z is None else SUBSTANCES.molar_mass(re.sub(r"[+-]\d*$", "", part))
            assert mass is not None, (name, part)
            parts += moles * mass
            charge += moles * (z or 0)
        assert known.molar_mass is not None, name
        difference = known.molar_mass - (parts - HYDROGEN * charge)
        if abs(difference) > Decimal("0.02"):
            off[name] = difference
    assert off == {}
    assert len(SALTS) >= 100


def test_every_part_of_a_salt_is_known_and_takes_part() -> None:
    for name in SALTS:
        for part in SUBSTANCES[name].gives:
            known = ion_charge(part) is not None or part == "Aqua" or bool(SUBSTANCES[part].steps)
            assert known, f"{name} gives {part}"


def test_the_steps_of_an_acid_stand_from_the_most_acidic_on() -> None:
    for name in NAMES:
        pkas = [step.pka for step in SUBSTANCES[name].steps]
        assert pkas == sorted(pkas), name
        assert all(step.uncertainty > 0 for step in SUBSTANCES[name].steps), name


def test_a_solubility_lies_between_its_lowest_and_highest_figure() -> None:
    for name in NAMES:
        for figure in (SUBSTANCES[name].water_solubility, SUBSTANCES[name].intrinsic_solubility):
            if figure is not None:
                assert figure.low <= figure.grams_per_100_g_water <= figure.high, name


# -- names ----------------------------------------------------------------------------------------------------------

# CAS numbers and common names: the trade's nomenclature, from memory
WORDS = [
    ("Aqua", "7732-18-5", "water"),
    ("Lactic Acid", "50-21-5", "2-hydroxypropanoic acid"),
    ("Glycolic Acid", "79-14-1", "hydroxyacetic acid"),
    ("Salicylic Acid", "69-72-7", "2-hydroxybenzoic acid"),
    ("Sodium Hydroxide", "1310-73-2", "caustic soda"),
    ("Potassium Hydroxide", "1310-58-3", None),
    ("Sodium Benzoate", "532-32-1", None),
    ("Potassium Sorbate", "24634-61-5", None),
    ("Tromethamine", "77-86-1", "tris"),
    ("Triethanolamine", "102-71-6", None),
    ("Alcohol", "64-17-5", "ethanol"),
    ("Glycerin", "56-81-5", "glycerol"),
    ("Propanediol", "504-63-2", None),
    ("Phenoxyethanol", "122-99-6", None),
    ("Niacinamide", "98-92-0", "nicotinamide"),
    ("Ascorbic Acid", "50-81-7", "vitamin C"),
    ("Citric Acid", "77-92-9", None),
    ("Citric Acid Monohydrate", "5949-29-1", None),
    ("Methylparaben", "99-76-3", "methyl 4-hydroxybenzoate"),
    ("Caffeine", "58-08-2", None),
    ("Allantoin", "97-59-6", None),
    ("Urea", "57-13-6", "carbamide"),
    ("Titanium Dioxide", "13463-67-7", "CI 77891"),
    ("Zinc Oxide", "1314-13-2", None),
    ("Sodium Chloride", "7647-14-5", None),
    ("Sodium Bicarbonate", "144-55-8", "sodium hydrogen carbonate"),
]


@pytest.mark.parametrize(("inci", "cas", "synonym"), WORDS)
def test_a_substance_is_found_by_each_of_its_names_in_any_case(inci: str, cas: str, synonym: str | None) -> None:
    for word in (inci, cas, synonym):
        if word is None:
            continue
        for written in (word, word.lower(), word.upper(), f"  {word.replace(' ', '   ')} "):
            found = SUBSTANCES.find(written)
            assert found is not None, written
            assert found.name == inci


def test_every_name_of_the_library_means_one_substance() -> None:
    meanings: dict[str, str] = {}
    for name in NAMES:
        known = SUBSTANCES[name]
        for word in {name, *known.cas, *known.facts.get("synonyms", ())}:
            assert meanings.setdefault(word.casefold(), name) == name, word
            found = SUBSTANCES.find(word)
            assert found is not None
            assert found.name == name


def test_every_cas_number_has_its_check_digit() -> None:
    # CAS Registry: the last digit is the sum of the others, weighted 1, 2, 3 ... from the right, modulo 10
    for name in NAMES:
        for cas in SUBSTANCES[name].cas:
            first, second, check = cas.split("-")
            digits = reversed(first + second)
            assert sum(weight * int(digit) for weight, digit in enumerate(digits, 1)) % 10 == int(check), (name, cas)


def test_an_unknown_word_is_not_found_and_has_near_names() -> None:
    assert SUBSTANCES.find("Lactik Acid") is None
    assert SUBSTANCES.nearest("Lactik Acid")[0] == "Lactic Acid"
    assert SUBSTANCES.find("") is None


def test_a_word_of_a_rule_is_a_group_a_name_or_refused() -> None:
    assert set(SUBSTANCES.resolve("caustics")) == {"Sodium Hydroxide", "Potassium Hydroxide"}
    assert SUBSTANCES.resolve(["50-21-5", "water"]) == ("Lactic Acid", "Aqua")
    assert SUBSTANCES.resolve(["caustics", "Sodium Hydroxide"]) == SUBSTANCES.resolve("caustics")
    with pytest.raises(KeyError, match="no such thing"):
        SUBSTANCES.resolve(["caustics", "no such thing"])


# -- groups ---------------------------------------------------------------------------------------------------------


def test_the_groups_hold_what_their_sources_say() -> None:
    groups = SUBSTANCES.groups
    # Regulation (EC) 1223/2009, Annex V, entry 3 (salicylic acid and its salts), from memory
    assert set(groups["salicylic-acid-and-salts"]) == {
        "Salicylic Acid", "Calcium Salicylate", "Magnesium Salicylate", "MEA-Salicylate", "Sodium Salicylate",
        "Potassium Salicylate", "TEA-Salicylate",
    }  # fmt: skip
    # the same, Annex II, entries 1374 to 1378, from memory
    assert set(groups["prohibited-parabens"]) == {
        "Isopropylparaben", "Isobutylparaben", "Phenylparaben", "Benzylparaben", "Pentylparaben",
    }  # fmt: skip
    # the same, Annex V, entries 12 and 12a, from memory
    assert {"Methylparaben", "Ethylparaben", "Sodium Methylparaben"} <= set(groups["parabens-12"])
    assert {"Propylparaben", "Butylparaben", "Sodium Propylparaben"} <= set(groups["parabens-12a"])
    assert not set(groups["parabens-12"]) & set(groups["parabens-12a"])
    # CIR Expert Panel, alpha hydroxy acids, 1998: glycolic and lactic acid, salts and simple esters, from memory
    assert {
        "Glycolic Acid",
        "Lactic Acid",
        "Ammonium Glycolate",
        "Sodium Lactate",
        "TEA-Lactate",
        "Ethyl Lactate",
    } <= set(groups["glycolic-and-lactic"])
    assert "Citric Acid" not in groups["glycolic-and-lactic"]


def test_a_group_holds_no_more_than_it_says() -> None:
    groups = SUBSTANCES.groups
    assert "Betaine Salicylate" not in groups["salicylic-acid-and-salts"]
    assert "Salicylic Acid" not in groups["alpha-hydroxy-acids"]
    assert "Gluconolactone" not in groups["hotlist-alpha-hydroxy"]
    assert "Gluconolactone" in groups["hotlist-poly-hydroxy-and-bionic"]
    assert "Citric Acid" in groups["hotlist-alpha-hydroxy"]
    assert not set(groups["hotlist-alpha-hydroxy"]) & set(groups["hotlist-poly-hydroxy-and-bionic"])
    assert {"Polysorbate 20", "Polysorbate 80"} <= set(groups["nonionic-emulsifiers"])
    assert {"DMDM Hydantoin", "Imidazolidinyl Urea", "Diazolidinyl Urea"} <= set(groups["formaldehyde-releasers"])
    assert "Phenoxyethanol" not in groups["formaldehyde-releasers"]
    assert {"Benzoic Acid", "Phenoxyethanol", "Methylparaben"} <= set(groups["annex-v-preservatives"])
    assert "Glycerin" not in groups["annex-v-preservatives"]


# -- one substance expressed as another -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("Sodium Benzoate", 0.8475),  # 122.12 / 144.10
        ("Potassium Sorbate", 0.7464),  # 112.13 / 150.22
        ("Sodium Dehydroacetate", 0.8844),  # 168.15 / 190.13
        ("Sodium Salicylate", 0.8627),  # 138.12 / 160.10
        ("Methylparaben", 0.9078),  # 138.12 / 152.15, as 4-hydroxybenzoic acid
        ("Ethylparaben", 0.8312),  # 138.12 / 166.18
        ("Propylparaben", 0.7665),  # 138.12 / 180.20
        ("Butylparaben", 0.7111),  # 138.12 / 194.23
        ("Sodium Methylparaben", 0.7932),  # 138.12 / 174.13
        ("Sodium Lactate", 0.8038),  # 90.08 / 112.06
        ("Ammonium Glycolate", 0.8170),  # 76.05 / 93.08
        ("Sodium Citrate", 0.6533),  # 192.12 / 294.10, the dihydrate
        ("Magnesium Lactate", None),  # 2 x 90.08 / its own mass, dihydrate or not: at least 0.75
        ("Lactic Acid", 1.0),
        ("Glycerin", 1.0),
    ],
)
def test_a_salt_or_ester_counts_as_its_acid_by_molar_mass(name: str, factor: float | None) -> None:
    found = SUBSTANCES.grams_counted_as(name, "acid")
    assert found is not None
    if factor is None:
        assert Decimal("0.75") <= found < Decimal("0.95")
    else:
        assert float(found) == pytest.approx(factor, abs=0.0001)


def test_as_supplied_a_substance_counts_as_itself() -> None:
    assert SUBSTANCES.grams_counted_as("Sodium Benzoate", "supplied") == 1
    assert SUBSTANCES.grams_counted_as("Sodium Benzoate", "Sodium Benzoate") == 1


def test_a_substance_does_not_count_as_one_that_it_does_not_hold() -> None:
    assert SUBSTANCES.grams_counted_as("Sodium Benzoate", "Sorbic Acid") is None
    assert SUBSTANCES.grams_counted_as("Glycerin", "Lactic Acid") is None


def test_a_salt_of_an_amine_counts_as_its_acid_and_not_as_the_amine() -> None:
    # TEA-Lactate 239.27: lactic acid 90.08, triethanolamine 149.19
    as_acid = SUBSTANCES.grams_counted_as("TEA-Lactate", "acid")
    assert as_acid is not None
    assert float(as_acid) == pytest.approx(90.08 / 239.27, abs=0.0001)


@pytest.mark.parametrize(
    ("name", "element", "by_hand"),
    [
        ("Zinc PCA", "Zn", 65.38 / (10 * 12.011 + 12 * 1.008 + 2 * 14.007 + 6 * 15.999 + 65.38)),
        ("Stannous Fluoride", "F", 2 * 18.998 / (118.71 + 2 * 18.998)),
        ("Strontium Chloride", "Sr", 87.62 / (87.62 + 2 * 35.45 + 6 * (2 * 1.008 + 15.999))),
        ("Potassium Alum", "Al", 26.982 / (39.098 + 26.982 + 2 * 32.06 + 20 * 15.999 + 24 * 1.008)),
        ("Lactic Acid", "Zn", 0.0),
    ],
)
def test_a_substance_counts_as_an_element_by_its_formula(name: str, element: str, by_hand: float) -> None:
    # IUPAC, standard atomic weights 2021, abridged.
    counted = SUBSTANCES.grams_counted_as(name, element)

    assert counted is not None
    assert float(counted) == pytest.approx(by_hand, abs=1e-6)


def test_a_substance_without_a_formula_counts_as_no_element() -> None:
    assert SUBSTANCES.grams_counted_as("Zinc Glutamate", "Zn") is None


def test_half_a_percent_of_benzoic_acid_is_fifty_nine_hundredths_of_sodium_benzoate() -> None:
    factor = SUBSTANCES.grams_counted_as("Sodium Benzoate", "acid")
    assert factor is not None
    made = composition({"Sodium Benzoate": "0.59"}).percent(["Sodium Benzoate"])
    assert made.times(factor).rounded(4) == Interval.exactly("0.5000")


# -- a library by hand ----------------------------------------------------------------------------------------------


def test_a_small_library_of_ones_own_works_alike() -> None:
    salt = {
        "substance": "Salt",
        "state": "solid",
        "functions": ["bulking"],
        "formula": "NaCl",
        "gives": {"Na+": 1, "Cl-": 1},
    }
    entries: list[dict[str, Any]] = [salt | {"cas": ["7647-14-5"], "groups": ["things"]}]
    own = Substances({"Salt": entries[0]}, {"Na": 22.990, "Cl": 35.45}, names_of(entries), {"things": ["Salt"]})
    assert list(own) == ["Salt"]
    found = own.find("7647-14-5")
    assert found is not None
    assert found.molar_mass == Decimal("58.440")
    assert found.gives == {"Na+": 1, "Cl-": 1}
    assert own.resolve("things") == ("Salt",)
    with pytest.raises(KeyError):
        own["Sugar"]
