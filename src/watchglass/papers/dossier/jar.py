"""What the formula is and what is in the jar."""

from __future__ import annotations

from collections.abc import Iterator

from watchglass import __version__
from watchglass.composition import Portion
from watchglass.dossier import Dossier
from watchglass.formula import QS, Formula, Line, Material
from watchglass.interval import shown, shown_interval
from watchglass.papers.dossier.blocks import Block, Cell, Facts, Table
from watchglass.solution import Forms, Ph

NOTHING = "-"
LEAST_PERCENT = 0.005  # of the product; less is 0.00 in print


def identity(dossier: Dossier) -> Facts:
    """Which formula, which version, by which rules."""
    formula, review = dossier.version.formula, dossier.review
    product = formula.product
    kind = f", {product.kind}" if product.kind else ""
    rows: list[tuple[str, Cell]] = [
        ("Formula", formula.title),
        ("Code", formula.code or NOTHING),
        ("File", dossier.version.path),
        ("Version", f"SHA-256 of the file {dossier.version.digest}"),
        ("Product", f"{product.use} {product.form} for the {product.site}{kind}"),
        ("For", f"{product.audience}; applied by {product.applied_by}"),
        ("Markets", ", ".join(review.markets)),
        ("On the market since", formula.on_market_since or "not yet"),
        ("Batch", NOTHING if formula.batch_grams is None else f"{shown(formula.batch_grams)} g"),
        ("Law as of", review.on),
        ("Reviewed with", f"watchglass {__version__}, rulebook {dossier.rulebook}"),
    ]
    return Facts(rows)


def composition(dossier: Dossier) -> Iterator[Block]:
    """What is in the jar, what was weighed, and what that is made of."""
    formula = dossier.version.formula
    yield _substances(dossier)
    yield Table(
        "As it is weighed",
        ("Phase", "Material", "Amount", "Function"),
        [(line.phase, line.material, _amount(line), line.function or NOTHING) for line in formula.lines],
        (3, 5, 3, 4),
    )
    steps = list(_steps(formula))
    if steps:
        yield Table("How it is made", ("Phase", "Temperature", "Note"), steps, (2, 2, 9))
    used = _used(formula)
    if used:
        yield Table(
            "Trade materials and premixes",
            ("Material", "Name", "Made of, % w/w", "Stated by the supplier"),
            [
                (
                    short,
                    f"{material.name} ({'premix' if material.made else 'bought'})",
                    _parts(material),
                    _said(material),
                )
                for short, material in used.items()
            ],
            (3, 4, 6, 3),
        )


def ph(dossier: Dossier) -> Iterator[Block]:
    """Predicted and measured pH with their intervals, and what is uncharged there."""
    formula, solution = dossier.version.formula, dossier.review.solution
    assert solution is not None
    measured, target = formula.measured, formula.target
    rows: list[tuple[str, Cell]] = []
    if measured is not None and solution.ph is not None:
        at = "" if measured.temperature is None else f", at {shown(measured.temperature)} °C"
        later = "" if measured.after_hours is None else f", after {shown(measured.after_hours)} h"
        rows.append(("Measured", f"{_ph(solution.ph)} by {measured.by}{at}{later}"))
    else:
        rows.append(("Measured", "not yet"))
    if solution.predicted is not None:
        condition = f", only if {', '.join(solution.conditional_on)} took no part" if solution.conditional_on else ""
        rows.append(("Predicted", f"{_ph(solution.predicted)} at {solution.temperature_c:g} °C{condition}"))
    else:
        rows.append(("Predicted", f"none: {solution.why_not}"))
    if solution.fresh is not None:
        fresh = solution.fresh
        rows.append(
            ("Freshly made", f"about {fresh.ph:.1f}, until {', '.join(fresh.opening)} opens ({fresh.hours:g} h)")
        )
    if target is not None:
        ends = [NOTHING if end is None else shown(end) for end in (target.min, target.max)]
        rows.append(("Target of the maker", f"{ends[0]} to {ends[1]}"))
    if solution.ionic_strength is not None:
        rows.append(("Ionic strength", f"{solution.ionic_strength:.2f} mol/kg"))
    yield Facts(rows)
    acids = [form for form in solution.forms if form.is_acid and form.total_percent >= LEAST_PERCENT]
    if acids:
        yield Table(
            "Free acid, % w/w of the product",
            ("Acid", "All forms", "Undissociated", "Between"),
            [_free(form) for form in acids],
            (4, 2, 2, 3),
        )
    if dossier.review.undissolved:
        names = ", ".join(dossier.review.undissolved)
        yield Facts([("May stay undissolved", names)])


