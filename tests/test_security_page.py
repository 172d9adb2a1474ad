"""The page that says how far everything is read, held against the constants that decide it."""

import importlib
import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs" / "security.md").read_text("utf-8")
ROW = re.compile(r"^\| [^|]+ \| ([0-9,]+) \| `([\w.]+)\.(MOST_\w+)` \|$", re.MULTILINE)
LIMITED = ("sheet", "composition.expansion", "schema")


def test_every_limit_on_the_page_is_the_one_that_holds() -> None:
    for figure, module, name in ROW.findall(PAGE):
        assert int(figure.replace(",", "")) == getattr(importlib.import_module(f"watchglass.{module}"), name), name


def test_every_limit_of_the_readers_is_on_the_page() -> None:
    there = {(module, name) for _, module, name in ROW.findall(PAGE)}
    modules = {module: importlib.import_module(f"watchglass.{module}") for module in LIMITED}
    held = {(module, name) for module, found in modules.items() for name in vars(found) if name.startswith("MOST_")}

    assert held == there
