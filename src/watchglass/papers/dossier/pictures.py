"""The pictures, each with the same numbers in a table, or the reason why it is not drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from watchglass.dossier import HORIZON, Dossier, Refused
from watchglass.dossier.shares import HIGHEST_PH, LOWEST_PH, STEPS_PER_PH, Share
from watchglass.dossier.window import INSIDE, OPEN, OUTSIDE, Region, Window
from watchglass.findings import Turn
from watchglass.interval import shown_interval
from watchglass.papers.dossier.blocks import Block, Picture, Table, Words
from watchglass.papers.neutralisation import ENDING, description_of, picture_of
from watchglass.plots import Axes
from watchglass.plots.lines import Line, Rule, lines
from watchglass.plots.regions import Area, Key, Panel, Point, regions
from watchglass.plots.timeline import Day, timeline

NOTHING = "-"
PATTERNS = {INSIDE: "blank", OPEN: "dots", OUTSIDE: "lines"}
EVERY_OF_CURVE = 4  # rows of the table of a curve
MOST_CURVES = 8
OTHER_RULES = (
    "Asked are the rules on amounts, pH and preservation; the other rules may still be broken inside. An accepted "
    "deviation counts as inside, and so does what stays under a figure that is only remembered."
)


def window(dossier: Dossier) -> Iterator[Block]:
    """Where the rules of each market let pH and amount of acid be."""
    found = dossier.window
    if isinstance(found, Refused):
        yield Words(f"Not drawn: {found.reason}.")
        return
    title = f"pH against {_axis(found)}"
    description = _window_in_words(found)
    axes = Axes(_axis(found), "pH", (0, found.percent_axis), found.ph_axis)
    panels = [
        Panel(market, [Area(region.percent, region.ph, PATTERNS[region.standing]) for region in own])
        for market, own in found.by_market
    ]
    key = Key([(PATTERNS[standing], standing) for standing in (INSIDE, OPEN, OUTSIDE)], "preservative can work")
    yield Picture(
        regions("window", panels, axes, _point(found), found.preserved, key, (title, description)), description
    )
    yield Words(OTHER_RULES)
    yield Table(
        "The operating window in numbers",
        ("Market", f"{found.scaled}, % w/w", "pH", "Standing", "By which rules"),
        [row for market, own in found.by_market for row in _rows(market, own, found.ph_axis)],
        (3, 3, 3, 4, 9),
    )


def neutralising(dossier: Dossier) -> Iterator[Block]:
    """The curve to the middle of the target."""
    found = dossier.neutralisation
    if isinstance(found, Refused):
        yield Words(f"Not drawn: {found.reason}.")
        return
    yield Picture(picture_of(found, "neutralisation"), description_of(found))
    low, high = found.percent_between
    yield Words(
        f"{found.percent} % {found.material} ({low} to {high} % at the ends of the band) brings the product to pH "
        f"{found.target_ph}; the formula holds {found.before_percent} %. {ENDING}"
    )
    yield Table(
        "The neutralisation curve in numbers",
        (f"{found.material}, % w/w", "Predicted pH"),
        [(f"{point.percent:.2f}", f"{point.ph:.2f}") for point in found.curve[::EVERY_OF_CURVE]],
        (1, 1),
    )


def undissociated(dossier: Dossier) -> Iterator[Block]:
    """How much of each acid holds its proton."""
    own = dossier.shares[:MOST_CURVES]
    if not own:
        yield Words("Not drawn: no acid whose share would change, or no pH to speak of.")
        return
    solution = dossier.review.solution
    ph = None if solution is None else solution.ph
    marked = None if ph is None else Rule(float(ph.interval.low), float(ph.interval.high), f"pH {ph.value:.2f}")
    if marked is not None and not LOWEST_PH <= marked.low <= marked.high <= HIGHEST_PH:
        marked = None
    description = "Undissociated share of what is dissolved: " + "; ".join(map(_share_in_words, own)) + "."
    axes = Axes("pH", "undissociated, %", (LOWEST_PH, HIGHEST_PH), (0, 100))
    curves = [Line([(ph_here, 100 * share) for ph_here, share in curve.points], curve.substance) for curve in own]
    yield Picture(lines("shares", curves, axes, marked, ("Undissociated share against pH", description)), description)
    left_out = [curve.substance for curve in dossier.shares[MOST_CURVES:]]
    if left_out:
        yield Words(f"Not drawn, for room: {', '.join(left_out)}.")
    yield Table(
        "The undissociated share in numbers, %",
        ("pH", *(curve.substance for curve in own)),
        [
            (f"{own[0].points[place][0]:.1f}", *(_percent(curve.points[place][1]) for curve in own))
            for place in range(0, len(own[0].points), STEPS_PER_PH // 2)
        ],
        (2, *(3 for _ in own)),
    )


def coming(dossier: Dossier) -> Iterator[Block]:
    """The days on which the verdict changes, by what is known today."""
    calendar, on = dossier.calendar, dossier.review.on
    if not calendar.turns:
        yield Words(f"After {on} and up to {calendar.until} the verdict changes on no day, by the dates known today.")
        return
    days = [Day(turn.on, _turn_in_words(turn)) for turn in calendar.turns]
    description = f"From {on} to {calendar.until}: " + "; ".join(f"{day.on} {day.label}" for day in days) + "."
    title = f"Days on which the verdict changes, {HORIZON.removesuffix('y')} years"
    yield Picture(timeline("calendar", on, calendar.until, days, (title, description)), description)
    yield Table(
        "The coming days in words",
        ("Day", "Rule", "Market", "From", "To", "What"),
        [
            (
                turn.on,
                change.rule,
                change.market or "all",
                change.was,
                change.now,
                NOTHING if change.finding is None else change.finding.message,
            )
            for turn in calendar.turns
            for change in turn.changes
        ],
        (3, 5, 3, 3, 3, 7),
    )


def _axis(found: Window) -> str:
    return f"{found.scaled}, % w/w"


def _point(found: Window) -> Point | None:
    if found.ph is None:
        return None
    across = float(found.percent.low), float(found.percent.high)
    return Point(across, (float(found.ph.interval.low), float(found.ph.interval.high)), "this formula")


def _window_in_words(found: Window) -> str:
    stands = "its pH is not known"
    if found.ph is not None:
        stands = f"pH {found.ph.value:.2f} ({shown_interval(found.ph.interval)}, {found.ph.origin})"
    works = ", ".join(f"{low:g} to {high:g}" for low, high in found.preserved) or "at none"
    inside = "; ".join(f"{market}: {_inside(own, found.ph_axis)}" for market, own in found.by_market)
    return (
        f"The formula stands at {shown_interval(found.percent)} % {', '.join(found.substances)}; {stands}. "
        f"No limit is passed in {inside}. Its preservation breaks no rule at pH {works}."
    )


def _inside(own: Sequence[Region], axis: tuple[float, float]) -> str:
    told = [
        f"{_figures(region.percent)} % and pH {_figures(_cut(region.ph, axis))}"
        for region in own
        if region.standing == INSIDE and _is_seen(region, axis)
    ]
    return " or ".join(told) or "no part of the picture"


def _rows(market: str, own: Sequence[Region], axis: tuple[float, float]) -> Iterator[tuple[str, ...]]:
    """What is inside and what is open; then all else together, with every rule that says so."""
    seen = [region for region in own if _is_seen(region, axis)]
    for region in seen:
        if region.standing != OUTSIDE:
            rules = ", ".join(region.rules) or NOTHING
            yield market, _figures(region.percent), _figures(_cut(region.ph, axis)), region.standing, rules
    passed = dict.fromkeys(rule for region in seen if region.standing == OUTSIDE for rule in region.rules)
    if passed:
        yield market, "elsewhere", "elsewhere", OUTSIDE, ", ".join(passed)


def _is_seen(region: Region, axis: tuple[float, float]) -> bool:
    return region.ph[0] < axis[1] and region.ph[1] > axis[0]


def _cut(stretch: tuple[float, float], axis: tuple[float, float]) -> tuple[float, float]:
    return max(stretch[0], axis[0]), min(stretch[1], axis[1])


def _figures(stretch: tuple[float, float]) -> str:
    return f"{stretch[0]:.4g} to {stretch[1]:.4g}"


def _share_in_words(share: Share) -> str:
    low, middle, high = share.here
    return f"{share.substance} {_percent(middle)} % ({_percent(low)} to {_percent(high)}) at the pH of the product"


def _percent(share: float) -> str:
    return f"{100 * share:.3g}" if share >= 0.001 else "below 0.1"


def _turn_in_words(turn: Turn) -> str:
    rules = list(dict.fromkeys(change.rule for change in turn.changes))
    more = f" and {len(rules) - 1} more" if len(rules) > 1 else ""
    outcome = "" if turn.was == turn.now else f": {turn.was} to {turn.now}"
    return f"{rules[0] if rules else 'outcome'}{more}{outcome}"
