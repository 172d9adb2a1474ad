"""`watchglass schema`: the JSON Schemas, for editors and other programs."""

from __future__ import annotations

import json

import click

from watchglass import schema
from watchglass.nearest import did_you_mean
from watchglass.output import write_out


@click.command("schema")
@click.argument("name", default="formula")
def command(name: str) -> None:
    """Print the JSON Schema NAME: formula (default), shelf, record, review, or that of a file of the rule folder.

    Those are: rules, substances, sources, statements, kinds, labels, product-types, not-covered, atomic-weights.
    """
    names = schema.names()
    if name not in names:
        raise click.UsageError(f'no schema "{name}"{did_you_mean(name, names) or "; known: " + ", ".join(names)}')
    write_out(json.dumps(schema.load(name), ensure_ascii=False, indent=2) + "\n")
