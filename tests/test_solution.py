"""The solution model: solver against an independent one, constants of water, where a prediction stops."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq  # type: ignore[import-untyped]  # scipy ships no types

from jar import ON, composition, formula, formula_from, solution
from watchglass.composition import expand
from watchglass.errors import WatchglassError
from watchglass.interval import Interval
from watchglass.judge import review
from watchglass.rulebook import load
from watchglass.solution import dissolve
from watchglass.solution.batch import solve_together
from watchglass.solution.equilibrium import Acid, Equilibrium, NoConvergenceError, WholeIons, solve
from watchglass.solution.mixture import Mixture
from watchglass.solution.water import davies, debye_huckel_slope, pka_at, pkw

MODEL = load().model
BUFFER: dict[str, float] = {"Lactic Acid": 2, "Sodium Hydroxide": 0.4}


# -- an independent solver: charge balance in mol/kg, Davies with 0.3, two nested bracketed searches ----------------


def log_gamma(charge: int, strength: float, slope: float) -> float:
    root = math.sqrt(strength)
    return -slope * charge**2 * (root / (1 + root) - 0.3 * strength)


def gamma(charge: int, strength: float, slope: float) -> float:
    return float(10 ** log_gamma(charge, strength, slope))


def molalities(acid: Acid, ph: float, strength: float, slope: float) -> list[tuple[int, float]]:
    """Charge and molality of each form, from the products of the activity constants."""
    activity = 10.0**-ph
    weights, product = [], 1.0
    for number in range(len(acid.pkas) + 1):
        if number:
            product *= 10.0 ** -acid.pkas[number - 1] / activity
        weights.append(product * gamma(acid.charge, strength, slope) / gamma(acid.charge - number, strength, slope))
    whole = sum(weights)
    return [(acid.charge - number, acid.molality_mol_per_kg * weight / whole) for number, weight in enumerate(weights)]


def water_activity(acids: Sequence[Acid], ions: WholeIons) -> float:
    dissolved = [acid.molality_mol_per_kg for acid in acids] + [molality for molality, _ in ions.molalities]
    return math.exp(-0.017 * math.fsum(dissolved))


def species(
    acids: Sequence[Acid], ions: WholeIons, ph: float, strength: float, kw: float, slope: float
) -> list[tuple[int, float]]:
    one = gamma(1, strength, slope)
    found = [(1, 10.0**-ph / one), (-1, 10.0 ** (ph - kw) * water_activity(acids, ions) / one)]
    found += [(charge, molality) for molality, charge in ions.molalities]
    for acid in acids:
        found += molalities(acid, ph, strength, slope)
    return found


def independent_ph(acids: Sequence[Acid], ions: WholeIons, kw: float, slope: float) -> tuple[float, float]:
    strength = 0.01
    for _ in range(400):
        fixed = strength

        def net(ph: float, fixed: float = fixed) -> float:
            return sum(charge * molality for charge, molality in species(acids, ions, ph, fixed, kw, slope))

        ph = float(brentq(net, -2, 16, xtol=1e-12, rtol=1e-14))
        strength = sum(z * z * m for z, m in species(acids, ions, ph, fixed, kw, slope)) / 2
        if abs(strength - fixed) < 1e-12:
            return ph, strength
    raise AssertionError("the independent solver did not settle")


def random_mixture(dice: random.Random) -> tuple[list[Acid], WholeIons, float]:
    """1 to 6 acids and bases of the library with their own constants, sodium and chloride, 10 to 45 C."""
    substances = load().substances
    names = [
        "Acetic Acid", "Arginine", "Benzoic Acid", "Boric Acid", "Carbon Dioxide", "Citric Acid", "Glycine",
        "Glycolic Acid", "Lactic Acid", "Lysine", "Malic Acid", "Mandelic Acid", "Niacinamide", "Phosphoric Acid",
        "Salicylic Acid", "Sorbic Acid", "Succinic Acid", "Tartaric Acid", "Triethanolamine", "Tromethamine",
    ]  # fmt: skip
    celsius = dice.uniform(10, 45)
    acids = []
    for name in dice.sample(names, dice.randint(1, 6)):
        known = substances[name]
        pkas = tuple(
            pka_at(step.pka, step.enthalpy_kj_per_mol, step.heat_capacity_j_per_mol_k, celsius, MODEL)
            for step in known.steps
        )
        acids.append(Acid(name, 10 ** dice.uniform(-3.5, -0.9), known.charge, pkas))
    sodium, chloride = 10 ** dice.uniform(-4, -0.7), 10 ** dice.uniform(-4, -0.7)
    return acids, WholeIons(((sodium, 1), (chloride, -1))), celsius


def at(acids: Sequence[Acid], ions: WholeIons, celsius: float = 25.0) -> Equilibrium:
    return solve(acids, ions, pkw(celsius, MODEL), debye_huckel_slope(celsius, MODEL), MODEL)


@pytest.mark.parametrize("seed", range(12))
def test_the_solver_agrees_with_an_independent_one_to_a_millionth(seed: int) -> None:
    dice = random.Random(seed)
    for _ in range(20):  # 240 mixtures in all
        acids, ions, celsius = random_mixture(dice)
        found = at(acids, ions, celsius)
        kw, slope = pkw(celsius, MODEL), debye_huckel_slope(celsius, MODEL)
        ph, strength = independent_ph(acids, ions, kw, slope)
        assert found.ph == pytest.approx(ph, abs=1e-6)
        assert found.ionic_strength == pytest.approx(strength, abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_charges_balance_and_no_matter_is_lost(seed: int) -> None:
    dice = random.Random(1000 + seed)
    for _ in range(20):
        acids, ions, celsius = random_mixture(dice)
        found = at(acids, ions, celsius)
        slope = debye_huckel_slope(celsius, MODEL)
        one = gamma(1, found.ionic_strength, slope)
        net = (
            10.0**-found.ph / one
            - 10.0 ** (found.ph - pkw(celsius, MODEL)) * water_activity(acids, ions) / one
            + sum(m * z for m, z in ions.molalities)
        )
        for acid, fractions in zip(acids, found.fractions, strict=True):
            assert sum(fractions) == pytest.approx(1, abs=1e-9)
            assert min(fractions) >= 0
            net += acid.molality_mol_per_kg * sum((acid.charge - n) * share for n, share in enumerate(fractions))
        assert abs(net) <= 1e-9
        assert abs(found.charge_error) <= 1e-9


def test_a_step_that_is_halved_to_nothing_beside_the_root_is_not_taken_for_the_root() -> None:
    bases = [Acid("any", 0.1688074659725248, 1, (6.927734375,))] * 2
    acids = [*bases, Acid("any", 0.14579067129962706, 0, (5.0546875,))]

    found = at(acids, with_net(-0.026263597626622698))

    assert found.ph == pytest.approx(7.0428, abs=1e-4)
    assert abs(found.charge_error) < 1e-9


@pytest.mark.parametrize(
    ("acids", "sodium"),
    [
        ([Acid("a", 0.0078125, 1, (6.0,)), Acid("b", 0.0078125, 0, (6.0,))], 0.02),
        ([Acid("a", 0.021484375, 0, (6.375,))], 0.026237),
    ],
)
def test_a_mixture_on_which_steps_swing_to_and_fro_still_settles(acids: list[Acid], sodium: float) -> None:
    # from pH 7 each step overshoots to 5 and back, by the same amount: only a bracket ends that
    ions = WholeIons(((sodium, 1), (0.02, -1)))
    ph, _ = independent_ph(acids, ions, pkw(25, MODEL), debye_huckel_slope(25, MODEL))
    assert at(acids, ions).ph == pytest.approx(ph, abs=1e-6)


@pytest.mark.parametrize(("bicarbonate", "acid"), [(0.4, 0.12), (0.7, 0.2), (1.0, 0.28)])
def test_bicarbonate_half_neutralised_has_a_ph(bicarbonate: float, acid: float) -> None:
    # near the first pKa of carbonic acid, 6.35, less 0.1 to 0.2 for the activities
    found = solution({"Sodium Bicarbonate": bicarbonate, "Hydrochloric Acid": acid, "Sodium Chloride": 0.1})
    assert found.equilibrium is not None, found.why_not
    assert 5.8 < found.equilibrium.ph < 6.8


def test_pure_water_is_neutral() -> None:
    assert at([], WholeIons(())).ph == pytest.approx(pkw(25, MODEL) / 2, abs=1e-3)


def test_a_strong_acid_and_a_strong_base_alone_follow_their_molality() -> None:
    # -log10(0.01 x gamma), gamma 0.9 of a 1:1 ion at 0.01 mol/kg (Davies by hand: 0.0447)
    assert at([], WholeIons(((0.01, -1),))).ph == pytest.approx(2.0447, abs=0.001)
    assert at([], WholeIons(((0.01, 1),))).ph == pytest.approx(pkw(25, MODEL) - 2.0447, abs=0.001)


@pytest.mark.parametrize("charge", [20.0, -50.0, 200.0, -1000.0])
def test_a_mixture_that_no_ph_can_balance_gives_no_number(charge: float) -> None:
    with pytest.raises(WatchglassError):
        at([], WholeIons(((abs(charge), 1 if charge > 0 else -1),)))


@pytest.mark.parametrize("charge", [5.0, -5.0])
def test_a_strong_mixture_that_still_balances_does_so(charge: float) -> None:
    assert abs(at([], WholeIons(((abs(charge), 1 if charge > 0 else -1),))).charge_error) <= 1e-8


@pytest.mark.parametrize(
    "name",
    ["Hydrochloric Acid", "Sodium Hydroxide", "Tetrasodium EDTA", "Ammonium Sulfate", "Calcium Chloride Anhydrous"],
)
def test_almost_no_water_gives_a_reason_and_never_an_error(name: str) -> None:
    found = solution({name: 99, "Aqua": 1}, water=False)
    assert found.predicted is None
    assert found.why_not


# -- constants of water --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("celsius", "expected"), [(0, 14.95), (25, 13.995), (50, 13.26)])
def test_the_ion_product_of_water_is_that_of_the_tables(celsius: float, expected: float) -> None:
    # IAPWS and CRC Handbook tables, from memory
    assert pkw(celsius, MODEL) == pytest.approx(expected, abs=0.02)


def test_the_debye_huckel_slope_is_that_of_robinson_and_stokes() -> None:
    # Robinson and Stokes, Electrolyte Solutions, appendix: 0.5115 molar and 0.5108 molal at 25 C, from memory
    assert 0.5085 <= debye_huckel_slope(25, MODEL) <= 0.5115


def test_the_activity_of_an_ion_falls_at_first_and_turns_near_half_molal() -> None:
    # The Davies equation has its minimum where 1 / (2 sqrt I (1 + sqrt I)^2) = 0.3, at I = 0.39 by hand
    slope = debye_huckel_slope(25, MODEL)
    values = [davies(strength, slope, MODEL) for strength in (0.0, 0.01, 0.1, 0.39, 1.0, 1.5)]
    assert values[0] == 0
    assert values[0] < values[1] < values[2] < values[3]
    assert values[3] > values[4] > values[5]


def test_a_constant_without_heat_stays_and_one_with_heat_moves_by_van_t_hoff() -> None:
    assert pka_at(4.0, None, None, 45, MODEL) == 4.0
    assert pka_at(4.0, 47.45, -59, 25, MODEL) == 4.0
    # d pKa / dT = - dH / (ln 10 R T^2) = -0.0279 per degree for tromethamine (Bates: -0.028 per degree, from memory)
    moved = pka_at(8.072, 47.45, -59, 26, MODEL) - 8.072
    assert moved == pytest.approx(-0.028, abs=0.0005)


# -- what must hold for any mixture --------------------------------------------------------------------------------

ONE_STEP = st.builds(
    Acid,
    st.just("any"),
    st.floats(0.001, 0.2),
    st.sampled_from([0, 1]),
    st.tuples(st.floats(2, 11)),
)
SOME_ACIDS = st.lists(ONE_STEP, min_size=1, max_size=5)
IONS = st.floats(-0.05, 0.05)


def with_net(charge: float) -> WholeIons:
    salt = (0.02, 1), (0.02, -1)
    return WholeIons((*salt, (abs(charge), 1 if charge >= 0 else -1)))


@settings(max_examples=150, deadline=None)
@given(SOME_ACIDS, IONS, st.floats(1e-6, 0.05))
def test_more_base_never_lowers_the_ph(acids: list[Acid], charge: float, more: float) -> None:
    assert at(acids, with_net(charge + more)).ph >= at(acids, with_net(charge)).ph - 1e-8


@settings(max_examples=150, deadline=None)
@given(SOME_ACIDS, IONS, st.floats(1e-6, 0.05))
def test_more_strong_acid_never_raises_the_ph(acids: list[Acid], charge: float, more: float) -> None:
    assert at(acids, with_net(charge - more)).ph <= at(acids, with_net(charge)).ph + 1e-8


@settings(max_examples=150, deadline=None)
@given(SOME_ACIDS, st.floats(0, 0.05), st.floats(0.0001, 0.05), st.floats(2, 6))
def test_more_weak_acid_never_raises_the_ph(acids: list[Acid], charge: float, more: float, pka: float) -> None:
    # at one ionic strength this is a theorem; the small change of the activities cannot turn it round here
    before = at(acids, with_net(charge)).ph
    assert at([*acids, Acid("more", more, 0, (pka,))], with_net(charge)).ph <= before + 1e-3


@settings(max_examples=40, deadline=None)
@given(st.permutations(["Lactic Acid", "Sodium Hydroxide", "Sodium Benzoate", "Glycerin", "Citric Acid", "Arginine"]))
def test_the_order_of_the_lines_does_not_matter(names: list[str]) -> None:
    percents = {
        "Lactic Acid": 3.0, "Sodium Hydroxide": 0.6, "Sodium Benzoate": 0.4, "Glycerin": 4.0, "Citric Acid": 0.3,
        "Arginine": 0.5,
    }  # fmt: skip
    straight = solution(percents)
    shuffled = solution({name: percents[name] for name in names})
    assert shuffled.equilibrium is not None
    assert straight.equilibrium is not None
    assert shuffled.equilibrium.ph == pytest.approx(straight.equilibrium.ph, abs=1e-9)
    assert shuffled.predicted == straight.predicted
    assert [form.substance for form in shuffled.forms] == [form.substance for form in straight.forms]


# -- where a prediction stops, both sides ---------------------------------------------------------------------------

STOPS: dict[str, tuple[dict[str, float], dict[str, float], str]] = {
    "ionic strength above 1.5": (
        {**BUFFER, "Sodium Chloride": 7.3},
        {**BUFFER, "Sodium Chloride": 7.6},
        "above 1.5 mol/kg",
    ),
    "ionic strength above 0.75 beside an acid of several charges": (
        {"Citric Acid": 0.5, "Sodium Hydroxide": 0.15, "Sodium Chloride": 3.85},
        {"Citric Acid": 0.5, "Sodium Hydroxide": 0.15, "Sodium Chloride": 4.0},
        "above 0.75 beside an acid of several charges",
    ),
    "free acid above 20 % of the water phase": (
        {"Glycolic Acid": 21, "Sodium Hydroxide": 1},
        {"Glycolic Acid": 22.2, "Sodium Hydroxide": 1},
        "% of the water phase, above 20 %",
    ),
    "pH below 1.5": (
        {"Hydrochloric Acid": 0.14, "Sodium Chloride": 0.5},
        {"Hydrochloric Acid": 0.17, "Sodium Chloride": 0.5},
        "below 1.5",
    ),
    "water below 50 %": (
        {"Sucrose": 48.4, "Lactic Acid": 1, "Sodium Lactate": 0.5},
        {"Sucrose": 48.6, "Lactic Acid": 1, "Sodium Lactate": 0.5},
        "below 50 %",
    ),
    "ethanol above 10 %": ({**BUFFER, "Alcohol": 10}, {**BUFFER, "Alcohol": 10.01}, "%, above 10 %"),
    "glycerin and glycols above 20 %": (
        {**BUFFER, "Glycerin": 15, "Propanediol": 5},
        {**BUFFER, "Glycerin": 15, "Propanediol": 5.1},
        "%, above 20 %",
    ),
    "hardly a buffer": (
        {"Acetic Acid": 0.015, "Sodium Acetate": 0.015},
        {"Acetic Acid": 0.01, "Sodium Acetate": 0.01},
        "hardly anything holds the pH",
    ),
    "borate above 0.02 mol/kg": (
        {"Boric Acid": 0.1, "Sodium Borate": 0.02},
        {"Boric Acid": 0.12, "Sodium Borate": 0.02},
        "polyborates",
    ),
    "oil above 20 % beside benzoic acid": (
        {"Sodium Benzoate": 0.5, "Lactic Acid": 0.5, "Helianthus Annuus Seed Oil": 20},
        {"Sodium Benzoate": 0.5, "Lactic Acid": 0.5, "Helianthus Annuus Seed Oil": 20.1},
        "Benzoic Acid moves into the oil",
    ),
    "soap": (
        {"Sodium Hydroxide": 0.3, "Cocos Nucifera Oil": 0.9},
        {"Sodium Hydroxide": 0.3, "Cocos Nucifera Oil": 1},
        "saponification is not modelled",
    ),
    "an unknown material": (BUFFER, {**BUFFER, "Moon Dust": 1}, "what Moon Dust does to the pH is not known"),
}


@pytest.mark.parametrize("stop", STOPS)
def test_a_prediction_is_given_just_inside_its_limits_and_refused_with_a_reason_beyond(stop: str) -> None:
    inside, beyond, reason = STOPS[stop]
    given_one = solution(inside)
    assert given_one.why_not is None
    assert given_one.predicted is not None
    assert given_one.ph == given_one.predicted
    refused = solution(beyond)
    assert refused.predicted is None
    assert refused.ph is None
    assert refused.forms == ()
    assert refused.why_not is not None
    assert reason in refused.why_not


def test_oil_without_an_acid_that_likes_it_and_base_that_is_used_up_stop_nothing() -> None:
    assert solution({"Lactic Acid": 0.5, "Sodium Lactate": 0.5, "Helianthus Annuus Seed Oil": 30}).predicted is not None
    assert solution({"Lactic Acid": 3, "Sodium Hydroxide": 0.3, "Cocos Nucifera Oil": 10}).predicted is not None


def test_a_refusal_for_a_low_ph_does_not_print_the_limit_as_the_ph() -> None:
    # 0.15 % gives pH 1.496: "the pH would be 1.5, below 1.5" would contradict itself
    refused = solution({"Hydrochloric Acid": 0.15, "Sodium Chloride": 0.5})
    assert refused.why_not is not None
    assert "would be 1.5," not in refused.why_not


@pytest.mark.parametrize(("water", "has_water"), [("0.99", False), ("1", True)])
def test_below_one_percent_of_water_there_is_no_ph_at_all(water: str, has_water: bool) -> None:
    found = solution({"Helianthus Annuus Seed Oil": 97, "Citric Acid": 2, "Aqua": water}, water=False)
    assert found.has_water is has_water
    assert found.predicted is None
    assert found.why_not is not None
    assert ("no water" in found.why_not) is not has_water


def test_a_solution_that_is_refused_is_still_given_a_ph_by_a_reading() -> None:
    reading = Interval(Decimal("3.65"), Decimal("3.75"))
    found = solution({**BUFFER, "Alcohol": 15}, reading=reading)
    assert found.predicted is None
    assert found.ph is not None
    assert (found.ph.value, found.ph.interval, found.ph.origin) == (Decimal("3.70"), reading, "measured")
    assert found.form("Lactic Acid") is not None


# -- what widens the band --------------------------------------------------------------------------------------------


def half_width(percents: dict[str, float], extra: str = "") -> float:
    found = solution(percents, extra)
    assert found.band is not None, found.why_not
    return found.band.whole.up


def test_a_trace_of_unmodelled_material_widens_and_more_of_it_decides_nothing() -> None:
    plain = half_width(BUFFER)
    trace = solution({**BUFFER, "Carbomer": 0.02})
    assert trace.band is not None
    assert trace.band.whole.up > plain + 0.01
    assert trace.conditional_on == ()
    assert trace.ph == trace.predicted
    much = solution({**BUFFER, "Carbomer": 0.3})
    assert much.conditional_on == ("Carbomer",)
    assert much.predicted is not None
    assert much.ph is None


def test_a_reading_decides_where_the_prediction_is_conditional() -> None:
    reading = Interval(Decimal("3.6"), Decimal("3.7"))
    found = solution({**BUFFER, "Carbomer": 0.3}, reading=reading)
    assert found.ph is not None
    assert found.ph.origin == "measured"


def with_stock(tolerance: str) -> str:
    return f"materials:\n  stock: {{contains: {{Lactic Acid: 88, Aqua: qs}}{tolerance}}}\n"


def test_a_stated_tolerance_widens_the_band_in_proportion() -> None:
    percents = {"stock": 4.5, "Sodium Hydroxide": 1.0}
    none, one, two = (half_width(percents, with_stock(t)) for t in ("", ", tolerance: 1", ", tolerance: 2"))
    assert none < one < two
    assert two - none == pytest.approx(2 * (one - none), rel=0.1)


def test_stated_tolerances_add_up_because_all_of_them_may_lean_the_same_way() -> None:
    def tolerances(acid: str, lye: str) -> float:
        stocks = (
            f"materials:\n  acid: {{contains: {{Tartaric Acid: 20, Aqua: qs}}{acid}}}\n"
            f"  lye: {{contains: {{Sodium Hydroxide: 20, Aqua: qs}}{lye}}}\n"
        )
        found = solution({"acid": 20, "lye": 5.0}, stocks)
        assert found.band is not None
        return found.band.materials.up

    each = tolerances(", tolerance: 1", ""), tolerances("", ", tolerance: 1")
    assert min(each) > 0
    assert tolerances(", tolerance: 1", ", tolerance: 1") == pytest.approx(sum(each), rel=0.05)


def test_a_solvent_that_may_take_up_more_of_an_acid_widens_the_band_to_all_of_it_dissolved() -> None:
    without, with_alcohol = solution({"Salicylic Acid": 1}), solution({"Salicylic Acid": 1, "Alcohol": 3})
    assert without.band is not None
    assert with_alcohol.band is not None
    # by hand: 1 g in 95.6 g water, 0.0757 mol/kg, all dissolved with pKa 2.98 is pH 2.08 without activities
    assert 0 < max(without.band.undissolved) < 0.1
    assert with_alcohol.predicted is not None
    assert float(with_alcohol.predicted.value) - with_alcohol.band.undissolved.down == pytest.approx(2.08, abs=0.05)


def test_a_predicted_ph_is_told_to_three_places() -> None:
    found = solution(BUFFER)
    assert found.predicted is not None
    interval = found.predicted.interval
    places = [figure.as_tuple().exponent for figure in (found.predicted.value, interval.low, interval.high)]
    assert places == [-3, -3, -3]


def test_the_band_grows_with_ionic_strength_by_the_rows_of_the_model() -> None:
    # rows up to 0.1, 0.3, 0.75 and 1.5 mol/kg: 0.05, 0.10, 0.15, 0.25; a 1:1 salt beside a lactate buffer
    buffer = {"Lactic Acid": 0.4, "Sodium Lactate": 0.5}
    widths = {}
    for salt in (0.2, 1, 3, 6):
        found = solution({**buffer, "Sodium Chloride": salt})
        assert found.band is not None
        assert found.ionic_strength is not None
        widths[round(found.ionic_strength, 1)] = found.band.activity
    assert list(widths.values()) == [0.05, 0.10, 0.15, 0.25]


def test_solvents_widen_the_band_by_their_share() -> None:
    # 0.02 a percent of ethanol in the water phase, 0.01 of glycerin, 0.015 of glycols
    none = solution(BUFFER).band
    assert none is not None
    assert none.solvents == 0
    for name, per_percent in (("Alcohol", 0.02), ("Glycerin", 0.01), ("Propanediol", 0.015)):
        found = solution({**BUFFER, name: 5})
        assert found.band is not None
        share = 100 * 5 / found.mixture.water_phase_g
        assert found.band.solvents == pytest.approx(per_percent * share, rel=1e-6)


def test_a_reading_wins_over_the_prediction_and_the_prediction_stays() -> None:
    reading = Interval(Decimal("4.15"), Decimal("4.25"))
    found = solution(BUFFER, reading=reading)
    assert found.ph is not None
    assert found.ph.origin == "measured"
    assert found.ph.value == Decimal("4.20")
    assert found.predicted is not None
    assert found.predicted.value == pytest.approx(Decimal("3.67"), abs=Decimal("0.02"))
    at_reading, at_prediction = found.form("Lactic Acid"), solution(BUFFER).form("Lactic Acid")
    assert at_reading is not None
    assert at_prediction is not None
    assert at_reading.uncharged_share[1] < at_prediction.uncharged_share[1]


# -- examples -------------------------------------------------------------------------------------------------------

GEL = """\
formula: a body gel
product: {use: leave-on, site: body, form: gel, audience: adults}
markets: [eu]
phases:
  water:
    lines:
      - {material: Aqua, percent: qs}
      - {material: Sodium Benzoate, percent: 0.4}
      - {material: Allantoin, percent: 0.3}
      - {material: Hydroxyethylcellulose, percent: 0.8}
  acid:
    lines:
      - {material: lactic-88, percent: 4.5}
      - {material: caustic-20, percent: 5.4}
