"""`watchglass dossier`: the pre-launch document of a formula."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING

import click

from watchglass.cli.given import day, formula_at
from watchglass.errors import CannotRun, one_line
from watchglass.output import write_file
from watchglass.schema import words

if TYPE_CHECKING:
    from watchglass.dossier import Version
    from watchglass.rulebook import Rulebook


@click.command("dossier")
@click.argument("formula", metavar="FORMULA")
@click.option("--market", "markets", multiple=True, metavar="MARKET", help="Instead of the formula's own; repeatable.")
@click.option("--against", metavar="FILE", help="Tell what changed since this older version.")
@click.option("--on", metavar="DATE", help="Look at the law of this day. Default: today.")
@click.option("--html", type=click.Path(path_type=Path), help="Write one HTML file that is not there yet.")
@click.option("--pdf", type=click.Path(path_type=Path), help="Write a PDF file that is not there yet.")
def command(
    formula: str, markets: tuple[str, ...], against: str | None, on: str | None, html: Path | None, pdf: Path | None
) -> None:
    """Write the pre-launch document of a formula.

    Composition, pH, pictures, findings with their sources, deviations, coming law, evidence, what is not checked, and
    room for the safety assessor to sign. It certifies nothing.
    """
    from watchglass.runs import check_word

    if html is None and pdf is None:
        raise click.UsageError("say where to write it: --html FILE, --pdf FILE or both")
    if html is not None and html == pdf:
        raise click.UsageError("--html and --pdf name the same file; name two")
    for file in (html, pdf):
        if file is not None and file.exists():
            raise CannotRun(f"{one_line(str(file))} is there already; nothing is written over: name another file")
    for market in markets:
        check_word("--market", market, words("market"))
    date = day(on)
    version, book = _version(formula)
    earlier = None if against is None else _version(against)[0]
    from watchglass.dossier import dossier_of
    from watchglass.papers.dossier import paper_of

    paper = paper_of(dossier_of(version, book, date, markets, earlier))
    made = []
    if html is not None:
        from watchglass.papers.dossier.html import html_of

        made.append((html, html_of(paper).encode("utf-8")))
    if pdf is not None:
        from watchglass.papers.dossier.pdf import pdf_of

        found = pdf_of(paper)
        if found.why_not_accessible is not None:
            click.echo(f"watchglass: the PDF is not tagged as PDF/UA: {one_line(found.why_not_accessible)}", err=True)
        made.append((pdf, found.content))
    for file, content in made:
        write_file(file, content)


def _version(path: str) -> tuple[Version, Rulebook]:
    """A formula with the digest of its file, and the rules of its folder."""
    from watchglass.dossier import Version

    formula, book = formula_at(path)
    return Version(formula, path, hashlib.sha256(Path(path).read_bytes()).hexdigest()), book
