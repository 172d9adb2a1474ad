"""What changed between two reviews: of one formula on two days, or of two versions of it on one day."""

from __future__ import annotations

from watchglass.findings import Change, Comparison, Finding, Review, Shift
from watchglass.fingerprints import fingerprints
from watchglass.interval import Interval

NOT_IN_FORCE = "not in force"
DOES_NOT_APPLY = "does not apply"
ABSENT = "absent"


def compared(now: Review, was: Review) -> Comparison:
    """A version of a formula against an earlier one.

    Args:
        now: The later version.
        was: The earlier one; both must have been read as formulas.
    """
    assert now.solution is not None
    assert was.solution is not None
    return Comparison(
        path=was.path,
        shifts=_shifts(now, was),
        ph_was=was.solution.ph,
        ph_now=now.solution.ph,
        was=was.outcome,
        now=now.outcome,
        changes=changes(now, was),
    )


def changes(now: Review, was: Review) -> tuple[Change, ...]:
    """Every finding that came, went or changed its verdict or severity, in the order of the later text.

    A finding is the same one when its fingerprint is: neither its line nor its figures make it another.
    """
    before, after = _by_fingerprint(was), _by_fingerprint(now)
    found = []
    for key, finding in after.items():
        old = before.get(key)
        if old is None or (old.verdict, old.severity) != (finding.verdict, finding.severity):
            standing = _standing(was, finding) if old is None else _in_words(old)
            found.append(Change(finding.address, finding.market, standing, _in_words(finding), finding))
    gone = [finding for key, finding in before.items() if key not in after]
    found += [Change(f.address, f.market, _in_words(f), _standing(now, f), f) for f in gone]
    return tuple(found)


def _by_fingerprint(review: Review) -> dict[str, Finding]:
    return dict(zip(fingerprints(review, ""), review.findings, strict=True))


def _in_words(finding: Finding) -> str:
    return f"{finding.verdict}, {finding.severity}"


def _standing(review: Review, finding: Finding) -> str:
    """How the rule of a finding stands in a review that does not have the finding."""
    if finding.requirement == "sheet":
        return ABSENT
    standing = standings(review).get(finding.address)
    if standing is not None:
        return standing
    others = [other for other in review.findings if other.address == finding.address]
    return "met at this place" if others else DOES_NOT_APPLY


def standings(review: Review) -> dict[str, str]:
    """The rules without a finding that concern the product: met, or not in force."""
    return dict.fromkeys(review.not_in_force, NOT_IN_FORCE) | dict.fromkeys(review.meets, "meets")


def _shifts(now: Review, was: Review) -> tuple[Shift, ...]:
    """The substances whose share is another one, the largest first, then those that went."""
    before, after = _shares(was), _shares(now)
    return tuple(
        Shift(name, before.get(name), after.get(name))
        for name in dict.fromkeys((*after, *before))
        if before.get(name) != after.get(name)
    )


def _shares(review: Review) -> dict[str, Interval]:
    assert review.composition is not None
    unknown = {substance.name: substance.percent for substance in review.composition.unknown}
    return review.composition.by_substance() | unknown
