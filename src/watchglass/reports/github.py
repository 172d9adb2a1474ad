"""The review as workflow commands of GitHub Actions: one annotation for each finding, then the counts.

The escapes are those of the runner's own toolkit: a message must not hold a raw %, CR or LF, a property moreover no
colon and no comma.
"""

from __future__ import annotations

from collections.abc import Sequence

from watchglass.errors import one_line
from watchglass.findings import Finding, Review
from watchglass.reports import message_of, outcomes, overall, tally, title_of
from watchglass.rulebook import Rulebook

_COMMANDS = {"error": "error", "warning": "warning", "note": "notice"}
_FEW = "a step shows about ten annotations of each kind; --format sarif carries all of them"


def write(reviews: Sequence[Review], book: Rulebook, on: str) -> str:
    """All findings as annotations, and the sums as plain lines of the log."""
    lines = [_annotation(review.path, finding) for review in reviews for finding in review.findings]
    lines += [tally(reviews, book, on)]
    lines += [_FEW] if lines[:-1] else []
    return "\n".join([*lines, f"outcome: {overall(reviews)} ({outcomes(reviews)})"]) + "\n"


def _annotation(path: str, finding: Finding) -> str:
    properties = {
        "file": path,
        "line": str(finding.place.line),
        "col": str(finding.place.column),
        "title": title_of(finding),
    }
    told = ",".join(f"{name}={_property(value)}" for name, value in properties.items())
    command = "notice" if finding.known else _COMMANDS[finding.severity]
    return f"::{command} {told}::{_data(message_of(finding))}"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    r"""Line ends are escaped as the runner reads them back, so that an odd file name still names its file.

    >>> _property("a:b,c%" + chr(10))
    'a%3Ab%2Cc%25%0A'
    """
    kept = "".join(character if character in "\r\n" else one_line(character) for character in text)
    return _data(kept).replace(":", "%3A").replace(",", "%2C")
