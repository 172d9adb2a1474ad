"""With this file pytest puts the folder of the tests on the path, so that tests in folders below find the helpers.

Property tests draw the same examples on every run, so that a run that passed passes again; HYPOTHESIS_PROFILE=explore
draws new ones.
"""

import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

from running import Call, Ran
from watchglass import cli

settings.register_profile("reproducible", derandomize=True)
settings.register_profile("explore", derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "reproducible"))


@pytest.fixture
def call(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Call:
    """Run the command line in this process, in an empty folder; what it does not catch fails the test."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.delenv("FORCE_COLOR", raising=False)

    def run(*arguments: str) -> Ran:
        capfd.readouterr()
        monkeypatch.setattr(sys, "argv", ["watchglass", *arguments])
        with pytest.raises(SystemExit) as stopped:
            cli.main()
        out, err = capfd.readouterr()
        return Ran(int(stopped.value.code or 0), out, err)

    return run
