"""What names a finding for good: the same break keeps its fingerprint when lines move and figures change.

A fingerprint is a hash of the rule, the file, the market, and the place as a formulator would name it: the phase, the
material, the substances. No line number and no value is in it, so a diff of two lists of fingerprints shows what came
and what went. Findings that agree in all of that are told apart by a count.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter

from watchglass.errors import one_line
from watchglass.findings import Finding, Review

_LENGTH = 16  # hexadecimal digits: 64 bits, for lists of some thousand


def fingerprints(review: Review, path: str | None = None) -> tuple[str, ...]:
    """One fingerprint for each finding of a review, in the order of its findings; no two are equal.

    Args:
        review: Of one file.
        path: How the file is called, with forward slashes; None: as the review calls it. Fingerprints that are to
            outlive a run need a path that does not depend on the folder in which the run was started.
    """
    seen: Counter[tuple[str, ...]] = Counter()
    found = []
    for finding in review.findings:
        key = (
            finding.address,
            review.path if path is None else path,
            finding.market or "",
            logical_place(review, finding),
            *sorted(finding.substances),
        )
        found.append(hashlib.sha256("\0".join((*key, str(seen[key]))).encode("utf-8", "surrogatepass")).hexdigest())
        seen[key] += 1
    return tuple(digest[:_LENGTH] for digest in found)


def logical_place(review: Review, finding: Finding) -> str:
    """Where a finding is, without numbers that move: a line by its phase and material, a deviation by its rule.

    `phases.acid.lines[2]` of lactic-88 becomes `phases.acid.lactic-88`.
    """
    formula, where = review.formula, finding.where
    if formula is not None:
        for line in formula.lines:
            of_line = one_line(line.where)
            rest = where.removeprefix(of_line)
            if where.startswith(of_line) and (not rest or rest.startswith(".")):
                named = f".{finding.substances[0]}" if finding.substances else ""
                return one_line(f"phases.{line.phase}.{line.material}") + (rest if rest != named else "")
        for number, deviation in enumerate(formula.deviations):
            if where == f"deviations[{number}]":
                return one_line(f"deviations.{deviation.rule}")
    return re.sub(r"\[[0-9]+\]", "[]", where)
