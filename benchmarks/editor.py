"""Time from a change in an editor to its findings, over a real language server: python benchmarks/editor.py.

The formula has about 60 lines. Two figures: one change at a time, waited for, and the same texts reviewed by calls in
this process; the difference is the protocol and the pause after which a text counts as typed.
"""

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path
from typing import IO, Any

from watchglass.editor.marks import marks_of
from watchglass.editor.page import Home, page_of
from watchglass.editor.server import PAUSE
from watchglass.rulebook import load

ON = "2026-11-25"
CHANGES = 60
FOLDER = Path(__file__).parents[1] / "formulas" / "clean"
TEXT = (FOLDER / "hand-lotion.yaml").read_text("utf-8")


def texts() -> list[str]:
    """Sixty lines of formula, each time with another figure."""
    filling = "".join(f"# remark {number}\n" for number in range(60 - TEXT.count("\n")))
    return [filling + TEXT.replace("percent: 4}", f"percent: {3 + number / 1000}}}", 1) for number in range(CHANGES)]


def send(to: IO[bytes], method: str, params: Any, number: int | None = None) -> None:
    """One message of the protocol."""
    body = json.dumps({"jsonrpc": "2.0", "method": method, "params": params} | ({"id": number} if number else {}))
    to.write(f"Content-Length: {len(body)}\r\n\r\n{body}".encode())
    to.flush()


def receive(source: IO[bytes], method: str | None) -> None:
    """Read until a notification of a method, or the answer to a request, has come."""
    while True:
        length = 0
        while (line := source.readline().strip()) != b"":
            if line.lower().startswith(b"content-length:"):
                length = int(line.split(b":")[1])
        message = json.loads(source.read(length))
        if message.get("method") == method:
            return


def served() -> list[float]:
    """Seconds from each change to its findings."""
    command = [sys.executable, "-m", "watchglass", "editor", "--on", ON]
    uri = (FOLDER / "typed.yaml").as_uri()
    took = []
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as server:
        assert server.stdin is not None
        assert server.stdout is not None
        root = [{"uri": FOLDER.parents[0].as_uri(), "name": "formulas"}]
        send(server.stdin, "initialize", {"processId": None, "capabilities": {}, "workspaceFolders": root}, 1)
        receive(server.stdout, None)
        send(server.stdin, "initialized", {})
        item = {"uri": uri, "languageId": "yaml", "version": 0, "text": TEXT}
        send(server.stdin, "textDocument/didOpen", {"textDocument": item})
        receive(server.stdout, "textDocument/publishDiagnostics")
        for version, text in enumerate(texts(), start=1):
            start = time.perf_counter()
            named = {"uri": uri, "version": version}
            send(server.stdin, "textDocument/didChange", {"textDocument": named, "contentChanges": [{"text": text}]})
            receive(server.stdout, "textDocument/publishDiagnostics")
            took.append(time.perf_counter() - start)
        send(server.stdin, "shutdown", None, 2)
        receive(server.stdout, None)
        send(server.stdin, "exit", None)
    return took


def called() -> list[float]:
    """Seconds for each text in this process."""
    book, home, took = load(), Home("typed.yaml", FOLDER), []
    marks_of(page_of(TEXT, home, book, ON), book)
    for text in texts():
        start = time.perf_counter()
        marks_of(page_of(text, home, book, ON), book)
        took.append(time.perf_counter() - start)
    return took


def main() -> None:
    """Print both."""
    for name, took in (("over the server", served()), ("called", called())):
        slow = sorted(took)[int(len(took) * 0.95)]
        print(f"{name}: median {statistics.median(took) * 1000:.1f} ms, 95 % within {slow * 1000:.1f} ms")
    print(f"of it a pause of {PAUSE * 1000:.0f} ms, so that a burst of keys is reviewed once")


if __name__ == "__main__":
    main()