def _substances(dossier: Dossier) -> Table:
    made = dossier.review.composition
    assert made is not None
    portions: dict[str, list[Portion]] = {}
    for portion in made.portions:
        portions.setdefault(portion.substance.name, []).append(portion)
    rows = [
        (
            name,
            ", ".join(portions[name][0].substance.cas) or NOTHING,
            shown_interval(percent),
            ", ".join(dict.fromkeys(map(_function, portions[name]))),
            ", ".join(dict.fromkeys(portion.line.material for portion in portions[name])),
        )
        for name, percent in made.by_substance().items()
    ]
    rows += [
        (f"{u.name} (not known)", NOTHING, shown_interval(u.percent), "not said", u.line.material) for u in made.unknown
    ]
    caption = f"In the jar, {shown(made.total_percent)} % in all"
    return Table(caption, ("Substance", "CAS", "% w/w", "Function", "Comes with"), rows, (5, 4, 3, 4, 4))


def _function(portion: Portion) -> str:
    """What its line says; the water that a material is sold in keeps its own."""
    function = portion.substance.usual_function if portion.substance.is_water else portion.function
    return function or "not said"


def _amount(line: Line) -> str:
    if line.grams is not None:
        return f"{shown(line.grams)} g"
    return "q.s. to 100 %" if line.percent == QS or line.percent is None else f"{shown(line.percent)} %"


def _steps(formula: Formula) -> Iterator[tuple[str, str, str]]:
    """What the author says of a phase, then of its lines."""
    for phase in formula.phases:
        temperature = NOTHING if phase.temperature is None else f"{shown(phase.temperature)} °C"
        if phase.temperature is not None or phase.note:
            yield phase.name, temperature, " ".join((phase.note or NOTHING).split())
        for line in phase.lines:
            if line.note:
                yield phase.name, NOTHING, f"{line.material}: {' '.join(line.note.split())}"


def _used(formula: Formula) -> dict[str, Material]:
    """The materials of the sheet that its lines reach, themselves or through a premix."""
    known = {name.casefold(): (name, material) for name, material in formula.materials.items()}
    waiting = [line.material for line in formula.lines]
    found: dict[str, Material] = {}
    while waiting:
        name, material = known.get(waiting.pop(0).casefold(), ("", None))
        if material is not None and name not in found:
            found[name] = material
            waiting += material.parts
    return found


def _parts(material: Material) -> str:
    tolerance = material.tolerance
    stated = "" if tolerance is None or isinstance(tolerance, dict) else f" (each ± {shown(tolerance)})"
    own = tolerance if isinstance(tolerance, dict) else {}
    told = [
        f"{part} {'q.s.' if amount == QS else shown(amount)}{f' ± {shown(own[part])}' if part in own else ''}"
        for part, amount in material.parts.items()
    ]
    return ", ".join(told) + stated


def _said(material: Material) -> str:
    return ", ".join(material.declares) or NOTHING


def _ph(ph: Ph) -> str:
    return f"{ph.value:.2f} ({ph.interval.low:.2f} to {ph.interval.high:.2f})"


def _free(form: Forms) -> tuple[str, str, str, str]:
    low, middle, high = form.uncharged_percent
    between = f"{low:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"{low:.2g} to {high:.2g}"
    return form.substance, f"{form.total_percent:.3g}", f"{middle:.2g}", between
