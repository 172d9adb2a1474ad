"""`watchglass begin`: a folder to start from."""

from __future__ import annotations

import json
from pathlib import Path

import click

from watchglass import __version__, schema
from watchglass.errors import one_line
from watchglass.output import write_folder, write_out

# where in the new folder: file of this package
_FILES = {
    "README.md": "readme.md",
    ".github/workflows/formulas.yaml": "workflow.yaml",
    "watchglass.yaml": "configuration.yaml",
    "formulas/slack-water-hand-gel.yaml": "formula.yaml",
    "formulas/shelf.yaml": "shelf.yaml",
}
_SCHEMAS = ("formula", "shelf", "configuration")


@click.command("begin")
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def command(folder: Path) -> None:
    """Write a folder to start from: a formula, a shelf, a configuration, a CI file, and schemas for the editor.

    DIR is made, or is an empty folder; nothing is written over, and it is written whole or not at all.
    """
    write_folder(folder, contents())
    write_out(f"{one_line(str(folder))} is there; go on with: watchglass review {one_line(str(folder / 'formulas'))}\n")


def contents() -> dict[str, str]:
    """What the folder holds: path, with forward slashes, to text."""
    starter = Path(__file__).resolve().parents[1] / "starter"
    files = {
        target: (starter / name).read_text("utf-8").replace("{version}", __version__) for target, name in _FILES.items()
    }
    for name in _SCHEMAS:
        files[f"schemas/{name}.schema.json"] = json.dumps(schema.load(name), ensure_ascii=False, indent=2) + "\n"
    return files
