"""What the tests of the command line share: the program run as a program."""

import os
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

Call = Callable[..., "Ran"]


@dataclass(frozen=True)
class Ran:
    code: int
    out: str
    err: str

    @property
    def all(self) -> str:
        return self.out + self.err


def environment(**changes: str) -> dict[str, str]:
    left_out = ("NO_COLOR", "FORCE_COLOR", "PYTHONHASHSEED", "PYTHONIOENCODING", "COLUMNS")
    return {key: value for key, value in os.environ.items() if key not in left_out} | {"PYTHONUTF8": "1"} | changes


def process(*arguments: str | bytes, folder: Path, given: bytes | None = b"", shell: str = "", **changes: str) -> "Ran":
    """Run `python -m watchglass` as a program of its own; `shell` is put behind it in a shell."""
    command: Sequence[str | bytes] = [sys.executable, "-m", "watchglass", *arguments]
    if shell:
        command = ["bash", "-c", f'"$@" {shell}', "bash", *command]
    ran = subprocess.run(command, cwd=folder, input=given, capture_output=True, timeout=60, env=environment(**changes))
    out, err = (text.decode("utf-8", "surrogateescape") for text in (ran.stdout, ran.stderr))
    assert "Traceback" not in out + err, err
    return Ran(ran.returncode, out, err)
