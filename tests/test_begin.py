"""The folder to start from: whole or not at all, and good from the first day."""

import json
import os
import re
from pathlib import Path

import pytest
import yaml

from helpers import ON
from running import Call, process
from test_readme import README
from watchglass import __version__, output, schema
from watchglass.cli.begin import contents
from watchglass.errors import CannotRun
from watchglass.output import write_folder
from watchglass.sheet import read

ROOT = Path(__file__).parents[1]


def files_of(folder: Path) -> dict[str, str]:
    found = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_text("utf-8") for path in found}


def test_a_new_folder_holds_every_file_and_nothing_else(tmp_path: Path, call: Call) -> None:
    ran = call("begin", "harbour")

    assert (ran.code, ran.err) == (0, "")
    assert files_of(tmp_path / "harbour") == contents()
    assert [path.name for path in tmp_path.iterdir()] == ["harbour"]
    assert "watchglass review harbour/formulas" in ran.out


@pytest.mark.parametrize("on", [ON, "2024-01-01", "2029-12-31"])
def test_the_folder_passes_review_with_nothing_broken_or_open(tmp_path: Path, call: Call, on: str) -> None:
    call("begin", "harbour")

    ran = call("review", "harbour/formulas", "--on", on, "--fail-at", "note", "--format", "json")

    assert ran.code == 0
    report = json.loads(ran.out)
    assert report["outcome"] == "meets"
    assert report["counts"] | {"undecided": 0} == {
        "files": 1, "error": 0, "warning": 0, "note": 0, "undecided": 0, "coming": 0, "deviation": 0, "known": 0,
    }  # fmt: skip


def test_an_empty_folder_is_filled(tmp_path: Path, call: Call) -> None:
    (tmp_path / "empty").mkdir()

    assert call("begin", "empty").code == 0
    assert files_of(tmp_path / "empty") == contents()
    assert call("begin", ".").code == 2  # no longer empty


def test_the_working_folder_is_filled_when_it_is_empty(tmp_path: Path, call: Call) -> None:
    assert call("begin", ".").code == 0
    assert files_of(tmp_path) == contents()


@pytest.mark.parametrize(
    "arguments", [("harbour",), ("note.txt",), ("link",), ("nowhere/harbour",), ("note.txt/a",), ()]
)
def test_what_is_there_is_never_written_over(tmp_path: Path, call: Call, arguments: tuple[str, ...]) -> None:
    (tmp_path / "harbour" / "formulas").mkdir(parents=True)
    (tmp_path / "harbour" / "formulas" / "shelf.yaml").write_text("mine", "utf-8")
    (tmp_path / "note.txt").write_text("mine", "utf-8")
    (tmp_path / "link").symlink_to("elsewhere")
    before = files_of(tmp_path)

    ran = call("begin", *arguments)

    assert (ran.code, ran.out) == (2, "")
    assert re.fullmatch(r"watchglass: [^\n]+\n", ran.err)
    assert files_of(tmp_path) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["harbour", "link", "note.txt"]


@pytest.mark.parametrize("exists", [False, True])
def test_a_folder_that_cannot_be_finished_is_not_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, exists: bool
) -> None:
    if exists:
        (tmp_path / "harbour").mkdir()
    rename, left = Path.rename, [1 if exists else 0]

    def breaks_down(path: Path, target: Path) -> Path:
        if not path.is_relative_to(tmp_path / "harbour"):  # what was moved is moved back
            left[0] -= 1
            if left[0] < 0:
                raise OSError(28, "No space left on device")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", breaks_down)

    with pytest.raises(CannotRun, match="harbour cannot be written: No space left"):
        write_folder(tmp_path / "harbour", {"a.txt": "a", "b/c.txt": "c"})

    assert files_of(tmp_path) == {}
    assert [path.name for path in tmp_path.iterdir()] == (["harbour"] if exists else [])


def test_a_disk_that_is_full_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write, written = Path.write_text, []

    def fills_up(path: Path, *rest: object, **more: object) -> int:
        written.append(path)
        if len(written) > 2:
            raise OSError(28, "No space left on device")
        return write(path, *rest, **more)  # type: ignore[arg-type]  # handed on as it came

    monkeypatch.setattr(Path, "write_text", fills_up)

    with pytest.raises(CannotRun, match="No space left"):
        write_folder(tmp_path / "harbour", contents())

    assert len(written) == 3
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "fork"), reason="the system has no modes of files")
def test_the_folder_has_the_modes_that_the_user_is_used_to(tmp_path: Path, call: Call) -> None:
    call("begin", "harbour")
    (tmp_path / "by hand").mkdir()
    (tmp_path / "by hand" / "a.txt").write_text("a", "utf-8")

    assert (tmp_path / "harbour").stat().st_mode == (tmp_path / "by hand").stat().st_mode
    assert (tmp_path / "harbour/README.md").stat().st_mode == (tmp_path / "by hand/a.txt").stat().st_mode


def test_the_ci_file_runs_the_command_of_the_readme() -> None:
    files = contents()
    workflow = yaml.safe_load(files[".github/workflows/formulas.yaml"])
    steps = [step["run"] for step in workflow["jobs"]["review"]["steps"] if "run" in step]
    (command,) = re.findall(r"^```sh\n(.*?)\n```", files["README.md"], re.MULTILINE | re.DOTALL)

    assert steps == [f"pip install watchglass=={__version__}", command]
    assert f".venv/bin/{command}\n" in README


def test_the_command_of_the_readme_runs_in_the_folder(tmp_path: Path, call: Call) -> None:
    call("begin", "harbour")

    ran = process("review", "formulas", "--on", ON, folder=tmp_path / "harbour")

    assert (ran.code, ran.err) == (0, "")


def test_each_sheet_names_its_schema_in_the_first_line_and_fits_it() -> None:
    files = contents()

    for name, text in files.items():
        if name.startswith("formulas/") or name == "watchglass.yaml":
            first = text.splitlines()[0]
            found = re.fullmatch(r"# yaml-language-server: \$schema=(?:\.\./)?(schemas/(\w+)\.schema\.json)", first)
            assert found is not None, name
            assert json.loads(files[found[1]]) == schema.load(found[2])
            kinds = {"formulas/shelf.yaml": "shelf", "watchglass.yaml": "configuration"}
            assert found[2] == kinds.get(name, "formula")
            assert schema.faults(read(text), found[2]) == []


def test_a_device_is_no_place_for_a_folder(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")

    with pytest.raises(CannotRun, match="no folder"):
        output.write_folder(tmp_path / "pipe", {"a": "b"})
