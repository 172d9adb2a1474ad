"""The tree of a sheet to the records of a formula, and where a tree is none."""

from __future__ import annotations

from decimal import Decimal

from watchglass.dates import is_date
from watchglass.errors import Place
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
from watchglass.schema import Fault, faults
from watchglass.sheet import MOST_DIGITS, SMALLEST_NUMBER, Mapping, Node, Scalar, Sequence

LARGEST_BATCH_GRAMS = Decimal("1e9")


def check(node: Node) -> list[Fault]:
    """Where a tree is not a formula; an empty list when it is one."""
    if not isinstance(node, Mapping):
        return [Fault(node.place, "", "a formula is a map of keys that starts with 'formula: TITLE'")]
    found = faults(node, "formula")
    return found or _impossible_dates(node) or _empty_target(node) or _impossible_weights(node)


def model(node: Node, shelf: dict[str, Material] | None = None) -> Formula:
    """The model of a tree that `check` found no fault in.

    Args:
        node: The tree of the formula.
        shelf: Materials of the shelf file that the formula names; its own materials win over them.
    """
    root = _map(node)
    label = _map(root.items["label"]) if "label" in root.items else None
    return Formula(
        title=_text(root, "formula"),
        code=_optional_text(root, "code"),
        product=_product(_map(root.items["product"])),
        markets=_texts(root, "markets"),
        phases=_phases(_map(root.items["phases"])),
        materials=(shelf or {}) | materials(root),
        batch_grams=grams_of(_optional_text(root, "batch")),
        balance_grams=grams_of(_optional_text(root, "balance")),
        density_g_per_ml=_optional_number(root, "density"),
        containers=_texts(root, "containers"),
        target=_target(root),
        measured=measured_of(root),
        ph_temperature=_optional_number(root, "ph_temperature"),
        statements=_texts(label, "statements"),
        statement_places=_places(label, "statements"),
        claim_places=_places(label, "claims"),
        ingredients=_texts(label, "ingredients"),
        ingredient_places=_places(label, "ingredients"),
        deviations=_deviations(root),
        on_market_since=_optional_text(root, "on_market_since"),
        tests=_tests(root),
        shelf=_optional_text(root, "shelf"),
        places=dict(root.keys),
    )


def materials(root: Mapping, on_shelf: str | None = None) -> dict[str, Material]:
    """The materials of a formula or of a shelf file, by the short name that lines use."""
    if "materials" not in root.items:
        return {}
    entries = _map(root.items["materials"])
    return {name: _material(name, _map(item), entries.keys[name], on_shelf) for name, item in entries.items.items()}


def _material(name: str, entry: Mapping, place: Place, on_shelf: str | None) -> Material:
    made = "premix" in entry.items
    parts = _map(entry.items["premix" if made else "contains"])
    tolerance: Decimal | dict[str, Decimal] | None = None
    if "tolerance" in entry.items:
        stated = entry.items["tolerance"]
        tolerance = (
            {part: _number(value) for part, value in stated.items.items()}
            if isinstance(stated, Mapping)
            else _number(stated)
        )
    return Material(
        name=name,
        parts={part: _amount(value) for part, value in parts.items.items()},
        part_places=dict(parts.keys),
        made=made,
        tolerance=tolerance,
        declares=_texts(entry, "declares"),
        place=place,
        on_shelf=on_shelf,
    )


def _phases(node: Mapping) -> tuple[Phase, ...]:
    phases = []
    for name, item in node.items.items():
        entry = _map(item)
        lines = tuple(
            _line(_map(line), name, f"phases.{name}.lines[{number}]")
            for number, line in enumerate(_list(entry.items["lines"]))
        )
        phases.append(
            Phase(
                name=name,
                lines=lines,
                temperature=_optional_number(entry, "temperature"),
                note=_optional_text(entry, "note"),
                place=node.keys[name],
            )
        )
    return tuple(phases)


def _line(entry: Mapping, phase: str, where: str) -> Line:
    amount_key = "percent" if "percent" in entry.items else "grams"
    return Line(
        material=_text(entry, "material"),
        percent=_amount(entry.items["percent"]) if "percent" in entry.items else None,
        grams=_optional_number(entry, "grams"),
        function=_optional_text(entry, "function"),
        note=_optional_text(entry, "note"),
        phase=phase,
        where=where,
        place=entry.place,
        amount_place=entry.items[amount_key].place,
    )


def _product(entry: Mapping) -> Product:
    return Product(
        use=_text(entry, "use"),
        site=_text(entry, "site"),
        form=_text(entry, "form"),
        audience=_text(entry, "audience"),
        applied_by=_optional_text(entry, "applied_by") or "consumer",
        kind=_optional_text(entry, "kind"),
    )


def _target(root: Mapping) -> Target | None:
    if "target" not in root.items or "ph" not in _map(root.items["target"]).items:
        return None
    window = _map(_map(root.items["target"]).items["ph"])
    return Target(_optional_number(window, "min"), _optional_number(window, "max"), root.keys["target"])


