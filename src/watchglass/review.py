"""One formula, one date: every rule's verdict, and the numbers they rest on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

from watchglass.composition import Composition, expand
from watchglass.conditions import WIDER_MARKET
from watchglass.errors import Place
from watchglass.formula import Deviation, Formula, Measured
from watchglass.interval import Interval, Limit
from watchglass.nearest import did_you_mean
from watchglass.requirements import Case, Judgement
from watchglass.requirements.dissolved import undissolved
from watchglass.rulebook import Repealed, Rule, Rulebook, Severity, Unread, Value
from watchglass.solution import Solution, dissolve
from watchglass.solution.model import Model

Verdict = Literal["meets", "breaks", "undecided", "coming", "deviation"]
Outcome = Literal["breaks", "cannot tell", "meets"]

UNREADABLE = "unreadable"
DEVIATION_RULE = "deviations"
NOT_DEVIABLE = ("law", "arithmetic")


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule's verdict on one place of one formula, for one market."""

    rule: str
    entry: str | None
    requirement: str
    verdict: Verdict
    severity: Severity
    market: str | None
    place: Place
    where: str
    substances: tuple[str, ...]
    message: str
    value: Interval | None
    unit: str
    limit: Limit | None
    binding: str
    read: str
    source: dict[str, str]
    why: str
    needs: tuple[str, ...] = ()
    changes_on: str | None = None
    deviation: Deviation | None = None
    statements: tuple[str, ...] = ()

    @property
    def address(self) -> str:
        """rule, or rule#entry."""
        return self.rule if self.entry is None else f"{self.rule}#{self.entry}"


@dataclass(frozen=True, slots=True)
class Review:
    """All findings for one formula on one date, plus the numbers they rest on."""

    path: str
    on: str
    outcome: Outcome
    findings: tuple[Finding, ...]
    meets: tuple[str, ...] = ()
    not_in_force: tuple[str, ...] = ()
    does_not_apply: int = 0
    cautions: tuple[str, ...] = ()
    formula: Formula | None = None
    composition: Composition | None = None
    solution: Solution | None = None
    undissolved: tuple[str, ...] = ()

    def count(self, severity: Severity) -> int:
        """Breaks of one severity."""
        return sum(finding.verdict == "breaks" and finding.severity == severity for finding in self.findings)

    def count_verdict(self, verdict: Verdict) -> int:
        """Findings of one verdict."""
        return sum(finding.verdict == verdict for finding in self.findings)


def review(formula: Formula, book: Rulebook, on: str, path: str = "-", markets: Iterable[str] = ()) -> Review:
    """Hold a formula against all rules.

    Args:
        formula: What the author wrote.
        book: The rules.
        on: The date, year-month-day; for a product already on the market the rules for stock count where there are
            such.
        path: How the file is called in the report.
        markets: Instead of the formula's own.

    Returns:
        The review; the same input gives the same review.
    """
    case = case_of(formula, book)
    bench = _Bench(case, book, on, tuple(markets) or formula.markets)
    findings = bench.findings()
    findings += list(_questions_about_deviations(formula, findings, bench, on, book))
    findings.sort(key=lambda f: (f.place, f.rule, f.entry or "", f.market or "", f.message))
    return Review(
        path=path,
        on=on,
        outcome=_outcome(findings),
        findings=tuple(findings),
        meets=tuple(sorted(bench.met)),
        not_in_force=tuple(sorted(bench.not_in_force)),
        does_not_apply=bench.does_not_apply,
        cautions=tuple(bench.cautions),
        formula=formula,
        composition=case.composition,
        solution=case.solution,
        undissolved=tuple(undissolved(case)) if case.solution.has_water else (),
    )


