import re
import subprocess
import sys
from pathlib import Path

from watchglass.reports import NOT_CHECKED, NOT_YET

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", README, re.MULTILINE | re.DOTALL)


def test_the_output_in_the_readme_is_what_the_first_command_prints() -> None:
    call = [sys.executable, "-m", "watchglass", "review", "formulas", "--on", "2026-11-25"]
    ran = subprocess.run(call, cwd=ROOT, capture_output=True, encoding="utf-8", check=False)
    printed = without_hash(ran.stdout).splitlines()

    assert ran.returncode == 1
    shown = [line for line in without_hash(blocks("text")[0]).splitlines() if line]
    assert len(shown) > 5
    assert [line for line in shown if line not in printed] == []
    assert shown[-1] == printed[-1]


def test_the_formula_in_the_readme_is_a_file_that_is_reviewed() -> None:
    assert blocks("yaml")[0] in (ROOT / "formulas/clean/body-gel-lactic.yaml").read_text("utf-8")
    assert blocks("yaml")[1] in (ROOT / "formulas/shelf.yaml").read_text("utf-8")


def test_the_readme_holds_two_commands_of_one_line_each() -> None:
    assert [len(block.splitlines()) for block in blocks("sh")] == [1, 1]


def test_the_readme_says_what_is_not_checked() -> None:
    flowing = " ".join(README.split())
    assert NOT_YET in flowing
    assert NOT_CHECKED in flowing


def without_hash(text: str) -> str:
    return re.sub(r"rulebook [0-9a-f]{16}", "rulebook ...", text)
