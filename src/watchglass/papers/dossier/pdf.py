"""A paper as PDF: typst sets it, from data alone, in an empty folder and without packages."""

from __future__ import annotations

import calendar
import json
import tempfile
from datetime import date
from importlib.resources import files
from pathlib import Path
from typing import Literal, NamedTuple

from watchglass.errors import CannotRun
from watchglass.papers.dossier.blocks import Paper, plain

TEMPLATE = "page.typ"
STANDARD: Literal["ua-1"] = "ua-1"  # ISO 14289-1: tagged, titled, every picture described


class Pdf(NamedTuple):
    """The bytes of a file, and why it does not hold to the standard for accessible PDF; None where it does."""

    content: bytes
    why_not_accessible: str | None


def pdf_of(paper: Paper) -> Pdf:
    """The whole file; the same bytes for the same paper where the same fonts are.

    Raises:
        CannotRun: The extra `pdf` is not installed, or the paper cannot be set.
    """
    try:
        import typst
    except ImportError:
        raise CannotRun("dossier --pdf needs: pip install 'watchglass[pdf]'") from None
    try:
        return Pdf(_set(paper, [STANDARD]), None)
    except typst.TypstError as error:
        reason = _first_line(error)
    try:
        return Pdf(_set(paper, []), reason)
    except typst.TypstError as error:
        raise CannotRun(f"the PDF cannot be set: {_first_line(error)}") from None


def _set(paper: Paper, standards: list[Literal["ua-1"]]) -> bytes:
    import typst

    template = files("watchglass.papers.dossier").joinpath(TEMPLATE).read_bytes()
    with tempfile.TemporaryDirectory() as empty:
        made: bytes = typst.compile(  # type: ignore[call-overload]  # its stub wants the root in bytes, as the template
            template,
            root=Path(empty),
            package_path=Path(empty) / "packages",
            package_cache_path=Path(empty) / "packages",
            format="pdf",
            sys_inputs={"paper": json.dumps(plain(paper), ensure_ascii=False)},
            pdf_standards=standards,
            timestamp=calendar.timegm(date.fromisoformat(paper.on).timetuple()),
        )
        return made


def _first_line(error: Exception) -> str:
    lines = str(error).splitlines()
    return lines[0] if lines else "typst gave no reason"
