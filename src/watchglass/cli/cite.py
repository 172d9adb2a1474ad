"""`watchglass cite`: what a rule says, since when, by which source."""

from __future__ import annotations

from pathlib import Path

import click

from watchglass.cite import index, on_rule, on_statement
from watchglass.errors import CannotRun
from watchglass.nearest import did_you_mean
from watchglass.output import terminal_width, write_out
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
def command(rule: str | None, rules: tuple[Path, ...]) -> None:
    """Show a rule: its values by date, source and how it was read, why, examples.

    RULE is an id, or id#entry for a row of a table, or the id of a label statement. Without it all rules are listed.
    """
    book = settings_for(Path.cwd(), Options(rules=rules)).book()
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
            known_names = (*book.ids, *book.statements, *book.addresses)
            raise CannotRun(f'no rule "{rule}"{did_you_mean(rule, known_names) or "; cite alone lists them"}')
        found = systems
    write_out(on_rule(found, book, terminal_width()))
