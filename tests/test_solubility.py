"""What stays dissolved: handbook solubilities, salts that drop out as the free acid, shares of forms."""

from __future__ import annotations

import math
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import yaml

from jar import findings, formula, formula_from, solution, verdict
from watchglass.interval import Interval
from watchglass.rulebook import load
from watchglass.solution.equilibrium import Acid, WholeIons, activity_at_ph, shares
from watchglass.solution.water import debye_huckel_slope, pkw

FIGURES: dict[str, Any] = yaml.safe_load(
    (Path(__file__).parent / "data" / "solubilities.yaml").read_text(encoding="utf-8")
)
RULE = "dissolved-in-the-product"
IN_ITS_PHASE = "dissolved-in-its-phase"


def percent_of(grams_per_100_g_water: float) -> float:
    return 100 * grams_per_100_g_water / (100 + grams_per_100_g_water)


def named(row: dict[str, Any]) -> str:
    return f"{row['substance']}, {row['figure']} g at {row['celsius']} C, {row['source']}, {row['read']}"


@pytest.mark.parametrize("row", FIGURES["rows"], ids=named)
def test_a_handbook_solubility_decides_a_formula_on_either_side(row: dict[str, Any]) -> None:
    name, figure = row["substance"], row["figure"]
    assert row["source"] in FIGURES["sources"]
    said = {times: verdict(RULE, formula({name: percent_of(times * figure)}), name) for times in (0.8, 1.0, 1.5)}
    assert said == {0.8: "meets", 1.0: "undecided", 1.5: "breaks"}


def test_enough_handbook_figures_are_compared() -> None:
    assert len(FIGURES["rows"]) >= 12
    assert len({row["source"] for row in FIGURES["rows"]}) >= 3


# Merck Index, from memory: parts of water that one part needs. Allowed for: 1.5 either way.
PARTS_OF_WATER = {"Allantoin": 190, "Methylparaben": 400, "Caffeine": 46, "Salicylic Acid": 460, "Urea": 1}


@pytest.mark.parametrize("name", PARTS_OF_WATER)
def test_a_figure_from_memory_decides_far_from_it(name: str) -> None:
    figure = 100 / PARTS_OF_WATER[name]
    assert verdict(RULE, formula({name: percent_of(0.4 * figure)}), name) == "meets"
    assert verdict(RULE, formula({name: percent_of(2.5 * figure)}), name) == "breaks"


def test_a_finding_names_the_substance_both_figures_and_what_to_do() -> None:
    broken = findings(RULE, formula({"Allantoin": 2}))
    assert [finding.substances for finding in broken] == [("Allantoin",)]
    assert "Allantoin" in broken[0].message
    assert "2.04" in broken[0].message  # 2 / 98 x 100 g
    open_one = findings(RULE, formula({"Allantoin": 0.5}))
    assert open_one[0].needs


# -- salts that drop out as the free acid ---------------------------------------------------------------------------

# pH at which a salt alone in water begins to drop out as its acid. Derived, not read: pKa - 0.10 + log10(C / S0 - 1)
# with S0 2.75 g/L benzoic, 1.47 sorbic and 1.34 salicylic at 20 C, 0.66 dehydroacetic at 25 C (the last from memory).
DROPS_OUT_BELOW = [
    ("Sodium Benzoate", 0.5, 3.84),
    ("Sodium Benzoate", 1.0, 4.42),
    ("Sodium Benzoate", 2.0, 4.81),
    ("Potassium Sorbate", 0.3, 4.39),
    ("Potassium Sorbate", 0.5, 4.85),
    ("Potassium Sorbate", 1.0, 5.27),
    ("Sodium Salicylate", 0.5, 3.23),
    ("Sodium Salicylate", 1.0, 3.62),
    ("Sodium Salicylate", 2.0, 3.96),
    ("Sodium Dehydroacetate", 0.2, 5.36),
    ("Sodium Dehydroacetate", 0.5, 5.90),
    ("Sodium Dehydroacetate", 1.0, 6.24),
]


