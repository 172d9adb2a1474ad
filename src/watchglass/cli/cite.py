"""`watchglass cite`: what a rule says, since when, by which source."""

from __future__ import annotations

from pathlib import Path

import click

from watchglass.cite import about, index, on_rule, on_source, on_statement, on_substance
from watchglass.errors import CannotRun
from watchglass.nearest import did_you_mean
from watchglass.output import terminal_width, write_out
from watchglass.rulebook import Rulebook
from watchglass.schema import words
from watchglass.settings import Options, settings_for


@click.command("cite")
@click.argument("rule", required=False)
@click.option(
    "--rules",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    help="House rules, instead of those of the configuration of this folder; repeatable.",
)
@click.option("--market", metavar="MARKET", help="For a substance: only what holds in this market.")
@click.option("--source", "ref", metavar="SOURCE", help="Every rule that rests on a source, by its short name.")
def command(rule: str | None, rules: tuple[Path, ...], market: str | None, ref: str | None) -> None:
    """Show a rule: its values by date, source and how it was read, why, examples.

    RULE is an id, or id#entry for a row of a table, or the id of a label statement; or the name or number of a
    substance: then it is told what applies to it, and when. Without it all rules are listed.
    """
    if market is not None and market not in words("market"):
        known = words("market")
        raise click.UsageError(f'--market is "{market}"{did_you_mean(market, known) or "; known: " + ", ".join(known)}')
    book = settings_for(Path.cwd(), Options(rules=rules)).book()
    if ref is not None:
        if ref not in book.sources:
            raise CannotRun(f'no source "{ref}"{did_you_mean(ref, book.sources) or "; a rule names its own"}')
        write_out(on_source(ref, book, terminal_width()))
        return
    if rule is None:
        write_out(index(book))
        return
    if rule in book.statements:
        write_out(on_statement(rule, book, terminal_width()))
        return
    found = book.find(rule)
    if not found:
        systems = [known for known in book.find(rule.split("#")[0]) if known.word == "preserved"]
        if not systems or rule not in book.addresses:
            write_out(_of_substance(rule, market, book))
            return
        found = systems
    write_out(on_rule(found, book, terminal_width()))


def _of_substance(word: str, market: str | None, book: Rulebook) -> str:
    """What applies to a substance.

    Raises:
        CannotRun: The word is neither a rule nor a substance.
    """
    substance = book.substances.find(word)
    if substance is not None:
        return on_substance(substance.name, about(substance.name, book, market), book, terminal_width())
    known_names = (*book.ids, *book.statements, *book.addresses)
    near = did_you_mean(word, known_names) or did_you_mean(word, book.substances.nearest(word))
    raise CannotRun(f'no rule and no substance "{word}"{near or "; cite alone lists the rules"}')
