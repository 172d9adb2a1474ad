"""What a batch record comes to: where the batch departs from its sheet, then the review of what was made."""

from __future__ import annotations

from watchglass.batch_record import Checked, Record
from watchglass.errors import located, one_line
from watchglass.reports import text
from watchglass.rulebook import Rulebook


def text_of(checked: Checked, record: Record, path: str, book: Rulebook) -> str:
    """For a reader.

    Args:
        checked: What was found.
        record: The record.
        path: How the record is called.
        book: The rules of the review.
    """
    lines = [f"{one_line(record.title)}, made on {record.made_on}: {_told(checked)}"]
    lines += [located(path, departure.place, one_line(departure.message)) for departure in checked.departures]
    if checked.review is None:
        return "\n".join([*lines, "not all is weighed: the batch is not reviewed yet", ""])
    return "\n".join([*lines, "", text.write([checked.review], book, checked.review.on)])


def _told(checked: Checked) -> str:
    count = len(checked.departures)
    if not count:
        return "as the sheet asks"
    return f"{count} departure{'s' if count > 1 else ''} from the sheet"