def read_at(percents: dict[str, float], ph: float) -> str | None:
    return verdict(RULE, formula(percents, extra=f"measured: {{ph: {ph:.2f}}}\n"))


@pytest.mark.parametrize(("salt", "percent", "ph"), DROPS_OUT_BELOW)
def test_a_salt_drops_out_as_its_acid_well_below_its_ph_and_not_well_above(
    salt: str, percent: float, ph: float
) -> None:
    assert read_at({salt: percent}, ph + 0.8) == "meets"
    assert read_at({salt: percent}, ph) == "undecided"
    assert read_at({salt: percent}, ph - 1.0) == "breaks"


@pytest.mark.parametrize("ph", [2.0, 3.0, 4.0, 6.0])
def test_little_enough_benzoate_stays_dissolved_at_any_ph(ph: float) -> None:
    # 0.3 % is 2.5 g/L as benzoic acid, below S0 2.75 g/L at 20 C
    assert read_at({"Sodium Benzoate": 0.3}, ph) == "meets"


def test_an_acid_and_its_salt_count_together() -> None:
    # each alone stays in solution at pH 3; together they are 4.0 g/L as benzoic acid, above 1.2 times S0 at 25 C
    assert read_at({"Benzoic Acid": 0.2}, 3.0) == "meets"
    assert read_at({"Sodium Benzoate": 0.25}, 3.0) == "meets"
    assert read_at({"Benzoic Acid": 0.3, "Sodium Benzoate": 0.35}, 3.0) == "breaks"


def test_an_acid_dissolves_by_being_neutralised() -> None:
    assert verdict(RULE, formula({"Salicylic Acid": 1.0})) == "breaks"
    assert verdict(RULE, formula({"Salicylic Acid": 1.0, "Tromethamine": 1.2})) == "meets"


# -- what moves a solubility ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("helper", "enough", "too_little"),
    [
        ("Alcohol", 5, 1),
        ("Propanediol", 5, 1),
        ("Glycerin", 5, 1),
        ("Polysorbate 20", 1.5, 0.5),
        ("Helianthus Annuus Seed Oil", 2, 0.5),
    ],
)
def test_what_helps_to_dissolve_makes_the_verdict_open(helper: str, enough: float, too_little: float) -> None:
    # allantoin at four times its figure
    assert verdict(RULE, formula({"Allantoin": 2, helper: too_little})) == "breaks"
    assert verdict(RULE, formula({"Allantoin": 2, helper: enough})) == "undecided"


def test_help_takes_nothing_away_from_what_dissolves_in_plain_water() -> None:
    assert verdict(RULE, formula({"Allantoin": 0.3, "Propanediol": 5})) == "meets"


def test_much_solvent_leaves_what_only_water_dissolves_open() -> None:
    # sodium chloride: 30 g in 100 g of water dissolve; in half propanediol no figure for water proves it
    assert verdict(RULE, formula({"Sodium Chloride": 12, "Propanediol": 40}), "Sodium Chloride") == "undecided"
    assert verdict(RULE, formula({"Sodium Chloride": 1, "Propanediol": 40}), "Sodium Chloride") == "meets"


@pytest.mark.parametrize("name", ["Titanium Dioxide", "Kaolin", "Bentonite", "Iron Oxides", "Mica", "Silica"])
def test_pigments_and_clays_are_not_asked_to_dissolve(name: str) -> None:
    assert findings(RULE, formula({name: 5})) == []
    assert findings(IN_ITS_PHASE, formula({name: 5})) == []


@pytest.mark.parametrize("name", ["Xanthan Gum", "Hydroxyethylcellulose", "Sodium Hydroxide", "Glycerin"])
def test_gums_liquids_and_caustics_are_not_asked_to_dissolve(name: str) -> None:
    assert [f for f in findings(RULE, formula({name: 1})) if name in f.substances] == []


def test_without_water_nothing_is_asked_to_dissolve() -> None:
    balm = {"Allantoin": 2, "Helianthus Annuus Seed Oil": 98}
    assert findings(RULE, formula(balm, water=False)) == []


