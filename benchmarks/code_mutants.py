"""Mutation testing of the core: small faults put in, one at a time, and the tests asked whether they notice.

    python benchmarks/code_mutants.py --sample 200 --seed 1

A fault is one change to the syntax tree of one module (a comparison, an operator, a figure, a condition, a statement
that is left out). It is put in as the module is imported, in a process of its own; no file is changed. The tests near
the module run first; a mutant that they let live meets the wider ones. What lives through both is listed.
"""

from __future__ import annotations

import argparse
import ast
import copy
import importlib.abc
import importlib.machinery
import importlib.util
import os
import random
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, NamedTuple

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "watchglass"
CORE = ("composition/*.py", "judge.py", "mend/*.py", "solution/*.py", "requirements/*.py")
TIMEOUT_S = 180

# The tests nearest to a module, those most likely to notice first; then what else knows verdicts.
NEAR = {
    "composition": ["tests/test_composition.py", "tests/test_review.py"],
    "judge": ["tests/test_review.py", "tests/test_conditions.py", "tests/test_known.py", "tests/test_reports.py"],
    "mend": ["tests/test_mend.py"],
    "solution": [
        *("tests/test_solution.py", "tests/test_heat.py", "tests/test_solubility.py", "tests/test_disagreement.py"),
        *("tests/test_lots.py", "tests/test_published_ph.py"),
    ],
    "requirements": ["tests/requirements", "tests/test_review.py"],
}
WIDE = [
    *("tests/test_formulas.py", "tests/test_metamorphic.py", "tests/test_external_limits.py", "tests/test_reports.py"),
    *("tests/test_market_limits.py", "tests/test_neutralise.py", "tests/test_weigh.py", "tests/test_calendar.py"),
]

_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr,
}  # fmt: skip
_CALLS = {
    "min": "max", "max": "min", "any": "all", "all": "any",
    "add": "subtract", "subtract": "add", "multiply": "divide", "divide": "multiply",
}  # fmt: skip
_ENDS = {"low": "high", "high": "low"}


class Mutant(NamedTuple):
    """One fault: the number of the change in its module, and what it is in words."""

    file: str
    number: int
    line: int
    told: str

    @property
    def package(self) -> str:
        return self.file.split("/")[0].removesuffix(".py")


Change = tuple[ast.AST, str, Callable[[], None]]


def changes(tree: ast.Module) -> Iterator[Change]:
    """Every change to a tree, in one order: the node, what it is, and the function that makes it."""
    for node in _judged(tree):
        if isinstance(node, ast.Compare):
            for place, operator in enumerate(node.ops):
                other = _COMPARISONS[type(operator)]
                yield node, f"{type(operator).__name__} becomes {other.__name__}", _put(node.ops, place, other())
        elif isinstance(node, ast.BinOp | ast.AugAssign) and type(node.op) in _OPERATORS:
            other_operator = _OPERATORS[type(node.op)]
            told = f"{type(node.op).__name__} becomes {other_operator.__name__}"
            yield node, told, _set(node, "op", other_operator())
        elif isinstance(node, ast.BoolOp):
            swapped = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            yield node, f"{type(node.op).__name__} becomes {type(swapped).__name__}", _set(node, "op", swapped)
        elif isinstance(node, ast.If | ast.IfExp | ast.While):
            yield node, "the condition is turned round", _set(node, "test", ast.Not(), wrap=True)
        elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
            yield node, f"{node.value} becomes {not node.value}", _set(node, "value", not node.value)
        elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
            yield node, f"{node.value} becomes {node.value + 1}", _set(node, "value", node.value + 1)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS:
            yield node, f"{node.func.id} becomes {_CALLS[node.func.id]}", _set(node.func, "id", _CALLS[node.func.id])
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr in _CALLS:
            told = f"{node.func.attr} becomes {_CALLS[node.func.attr]}"
            yield node, told, _set(node.func, "attr", _CALLS[node.func.attr])
        elif isinstance(node, ast.Attribute) and node.attr in _ENDS:
            yield node, f".{node.attr} becomes .{_ENDS[node.attr]}", _set(node, "attr", _ENDS[node.attr])
        elif isinstance(node, ast.Continue):
            yield node, "continue becomes break", lambda node=node: _become(node, ast.Break())  # type: ignore[misc]  # mypy knows no default of a lambda
        yield from _left_out(node)


def _judged(node: ast.AST) -> Iterator[ast.AST]:
    """The nodes that run: no annotation, no docstring, no assertion."""
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "type_ignores"):
            continue
        for child in value if isinstance(value, list) else [value]:
            is_docstring = isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant)
            if isinstance(child, ast.AST) and not is_docstring and not isinstance(child, ast.Assert):
                yield child
                yield from _judged(child)


