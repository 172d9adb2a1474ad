"""The examples for CI systems: each command is run as it stands, on a clean folder and on a flawed one."""

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml
from lxml import etree

from watchglass.cli.begin import contents
from watchglass.output import write_folder

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "docs" / "ci"
NAMES = sorted(path.name for path in EXAMPLES.iterdir())
WITH_COMMANDS = [name for name in NAMES if name not in ("pre-commit.yaml", "github-action.yaml")]
COMMAND = re.compile(r"^[ \t]*(?:- )?(?:run: |script: |sh ')?((?:\.venv/bin/)?watchglass review .*?)'?$", re.MULTILINE)


def commands(name: str) -> list[str]:
    return COMMAND.findall((EXAMPLES / name).read_text("utf-8"))


def loaded(path: Path) -> Any:
    return yaml.safe_load(path.read_text("utf-8"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder that `begin` writes, with the program where the examples look for it."""
    write_folder(tmp_path / "repository", contents())
    program = tmp_path / "repository" / ".venv" / "bin" / "watchglass"
    program.parent.mkdir(parents=True)
    program.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m watchglass "$@"\n', "utf-8")
    program.chmod(0o755)
    return tmp_path / "repository"


def flaw(folder: Path) -> None:
    file = folder / "formulas" / "slack-water-hand-gel.yaml"
    file.write_text(file.read_text("utf-8").replace("percent: qs", "percent: 12"), "utf-8")


def run(script: str, folder: Path, **variables: str) -> subprocess.CompletedProcess[str]:
    path = f"{folder / '.venv' / 'bin'}{os.pathsep}{os.environ['PATH']}"
    call = ["bash", "--noprofile", "--norc", "-eo", "pipefail", "-c", script]
    environment = os.environ | {"PATH": path} | variables
    return subprocess.run(call, cwd=folder, env=environment, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("name", WITH_COMMANDS)
def test_the_commands_of_an_example_pass_a_clean_folder_and_fail_a_flawed_one(name: str, folder: Path) -> None:
    found = commands(name)
    assert found

    clean = [run(command, folder) for command in found]
    flaw(folder)
    flawed = [run(command, folder) for command in found]

    assert [ran.returncode for ran in clean] == [0] * len(found), clean
    assert {ran.returncode for ran in flawed} <= {0, 1}
    assert 1 in {ran.returncode for ran in flawed}  # one of them decides
    assert [ran.stderr for ran in (*clean, *flawed)] == [""] * 2 * len(found)


@pytest.mark.parametrize("name", WITH_COMMANDS)
def test_every_report_that_an_example_hands_on_is_written_by_one_of_its_commands(name: str, folder: Path) -> None:
    flaw(folder)
    for command in commands(name):
        run(command, folder)
    text = (EXAMPLES / name).read_text("utf-8")

    named = set(re.findall(r"[\w-]+\.(?:xml|sarif)\b|[\w-]+-report\.json\b", text))
    assert named == {path.name for path in folder.iterdir() if path.suffix in (".xml", ".sarif", ".json")}
    for report in named:
        written = (folder / report).read_bytes()
        if report.endswith(".xml"):
            assert etree.fromstring(written).get("failures") != "0"
        else:
            assert json.loads(written)


@pytest.mark.parametrize("name", WITH_COMMANDS)
def test_a_review_that_cannot_run_fails_every_command_of_an_example(name: str, folder: Path) -> None:
    for file in (folder / "formulas").iterdir():
        file.unlink()

    assert {run(command, folder).returncode for command in commands(name)} <= {1, 2}


@pytest.mark.parametrize(
    "path", [*EXAMPLES.glob("*.yaml"), ROOT / "action.yml", ROOT / ".pre-commit-hooks.yaml"], ids=str
)
def test_an_example_is_sound_yaml_without_tabs(path: Path) -> None:
    assert loaded(path)
    assert "\t" not in path.read_text("utf-8")


def test_the_page_names_every_example_and_no_other() -> None:
    page = (EXAMPLES / "README.md").read_text("utf-8")

    assert set(re.findall(r"\]\(([\w.-]+)\)", page)) == set(NAMES) - {"README.md"}


# -- the composite action ------------------------------------------------------------------------------------------

ACTION = loaded(ROOT / "action.yml")


def acted(folder: Path, tmp_path: Path, **inputs: str) -> subprocess.CompletedProcess[str]:
    """Run the last step of the action as its runner does: the inputs in the environment."""
    step = ACTION["runs"]["steps"][-1]
    values = {name: inputs.get(name.replace("-", "_"), facts["default"]) for name, facts in ACTION["inputs"].items()}
    environment = {
        name: re.sub(r"\$\{\{ inputs\.([\w-]+) \}\}", lambda found: values[found[1]], text)
        for name, text in step["env"].items()
    }
    (tmp_path / "watchglass").symlink_to(folder / ".venv")
    return run(step["run"], folder, RUNNER_TEMP=str(tmp_path), **environment)


def test_the_action_needs_no_container_and_pastes_no_input_into_a_script() -> None:
    assert ACTION["runs"]["using"] == "composite"
    assert not [step for step in ACTION["runs"]["steps"] if "uses" in step]
    assert not [step for step in ACTION["runs"]["steps"] if "${{" in step["run"]]
    assert '"$GITHUB_ACTION_PATH"' in ACTION["runs"]["steps"][0]["run"]


def test_the_action_annotates_and_writes_sarif_and_its_code_is_that_of_the_review(folder: Path, tmp_path: Path) -> None:
    flaw(folder)

    ran = acted(folder, tmp_path, sarif="formulas.sarif", date="2026-11-25")

    lines = ran.stdout.splitlines()
    assert ran.returncode == 1
    assert any(line.startswith("::error file=formulas/slack-water-hand-gel.yaml,line=") for line in lines)
    assert lines[-1].startswith("outcome: breaks")
    assert json.loads((folder / "formulas.sarif").read_text("utf-8"))["runs"][0]["properties"]["on"] == "2026-11-25"


def test_the_action_passes_a_clean_folder(folder: Path, tmp_path: Path) -> None:
    ran = acted(folder, tmp_path)

    assert (ran.returncode, ran.stderr) == (0, "")


@pytest.mark.parametrize("paths", ["nowhere", "formulas; touch hurt", "$(touch hurt)", "-q"])
def test_the_action_fails_on_paths_that_are_none_and_runs_nothing_in_them(
    folder: Path, tmp_path: Path, paths: str
) -> None:
    ran = acted(folder, tmp_path, paths=paths, sarif="formulas.sarif")

    assert ran.returncode == 2
    assert not (folder / "hurt").exists()
    assert not (folder / "formulas.sarif").exists()


def test_the_action_takes_several_paths_one_a_line(folder: Path, tmp_path: Path) -> None:
    (folder / "other folder").mkdir()
    (folder / "other folder" / "a.yaml").write_text("formula: [\n", "utf-8")

    ran = acted(folder, tmp_path, paths="formulas\nother folder\n")

    assert "file=other folder/a.yaml" in ran.stdout
    assert "2 formulas" in ran.stdout


# -- pre-commit ----------------------------------------------------------------------------------------------------

(HOOK,) = loaded(ROOT / ".pre-commit-hooks.yaml")


def files_handed_over() -> list[str]:
    """The files of the starter folder that the hook asks for, by its patterns."""
    return [
        name
        for name in contents()
        if name.endswith((".yaml", ".yml")) and re.search(HOOK["files"], name) and not re.search(HOOK["exclude"], name)
    ]


def test_the_hook_asks_for_formulas_and_not_for_shelves_or_workflows() -> None:
    assert files_handed_over() == ["formulas/slack-water-hand-gel.yaml"]
    assert HOOK["language"] == "python"
    assert HOOK["pass_filenames"] is True


def test_the_hook_passes_a_clean_folder_and_fails_a_flawed_one(folder: Path) -> None:
    call = f"{HOOK['entry']} {shlex.join(files_handed_over())}"

    assert run(call, folder).returncode == 0
    flaw(folder)
    assert run(call, folder).returncode == 1


def test_the_example_uses_the_hook_that_is_there() -> None:
    (repository,) = loaded(EXAMPLES / "pre-commit.yaml")["repos"]

    assert [hook["id"] for hook in repository["hooks"]] == [HOOK["id"]]