@pytest.mark.parametrize(("celsius", "expected"), [(4, "undecided"), (5, "breaks"), (40, "breaks"), (41, "undecided")])
def test_the_figures_decide_only_between_five_and_forty_degrees(celsius: int, expected: str) -> None:
    assert verdict(RULE, formula({"Allantoin": 2}, extra=f"ph_temperature: {celsius}\n")) == expected


def test_a_phase_with_too_little_water_cannot_take_up_what_the_whole_could() -> None:
    text = """\
formula: two phases
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu]
phases:
  powder:
    lines:
      - {material: Allantoin, percent: 0.3}
      - {material: Aqua, percent: 10}
  water:
    lines:
      - {material: Aqua, percent: qs}
"""
    made = formula_from(text)
    assert verdict(RULE, made, "Allantoin") == "meets"
    assert verdict(IN_ITS_PHASE, made, "Allantoin") == "breaks"


# -- shares of the forms --------------------------------------------------------------------------------------------


def apparent_pk(share: float, ph: float) -> float:
    return ph + math.log10(share / (1 - share))


# Percent undissociated at a pH. Food Additives Data Book (read in a reproduction) for benzoic acid; the others a table
# in a preservation handbook, from memory. Compared as apparent pK: it holds the same error at every pH.
SHARES = [
    ("Benzoic Acid", {3: 93.5, 4: 59.3, 5: 12.8, 6: 1.44}, 0.04),
    ("Sorbic Acid", {5: 37.0}, 0.06),
    ("Dehydroacetic Acid", {4: 95.1, 5: 65.8, 6: 15.8, 7: 1.9}, 0.06),
    ("Propionic Acid", {4: 88.0, 5: 42.0, 6: 6.7, 7: 0.71}, 0.06),
    ("Salicylic Acid", {4: 8.6, 5: 0.94, 6: 0.094}, 0.06),
]


@pytest.mark.parametrize(("acid", "table", "tolerance"), SHARES, ids=[row[0] for row in SHARES])
def test_the_undissociated_share_is_that_of_the_handbook(acid: str, table: dict[int, float], tolerance: float) -> None:
    for ph, percent in table.items():
        form = solution({acid: 0.03}, reading=Interval.exactly(ph)).form(acid)
        assert form is not None
        low, middle, high = form.uncharged_share
        assert low <= middle <= high
        assert apparent_pk(middle, ph) == pytest.approx(apparent_pk(percent / 100, ph), abs=tolerance)


def test_azelaic_acid_splits_into_its_three_forms_as_its_supplier_works_out() -> None:
    # raw-material supplier, read: pKa 4.55 and 5.50, at pH 5 21.3 % uncharged, 59.8 % and 18.9 % charged once and twice
    known = load().substances["Azelaic Acid"]
    pkas = tuple(step.pka for step in known.steps)
    assert pkas == (4.55, 5.50)
    # at 1e-5 mol/kg of charge the activities still move the last form by 0.2
    model = load().model
    trace = Acid("Azelaic Acid", 1e-9, known.charge, pkas)
    salt_free = WholeIons(())
    activity = activity_at_ph([trace], salt_free, 5.0, pkw(25, model), debye_huckel_slope(25, model), model)
    forms = shares(trace, activity, 5.0)
    assert [round(100 * form, 1) for form in forms] == pytest.approx([21.3, 59.8, 18.9], abs=0.3)


def test_the_share_widens_with_the_reading_and_the_total_does_not() -> None:
    narrow = solution({"Sodium Benzoate": 0.5}, reading=Interval.exactly("4.5")).form("Benzoic Acid")
    wide = solution({"Sodium Benzoate": 0.5}, reading=Interval(Decimal(4), Decimal(5))).form("Benzoic Acid")
    assert narrow is not None
    assert wide is not None
    assert wide.uncharged_share[0] < narrow.uncharged_share[0]
    assert wide.uncharged_share[2] > narrow.uncharged_share[2]
    # 0.5 x 122.12 / 144.10 = 0.4237 %
    assert narrow.total_percent == pytest.approx(0.4237, abs=0.0001)
    assert wide.total_percent == pytest.approx(narrow.total_percent, rel=1e-12)