def unreadable(path: str, on: str, faults: Iterable[tuple[Place, str, str]]) -> Review:
    """The review of a file that is not a formula: place, path and message of each fault."""
    source = {
        "ref": "watchglass",
        "title": "The formula file format",
        "at": "",
        "binding": "arithmetic",
        "read": "primary",
    }
    findings = tuple(
        Finding(
            UNREADABLE, None, "sheet", "breaks", "error", None, place, where, (), message, None, "", None,
            "arithmetic", "primary", source, "What cannot be read cannot be reviewed.",
        )
        for place, where, message in faults
    )  # fmt: skip
    return Review(path, on, "breaks", findings)


def case_of(formula: Formula, book: Rulebook) -> Case:
    """A formula with its composition and its solution worked out."""
    composition = expand(formula, book.substances)
    temperature = 25.0 if formula.ph_temperature is None else float(formula.ph_temperature)
    reading = None if formula.measured is None else reading_of(formula.measured, book.model)
    solution = dissolve(composition, book.substances, book.model, temperature, reading)
    return Case(formula, composition, solution, book.substances, book.model, book.statements, book.facts)


def reading_of(measured: Measured, model: Model) -> Interval:
    """A reading with its tolerance."""
    from decimal import Decimal

    width = measured.tolerance
    if width is None:
        width = Decimal(str(model.reading_tolerance[measured.by]))
    return Interval(measured.ph - width, measured.ph + width)


class _Bench:
    """One pass of the rules over one case."""

    def __init__(self, case: Case, book: Rulebook, on: str, markets: tuple[str, ...]) -> None:
        self._case, self._book, self._on, self._markets = case, book, on, markets
        self.met: set[str] = set()
        self.not_in_force: set[str] = set()
        self.does_not_apply = 0
        self.cautions: dict[str, None] = {}
        self.seen: set[str] = set()

    def findings(self) -> list[Finding]:
        present = {portion.substance.name for portion in self._case.composition.portions if portion.percent.high > 0}
        candidates = self._book.touching(present)
        self.does_not_apply = len(self._book.rules) - len(candidates)
        found: list[Finding] = []
        for rule in candidates:
            markets = self._markets_of(rule)
            if not markets or not rule.fits(self._case.formula.product):
                self.does_not_apply += 1
                continue
            for market in markets:
                found += self._judged(rule, market)
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

    def _judged(self, rule: Rule, market: str | None) -> Iterator[Finding]:
        tier = next((tier for tier in rule.tiers if tier.fits(self._case.formula.product)), None)
        if tier is None:
            self.does_not_apply += 1
            return
        since = self._case.formula.on_market_since
        value = tier.series.on(self._on, since)
        today: dict[tuple[str, str | None], Judgement] = {}
        if value is None or isinstance(value, Repealed):
            self.not_in_force.add(rule.address)
        else:
            judgements = self._judge(rule, value)
            if not judgements:
                self.does_not_apply += 1
            for judgement in judgements:
                today[judgement.where, judgement.entry] = judgement
                yield from self._finding(rule, market, judgement)
        yield from self._coming(rule, market, tier.series.later(self._on, since), today)

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

    def _coming(
        self,
        rule: Rule,
        market: str | None,
        later: list[tuple[str, Value]],
        today: dict[tuple[str, str | None], Judgement],
    ) -> Iterator[Finding]:
        for date, value in later:
            if isinstance(value, Repealed):
                continue
            for judgement in self._judge(rule, value):
                now = today.get((judgement.where, judgement.entry))
                if judgement.verdict != "breaks" or (now is not None and now.verdict != "meets"):
                    continue
                message = f"from {date}: {judgement.message}"
                finding = self._made(rule, market, replace(judgement, message=message), "coming")
                yield replace(finding, changes_on=date)
                return

    def _finding(self, rule: Rule, market: str | None, judgement: Judgement) -> Iterator[Finding]:
        if judgement.caution:
            self.cautions[judgement.caution] = None
        if judgement.verdict == "meets":
            self.met.add(rule.address)
            return
        finding = self._made(rule, market, judgement, judgement.verdict)
        deviation = self._deviation(finding)
        if deviation is not None and finding.verdict == "breaks":
            finding = replace(finding, verdict="deviation", severity="note", deviation=deviation)
        self.seen.add(finding.address)
        yield finding

    def _deviation(self, finding: Finding) -> Deviation | None:
        if finding.binding in NOT_DEVIABLE:
            return None
        return next(
            (
                deviation
                for deviation in self._case.formula.deviations
                if deviation.rule == finding.address and (deviation.until is None or deviation.until >= self._on)
            ),
            None,
        )

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
            severity=_severity(rule, verdict, read),
            market=market,
            place=judgement.place,
            where=judgement.where,
            substances=judgement.substances,
            message=judgement.message,
            value=judgement.value,
            unit=judgement.unit,
            limit=judgement.limit,
            binding=rule.binding,
            read=read,
            source=source,
            why=rule.why,
            needs=judgement.needs,
            statements=judgement.statements,
        )


