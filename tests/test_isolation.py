"""What the program never does: no network, no other program, no text run as code, nothing opened that is not its own.

Once over the source, and once at run time by an audit hook (PEP 578), which sees what libraries do as well.
"""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from running import environment

SOURCE = Path(__file__).parents[1] / "src" / "watchglass"
ROOT = Path(__file__).parents[1]
FILES = {path.relative_to(SOURCE).as_posix(): path.read_text("utf-8") for path in sorted(SOURCE.rglob("*.py"))}

NETWORK = {"socket", "ssl", "http", "urllib", "ftplib", "smtplib", "xmlrpc", "socketserver", "requests", "httpx"}
PROGRAMS = {"subprocess", "pty", "ctypes", "multiprocessing", "concurrent"}
OBJECTS = {"pickle", "marshal", "shelve", "dill", "cloudpickle", "code", "codeop", "runpy"}
CALLS = {"eval", "exec", "compile", "__import__"}
METHODS = {"system", "popen", "fork", "forkpty", "execv", "execve", "execvp", "spawnv", "posix_spawn", "startfile"}
HARMLESS = {"urllib.parse"}  # it only escapes and splits text
LOADERS = {"load", "load_all", "unsafe_load", "full_load"}

# Each with its reason; everything else is a fault.
EXCUSED = {
    # Reviews of very many files run in processes that the program itself starts, of itself. What goes between them is
    # made of our own named tuples and never comes from a file, so the pickling inside the pool meets nobody's text.
    "jobs.py": {"multiprocessing", "concurrent"},
}


