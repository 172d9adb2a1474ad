"""The language server as an editor meets it: a process of its own, spoken to over standard input and output."""

import asyncio
import sys
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import pytest
import pytest_lsp
from lsprotocol import types
from pytest_lsp import ClientServerConfig, LanguageClient

from helpers import ON, sheet
from running import process
from watchglass.cli.begin import contents
from watchglass.output import write_folder

WINDOW = sheet("Aqua qs", "Glycolic Acid 12", "Sodium Benzoate 0.5", markets="us", extra="batch: 500 g")
SERVER = ClientServerConfig(server_command=[sys.executable, "-m", "watchglass", "editor", "--on", ON])


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder that is open in the editor."""
    write_folder(tmp_path / "workshop", contents())
    return tmp_path / "workshop"


@pytest_lsp.fixture(config=SERVER)  # type: ignore[untyped-decorator]  # it ships no types
async def client(lsp_client: LanguageClient, folder: Path) -> AsyncIterator[None]:
    await lsp_client.initialize_session(
        types.InitializeParams(
            capabilities=types.ClientCapabilities(),
            workspace_folders=[types.WorkspaceFolder(folder.as_uri(), "workshop")],
        )
    )
    yield
    await lsp_client.shutdown_session()


class Text:
    """A text that is open in the editor."""

    def __init__(self, client: LanguageClient, path: Path, text: str) -> None:
        self.client, self.uri, self.text, self.version = client, path.as_uri(), text, 1
        item = types.TextDocumentItem(self.uri, "yaml", 1, text)
        client.text_document_did_open(types.DidOpenTextDocumentParams(item))

    @property
    def identifier(self) -> types.TextDocumentIdentifier:
        return types.TextDocumentIdentifier(self.uri)

    def change(self, text: str) -> None:
        self.text, self.version = text, self.version + 1
        whole = types.TextDocumentContentChangeWholeDocument(text)
        named = types.VersionedTextDocumentIdentifier(self.version, self.uri)
        self.client.text_document_did_change(types.DidChangeTextDocumentParams(named, [whole]))

    async def diagnostics(self) -> list[types.Diagnostic]:
        """The next ones that are sent of this text in its latest version."""
        while True:
            sent = await asyncio.wait_for(self.client.wait_for_notification("textDocument/publishDiagnostics"), 20)
            if sent.uri == self.uri and sent.version in (self.version, None):
                return list(sent.diagnostics)

    def position(self, word: str, after: int = 0) -> types.Position:
        """Where a word stands, in UTF-16 units."""
        at = self.text.index(word) + after
        start = self.text.rfind("\n", 0, at) + 1
        return types.Position(self.text.count("\n", 0, at), units(self.text[start:at]))

    def at(self, found: types.Range) -> str:
        """The text of a range in UTF-16 units, on one line."""
        line = self.text.split("\n")[found.start.line].encode("utf-16-le")
        return line[found.start.character * 2 : found.end.character * 2].decode("utf-16-le")

    def applied(self, edit: types.TextEdit) -> str:
        """The text after an edit, as an editor makes it."""
        lines = self.text.split("\n")
        start, end = edit.range.start, edit.range.end
        before = "\n".join([*lines[: start.line], cut(lines[start.line], 0, start.character)])
        after = "\n".join([cut(lines[end.line], end.character, None), *lines[end.line + 1 :]])
        return before + edit.new_text + after


def units(text: str) -> int:
    return len(text.encode("utf-16-le")) // 2


def cut(line: str, start: int, end: int | None) -> str:
    return line.encode("utf-16-le")[start * 2 : None if end is None else end * 2].decode("utf-16-le")


def by_code(found: list[types.Diagnostic], code: str) -> types.Diagnostic:
    return next(diagnostic for diagnostic in found if diagnostic.code == code)


# -- while typing --------------------------------------------------------------------------------------------------


async def test_a_formula_that_is_opened_and_edited_is_marked_and_cleared(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", WINDOW)
    found = by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling")

    assert text.at(found.range) == "12"
    assert (found.severity, found.source) == (types.DiagnosticSeverity.Warning, "watchglass")
    assert "the limit is at most 10" in found.message

    text.change(WINDOW.replace("percent: 12", "percent: 9"))
    assert "cir-glycolic-lactic-ceiling" not in {diagnostic.code for diagnostic in await text.diagnostics()}

    client.text_document_did_close(types.DidCloseTextDocumentParams(text.identifier))
    text.version = -1
    assert await text.diagnostics() == []


async def test_a_finding_links_to_the_page_of_its_source(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", sheet("Aqua qs", "Methylisothiazolinone 0.01"))

    found = by_code(await text.diagnostics(), "eu-annex-v#57")

    assert found.severity == types.DiagnosticSeverity.Error
    assert found.code_description is not None
    assert found.code_description.href.startswith("https://")


async def test_the_starter_formula_is_clean_and_finds_its_shelf(client: LanguageClient, folder: Path) -> None:
    file = folder / "formulas" / "slack-water-hand-gel.yaml"
    text = Text(client, file, file.read_text("utf-8"))

    assert [each for each in await text.diagnostics() if each.severity != types.DiagnosticSeverity.Hint] == []
    found = await client.text_document_definition_async(
        types.DefinitionParams(text.identifier, text.position("panthenol-75"))
    )
    assert isinstance(found, types.Location)
    assert found.uri == (folder / "formulas" / "shelf.yaml").as_uri()
    shelf = (folder / "formulas" / "shelf.yaml").read_text("utf-8").split("\n")
    assert shelf[found.range.start.line][found.range.start.character : found.range.end.character] == "panthenol-75"


async def test_a_shelf_that_is_saved_changes_the_formulas_that_are_open(client: LanguageClient, folder: Path) -> None:
    file, shelf = folder / "formulas" / "slack-water-hand-gel.yaml", folder / "formulas" / "shelf.yaml"
    text = Text(client, file, file.read_text("utf-8"))
    await text.diagnostics()

    shelf.write_text(shelf.read_text("utf-8").replace("panthenol-75:", "panthenol-50:"), "utf-8")
    client.text_document_did_save(types.DidSaveTextDocumentParams(types.TextDocumentIdentifier(shelf.as_uri())))

    assert any('"panthenol-75"' in each.message for each in await text.diagnostics())


@pytest.mark.parametrize("shelf", ["../../outside.yaml", "/etc/passwd"])
async def test_a_shelf_outside_of_the_open_folder_is_refused(client: LanguageClient, folder: Path, shelf: str) -> None:
    (folder.parent / "outside.yaml").write_text("materials: {stock: {contains: {Aqua: 100}}}\n", "utf-8")
    text = Text(client, folder / "formulas" / "a.yaml", sheet("stock 100", extra=f"shelf: {shelf}"))

    (found,) = await text.diagnostics()

    assert "outside" in found.message
    assert text.at(found.range) == shelf


async def test_the_configuration_of_the_folder_counts_and_a_broken_one_is_told(
    client: LanguageClient, folder: Path
) -> None:
    bare = WINDOW.replace("markets: [us]\n", "")
    (folder / "watchglass.yaml").write_text("markets: [us]\nshelf: formulas/shelf.yaml\n", "utf-8")
    text = Text(client, folder / "formulas" / "a.yaml", bare)
    assert by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling").message.startswith("Glycolic Acid is 12")

    text.change(bare.replace("Aqua", "panthenol-75"))
    asked = types.DefinitionParams(text.identifier, text.position("panthenol-75"))
    found = await client.text_document_definition_async(asked)
    assert isinstance(found, types.Location)
    assert found.uri == (folder / "formulas" / "shelf.yaml").as_uri()

    (folder / "watchglass.yaml").write_text("market: [us]\n", "utf-8")
    text.change(bare)
    assert any("the configuration is not used: " in each.message for each in await text.diagnostics())


MALFORMED = [
    "",
    "formula: [",
    "formula: a\nformula: b",
    "formula: \x00",
    "\ud7ff",
    "formula: &a [*a]",
    "- " * 200,
    "formula: {" * 90,
]


async def test_malformed_texts_are_marked_and_never_end_the_server(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", WINDOW)
    await text.diagnostics()

    for malformed in MALFORMED:
        text.change(malformed)
        found = await text.diagnostics()
        assert {each.code for each in found} <= {"unreadable"}
        asked = types.TextDocumentPositionParams(text.identifier, types.Position(0, 3))
        await client.text_document_hover_async(types.HoverParams(asked.text_document, asked.position))
        await client.text_document_completion_async(types.CompletionParams(asked.text_document, asked.position))
        await client.text_document_definition_async(types.DefinitionParams(asked.text_document, asked.position))
        await client.text_document_code_action_async(
            types.CodeActionParams(
                asked.text_document,
                types.Range(types.Position(0, 0), types.Position(10_000, 10_000)),
                types.CodeActionContext([]),
            )
        )
    text.change(WINDOW)
    assert by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling")
    assert client.messages == []


# -- positions -----------------------------------------------------------------------------------------------------

WIDE = WINDOW.replace(
    '{material: "Glycolic Acid", percent: 12}', '{note: "🧴 é e\u0301 ゲル 𝛂", material: Glycolic Acid, percent: 12}'
)


async def test_positions_are_right_behind_emoji_and_accents(client: LanguageClient, folder: Path) -> None:
    assert "🧴" in WIDE
    text = Text(client, folder / "formulas" / "a.yaml", WIDE)

    found = by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling")
    assert text.at(found.range) == "12"

    told = await client.text_document_hover_async(types.HoverParams(text.identifier, text.position("12", 1)))
    assert told is not None
    assert isinstance(told.contents, types.MarkupContent)
    assert told.contents.kind == types.MarkupKind.PlainText
    assert "cir-glycolic-lactic-ceiling (us): " in told.contents.value

    text.change(WIDE.replace("Glycolic Acid", "Glycolic A"))
    await text.diagnostics()
    offered = await completed(client, text, "Glycolic A", len("Glycolic A"))
    edit = next(item.text_edit for item in offered if item.label == "Glycolic Acid")
    assert isinstance(edit, types.TextEdit)
    assert text.at(edit.range) == "Glycolic A"
    assert text.applied(edit) == WIDE


async def completed(client: LanguageClient, text: Text, word: str, after: int) -> list[types.CompletionItem]:
    found = await client.text_document_completion_async(
        types.CompletionParams(text.identifier, text.position(word, after))
    )
    assert isinstance(found, types.CompletionList)
    return list(found.items)


async def test_line_ends_of_other_systems_move_no_mark(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", WINDOW.replace("\n", "\r\n"))
    found = by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling")

    assert text.at(found.range) == "12"


# -- completion and actions ----------------------------------------------------------------------------------------


async def test_names_keys_and_words_are_completed(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", "formula: x\nproduct: {use: ")
    await text.diagnostics()

    assert [item.label for item in await completed(client, text, "use: ", 5)] == ["leave-on", "rinse-off"]
    text.change("formula: x\nphases:\n  a:\n    lines:\n      - {material: Niacin")
    assert "Niacinamide" in [item.label for item in await completed(client, text, "Niacin", 6)]


async def actions(client: LanguageClient, text: Text, found: types.Diagnostic) -> list[types.CodeAction]:
    offered = await client.text_document_code_action_async(
        types.CodeActionParams(text.identifier, found.range, types.CodeActionContext([found]))
    )
    return [action for action in offered or () if isinstance(action, types.CodeAction)]


async def test_a_missing_statement_is_added_and_a_deviation_begun_on_request(
    client: LanguageClient, folder: Path
) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", WINDOW)
    marks = await text.diagnostics()

    offered = await actions(client, text, by_code(marks, "fda-sunburn-alert"))
    mend = next(action for action in offered if action.is_preferred and "sunburn-alert" in action.title)
    assert mend.edit is not None
    assert mend.edit.changes is not None
    (edit,) = mend.edit.changes[text.uri]
    text.change(text.applied(edit))
    marks = await text.diagnostics()
    assert "fda-sunburn-alert" not in {mark.code for mark in marks}

    offered = await actions(client, text, by_code(marks, "cir-glycolic-lactic-ceiling"))
    stub = next(action for action in offered if "from cir-glycolic-lactic-ceiling knowingly" in action.title)
    assert stub.edit is not None
    assert stub.edit.changes is not None
    (edit,) = stub.edit.changes[text.uri]
    text.change(text.applied(edit).replace('reason: ""', "reason: patch test on file").replace('by: ""', "by: OS"))
    mark = by_code(await text.diagnostics(), "cir-glycolic-lactic-ceiling")
    assert mark.severity == types.DiagnosticSeverity.Hint
    assert mark.message.startswith("deviation: ")


# -- a long day ----------------------------------------------------------------------------------------------------


def memory_kb(pid: int) -> int:
    for line in Path(f"/proc/{pid}/status").read_text("ascii").splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1])
    raise AssertionError("the process is gone")


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
async def test_two_thousand_quick_edits_do_not_make_the_server_grow(client: LanguageClient, folder: Path) -> None:
    text = Text(client, folder / "formulas" / "a.yaml", WINDOW)
    server: Any = client._server
    await text.diagnostics()

    async def edits(number: int) -> None:
        for step in range(number):
            text.change(WINDOW.replace("percent: 12", f"percent: {step % 50 + step / 1e6:.6f}"))
            if step % 20 == 0:
                await asyncio.sleep(0.02)  # long enough for a review now and then
        text.change(WINDOW)
        await text.diagnostics()

    await edits(500)
    before = memory_kb(server.pid)
    await edits(2_000)
    after = memory_kb(server.pid)

    assert after - before < 1_500, f"{before} kB grew to {after} kB"


# -- starting it ---------------------------------------------------------------------------------------------------


def test_without_the_extra_one_line_says_what_to_install(tmp_path: Path) -> None:
    (tmp_path / "pygls").mkdir()
    (tmp_path / "pygls" / "__init__.py").write_text('raise ModuleNotFoundError("No module", name="pygls")\n', "utf-8")

    ran = process("editor", folder=tmp_path, PYTHONPATH=str(tmp_path))

    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "watchglass: editor needs: pip install 'watchglass[lsp]'\n"


def test_an_editor_that_goes_away_ends_the_server_without_a_word(tmp_path: Path) -> None:
    ran = process("editor", folder=tmp_path, given=b"")

    assert (ran.code, ran.out, ran.err) == (0, "", "")


def test_a_day_that_is_none_is_refused_before_anything_starts(tmp_path: Path) -> None:
    ran = process("editor", "--on", "tomorrow", folder=tmp_path)

    assert ran.code == 2
    assert "year-month-day" in ran.err
