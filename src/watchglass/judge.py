"""One formula, one date: every rule's verdict, and the numbers they rest on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, TypeAlias

from watchglass.composition import expand
from watchglass.conditions import WIDER_MARKET, contradiction, with_wider
from watchglass.deviations import covering, idle
from watchglass.errors import one_line
from watchglass.findings import FIRM, Finding, Review, Verdict, about_the_file, outcome_of
from watchglass.formula import Formula, Measured
from watchglass.interval import Interval, Limit
from watchglass.requirements import Case, Judgement
from watchglass.requirements.dissolved import undissolved
from watchglass.rulebook import Repealed, Rule, Rulebook, Severity, Tier, Unread, Value, text_of
from watchglass.solution import dissolve
from watchglass.solution.model import Model
from watchglass.substances import UNKNOWN


def review(
    formula: Formula, book: Rulebook, on: str, path: str = "-", markets: Iterable[str] = (), case: Case | None = None
) -> Review:
    """Hold a formula against all rules.

    Args:
        formula: What the author wrote.
        book: The rules.
        on: The date, year-month-day; for a product already on the market the rules for stock count where there are
            such.
        path: How the file is called in the report.
        markets: Instead of the formula's own.
        case: The formula with its composition and solution, where they are worked out already: they know no date.

    Returns:
        The review; the same input gives the same review.
    """
    reviewed_for = tuple(markets) or formula.markets
    case = (case or case_of(formula, book))._replace(claim_rules=_claim_rules(formula, book, reviewed_for))
    bench = _Bench(case, book, on, reviewed_for)
    findings = bench.findings()
    idle_ones = idle(formula, findings, on, book, reviewed_for)
    findings = [
        *_each_in_its_place(findings),
        *idle_ones,
        *_contradicted(formula, book),
        *_listed_elsewhere(case, book, reviewed_for),
    ]
    findings.sort(key=lambda f: (f.place, f.rule, f.entry or "", f.market or "", f.message))
    return Review(
        path=path,
        on=on,
        markets=reviewed_for,
        outcome=outcome_of(findings),
        findings=tuple(findings),
        meets=tuple(sorted(bench.met)),
        not_in_force=tuple(sorted(bench.not_in_force)),
        does_not_apply=bench.does_not_apply,
        cautioned=tuple(bench.cautioned),
        formula=formula,
        composition=case.composition,
        solution=case.solution,
        undissolved=tuple(undissolved(case)) if case.solution.has_water else (),
    )


def _contradicted(formula: Formula, book: Rulebook) -> Iterator[Finding]:
    """A kind that its own use or site rules out: whichever is wrong, the rules for the other were passed over."""
    message = contradiction(formula.product, book.kinds)
    if message is not None:
        why = "Limits hang on the kind, the use and the site; with one of them wrong the wrong limits are asked."
        place = formula.place("product")
        found = about_the_file(
            PRODUCT, "warning", "arithmetic", place, "product.kind", message, "The kinds of products", why
        )
        yield found._replace(verdict="undecided")


def _listed_elsewhere(case: Case, book: Rulebook, markets: Iterable[str]) -> Iterator[Finding]:
    """Substances of which only the lists of other markets know: that nothing was found against them says nothing."""
    first = {portion.substance.name: portion for portion in reversed(case.composition.portions)}
    for name, portion in first.items():
        if portion.substance.state != UNKNOWN or portion.percent.high == 0:
            continue
        speaking = [rule.markets for rule in book.rules.touching([name]) if rule.check.touches is not None]
        silent = [market for market in markets if not any(m is None or with_wider([market]) & m for m in speaking)]
        if silent:
            message = f"nothing is known here of {name} but that a list of another market names it"
            needs = (f"look up what holds for it in {', '.join(silent)}, with the safety assessor",)
            why = "A substance that no rule speaks of is neither allowed nor forbidden; it has not been looked at."
            found = about_the_file(
                KNOWN_BY_NAME, "warning", "arithmetic", portion.line.place, portion.line.where, message, "Names", why
            )
            yield found._replace(verdict="undecided", substances=(name,), needs=needs)


def _each_in_its_place(findings: list[Finding]) -> list[Finding]:
    """Findings of one rule about several substances of one line are told apart by the substance."""
    seen: dict[tuple[str, str | None, str], int] = {}
    for finding in findings:
        same = (finding.address, finding.market, finding.where)
        seen[same] = seen.get(same, 0) + 1
    return [
        finding._replace(where=f"{finding.where}.{finding.substances[0]}")
        if finding.substances and seen[finding.address, finding.market, finding.where] > 1
        else finding
        for finding in findings
    ]


def case_of(formula: Formula, book: Rulebook) -> Case:
    """A formula with its composition and its solution worked out."""
    composition = expand(formula, book.substances)
    asked = formula.ph_temperature
    temperature = book.model.reference_temperature_c if asked is None else float(asked)
    reading = None if formula.measured is None else reading_of(formula.measured, book.model)
    solution = dissolve(composition, book.substances, book.model, temperature, reading)
    return Case(formula, composition, solution, book.substances, book.model, book.statements, book.facts)


def _claim_rules(formula: Formula, book: Rulebook, markets: Iterable[str]) -> tuple[Mapping[str, Any], ...]:
    """What the rules for this product in these markets know of claims: their words."""
    if not formula.claim_places:
        return ()
    reached = with_wider(markets)
    known = (
        rule.parameters
        for rule in book.rules.touching(())
        if rule.word == "claim"
        and (rule.markets is None or rule.markets & reached)
        and rule.fits(formula.product) is not False
    )
    return tuple(parameters for parameters in known if "words" in parameters)


def judged(case: Case, book: Rulebook, on: str, markets: tuple[str, ...]) -> list[Finding]:
    """What the rules say of a case that is not met; nothing of the file around it."""
    return _Bench(case, book, on, markets).findings()


def reading_of(measured: Measured, model: Model) -> Interval:
    """A reading with its tolerance."""
    width = measured.tolerance
    if width is None:
        width = Decimal(str(model.reading_tolerance[measured.by]))
    return Interval(measured.ph - width, measured.ph + width)


PRODUCT = "product-kind"
KNOWN_BY_NAME = "known-by-name-only"
FIGURE = "read it at the source, or ask the safety assessor"
OPEN_KIND = "state the finest product.kind that fits; other, if it is none"

_Key: TypeAlias = tuple[str, str | None, tuple[str, ...]]


def _key(judgement: Judgement) -> _Key:
    """What makes two judgements of one rule speak of the same thing."""
    return judgement.where, judgement.entry, judgement.substances


class _Bench:
    """One pass of the rules over one case."""

    def __init__(self, case: Case, book: Rulebook, on: str, markets: tuple[str, ...]) -> None:
        self._case, self._book, self._on, self._markets = case, book, on, markets
        self.met: set[str] = set()
        self.not_in_force: set[str] = set()
        self.does_not_apply = 0
        self.cautioned: dict[tuple[str, str], None] = {}

    def findings(self) -> list[Finding]:
        present = {portion.substance.name for portion in self._case.composition.portions if portion.percent.high > 0}
        found: list[Finding] = []
        concerned = 0
        for rule in self._book.rules.touching(present):
            markets = self._markets_of(rule)
            fits = rule.fits(self._case.formula.product)
            own = [] if fits is False else [f for market in markets for f in self._judged(rule, market, fits is None)]
            concerned += bool(own) or rule.address in self.met or rule.address in self.not_in_force
            found += own
        self.does_not_apply = len(self._book.rules) - concerned
        self.met -= {finding.address for finding in found if finding.verdict != "coming"}
        return found

    def _markets_of(self, rule: Rule) -> list[str | None]:
        if rule.markets is None:
            return [None]
        reached = dict.fromkeys(
            market if market in rule.markets else wider
            for market in self._markets
            if market in rule.markets or (wider := WIDER_MARKET.get(market, "")) in rule.markets
        )
        return list(reached)

    def _judged(self, rule: Rule, market: str | None, kind_is_open: bool) -> Iterator[Finding]:
        """The findings of one rule for one market, today's first, then what is coming."""
        tiers, sure = self._tiers(rule)
        if not tiers:
            return
        since = self._case.formula.on_market_since
        is_open = kind_is_open or not sure
        if not any(_is_in_force(tier.series.on(self._on, since)) for tier in tiers):
            self.not_in_force.add(rule.address)
            today: list[Judgement] = []
        else:
            today = self._on_day(rule, tiers, self._on, is_open)
        for judgement in today:
            yield from self._finding(rule, market, judgement)
        told = {_key(judgement) for judgement in today if judgement.verdict != "meets"}
        for date in sorted({date for tier in tiers for date, _ in tier.series.later(self._on, since)}):
            for judgement in self._on_day(rule, tiers, date, is_open):
                if _key(judgement) not in told and _is_worth_announcing(rule, judgement):
                    told.add(_key(judgement))
                    coming = judgement._replace(message=f"from {date}: {judgement.message}")
                    yield self._made(rule, market, coming, "coming")._replace(changes_on=date)

    def _on_day(self, rule: Rule, tiers: list[Tier], date: str, is_open: bool) -> list[Judgement]:
        """The judgements of a day; one for each place, over all tiers that the product may fall under."""
        since = self._case.formula.on_market_since
        alternatives = []
        for tier in tiers:
            value = tier.series.on(date, since)
            alternatives.append(self._judge(rule, value) if value is not None and _is_in_force(value) else [])
        return _agreed(alternatives, is_open)

    def _tiers(self, rule: Rule) -> tuple[list[Tier], bool]:
        """The tiers that the product may fall under, and whether it falls under one of them for certain."""
        possible: list[Tier] = []
        for tier in rule.tiers:
            fits = tier.fits(self._case.formula.product)
            if fits is not False:
                possible.append(tier)
            if fits:
                return possible, True
        return possible, False

    def _judge(self, rule: Rule, value: Value) -> list[Judgement]:
        """The judgements under a value; a figure that was not read decides nothing."""
        if isinstance(value, Unread):
            return [_open(judgement, value.reason) for judgement in rule.check.judge(self._case, Limit())]
        assert isinstance(value, Limit)
        judgements = rule.check.judge(self._case, value)
        return [
            _from_memory(judgement) if (judgement.read or rule.read) == "memory" else judgement
            for judgement in judgements
        ]

    def _finding(self, rule: Rule, market: str | None, judgement: Judgement) -> Iterator[Finding]:
        self.cautioned.update(dict.fromkeys((judgement.where, caution) for caution in judgement.cautions))
        if judgement.verdict == "meets":
            self.met.add(rule.address)
            return
        finding = self._made(rule, market, judgement, judgement.verdict)
        deviation = covering(finding, self._case.formula, self._on)
        if deviation is not None and finding.verdict == "breaks":
            finding = finding._replace(verdict="deviation", severity="note", deviation=deviation)
        yield finding

    def _made(self, rule: Rule, market: str | None, judgement: Judgement, verdict: Verdict) -> Finding:
        read = judgement.read or rule.read
        title = self._book.sources[rule.source["ref"]]["title"]
        source = {
            "ref": rule.source["ref"],
            "title": title,
            "at": rule.source.get("at", ""),
            "binding": rule.binding,
            "read": read,
        }
        return Finding(
            rule=rule.id,
            entry=judgement.entry or rule.entry,
            requirement=rule.word,
            verdict=verdict,
            severity="note" if judgement.quiet else _severity(rule, verdict, read),
            market=market,
            place=judgement.place,
            where=one_line(judgement.where),
            substances=judgement.substances,
            message=one_line(judgement.message),
            value=judgement.value,
            unit=judgement.unit,
            limit=judgement.limit,
            binding=rule.binding,
            read=read,
            source=source,
            why=rule.why,
            needs=judgement.needs,
            statements=judgement.statements,
            texts={statement: text_of(self._book.statements[statement]) for statement in judgement.statements},
        )