def _left_out(node: ast.AST) -> Iterator[Change]:
    """Statements that only do something: calls and additions in place."""
    body = getattr(node, "body", None)
    for place, child in enumerate(body if isinstance(body, list) else []):
        does = isinstance(child, ast.AugAssign) or (isinstance(child, ast.Expr) and isinstance(child.value, ast.Call))
        if does and isinstance(body, list):
            yield child, "the statement is left out", _put(body, place, ast.Pass())


def _put(items: list[Any], place: int, new: ast.AST) -> Callable[[], None]:
    def put() -> None:
        items[place] = new

    return put


def _set(node: ast.AST, field: str, new: object, wrap: bool = False) -> Callable[[], None]:
    def put() -> None:
        value = ast.UnaryOp(ast.Not(), getattr(node, field)) if wrap else new
        setattr(node, field, value)

    return put


def _become(node: ast.AST, other: ast.AST) -> None:
    node.__class__ = other.__class__


def mutants_of(path: Path) -> list[Mutant]:
    """Every fault that can be put into a file."""
    file = path.relative_to(SOURCE).as_posix()
    tree = ast.parse(path.read_text("utf-8"))
    return [
        Mutant(file, number, getattr(node, "lineno", 0), told) for number, (node, told, _) in enumerate(changes(tree))
    ]


def mutated(path: Path, number: int) -> ast.Module:
    """The tree of a file with one fault in it."""
    tree = copy.deepcopy(ast.parse(path.read_text("utf-8")))
    for at, (_, _, change) in enumerate(changes(tree)):
        if at == number:
            change()
            break
    return ast.fix_missing_locations(tree)


class _Loader(importlib.abc.Loader):
    def __init__(self, path: Path, number: int) -> None:
        self._path, self._number = path, number

    def exec_module(self, module: ModuleType) -> None:
        code = compile(mutated(self._path, self._number), str(self._path), "exec")
        exec(code, module.__dict__)


class _Finder(importlib.abc.MetaPathFinder):
    """Gives one module with its fault; all others come as they are."""

    def __init__(self, path: Path, number: int) -> None:
        dotted = path.relative_to(SOURCE.parent).with_suffix("").as_posix().replace("/", ".")
        self._name, self._is_package = dotted.removesuffix(".__init__"), path.name == "__init__.py"
        self._path, self._number = path, number

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if name != self._name:
            return None
        found = [str(self._path.parent)] if self._is_package else None
        return importlib.util.spec_from_file_location(
            name, self._path, loader=_Loader(self._path, self._number), submodule_search_locations=found
        )


def run_tests_with(file: str, number: int, tests: list[str]) -> int:
    """In a process of its own: the tests, with the fault in."""
    import pytest

    sys.meta_path.insert(0, _Finder(SOURCE / file, number))
    return int(pytest.main(["-x", "-q", "--no-header", "-p", "no:cacheprovider", "-p", "no:xdist", *tests]))


def lives(mutant: Mutant, tests: list[str]) -> bool:
    """Whether the tests pass with the fault in; running on without end counts as noticed."""
    there = [test for test in tests if (ROOT / test).exists()]
    command = [sys.executable, __file__, "--run", mutant.file, str(mutant.number), *there]
    try:
        ran = subprocess.run(command, cwd=ROOT, capture_output=True, timeout=TIMEOUT_S, env=_environment())
    except subprocess.TimeoutExpired:
        return False
    return ran.returncode == 0


def _environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(SOURCE.parent), "PYTHONDONTWRITEBYTECODE": "1"}


def sample(size: int, seed: int, only: str) -> list[Mutant]:
    """So many of all mutants, the same ones for the same seed."""
    files = sorted(path for pattern in CORE for path in SOURCE.glob(pattern))
    every = [mutant for path in files for mutant in mutants_of(path) if only in mutant.file]
    chosen = random.Random(seed).sample(every, min(size, len(every)))
    print(f"{len(every)} mutants of {len(files)} files; {len(chosen)} tried, seed {seed}", flush=True)
    return chosen


def main() -> None:
    """Try a sample and print what was killed, what lived, and the share."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--sample", type=int, default=200)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--only", default="", help="a part of the file's name")
    asked = reader.parse_args()
    start, tried, living = time.perf_counter(), 0, []
    for mutant in sample(asked.sample, asked.seed, asked.only):
        tried += 1
        told = f"{mutant.file}:{mutant.line}: {mutant.told} (number {mutant.number})"
        alive = lives(mutant, NEAR[mutant.package]) and lives(mutant, WIDE)
        living += [told] if alive else []
        print(f"{'LIVES ' if alive else 'killed'} {told}", flush=True)
    share = 100 * (tried - len(living)) / max(tried, 1)
    print(f"{tried - len(living)} of {tried} killed ({share:.0f} %), {time.perf_counter() - start:.0f} s")
    for told in living:
        print(f"  {told}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--run"]:
        sys.exit(run_tests_with(sys.argv[2], int(sys.argv[3]), sys.argv[4:]))
    main()
