"""Which mend is chosen for a break, and what is said where there is none."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from watchglass.composition import Portion
from watchglass.findings import Finding, Mend, NewAmount
from watchglass.formula import QS, Line
from watchglass.interval import EXACT, Limit, shown, shown_interval
from watchglass.mend.amounts import HUNDRED, Option, altered, amount_of, in_unit_of, is_water, options, stated_percent
from watchglass.mend.search import Found, Search
from watchglass.mend.trial import Bench, written
from watchglass.rulebook import Rulebook
from watchglass.substances import Substance, ion_charge

NUMERIC = ("percent", "ph", "preserved", "dissolved", "total")
SETS_PH = frozenset({"pH adjuster", "buffering"})
LITTLE_BUFFER = "little buffer is left"
PAIRS_TRIED = 2  # lines whose least change a second line is asked to make good


def is_mendable(finding: Finding, book: Rulebook) -> bool:
    """Whether a finding is a break with a number that amounts of the author's lines decide."""
    if finding.verdict != "breaks" or finding.requirement not in NUMERIC:
        return False
    if finding.requirement == "total":
        return finding.where.startswith("phases") or (finding.where == "batch" and finding.value is not None)
    if finding.requirement == "ph":
        rule = book.find(finding.address)[0]
        return bool(rule.parameters.get("against") != "prediction")
    return finding.value is not None


