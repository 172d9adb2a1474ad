"""The review as a code quality report of GitLab: one entry for each finding.

Entries with equal fingerprints would be shown as one, so none are. The format has no place for counts; they follow
from `verdict` and `severity` of the entries, which are those of the JSON document under `watchglass`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from watchglass.findings import Finding, Review
from watchglass.fingerprints import fingerprints
from watchglass.reports import message_of, title_of
from watchglass.rulebook import Rulebook

_BREAKS = {"error": "critical", "warning": "major", "note": "minor"}
_OTHERS = {"error": "major", "warning": "minor", "note": "info"}


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All findings as one array."""
    entries = [
        _entry(review.path, finding, fingerprint)
        for review in reviews
        for finding, fingerprint in zip(review.findings, fingerprints(review), strict=True)
    ]
    return json.dumps(entries, indent=1) + "\n"


def _entry(path: str, finding: Finding, fingerprint: str) -> dict[str, Any]:
    severities = _BREAKS if finding.verdict == "breaks" else _OTHERS
    return {
        "description": f"{title_of(finding)}: {message_of(finding)}",
        "check_name": finding.address,
        "fingerprint": fingerprint,
        "severity": severities[finding.severity],
        "location": {
            "path": path,
            "lines": {"begin": finding.place.line},
        },
        "watchglass": {"verdict": finding.verdict, "severity": finding.severity, "market": finding.market},
    }
