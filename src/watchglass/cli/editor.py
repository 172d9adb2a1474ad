"""`watchglass editor`: the language server."""

from __future__ import annotations

import gc

import click

from watchglass.cli.given import day
from watchglass.errors import CannotRun


@click.command("editor")
@click.option("--on", "on", metavar="DATE", help="Judge by the law of this day, year-month-day. Default: today.")
def command(on: str | None) -> None:
    """Serve an editor over standard input and output, by the Language Server Protocol.

    Findings while typing, what is known of an ingredient, completion, the way to a material, mends. Nothing is fetched
    and nothing written: every change is the editor's own, on request.
    """
    day(on)
    try:
        from watchglass.editor.server import build
    except ModuleNotFoundError as error:
        if (error.name or "").split(".")[0] not in ("pygls", "lsprotocol"):
            raise
        raise CannotRun("editor needs: pip install 'watchglass[lsp]'") from None
    from watchglass.rulebook import load

    gc.enable()  # it stays for a day
    build(load(), lambda: day(on)).start_io()
