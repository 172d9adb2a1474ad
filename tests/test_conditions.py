"""Product types of legal lists and kinds of products: what each phrase means in the words of a product block."""

import csv
from pathlib import Path
from typing import Any

import pytest

from helpers import formula_from, sheet
from watchglass import library
from watchglass.conditions import Answer, Kinds, all_of, contradiction
from watchglass.formula import Product

DATA = library.load()
KINDS = Kinds(DATA["kinds"], DATA["product-types"]["types"])
EVIDENCE = Path(__file__).parents[2] / "shared" / "evidence" / "official" / "eu-annex-iii-2024-05-16.csv"
HAIR = {"use": "rinse-off", "site": "hair", "form": "cream"}
FACE = {"use": "leave-on", "site": "face", "form": "cream"}
LASHES = {"use": "leave-on", "site": "eye area", "form": "cream"}


def product(**words: str) -> Product:
    stated = {"audience": "adults"} | words
    return formula_from(sheet("Aqua qs", product=", ".join(f"{key}: {word}" for key, word in stated.items()))).product


def answer(block: Any, **words: str) -> Answer:
    return all_of([block], KINDS)(product(**words))


def test_every_product_type_of_the_official_list_has_a_meaning() -> None:
    # ECHA export of Annex III to Regulation (EC) No 1223/2009, 16 May 2024: column "product type".
    if not EVIDENCE.is_file():
        pytest.skip("the official list of Annex III is not beside this checkout")
    with EVIDENCE.open(encoding="utf-8-sig", newline="") as file:
        phrases = {row["product_type"] for row in csv.DictReader(file)}

    known = [phrase for facts in KINDS.types.values() for phrase in facts["phrases"]]

    assert len(phrases) == 92
    assert phrases == set(known)
    assert len(known) == len(set(known))


@pytest.mark.parametrize("name", sorted(KINDS.types))
def test_some_product_is_of_each_product_type_and_its_kind_goes_with_its_site(name: str) -> None:
    uses, sites, forms = ("leave-on", "rinse-off"), DATA_SITES, ("liquid", "cream", "powder", "spray")
    people = [
        ("adults", "consumer"),
        ("children", "consumer"),
        ("children under 3", "consumer"),
        ("adults", "professional"),
    ]

    found = [
        candidate
        for use in uses
        for site in sites
        for form in forms
        for kind in DATA["kinds"]
        for audience, hand in people
        if KINDS.could_be(candidate := Product(use, site, form, audience, hand, kind), kind)
        and all_of([{"type": name}], KINDS)(candidate)
    ]

    assert found


DATA_SITES = sorted({site for place in DATA["kinds"].values() for site in place["site"]})


@pytest.mark.parametrize("kind", [kind for kind in DATA["kinds"] if "is" in DATA["kinds"][kind]])
def test_a_finer_kind_can_only_be_where_its_wider_kind_can_be(kind: str) -> None:
    here = DATA["kinds"][kind]

    for wider in here["is"]:
        above = DATA["kinds"][wider]
        assert set(here["use"]) <= set(above["use"])
        assert set(here["site"]) <= set(above["site"])
        assert "form" not in above or set(here["form"]) <= set(above["form"])


def test_a_rule_for_a_wider_kind_is_for_the_finer_kind_as_well() -> None:
    assert answer({"kind": "hair dye"}, **HAIR, kind="oxidative hair dye") is True
    assert answer({"kind": "make-up"}, **LASHES, kind="mascara") is True
    assert answer({"kind": "hydroalcoholic product"}, use="leave-on", site="body", form="spray", kind="eau de toilette")


def test_a_product_of_a_wider_kind_may_be_of_the_finer_one() -> None:
    assert answer({"kind": "oxidative hair dye"}, **HAIR, kind="hair dye") is None
    assert answer({"kind": "oxidative hair dye"}, **HAIR) is None
    assert answer({"kind": "oxidative hair dye"}, **HAIR, kind="shampoo") is False
    assert answer({"kind": "oxidative hair dye"}, **HAIR, kind="other") is False


def test_what_stays_on_cannot_be_an_oxidative_dye_whatever_wider_kind_it_states() -> None:
    assert answer({"kind": "oxidative hair dye"}, use="leave-on", site="hair", form="cream", kind="hair dye") is False


@pytest.mark.parametrize(
    "name",
    [
        "oxidative-hair-dye",
        "depilatory",
        "straightening",
        "toothpaste",
        "nail-hardener",
        "fine-fragrance",
        "hair",
        "oral",
    ],
)
def test_a_face_cream_that_states_no_kind_is_none_of_the_types_for_other_places(name: str) -> None:
    assert answer({"type": name}, **FACE) is False


def test_a_condition_for_what_is_stated_takes_silence_for_no() -> None:
    assert answer({"kind": "hair straightener"}, **HAIR) is None
    assert answer({"kind": "hair straightener", "stated": True}, **HAIR) is False
    assert answer({"kind": "hair straightener", "stated": True}, **HAIR, kind="hair straightener") is True
    assert answer({"kind": "oxidative hair dye", "stated": True}, **HAIR, kind="hair dye") is False


def test_a_form_rules_a_kind_out() -> None:
    assert answer({"kind": "fine fragrance"}, use="leave-on", site="body", form="cream") is False
    assert answer({"kind": "fine fragrance"}, use="leave-on", site="body", form="spray") is None


def test_of_several_types_any_may_fit_and_under_not_none_may() -> None:
    either = {"type": ["oral", "nails"]}

    assert answer(either, use="leave-on", site="nails", form="liquid") is True
    assert answer(either, **FACE) is False
    assert answer({"not": either}, **FACE) is True
    assert answer({"use": "leave-on", "not": {"type": "leave-on-hair-spray"}}, **FACE) is True


def test_a_kind_that_its_form_rules_out_is_told_with_the_forms_that_it_can_have() -> None:
    said = contradiction(product(use="leave-on", site="body", form="cream", kind="fine fragrance"), KINDS)

    assert said is not None
    assert "as liquid, spray, aerosol" in said
    assert "this product is leave-on and for body as cream" in said
