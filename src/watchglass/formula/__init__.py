"""The typed model of what the author wrote. It knows no chemistry and no rules."""

from __future__ import annotations

from watchglass.formula.reading import check, grams_of, materials, measured_of, model
from watchglass.formula.records import (
    QS,
    Amount,
    Deviation,
    Formula,
    Line,
    Material,
    Measured,
    Phase,
    Product,
    Target,
    Test,
)

__all__ = [
    "QS",
    "Amount",
    "Deviation",
    "Formula",
    "Line",
    "Material",
    "Measured",
    "Phase",
    "Product",
    "Target",
    "Test",
    "check",
    "grams_of",
    "materials",
    "measured_of",
    "model",
]
