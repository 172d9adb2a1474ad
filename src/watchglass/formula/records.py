"""What the author wrote, as records; each keeps its place in the text, so that whoever judges it can point at it."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal, NamedTuple, TypeAlias

from watchglass.errors import START, Place
from watchglass.interval import Interval

QS: Literal["qs"] = "qs"
Amount: TypeAlias = Decimal | Literal["qs"]


class Line(NamedTuple):
    """One weighing."""

    material: str
    percent: Amount | None
    grams: Decimal | None
    function: str | None
    note: str | None
    phase: str
    where: str
    place: Place
    amount_place: Place


class Phase(NamedTuple):
    """Lines that are weighed and processed together."""

    name: str
    lines: tuple[Line, ...]
    temperature: Decimal | None
    note: str | None
    place: Place


class Material(NamedTuple):
    """A trade material (`made` false) or a premix of the maker's own (`made` true)."""

    name: str
    parts: dict[str, Amount]
    part_places: dict[str, Place]
    made: bool
    tolerance: Decimal | dict[str, Decimal] | None
    declares: tuple[str, ...]
    place: Place
    on_shelf: str | None = None


class Product(NamedTuple):
    """What the product is."""

    use: str
    site: str
    form: str
    audience: str
    applied_by: str = "consumer"
    kind: str | None = None


class Measured(NamedTuple):
    """A bench reading of the finished product."""

    ph: Decimal
    tolerance: Decimal | None
    by: str
    temperature: Decimal | None
    after_hours: Decimal | None
    place: Place

    @property
    def age_hours(self) -> Interval | None:
        """How old the batch was when it was read, in hours, as stated."""
        return None if self.after_hours is None else Interval.exactly(self.after_hours)


class Target(NamedTuple):
    """The pH window that the maker aims at."""

    min: Decimal | None
    max: Decimal | None
    place: Place


class Deviation(NamedTuple):
    """A rule that the maker departs from knowingly."""

    rule: str
    reason: str
    until: str | None
    by: str | None
    place: Place


class Test(NamedTuple):
    """A test that the maker had done."""

    name: str
    method: str | None
    date: str
    result: str


class Formula(NamedTuple):
    """One formula as written."""

    title: str
    code: str | None
    product: Product
    markets: tuple[str, ...]
    phases: tuple[Phase, ...]
    materials: dict[str, Material]
    batch_grams: Decimal | None
    balance_grams: Decimal | None
    density_g_per_ml: Decimal | None
    containers: tuple[str, ...]
    target: Target | None
    measured: Measured | None
    ph_temperature: Decimal | None
    statements: tuple[str, ...]
    statement_places: dict[str, Place]
    claim_places: dict[str, Place]
    ingredients: tuple[str, ...]
    ingredient_places: dict[str, Place]
    deviations: tuple[Deviation, ...]
    on_market_since: str | None
    tests: tuple[Test, ...]
    shelf: str | None
    places: dict[str, Place]

    @property
    def lines(self) -> tuple[Line, ...]:
        """All lines of all phases, in order."""
        return tuple(line for phase in self.phases for line in phase.lines)

    def place(self, key: str) -> Place:
        """The place of a top-level key, or the start of the file."""
        return self.places.get(key, START)
