"""What the lot at hand may do to a predicted pH.

The ranges are facts of the trade (common practice, no source); that 80 to 90 % lactic acid holds lactoyllactic acid
stands in the EU purity criteria for food additives (Regulation 231/2012, E 270).
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from jar import solution

LYE = "materials:\n  lye-20: {contains: {Sodium Hydroxide: 20, Aqua: 80}}\n"


def test_pellets_weighed_under_their_own_name_count_as_what_is_sold() -> None:
    weighed = solution({"Glycolic Acid": 5, "Sodium Hydroxide": 1.3})
    pure = solution({"Glycolic Acid": 5, "Sodium Hydroxide": 1.3 * 0.98}, analytical=True)

    assert weighed.equilibrium is not None
    assert pure.equilibrium is not None
    assert weighed.equilibrium.ph == pytest.approx(pure.equilibrium.ph, abs=0.001)


def test_a_stock_whose_strength_the_supplier_states_is_taken_at_its_word() -> None:
    stated = solution({"Mandelic Acid": 5, "lye-20": 4}, LYE)
    weighed = solution({"Mandelic Acid": 5, "Sodium Hydroxide": 0.8})

    assert stated.band is not None
    assert weighed.band is not None
    assert max(stated.band.materials) == 0
    assert min(weighed.band.materials) > 0.005


def test_the_band_reaches_from_the_poorest_potash_to_the_best() -> None:
    found = solution({"Mandelic Acid": 5, "Potassium Hydroxide": 1})
    assert found.predicted is not None
    for purity in (0.85, 0.90):
        lot = solution({"Mandelic Acid": 5, "Potassium Hydroxide": purity}, analytical=True)
        assert lot.equilibrium is not None
        assert found.predicted.interval.low < Decimal(str(lot.equilibrium.ph)) < found.predicted.interval.high


def test_the_band_of_a_strong_lactic_acid_holds_all_monomer_and_a_fifth_as_dimer() -> None:
    strong = LYE + "  acid: {contains: {Lactic Acid: 88, Aqua: 12}}\n"
    found = solution({"acid": 5, "lye-20": 5}, strong)
    monomer = solution({"Lactic Acid": 4.4, "Sodium Hydroxide": 1}, analytical=True)
    dimer = solution(
        {"Lactic Acid": 0.8 * 4.4, "Lactoyllactic Acid": 0.2 * 4.4 / 2 * 162.14 / 90.08, "Sodium Hydroxide": 1},
        analytical=True,
    )
    assert found.predicted is not None
    for one in (monomer, dimer):
        assert one.equilibrium is not None
        assert found.predicted.interval.low < Decimal(str(one.equilibrium.ph)) < found.predicted.interval.high
    assert found.predicted.value == pytest.approx(
        Decimal(str(monomer.equilibrium.ph if monomer.equilibrium else 0)), abs=Decimal("0.001")
    )


def test_a_diluted_lactic_acid_holds_no_dimer() -> None:
    weak = "materials:\n  acid: {contains: {Lactic Acid: 29.9, Aqua: 70.1}}\n"
    found = solution({"acid": 10}, weak)
    assert found.band is not None
    assert max(found.band.materials) == 0


def test_gluconolactone_begins_higher_than_it_settles() -> None:
    found = solution({"Gluconolactone": 1, "Sodium Benzoate": 0.3})
    settled = solution({"Gluconic Acid": 1 / 178.14 * 196.16, "Sodium Benzoate": 0.3})
    assert found.fresh is not None
    assert found.equilibrium is not None
    assert settled.equilibrium is not None
    assert found.fresh.ph == 8  # base opens the rest at once
    assert found.fresh.hours == 24
    assert found.equilibrium.ph == pytest.approx(settled.equilibrium.ph, abs=0.001)


def test_a_gel_without_a_lactone_has_no_other_ph_when_fresh() -> None:
    assert solution({"Glycolic Acid": 5, "Sodium Hydroxide": 1.3}).fresh is None


def test_what_a_pellet_holds_beside_lye_counts_as_water() -> None:
    weighed = solution({"Mandelic Acid": 5, "Potassium Hydroxide": 1})
    pure = solution({"Mandelic Acid": 5, "Potassium Hydroxide": 0.875}, analytical=True)

    # 1 g of pellets at 87.5 % makes as much water as 0.875 g of potash, holds 0.125 g more, and displaces 0.125 g
    assert weighed.mixture.water_g == pytest.approx(pure.mixture.water_g, abs=1e-9)


@pytest.mark.parametrize(("celsius", "width"), [(25, 0.0), (35, 0.05), (15, 0.05)])
def test_a_constant_without_an_enthalpy_widens_the_band_with_every_degree(celsius: int, width: float) -> None:
    # Gluconic acid: no enthalpy is known; 0.005 a degree, and nearly all of the buffering is its own.
    found = solution({"Gluconic Acid": 5, "Sodium Hydroxide": 0.5}, temperature_c=celsius)
    assert found.band is not None
    assert found.band.temperature == pytest.approx(width, abs=0.003)
