"""The review as JSON Lines: one review a line, as in the JSON document, then one line that sums them up."""

from __future__ import annotations

import json
from collections.abc import Sequence

from watchglass.findings import Review
from watchglass.reports.json import head, of_review, tail
from watchglass.rulebook import Rulebook


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All reviews, a line each; the last line has the date, the counts and the outcome, and no key `path`."""
    rows = [*map(of_review, reviews), head(reviews, book, on) | tail(reviews)]
    return "".join(json.dumps(row) + "\n" for row in rows)