def _severity(rule: Rule, verdict: Verdict, read: str) -> Severity:
    """Of the rule; for undecided and coming at most warning; from memory never an error, under its figure a note."""
    if read == "memory":
        return "note" if verdict == "undecided" or rule.severity == "note" else "warning"
    if verdict in ("undecided", "coming") and rule.severity == "error":
        return "warning"
    return rule.severity


def _open(judgement: Judgement, reason: str) -> Judgement:
    needs = ("the figure, read at its source",)
    message = f"{judgement.message.split('; the limit')[0]}; not read: {reason}"
    return replace(judgement, verdict="undecided", message=message, limit=None, needs=needs)


def _from_memory(judgement: Judgement) -> Judgement:
    """Under a figure that was not read a formula does not meet; it only does not break."""
    if judgement.verdict != "meets":
        return replace(judgement, message=f"{judgement.message} (figure not read, from memory)")
    needs = ("the figure, read at its source",)
    return replace(
        judgement, verdict="undecided", message=f"{judgement.message} (figure not read, from memory)", needs=needs
    )


def _outcome(findings: Iterable[Finding]) -> Outcome:
    outcome: Outcome = "meets"
    for finding in findings:
        if finding.verdict == "breaks" and finding.severity == "error":
            return "breaks"
        if finding.verdict == "undecided" and finding.binding in NOT_DEVIABLE:
            outcome = "cannot tell"
    return outcome


def _questions_about_deviations(
    formula: Formula, findings: list[Finding], bench: _Bench, on: str, book: Rulebook
) -> Iterator[Finding]:
    """Deviations that cover nothing: unknown, expired, for law or arithmetic, or without a break to cover."""
    used = {id(finding.deviation) for finding in findings if finding.deviation is not None}
    for number, deviation in enumerate(formula.deviations):
        if id(deviation) in used:
            continue
        message = _what_is_wrong(deviation, on, book)
        source = {"ref": "watchglass", "title": "Deviations", "at": "", "binding": "practice", "read": "primary"}
        yield Finding(
            DEVIATION_RULE, None, "sheet", "breaks", "warning", None, deviation.place, f"deviations[{number}]", (),
            message, None, "", None, "practice", "primary", source,
            "A deviation that covers nothing hides what was meant to be accepted.",
        )  # fmt: skip


def _what_is_wrong(deviation: Deviation, on: str, book: Rulebook) -> str:
    called = f'deviation from "{deviation.rule}"'
    if deviation.rule not in book.addresses:
        if book.find(deviation.rule):
            return f"{called}: this is a table; name the row as {deviation.rule}#ENTRY"
        return f"{called}: no such rule{did_you_mean(deviation.rule, book.addresses)}"
    rules = book.find(deviation.rule)
    if rules and rules[0].binding in NOT_DEVIABLE:
        kind = rules[0].binding
        return f"{called}: {kind} cannot be deviated from; mend the formula, or declare the fact that takes it away"
    if deviation.until is not None and deviation.until < on:
        return f"{called} ran out on {deviation.until}; renew it with a reason or mend the formula"
    return f"{called} covers nothing: the rule does not break here; take the deviation out"
