"""Where a report goes: to a file as a whole or not at all, or to standard output."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from watchglass.errors import CannotRun


def write_file(path: Path, text: str) -> None:
    """Write a file whole: into a temporary file beside it, flushed, then renamed over it.

    Raises:
        CannotRun: It cannot be written; what was there before is untouched.
    """
    unfinished: str | None = None
    try:
        with tempfile.NamedTemporaryFile("w", encoding="utf-8", newline="\n", dir=path.parent, delete=False) as file:
            unfinished = file.name
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            os.chmod(unfinished, path.stat().st_mode)
        else:
            os.chmod(unfinished, 0o666 & ~_umask())
        os.replace(unfinished, path)
    except OSError as error:
        if unfinished is not None:
            with contextlib.suppress(OSError):
                os.unlink(unfinished)
        raise CannotRun(f"{path}: the report cannot be written: {error.strerror}") from None


def colour_wanted(choice: str) -> bool:
    """Whether to colour: an option beats FORCE_COLOR and NO_COLOR, they beat the look at the terminal."""
    if choice != "auto":
        return choice == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


def terminal_width() -> int | None:
    """Columns of the terminal that standard output is, else None."""
    if not sys.stdout.isatty():
        return None
    import shutil

    return shutil.get_terminal_size().columns


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
