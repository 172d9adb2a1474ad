"""Where a report goes: to a file as a whole or not at all, or to standard output."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from watchglass.errors import CannotRun, one_line

UNFINISHED = ".unfinished-"  # what is being written is hidden: a killed process leaves no sheet that is not whole


def write_anything() -> None:
    """Let the standard streams take any text: what their encoding cannot say is written as an escape."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def write_out(text: str) -> None:
    """Write to standard output, all of it.

    Raises:
        CannotRun: It is closed or full.
        BrokenPipeError: The reader has gone.
    """
    if sys.stdout is None:
        raise CannotRun("standard output is closed: the report went nowhere")
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        forget_output()
        raise CannotRun(f"standard output cannot be written: {error.strerror}") from None


def forget_output() -> None:
    """Standard output takes no more; what Python would still flush at exit goes nowhere."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def write_file(path: Path, content: str | bytes, what: str = "the report") -> None:
    """Write a file whole: into a temporary file beside it, flushed, then renamed over it. A text becomes UTF-8.

    A link is followed to where it leads; a device or a pipe is written to and never replaced.

    Raises:
        CannotRun: It cannot be written; what was there before is untouched.
    """
    try:
        path = path.resolve()
        written = content if isinstance(content, bytes) else content.encode("utf-8", "backslashreplace")
        if path.exists() and not path.is_file():
            path.write_bytes(written)
        else:
            _replace(path, written)
    except (OSError, RuntimeError) as error:
        why = error.strerror if isinstance(error, OSError) else str(error)
        raise CannotRun(f"{one_line(str(path))}: {what} cannot be written: {why}") from None


def _replace(path: Path, content: bytes) -> None:
    import tempfile

    unfinished: str | None = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, prefix=UNFINISHED, delete=False) as file:
            unfinished = file.name
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(unfinished, path.stat().st_mode if path.exists() else 0o666 & ~_umask())
        os.replace(unfinished, path)
    except BaseException:  # a stop from the keyboard leaves nothing behind either
        if unfinished is not None:
            with contextlib.suppress(OSError):
                os.unlink(unfinished)
        raise


def write_folder(folder: Path, files: Mapping[str, str]) -> None:
    """Write a folder of files whole, or not at all: into a folder beside it, then moved.

    Args:
        folder: Not there yet, or empty.
        files: Texts by their paths in the folder, with forward slashes.

    Raises:
        CannotRun: There is something already, or it cannot be written; what was there before is untouched.
    """
    import shutil
    import tempfile

    if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
        raise CannotRun(f"{one_line(str(folder))} is there already and no folder; name a new one")
    unfinished: Path | None = None
    try:
        if folder.is_dir() and any(folder.iterdir()):
            raise CannotRun(
                f"{one_line(str(folder))} is not empty; nothing of yours is written over: name a new folder"
            )
        target = folder.resolve()
        unfinished = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=target.parent))
        for name, text in files.items():
            path = unfinished / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8", newline="\n")
        unfinished.chmod(target.stat().st_mode if target.exists() else 0o777 & ~_umask())
        _move(unfinished, target)
    except OSError as error:
        raise CannotRun(f"{one_line(str(folder))} cannot be written: {error.strerror}") from None
    finally:
        if unfinished is not None:
            shutil.rmtree(unfinished, ignore_errors=True)


def _move(made: Path, target: Path) -> None:
    """A folder to where nothing is yet, or what it holds into a folder that is empty."""
    if not target.exists():
        made.rename(target)
        return
    moved: list[Path] = []
    try:
        for entry in sorted(made.iterdir()):
            entry.rename(target / entry.name)
            moved.append(target / entry.name)
    except OSError:
        for path in moved:
            path.rename(made / path.name)
        raise


def colour_wanted(choice: str) -> bool:
    """Whether to colour: an option beats FORCE_COLOR and NO_COLOR, they beat the look at the terminal."""
    if choice != "auto":
        return choice == "always"
    if os.environ.get("NO_COLOR"):
        return False
    if os.environ.get("FORCE_COLOR"):
        return True
    return sys.stdout is not None and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


def terminal_width() -> int | None:
    """Columns of the terminal that standard output is, else None."""
    if sys.stdout is None or not sys.stdout.isatty():
        return None
    import shutil

    return shutil.get_terminal_size().columns


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
