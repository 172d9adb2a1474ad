"""The liquid that is there to dissolve things: water, solvents, oil, and what takes up more than they do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from watchglass.composition import Portion
from watchglass.solution.model import Model

SOLUBILISERS = frozenset({"surfactant", "emulsifier"})
ORGANIC = ("ethanol", "glycerin", "glycol", "solvent")


class Liquid(NamedTuple):
    """The liquid of a product or of one phase, grams in 100 g of product."""

    water_g: float
    organic_g: float
    glycerin_g: float
    oil_g: float
    solubiliser_g: float
    temperature_c: float

    @property
    def organic_percent(self) -> float:
        """Share of organic solvents in what mixes with water, % w/w."""
        whole = self.water_g + self.organic_g
        return 100 * self.organic_g / whole if whole else 0.0

    def _cosolvent_percent(self, model: Model) -> float:
        """The same without glycerin while that is little: it dissolves hardly more than water does."""
        glycerin = 100 * self.glycerin_g / (self.water_g + self.organic_g) if self.glycerin_g else 0.0
        return self.organic_percent - (glycerin if glycerin < model.glycerin_from_percent else 0.0)

    def helped_by(self, model: Model) -> str | None:
        """What raises a solubility above its figure for plain water, in words."""
        if self._cosolvent_percent(model) >= model.cosolvent_from_percent:
            return f"{self.organic_percent:.0f} % of the liquid is solvent"
        if self.solubiliser_g >= model.solubiliser_from_percent:
            return "surfactant or emulsifier can take it up"
        if self.oil_g >= model.no_water_below_percent:
            return "the oil can take it up"
        return None


def liquid_of(portions: Iterable[Portion], temperature_c: float, water_g: float | None = None) -> Liquid:
    """The liquid that some portions make; `water_g` where more is known of the water than the portions say."""
    water = organic = glycerin = oil = solubiliser = 0.0
    for portion in portions:
        percent = float(portion.percent.high)
        medium = portion.substance.medium
        if medium == "water":
            water += percent
        elif medium in ORGANIC:
            organic += percent
            glycerin += percent if medium == "glycerin" else 0.0
        elif medium == "oil":
            oil += percent
        elif portion.substance.usual_function in SOLUBILISERS:
            solubiliser += percent
    return Liquid(water if water_g is None else water_g, organic, glycerin, oil, solubiliser, temperature_c)
