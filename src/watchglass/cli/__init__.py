"""The command line. A command's module is imported when the command is called, so that help and errors come at once."""

from __future__ import annotations

import contextlib
import gc
import importlib
import sys
from typing import Any

import click

from watchglass import __version__

# name: (module, one line of help)
COMMANDS = {
    "review": ("watchglass.cli.review", "Review formulas against dated, cited rules."),
    "neutralise": ("watchglass.cli.neutralise", "Find how much of a stock brings a formula to a pH."),
    "weigh": ("watchglass.cli.weigh", "Write the weigh sheet of a batch."),
    "label": ("watchglass.cli.label", "Write the label copy: declaration in its order, statements, what is left."),
    "dossier": ("watchglass.cli.dossier", "Write the pre-launch document of a formula as HTML or PDF."),
    "cite": ("watchglass.cli.cite", "Show a rule: its values by date, source, reason and examples."),
    "begin": ("watchglass.cli.begin", "Write a folder to start from: formula, shelf, configuration, CI file."),
    "editor": ("watchglass.cli.editor", "Serve an editor: findings while typing, completion, mends."),
    "schema": ("watchglass.cli.schema", "Print a JSON Schema: formula, shelf, rules, review ..."),
}


class LazyGroup(click.Group):
    """A group that knows its commands by name and loads one when it is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """The command, its module imported now."""
        if name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(COMMANDS[name][0]).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """From the table, so that help imports no command."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])

    def resolve_command(self, ctx: click.Context, args: list[str]) -> Any:
        """Name the nearest command for a misspelt one."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from watchglass.nearest import did_you_mean

            hint = did_you_mean(args[0], COMMANDS) or f"; the commands are {', '.join(COMMANDS)}"
            raise click.UsageError(f'no command "{args[0]}"{hint}')
        return super().resolve_command(ctx, args)


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, "--version", message="watchglass %(version)s")
def group() -> None:
    """Read cosmetic formulas, work out what is really in the jar, and hold it against dated, cited rules.

    Watchglass advises; it certifies nothing.
    """


def main() -> None:
    """Run the command line; exit 0, 1 or 2, and never with a traceback."""
    from watchglass.errors import WatchglassError
    from watchglass.output import forget_output, write_anything

    gc.disable()  # a run is short and keeps what it makes; a command that stays turns it on again
    write_anything()
    try:
        code = group.main(standalone_mode=False)
    except click.exceptions.Exit as stop:
        code = stop.exit_code
    except click.exceptions.NoArgsIsHelpError as error:
        click.echo(error.format_message(), err=True)
        code = 2
    except click.ClickException as error:
        code = _complain(error.format_message())
    except (click.Abort, KeyboardInterrupt):
        code = _complain("stopped")
    except WatchglassError as error:
        code = _complain(str(error))
    except BrokenPipeError:
        forget_output()
        code = 2
    except OSError as error:
        forget_output()
        at = f"{error.filename}: " if error.filename else "standard output cannot be written: "
        code = _complain(f"{at}{error.strerror}")
    except (MemoryError, RecursionError):
        code = _complain("this is more than fits into memory")
    sys.exit(code if isinstance(code, int) else 0)


def _complain(message: str) -> int:
    """One line for each line of the message, with nothing in it that a terminal obeys."""
    from watchglass.errors import one_line

    for line in message.split("\n"):
        with contextlib.suppress(OSError):
            click.echo(f"watchglass: {one_line(line)}", err=True)
    return 2
