"""The order of the house: what may import what, what only one module does."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from watchglass import library

SOURCE = Path(__file__).parents[1] / "src" / "watchglass"

# A module imports only modules that stand before it; a package counts as one module.
ORDER = [
    "errors",
    "nearest",
    "dates",
    "interval",
    "sheet",
    "schema",
    "identity",
    "index",
    "proofread",
    "tables",
    "library",
    "substances",
    "formula",
    "intake",
    "composition",
    "solution",
    "conditions",
    "requirements",
    "rulebook",
    "findings",
    "fingerprints",
    "known",
    "deviations",
    "judge",
    "proof",
    "mend",
    "neutralise",
    "weigh",
    "batch_record",
    "label",
    "comparison",
    "calendar",
    "dossier",
    "cite",
    "reports",
    "plots",
    "papers",
    "output",
    "files",
    "settings",
    "jobs",
    "runs",
    "survey",
    "editor",
    "bench",
    "cli",
]
FILES = {path.relative_to(SOURCE).as_posix(): path.read_text("utf-8") for path in sorted(SOURCE.rglob("*.py"))}
ENTRY = ("__init__.py", "__main__.py")


def module_of(file: str) -> str:
    return file.split("/")[0].removesuffix(".py")


def imported(text: str, file: str) -> Iterator[str]:
    """Every dotted name that a file imports, wherever in it, relative imports written out."""
    package = ["watchglass", *file.split("/")[:-1]]
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *(node.module.split(".") if node.module else [])])
            yield from (f"{stem}.{name.name}" for name in node.names)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value.startswith("watchglass."):
            yield node.value  # a module that is imported by its name


def own(text: str, file: str) -> set[str]:
    """The modules of the package that a file imports, without its own."""
    names = {name.split(".")[1] for name in imported(text, file) if name.startswith("watchglass.")}
    return {name for name in names if f"{name}.py" in FILES or f"{name}/__init__.py" in FILES} - {module_of(file)}


def out_of_order(text: str, file: str) -> list[str]:
    place = ORDER.index(module_of(file))
    return sorted(name for name in own(text, file) if name not in ORDER[:place])


def test_every_module_has_a_place_in_the_order() -> None:
    assert {module_of(file) for file in FILES if file not in ENTRY} <= set(ORDER)


@pytest.mark.parametrize("file", [file for file in FILES if file not in ENTRY])
def test_a_module_imports_only_modules_before_it(file: str) -> None:
    assert out_of_order(FILES[file], file) == []


def test_importing_the_package_imports_nothing_of_its_own() -> None:
    # It names what it offers for type checkers; a module behind a name is imported when that name is asked for.
    asked = "import sys, watchglass; print(*sorted(m for m in sys.modules if m.startswith('watchglass.')))"
    ran = subprocess.run([sys.executable, "-c", asked], capture_output=True, encoding="utf-8", check=True)

    assert ran.stdout.split() == []
    assert own(FILES["__init__.py"], "__init__.py") == {"errors", "findings", "runs"}


def test_the_main_module_imports_the_command_line_alone() -> None:
    assert own(FILES["__main__.py"], "__main__.py") == {"cli"}


@pytest.mark.parametrize(
    "line",
    [
        "import watchglass.judge",
        "from watchglass.judge import review",
        "from watchglass import judge",
        "def f():\n    from watchglass.cli import main",
        "from . import judge",
        "from .judge import review",
        "importlib.import_module('watchglass.judge')",
    ],
)
def test_an_import_of_a_later_module_would_be_seen(line: str) -> None:
    assert out_of_order(line, "sheet.py")


def test_a_relative_import_inside_a_package_is_its_own_business() -> None:
    assert out_of_order("from . import water\nfrom .model import Model", "solution/mixture.py") == []
    assert out_of_order("from ..judge import review", "solution/mixture.py") == ["judge"]


@pytest.mark.parametrize("file", [file for file in FILES if file != "sheet.py"])
def test_nothing_but_the_sheet_parses_yaml(file: str) -> None:
    assert "yaml" not in {name.split(".")[0] for name in imported(FILES[file], file)}


@pytest.mark.parametrize("file", [file for file in FILES if file.startswith("solution/")])
def test_the_chemistry_opens_no_file_and_reads_no_clock(file: str) -> None:
    roots = {name.split(".")[0] for name in imported(FILES[file], file)}
    called = {
        node.func.id
        for node in ast.walk(ast.parse(FILES[file]))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }

    assert (
        roots & {"os", "io", "pathlib", "datetime", "time", "yaml", "json", "random", "subprocess", "socket"} == set()
    )
    assert called & {"open", "print", "input", "eval", "exec"} == set()


CLOCKS = {"today", "now", "utcnow", "time", "localtime", "gmtime", "monotonic", "perf_counter"}


def clocks_read(text: str) -> list[str]:
    calls = (node.func for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Call))
    return [call.attr for call in calls if isinstance(call, ast.Attribute) and call.attr in CLOCKS]


@pytest.mark.parametrize("file", [file for file in FILES if not file.startswith("cli/")])
def test_no_clock_is_read_but_by_the_command_line(file: str) -> None:
    assert clocks_read(FILES[file]) == []


def test_the_command_line_reads_the_date_in_one_place_and_times_only_for_those_who_ask() -> None:
    found = {file: clocks_read(text) for file, text in FILES.items() if file.startswith("cli/")}
    timed = found.pop("cli/progress.py")

    assert set(timed) == {"perf_counter"}
    assert len([name for names in found.values() for name in names]) == 1


def test_the_kept_rules_are_read_anew_when_any_module_that_made_them_changes() -> None:
    made_by = own(FILES["library.py"], "library.py") - {"errors"}

    assert made_by <= set(library._MAKERS)