class Mender:
    """Looks for the mends of one formula."""

    def __init__(self, bench: Bench) -> None:
        self._bench = bench
        self._formula = bench.formula
        self._substances = bench.book.substances
        self._options = options(self._formula, self._substances)
        self._known: dict[object, Mend | None] = {}

    def mend(self, finding: Finding) -> Mend | None:
        """The mend of a break, or why there is none; None where amounts cannot say."""
        key = (finding.requirement, finding.unit, finding.limit, finding.substances, finding.where)
        known = self._known.get(key)
        if known is not None and self._also_mends(known, finding):
            return known
        found = self._of_total(finding) if finding.requirement == "total" else self._of_amounts(finding)
        if found is not None and found.changes and finding.unit == "pH":
            found = self._unless_at_the_edge(found, finding)
        self._known[key] = found
        return found

    def _unless_at_the_edge(self, mend: Mend, finding: Finding) -> Mend:
        """A mend of a pH, or why it is none where hardly anything would hold that pH."""
        if not self._bench.is_at_the_edge(written(mend, self._formula)):
            return mend
        called = mend.changes[0].material
        return Mend(
            none_because=f"at the pH that {finding.address} asks for {LITTLE_BUFFER}, and a slip of {called} would "
            "move it by units: take less acid, or add a buffer"
        )

    def _also_mends(self, mend: Mend, finding: Finding) -> bool:
        """Whether the mend of another market's rule serves here as well."""
        if not mend.changes or mend.changes[0].where == "batch":
            return False
        return self._bench.standing(finding, written(mend, self._formula))[0] == "there"

    # -- one line, or two -----------------------------------------------------------------------------------------

    def _of_amounts(self, finding: Finding) -> Mend:
        search = Search(self._bench, finding)
        tried: list[Found] = []
        for lines in self._tiers(finding, self._bench.case.composition.portions):
            own = [self._options[line.where] for line in lines if line.where in self._options]
            changes = search.changes(own)
            whole = next((change for change in changes if not change.broken), None)
            if whole is not None:
                return self._made([whole])
            tried += changes
        pair = self._pair(finding, tried) if self._bench.is_quick else None
        return self._made(pair) if pair else Mend(none_because=self._why_not(finding, search, tried))

    def _pair(self, finding: Finding, tried: list[Found]) -> list[Found] | None:
        """The smallest two changes of which the second makes good what the first breaks."""
        pairs = []
        for first in tried[:PAIRS_TRIED]:
            changed = altered(self._formula, first.amounts)
            left = options(changed, self._substances)
            left.pop(first.option.line.where, None)
            search = Search(self._bench, first.broken[0], first.amounts)
            for lines in self._tiers(first.broken[0], self._bench.composition(changed).portions):
                seconds = search.changes([left[line.where] for line in lines if line.where in left])
                pairs += [[first, second] for second in seconds if not second.broken and self._meets(finding, second)]
        return min(pairs, key=lambda pair: pair[0].size + pair[1].size, default=None)

    def _meets(self, finding: Finding, found: Found) -> bool:
        return self._bench.standing(finding, found.amounts)[0] == "there"

    def _made(self, found: list[Found]) -> Mend:
        last = found[-1]
        changes = tuple(_change(each.option.line, each.option.amount, each.after, each.option.unit) for each in found)
        first, rest = found[0].option, last.option.rest
        balance = _change(rest, first.rest_amount, last.option.rest_after(last.after), last.option.unit)
        return Mend(changes, balance, self._bench.had_reading)

    def _tiers(self, finding: Finding, portions: Iterable[Portion]) -> list[list[Line]]:
        """The lines that may mend a break, the ones to try first in the first list."""
        adjusters: list[Line] = []
        acids: list[Line] = []
        bringing: list[Line] = []
        wanted = set(finding.substances)
        by_line: dict[str, list[Portion]] = {}
        for portion in portions:
            by_line.setdefault(portion.line.where, []).append(portion)
        for own in by_line.values():
            line = own[0].line
            active = [portion for portion in own if _moves_ph(portion.substance)]
            if any(wanted & {portion.substance.name, *portion.substance.gives} for portion in own):
                bringing.append(line)
            if active and all(portion.function in SETS_PH for portion in active):
                adjusters.append(line)
            elif any(_is_acid_or_base(portion.substance) for portion in active) and not any(
                portion.function == "preservative" for portion in own
            ):
                acids.append(line)
        if finding.unit == "pH":
            return [adjusters, acids]
        if finding.requirement == "dissolved":
            return [[*bringing, *(line for line in adjusters if line not in bringing)]]
        return [bringing]

    # -- none ------------------------------------------------------------------------------------------------------

    def _why_not(self, finding: Finding, search: Search, tried: list[Found]) -> str:
        if tried:
            return self._pulled_apart(finding, tried[0])
        if search.left_open is not None:
            option, after, left = search.left_open
            words = f"{shown(after)} {option.unit} of {option.line.material} takes the break away and leaves a question"
            return f"{words}: {left.message}"
        if finding.unit == "pH":
            return self._no_sure_ph(finding, search)
        if not self._options:
            return "no line can take the difference: make the water qs"
        return "no amount of the lines that bring it does it"

    def _pulled_apart(self, finding: Finding, found: Found) -> str:
        """Two rules that no amount of the line serves: which, and how far apart."""
        option, other = found.option, found.broken[0]
        most = self._last_unbroken(option, found.after, other)
        called, unit = option.line.material, option.unit
        words = f"{finding.address} asks for {shown(found.after)} {unit} of {called}, and there {other.address} breaks"
        if most is None:
            return f"{words} ({other.message})"
        apart = shown(abs(found.after - most))
        return f"{words}, which allows {shown(most)} {unit}: they lie {apart} {unit} apart ({other.message})"

    def _last_unbroken(self, option: Option, after: Decimal, other: Finding) -> Decimal | None:
        """The amount on the way to a change up to which the other rule holds; None where no change is allowed."""
        step = option.steps[0] if after > option.amount else -option.steps[0]
        low, high = 0, int(EXACT.divide(after - option.amount, step))
        while high - low > 1:
            middle = (low + high) // 2
            broken = self._bench.new_breaks(option.amounts(EXACT.add(option.amount, step * middle)))
            is_broken = any(one.address == other.address and one.market == other.market for one in broken)
            low, high = (low, middle) if is_broken else (middle, high)
        return EXACT.add(option.amount, step * low) if low else None

    def _no_sure_ph(self, finding: Finding, search: Search) -> str:
        if search.too_narrow is not None:
            option, after = search.too_narrow
            aim, there = self._middle_of_window(finding, option, after)
            return (
                f"the pH of a changed formula is not known as closely as this window asks; about {shown(aim)} "
                f"{option.unit} of {option.line.material} aims at its middle{there}: try it and read the pH"
            )
        reason = self._bench.why_no_prediction({})
        if reason is not None:
            return f"the pH of a changed formula cannot be predicted ({reason}): titrate a weighed sample"
        return "no line of an acid or a base brings the pH there: it needs a stock that is not in the formula"

    def _middle_of_window(self, finding: Finding, option: Option, past: Decimal) -> tuple[Decimal, str]:
        """The amount that brings the predicted pH to the middle of a window, and the pH there in words."""
        limit = finding.limit or Limit()
        floor, ceiling = limit.min or limit.above, limit.max or limit.below
        if floor is None or ceiling is None or finding.value is None:
            return past, ""
        middle = (floor + ceiling) / 2
        is_low = finding.value.middle < middle
        step = option.steps[0] if past > option.amount else -option.steps[0]
        low, high = 0, max(int(EXACT.divide(past - option.amount, step)), 1)
        there = ""
        while high - low > 1:
            between = (low + high) // 2
            found = self._bench.standing(finding, option.amounts(EXACT.add(option.amount, step * between)))[1]
            if found is None or found.value is None:
                return past, ""
            there = f" (pH {shown_interval(found.value)})"
            low, high = (between, high) if (found.value.middle < middle) == is_low else (low, between)
        return EXACT.add(option.amount, step * high), there

    # -- totals ----------------------------------------------------------------------------------------------------

    def _of_total(self, finding: Finding) -> Mend | None:
        if finding.where == "batch":
            return self._of_batch()
        off = EXACT.subtract(HUNDRED, stated_percent(self._formula))
        has_rest = any(line.percent == QS for line in self._formula.lines)
        if not off or (has_rest and off > 0):
            return None
        for line in self._by_size():
            amount = amount_of(line) or Decimal(0)
            after = EXACT.add(amount, in_unit_of(line, off, self._formula))
            amounts = {line.where: after}
            if after < 0 or self._bench.standing(finding, amounts)[0] != "there" or self._bench.new_breaks(amounts):
                continue
            unit = "%" if line.grams is None else "g"
            return Mend((_change(line, amount, after, unit),), None, self._bench.had_reading)
        return Mend(none_because=f"no line can give {shown(abs(off))} % without breaking another rule")

    def _by_size(self) -> list[Line]:
        """Water first, then the largest line: the change is the same in %, and the smallest share of that line."""
        lines = [line for line in self._formula.lines if amount_of(line) is not None]
        return sorted(
            lines,
            key=lambda line: (
                not is_water(line, self._formula, self._substances),
                -EXACT.divide(amount_of(line) or Decimal(0), in_unit_of(line, Decimal(1), self._formula) or Decimal(1)),
            ),
        )

    def _of_batch(self) -> Mend:
        """The batch that the lines weigh: the percentages follow the grams, so no line changes."""
        batch = self._formula.batch_grams or Decimal(0)
        total = sum((line.grams for line in self._formula.lines if line.grams is not None), Decimal(0))
        return Mend((NewAmount("batch", "batch", batch, total, "g"),))


def _change(line: Line, before: Decimal, after: Decimal, unit: str) -> NewAmount:
    return NewAmount(line.where, line.material, before, after, unit)


def _moves_ph(substance: Substance) -> bool:
    return substance.acidity not in ("none", "unmodelled") and not substance.is_water


def _is_acid_or_base(substance: Substance) -> bool:
    """An acid, a base or a salt of one; not a salt of whole ions alone."""
    return bool(substance.steps) or any(ion_charge(part) is None for part in substance.gives)