def measured_of(root: Mapping) -> Measured | None:
    """The reading under `measured`, if there is one."""
    if "measured" not in root.items:
        return None
    entry = _map(root.items["measured"])
    return Measured(
        ph=_number(entry.items["ph"]),
        tolerance=_optional_number(entry, "tolerance"),
        by=_optional_text(entry, "by") or "meter",
        temperature=_optional_number(entry, "temperature"),
        after_hours=_optional_number(entry, "after_hours"),
        place=entry.items["ph"].place,
    )


def _places(label: Mapping | None, key: str) -> dict[str, Place]:
    if label is None or key not in label.items:
        return {}
    return {str(_scalar(item).value): item.place for item in _list(label.items[key])}


def _deviations(root: Mapping) -> tuple[Deviation, ...]:
    entries = [_map(item) for item in _list(root.items["deviations"])] if "deviations" in root.items else []
    return tuple(
        Deviation(
            _text(entry, "rule"),
            _text(entry, "reason"),
            _optional_text(entry, "until"),
            _optional_text(entry, "by"),
            entry.place,
        )
        for entry in entries
    )


def _tests(root: Mapping) -> tuple[Test, ...]:
    entries = [_map(item) for item in _list(root.items["tests"])] if "tests" in root.items else []
    return tuple(
        Test(_text(entry, "name"), _optional_text(entry, "method"), _text(entry, "date"), _text(entry, "result"))
        for entry in entries
    )


def _impossible_weights(root: Mapping) -> list[Fault]:
    """A batch or a division of the balance that is nothing, or beyond the numbers that are read."""
    return [fault for key in ("batch", "balance") for fault in _impossible_weight(root, key)]


def _impossible_weight(root: Mapping, key: str) -> list[Fault]:
    weight = root.items.get(key)
    if not isinstance(weight, Scalar):
        return []
    digits = sum(character.isdigit() for character in weight.raw)
    grams = grams_of(weight.raw) if digits <= MOST_DIGITS else None
    if grams is not None and SMALLEST_NUMBER <= grams <= LARGEST_BATCH_GRAMS:
        return []
    shown = weight.raw if len(weight.raw) <= 24 else weight.raw[:21] + "..."
    return [Fault(weight.place, key, f'{key} is "{shown}"; it must be more than 0 and at most 1,000,000 kg')]


def _empty_target(root: Mapping) -> list[Fault]:
    """A target window that no pH can lie in."""
    target = _target(root)
    if target is None or target.min is None or target.max is None or target.min <= target.max:
        return []
    message = f"the target pH goes from {target.min} to {target.max}; min must not be above max"
    return [Fault(target.place, "target.ph", message)]


def _impossible_dates(root: Mapping) -> list[Fault]:
    """Dates that fit the pattern and are on no calendar."""
    dated: list[tuple[str, str, Node | None]] = [("", "on_market_since", root)]
    for name, key in (("deviations", "until"), ("tests", "date")):
        listing = root.items.get(name)
        entries = listing.items if isinstance(listing, Sequence) else ()
        dated += [(f"{name}[{number}].", key, entry) for number, entry in enumerate(entries)]
    found = []
    for where, key, entry in dated:
        item = entry.items.get(key) if isinstance(entry, Mapping) else None
        if isinstance(item, Scalar) and not is_date(item.raw):
            found.append(Fault(item.place, where + key, f'{key} is "{item.raw}"; that day is on no calendar'))
    return found


def grams_of(batch: str | None) -> Decimal | None:
    """The grams of a weight with its unit, g or kg."""
    if batch is None:
        return None
    factor = 1000 if batch.endswith("kg") else 1
    return Decimal(batch.removesuffix("kg").removesuffix("g").strip()) * factor


def _amount(node: Node) -> Amount:
    value = _scalar(node).value
    return value if isinstance(value, Decimal) else QS


def _number(node: Node) -> Decimal:
    value = _scalar(node).value
    assert isinstance(value, Decimal)
    return value


def _optional_number(entry: Mapping, key: str) -> Decimal | None:
    return _number(entry.items[key]) if key in entry.items else None


def _text(entry: Mapping, key: str) -> str:
    return str(_scalar(entry.items[key]).value)


def _optional_text(entry: Mapping, key: str) -> str | None:
    return _text(entry, key) if key in entry.items else None


def _texts(entry: Mapping | None, key: str) -> tuple[str, ...]:
    if entry is None or key not in entry.items:
        return ()
    return tuple(str(_scalar(item).value) for item in _list(entry.items[key]))


def _map(node: Node) -> Mapping:
    assert isinstance(node, Mapping)
    return node


def _list(node: Node) -> list[Node]:
    assert isinstance(node, Sequence)
    return node.items


def _scalar(node: Node) -> Scalar:
    assert isinstance(node, Scalar)
    return node
