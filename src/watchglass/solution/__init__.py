"""The aqueous part of a product: pH, the forms of each acid and base, ionic strength, what stays undissolved.

Pure functions: facts come as arguments, nothing here reads a file, a clock or YAML.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal
from typing import Literal, NamedTuple

from watchglass.composition import Composition
from watchglass.interval import Interval
from watchglass.solution.equilibrium import Acid, Equilibrium, NoConvergenceError, WholeIons, activity_at_ph, shares
from watchglass.solution.liquid import Liquid, liquid_of
from watchglass.solution.mixture import Mixture, mix
from watchglass.solution.model import Model
from watchglass.solution.prediction import Fresh, Prediction, predict
from watchglass.solution.refusal import SOAP, is_soap, refusal, strength_of
from watchglass.solution.saturation import HIGH, LOW, MIDDLE, Saturated, free_limit, may_stay_undissolved, saturate
from watchglass.solution.trust import Band, Reach
from watchglass.solution.water import debye_huckel_slope, pkw
from watchglass.substances import Substances

PH_PLACES = 3


class Ph(NamedTuple):
    """A pH with the interval in which it lies and where it comes from."""

    value: Decimal
    interval: Interval
    origin: Literal["measured", "predicted"]


class Forms(NamedTuple):
    """One acid or base: how much of it is uncharged.

    Attributes:
        substance: INCI name of the acid or base.
        is_acid: Whether the uncharged form is the acid (else the free base or the inner salt).
        total_percent: All forms together, counted as that substance, % w/w of the product, dissolved or not.
        first_pka: Of its most acidic step, 25 °C.
        uncharged_share: Lowest, middle and highest share of what is dissolved that is uncharged, 0 to 1.
        most_free_percent: What the water can hold of the uncharged form, % w/w of the product; None: no such bound.
    """

    substance: str
    is_acid: bool
    total_percent: float
    uncharged_share: tuple[float, float, float]
    first_pka: float
    most_free_percent: float | None = None

    @property
    def uncharged_percent(self) -> tuple[float, float, float]:
        """Lowest, middle and highest % w/w of the product that is dissolved and uncharged."""
        most = math.inf if self.most_free_percent is None else self.most_free_percent
        low, middle, high = (min(share * self.total_percent, most) for share in self.uncharged_share)
        return low, middle, high


class Solution(NamedTuple):
    """What is in the water.

    Attributes:
        mixture: The aqueous part in mol/kg.
        has_water: False for a balm, an oil, a dry powder: pH means nothing there.
        temperature_c: At which a predicted pH is meant.
        equilibrium: The solved mixture, None when it could not be solved.
        ionic_strength: mol/kg, None where the model does not reach: soap, little water, beyond its highest strength.
        predicted: The predicted pH, None with `why_not`.
        why_not: Why no prediction is given.
        conditional_on: Materials that could move the predicted pH and are not modelled; it then decides nothing.
        band: The half-widths behind the prediction.
        fresh: How the predicted pH begins, where something opens in the water first.
        ph: What the rules look at: the reading, else an unconditional prediction, else None.
        forms: The acids and bases at that pH; empty when there is none.
        dissolved: For each acid with a known S0 that may not all dissolve by the prediction: the least and the most of
            it that does, % w/w of the product.
    """

    mixture: Mixture
    has_water: bool
    temperature_c: float
    equilibrium: Equilibrium | None
    ionic_strength: float | None
    predicted: Ph | None
    why_not: str | None
    conditional_on: tuple[str, ...]
    band: Band | None
    ph: Ph | None
    forms: tuple[Forms, ...]
    dissolved: Mapping[str, tuple[float, float]] = {}
    fresh: Fresh | None = None

    def form(self, substance: str) -> Forms | None:
        """The forms of one acid or base."""
        return next((forms for forms in self.forms if forms.substance == substance), None)


# Where nobody asks what is in the water.
NOT_DISSOLVED = Solution(
    Mixture(0.0, 0.0, (), (), WholeIons(()), {}, {}, 0.0), False, 0.0, None, None, None, None, (), None, None, ()
)


def dissolve(
    composition: Composition,
    substances: Substances,
    model: Model,
    temperature_c: float | None = None,
    reading: Interval | None = None,
) -> Solution:
    """The solution that a composition makes.

    Args:
        composition: The finished product, substances in % w/w.
        substances: The library.
        model: The constants.
        temperature_c: °C at which a predicted pH is meant; that of the constants when left out.
        reading: The measured pH with its tolerance; it wins over the prediction.
    """
    if temperature_c is None:
        temperature_c = model.reference_temperature_c
    mixture = mix(composition, substances, model, temperature_c)
    if mixture.liquid_water_g < model.no_water_below_percent:
        why = f"water is {mixture.liquid_water_g:.2g} %: there is no water to have a pH"
        ph = None if reading is None else _measured(reading)
        return Solution(mixture, False, temperature_c, None, None, None, why, (), None, ph, ())
    caustic = _caustic_percent(composition)
    liquid = liquid_of(composition.portions, temperature_c, mixture.water_g)
    found, why_not = _saturated(mixture, model)
    if found is None and is_soap(mixture, model, caustic):
        why_not = SOAP
    prediction: Prediction | None = None
    if found is not None:
        why_not = _unknown(composition) or refusal(found.mixture, found.equilibrium, model, caustic)
        if why_not is None:
            prediction = predict(composition, substances, mixture, found, liquid, model)
    predicted = None if prediction is None else _predicted(prediction.ph, prediction.band.whole)
    conditional = () if prediction is None else prediction.conditional_on
    ph = _measured(reading) if reading is not None else None if conditional else predicted
    return Solution(
        mixture=mixture,
        has_water=True,
        temperature_c=temperature_c,
        equilibrium=None if found is None else found.equilibrium,
        ionic_strength=None if found is None else strength_of(found.mixture, found.equilibrium, model, caustic),
        predicted=predicted,
        why_not=why_not,
        conditional_on=conditional,
        band=None if prediction is None else prediction.band,
        ph=ph,
        forms=() if ph is None else _forms(mixture, ph, liquid, model),
        fresh=None if prediction is None else prediction.fresh,
        dissolved=_dissolved(mixture, model) if prediction and found and may_stay_undissolved(found, model) else {},
    )


def undissociated(mixture: Mixture, ph: float, model: Model) -> dict[str, float]:
    """The share of each acid and base that is uncharged at a pH, 0 to 1, whatever brings the mixture there."""
    kw, slope = pkw(mixture.temperature_c, model), debye_huckel_slope(mixture.temperature_c, model)
    activity = activity_at_ph(mixture.acids, mixture.ions, ph, kw, slope, model)
    pairs = zip(mixture.acids, mixture.parents, strict=True)
    return {parent.name: _uncharged(parent.charge, shares(acid, activity, ph)) for acid, parent in pairs}


def _dissolved(mixture: Mixture, model: Model) -> dict[str, tuple[float, float]]:
    """How much of each acid dissolves at the ends of its S0, where at the lower end not all of it does."""
    ends = []
    for bias in (LOW, HIGH):
        found, _ = _saturated(mixture, model, bias)
        if found is None:
            return {}
        ends.append(found.mixture)
    return {
        low.name: (_percent(mixture, low), _percent(mixture, high))
        for low, high, whole in zip(ends[0].acids, ends[1].acids, mixture.acids, strict=True)
        if low != whole
    }


def _percent(mixture: Mixture, acid: Acid) -> float:
    """% w/w of the product."""
    parent = next(parent for parent in mixture.parents if parent.name == acid.name)
    return acid.molality_mol_per_kg * mixture.water_g / 1000 * float(parent.molar_mass or 0)


def _saturated(mixture: Mixture, model: Model, bias: float = MIDDLE) -> tuple[Saturated | None, str | None]:
    try:
        return saturate(mixture, model, bias), None
    except NoConvergenceError as error:
        return None, str(error)


def _unknown(composition: Composition) -> str | None:
    names = list(dict.fromkeys(unknown.name for unknown in composition.unknown))
    return f"what {', '.join(names[:3])} does to the pH is not known" if names else None


def _predicted(ph: float, reach: Reach) -> Ph:
    middle = Decimal(repr(ph))
    interval = Interval(middle - Decimal(repr(reach.down)), middle + Decimal(repr(reach.up))).rounded(PH_PLACES)
    return Ph(Interval.exactly(middle).rounded(PH_PLACES).low, interval, "predicted")


def _measured(reading: Interval) -> Ph:
    return Ph((reading.low + reading.high) / 2, reading, "measured")


def _caustic_percent(composition: Composition) -> float:
    return sum(float(p.percent.high) for p in composition.portions if "caustics" in p.substance.groups)


def _forms(mixture: Mixture, ph: Ph, liquid: Liquid, model: Model) -> tuple[Forms, ...]:
    kw, slope = pkw(mixture.temperature_c, model), debye_huckel_slope(mixture.temperature_c, model)
    middle = float(ph.value)
    activity = activity_at_ph(mixture.acids, mixture.ions, middle, kw, slope, model)
    forms = []
    for acid, parent in zip(mixture.acids, mixture.parents, strict=True):
        unsure = max(step.uncertainty for step in parent.steps)
        share, *ends = (
            _uncharged(parent.charge, shares(acid, activity, value))
            for value in (middle, float(ph.interval.low) - unsure, float(ph.interval.high) + unsure)
        )
        percent = _percent(mixture, acid)
        low, high = min(share, *ends), max(share, *ends)
        limit = free_limit(parent, model) if liquid.helped_by(model) is None else None
        most = None if limit is None else limit * mixture.water_g / 1000 * float(parent.molar_mass or 0)
        forms.append(Forms(parent.name, parent.charge == 0, percent, (low, share, high), parent.steps[0].pka, most))
    return tuple(sorted(forms, key=lambda form: form.substance))


def _uncharged(charge: int, fractions: tuple[float, ...]) -> float:
    return fractions[charge] if 0 <= charge < len(fractions) else 0.0


__all__ = ["Band", "Forms", "Fresh", "Mixture", "Model", "Ph", "Solution", "dissolve", "undissociated"]