def forbidden(text: str) -> set[str]:
    """The forbidden names that a text imports or calls."""
    found: set[str] = set()
    tree = ast.parse(text)
    yaml_names = {"yaml"} if "yaml" in text else set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found.update(name.name.split(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            found.update(() if node.module in HARMLESS else (node.module.split(".")[0],))
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
            found.update({node.func.id} & CALLS)
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            found.update({node.func.attr} & METHODS)
            owner = node.func.value
            if isinstance(owner, ast.Name) and owner.id in yaml_names:
                found.update({f"yaml.{node.func.attr}"} if node.func.attr in LOADERS else ())
    wanted = NETWORK | PROGRAMS | OBJECTS | CALLS | METHODS | {f"yaml.{name}" for name in LOADERS}
    return found & wanted


@pytest.mark.parametrize("file", list(FILES))
def test_no_module_reaches_out_starts_a_program_or_runs_a_text(file: str) -> None:
    assert forbidden(FILES[file]) == EXCUSED.get(file, set())


@pytest.mark.parametrize(
    "text",
    [
        *("import socket", "from urllib.request import urlopen", "import subprocess", "def f():\n    import pickle"),
        *("eval('1')", "exec(text)", "compile(text, '', 'exec')", "os.system('ls')", "import yaml\nyaml.load(text)"),
        *("from multiprocessing import Pool", "import marshal", "import shelve", "os.execv('a', [])"),
    ],
)
def test_the_look_at_the_source_sees_each_of_them(text: str) -> None:
    assert forbidden(text)


def test_a_pattern_that_is_compiled_is_no_code() -> None:
    assert forbidden("import re\nre.compile('a')") == set()


WATCH = """
import json, sys
seen = []
QUIET = []
def hook(event, arguments):
    if QUIET:
        return
    if event == "open":
        path, mode, flags = arguments
        seen.append((event, path.decode() if isinstance(path, bytes) else str(path), flags))
    elif event.split(".")[0] in ("socket", "subprocess", "ctypes", "pty", "urllib", "http", "ftplib", "smtplib"):
        seen.append((event, "", 0))
    elif event == "compile":
        seen.append((event, str(arguments[1]), 0))
    elif event in ("os.exec", "os.fork", "os.forkpty", "os.posix_spawn", "os.spawn", "os.system", "pickle.find_class",
                   "marshal.load", "shutil.rmtree"):
        seen.append((event, "", 0))
sys.addaudithook(hook)
sys.argv = ["watchglass", *sys.argv[2:]]
log = sys.argv.pop()
from watchglass import cli
try:
    cli.main()
except SystemExit:
    pass
QUIET.append(1)
with open(log, "w") as file:
    json.dump(seen, file)
"""


def watched(tmp_path: Path, *arguments: str, folder: Path = ROOT, hook: str = WATCH) -> list[tuple[str, str, int]]:
    """Run the program with an audit hook in, and tell what it did, in the order in which it did it."""
    log = tmp_path / "seen.json"
    ran = subprocess.run(
        [sys.executable, "-c", hook, "-", *arguments, str(log)],
        cwd=folder,
        capture_output=True,
        timeout=120,
        env=environment(XDG_CACHE_HOME=str(tmp_path / "cache")),
    )
    assert ran.returncode == 0, ran.stderr
    return [(event, path, flags) for event, path, flags in json.loads(log.read_text("utf-8"))]


def homes(tmp_path: Path) -> tuple[Path, ...]:
    """Where the program may read: the repository with the formulas and the rules, the cache, and Python."""
    python = {Path(path).resolve() for path in (sys.prefix, sys.base_prefix, sys.exec_prefix) if path}
    return (ROOT.resolve(), (tmp_path / "cache").resolve(), *python, Path("/dev"), Path("/proc/self"))


def strays(seen: list[tuple[str, str, int]], tmp_path: Path) -> list[str]:
    """The files opened elsewhere. What is opened by the number of a stream has no path."""
    homely = homes(tmp_path)
    paths = {path for event, path, _ in seen if event == "open" and not path.isdigit()}
    return sorted(path for path in paths if not any((ROOT / path).resolve().is_relative_to(home) for home in homely))


def test_a_review_of_all_examples_opens_its_own_files_alone_and_starts_nothing(tmp_path: Path) -> None:
    arguments = ("review", "formulas", "--on", "2026-11-25", "--format", "json")
    first, second = watched(tmp_path, *arguments), watched(tmp_path, *arguments)

    for seen in (first, second):  # with the rules read anew, and with the rules that were kept
        assert sum(path.endswith(".yaml") for event, path, _ in seen if event == "open") >= 30
        assert strays(seen, tmp_path) == []
        assert {event for event, _, _ in seen} - {"open", "compile", "marshal.load"} <= {"shutil.rmtree"}


def test_a_review_writes_nowhere_but_to_its_cache(tmp_path: Path) -> None:
    seen = watched(tmp_path, "review", "formulas", "--on", "2026-11-25")
    wrote = {
        path
        for event, path, flags in seen
        if event == "open" and flags & (os.O_WRONLY | os.O_RDWR) and not path.startswith("/dev/") and ".pyc" not in path
    }

    assert wrote
    assert all(Path(path).is_relative_to(tmp_path / "cache") for path in wrote)


def test_the_watch_sees_a_stray_file_and_a_program(tmp_path: Path) -> None:
    (tmp_path / "stray").mkdir()
    (tmp_path / "stray" / "a.yaml").write_text("a: 1\n", "utf-8")
    bad = WATCH.replace("from watchglass import cli", "import subprocess; subprocess.run(['true']); import cli_")
    bad = bad.replace(
        "import cli_", f"open({str(tmp_path / 'stray' / 'a.yaml')!r}).close()\nfrom watchglass import cli"
    )
    seen = watched(tmp_path, "--version", hook=bad)

    assert strays(seen, tmp_path) == [str(tmp_path / "stray" / "a.yaml")]
    assert "subprocess.Popen" in {event for event, _, _ in seen}


def test_no_shelf_leads_out_of_the_repository_at_run_time(tmp_path: Path) -> None:
    """The tests of the shelf say that such a path is refused; here nothing is opened before it is."""
    shop = tmp_path / "shop"
    shop.mkdir()
    secret = tmp_path / "secret.yaml"
    secret.write_text("materials: {own-blend: {contains: {Aqua: 100}}}\n", "utf-8")
    (shop / "link.yaml").symlink_to(secret)
    for number, shelf in enumerate(("../secret.yaml", "link.yaml", str(secret))):
        sheet = (ROOT / "formulas" / "clean" / "balm.yaml").read_text("utf-8")
        kept = "".join(line for line in sheet.splitlines(True) if not line.startswith("shelf:"))
        (shop / f"{number}.yaml").write_text(f"{kept}\nshelf: {shelf}\n", "utf-8")

    seen = watched(tmp_path, "review", *(f"{number}.yaml" for number in range(3)), "--on", "2026-11-25", folder=shop)

    assert not [path for event, path, _ in seen if event == "open" and path in (str(secret), str(shop / "link.yaml"))]
