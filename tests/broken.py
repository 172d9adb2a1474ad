"""Random formulas that break something: acid gels and tonics in percent or in grams, near limits of every kind."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import strategies as st

MATERIALS = """\
materials:
  lactic-88: {contains: {Lactic Acid: 88, Aqua: qs}, tolerance: 0.5}
  glycolic-70: {contains: {Glycolic Acid: 70, Aqua: qs}}
  caustic-20: {premix: {Sodium Hydroxide: 20, Aqua: 80}}
  citric-50: {premix: {Citric Acid: 50, Aqua: 50}}
"""
# name, function, most in hundredths of a percent
POOL = [
    ("lactic-88", "exfoliant", 1600),
    ("glycolic-70", "exfoliant", 2000),
    ("Glycolic Acid", "exfoliant", 1500),
    ("Mandelic Acid", "exfoliant", 800),
    ("caustic-20", None, 1200),
    ("citric-50", "pH adjuster", 200),
    ("Sodium Citrate", "buffering", 100),
    ("Phenoxyethanol", "preservative", 180),
    ("Glycerin", None, 800),
]
# What may stay undissolved: each pH with it takes a hundred times as long to work out.
SLOW_POOL = [
    *POOL,
    ("Sodium Benzoate", "preservative", 120),
    ("Potassium Sorbate", "preservative", 120),
    ("Salicylic Acid", "preservative", 150),
]
PRODUCTS = [
    "use: leave-on, site: face, form: gel, audience: adults",
    "use: rinse-off, site: hair, form: liquid, audience: adults",
]


@st.composite
def formulas(draw: st.DrawFn, reading: bool = True, slow: bool = False) -> str:
    """The text of one: some lines of the pool, water by qs or by figure, a total that may be off, a target."""
    chosen = draw(
        st.lists(st.sampled_from(SLOW_POOL if slow else POOL), min_size=2, max_size=5, unique_by=lambda entry: entry[0])
    )
    amounts = [Decimal(draw(st.integers(1, most))).scaleb(-2) for _, _, most in chosen]
    style = draw(st.sampled_from(["qs", "qs", "percent", "grams", "off"]))
    rest = Decimal(100) - sum(amounts) + (Decimal("0.7") if style == "off" else 0)
    key, factor = ("grams", 5) if style == "grams" else ("percent", 1)
    lines = [
        f'      - {{material: "{name}", {key}: {amount * factor}{f", function: {function}" if function else ""}}}'
        for (name, function, _), amount in zip(chosen, amounts, strict=True)
    ]
    lines.insert(
        draw(st.integers(0, len(lines))),
        f"      - {{material: Aqua, {key}: {'qs' if style == 'qs' else rest * factor}}}  # the rest",
    )
    balance = draw(st.sampled_from(["", "", "batch: 500 g\nbalance: 0.1 g  # on the bench\n"]))
    target = draw(
        st.sampled_from(["", "", "target: {ph: {min: 3.6, max: 4.6}}\n", "target: {ph: {min: 5, max: 5.2}}\n"])
    )
    measured = draw(st.sampled_from(["", "measured: {ph: 3.3}  # yesterday\n"])) if reading else ""
    markets = draw(st.sampled_from(["eu", "us", "ca", "eu, us, ca"]))
    return (
        f"# a draw\nformula: A draw\nproduct: {{{draw(st.sampled_from(PRODUCTS))}}}\nmarkets: [{markets}]\n"
        f"{balance}{target}{measured}phases:\n  one:\n    lines:\n" + "\n".join(lines) + f"\n{MATERIALS}"
    )