materials:
  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}}
  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}}
"""


def test_a_lactic_gel_is_predicted_as_worked_out_by_hand() -> None:
    # 3.96 % lactic acid and 1.08 % sodium hydroxide: 3.99, ionic strength 0.31 (by a prototype of the model)
    book = load()
    made = expand(formula_from(GEL), book.substances)
    assert made.by_substance()["Lactic Acid"] == Interval.exactly("3.96")
    assert made.by_substance()["Sodium Hydroxide"] == Interval.exactly("1.08")
    found = dissolve(made, book.substances, book.model)
    assert found.predicted is not None
    assert float(found.predicted.value) == pytest.approx(3.99, abs=0.03)
    assert found.ionic_strength == pytest.approx(0.31, abs=0.02)


# Glycolic acid and sodium hydroxide: % acid, then pH at 0, 0.2, 0.4, 0.5, 0.6, 0.7 and 0.8 of it neutralised, and the
# ionic strength at 0.5. Calculated once with a prototype of this model: a regression of the model, no external check.
NEUTRALISED = (0.0, 0.2, 0.4, 0.5, 0.6, 0.7, 0.8)
GLYCOLIC = {
    5: ((2.00, 3.12, 3.52, 3.70, 3.87, 4.06, 4.30), 0.35),
    7: ((1.92, 3.10, 3.52, 3.70, 3.88, 4.07, 4.32), 0.50),
    10: ((1.84, 3.10, 3.52, 3.71, 3.90, 4.10, 4.35), 0.74),
    15: ((1.73, 3.09, 3.55, 3.75, 3.95, 4.17, 4.43), 1.19),
    20: ((1.66, 3.10, 3.59, 3.80, 4.02, 4.26, 4.54), 1.71),
}


@pytest.mark.parametrize("percent", GLYCOLIC)
def test_partly_neutralised_glycolic_acid_has_not_moved(percent: int) -> None:
    expected, strength = GLYCOLIC[percent]
    for share, ph in zip(NEUTRALISED, expected, strict=True):
        caustic = percent / 76.05 * 40.0 * share
        found = solution({"Glycolic Acid": percent, "Sodium Hydroxide": caustic}, analytical=True)
        assert found.equilibrium is not None
        assert found.equilibrium.ph == pytest.approx(ph, abs=0.015), share
        if share == 0.5:
            assert found.equilibrium.ionic_strength == pytest.approx(strength, abs=0.02)
        free = found.equilibrium.fractions[0][0]
        assert free == pytest.approx(1 - share, abs=0.025)  # free acid is what is not neutralised, less its own ions


def test_a_seven_percent_glycolic_toner_reads_what_a_bench_meter_reads() -> None:
    # common practice, no source: 7.1 % glycolic acid with 2.5 % sodium hydroxide reads 4.06
    found = solution({"Glycolic Acid": 7.1, "Sodium Hydroxide": 2.5})
    assert found.predicted is not None
    assert found.predicted.interval.low <= Decimal("4.06") <= found.predicted.interval.high
    assert float(found.predicted.value) == pytest.approx(4.06, abs=0.1)


# Merck Index monograph, from memory: pH of glycolic acid in water. The model runs high by 0.11 at 10 %.
@pytest.mark.parametrize(("percent", "ph"), [(0.5, 2.50), (1, 2.33), (2, 2.16), (5, 1.91), (10, 1.73)])
def test_glycolic_acid_alone_lies_within_fifteen_hundredths_of_the_handbook(percent: float, ph: float) -> None:
    found = solution({"Glycolic Acid": percent})
    assert found.equilibrium is not None
    assert found.equilibrium.ph == pytest.approx(ph, abs=0.15)


def test_the_temperature_of_the_formula_is_the_one_that_is_predicted_for() -> None:
    # Tromethamine falls by 0.028 pH a degree (Bates, from memory)
    tris = {"Tromethamine": 0.6, "Tromethamine Hydrochloride": 0.8}
    cold, warm = solution(tris, temperature_c=15), solution(tris, temperature_c=35)
    assert cold.predicted is not None
    assert warm.predicted is not None
    fall = float(cold.predicted.value - warm.predicted.value) / 20
    assert fall == pytest.approx(0.028, abs=0.002)


def test_water_that_comes_with_a_hydrate_counts_as_water() -> None:
    # 10 g of trisodium citrate dihydrate hold 2 x 18.015 / 294.10 x 10 = 1.225 g of water
    made = composition({"Sodium Citrate": 10, "Citric Acid": 5})
    found = dissolve(made, load().substances, MODEL)
    assert found.mixture.water_g == pytest.approx(85 + 1.225, abs=0.01)


def test_a_reading_by_strip_decides_with_half_a_ph_either_way() -> None:
    # common practice, no source: a strip is good to 0.5, a meter to 0.05
    book = load()
    for by, low, high in (("strip", "3.6", "4.6"), ("meter", "4.05", "4.15")):
        found = review(formula(BUFFER, extra=f"measured: {{ph: 4.1, by: {by}}}\n"), book, ON).solution
        assert found is not None
        assert found.ph is not None
        assert found.ph.origin == "measured"
        assert found.ph.interval == Interval(Decimal(low), Decimal(high))


def test_solutions_solved_together_are_those_solved_one_by_one_at_any_temperature() -> None:
    dice = random.Random(7)
    made = []
    for _ in range(30):
        acids, ions, celsius = random_mixture(dice)
        made.append(Mixture(100, 100, tuple(acids), (), ions, {}, {}, celsius))

    assert solve_together(made, MODEL) == [mixture.solved(MODEL) for mixture in made]


def test_one_mixture_that_does_not_settle_leaves_the_others_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    acids, ions, celsius = random_mixture(random.Random(8))
    sound = Mixture(100, 100, tuple(acids), (), ions, {}, {}, celsius)
    broken = sound._replace(temperature_c=math.nan)

    one, two, three = solve_together([sound, broken, sound], MODEL)

    assert isinstance(two, NoConvergenceError)
    assert one == three == sound.solved(MODEL)