def _severity(rule: Rule, verdict: Verdict, read: str) -> Severity:
    """Of the rule; for undecided and coming at most warning; from memory never an error, under its figure a note."""
    if read == "memory":
        return "note" if verdict == "undecided" or rule.severity == "note" else "warning"
    if verdict in ("undecided", "coming") and rule.severity == "error":
        return "warning"
    return rule.severity


def _agreed(alternatives: list[list[Judgement]], kind_is_open: bool) -> list[Judgement]:
    """One judgement a place where all tiers agree; else it is open what kind of product this is."""
    if len(alternatives) == 1 and not kind_is_open:
        return alternatives[0]
    found: dict[_Key, list[Judgement]] = {}
    for judgements in alternatives:
        for judgement in judgements:
            found.setdefault(_key(judgement), []).append(judgement)
    agreed = []
    for judgements in found.values():
        worst = next((judgement for judgement in judgements if judgement.verdict != "meets"), judgements[0])
        same = len(judgements) == len(alternatives) and len({j.verdict for j in judgements}) == 1 and not kind_is_open
        agreed.append(worst if same or worst.verdict == "meets" else _open_kind(worst))
    return agreed


def _is_worth_announcing(rule: Rule, judgement: Judgement) -> bool:
    """A coming break; or an open question of law that will have to be answered then."""
    if judgement.verdict == "undecided" and FIGURE not in judgement.needs:
        return rule.binding in FIRM
    return judgement.verdict == "breaks"


def _is_in_force(value: Value | None) -> bool:
    return value is not None and not isinstance(value, Repealed)


def _open_kind(judgement: Judgement) -> Judgement:
    message = f"{judgement.message}; it depends on the kind of product, which is open"
    return judgement._replace(verdict="undecided", message=message, needs=(OPEN_KIND,))


def _open(judgement: Judgement, reason: str) -> Judgement:
    needs = (*judgement.needs, FIGURE)
    message = f"{judgement.message}; not read: {reason}"
    return judgement._replace(verdict="undecided", message=message, limit=None, needs=needs)


def _from_memory(judgement: Judgement) -> Judgement:
    """Under a figure that was not read a formula does not meet; it only does not break."""
    if judgement.verdict != "meets":
        return judgement._replace(message=f"{judgement.message} (figure not read, from memory)")
    message = f"{judgement.message} (figure not read, from memory)"
    return judgement._replace(verdict="undecided", message=message, needs=(*judgement.needs, FIGURE))
