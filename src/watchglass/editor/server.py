"""The language server: the protocol around the plain functions of this package, on standard input and output alone.

Texts are kept whole. Positions of the protocol count from 0 in the units that the client asked for, UTF-16 unless it
asked for others.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from lsprotocol import types
from pygls import uris
from pygls.lsp.server import LanguageServer
from pygls.workspace import TextDocument

from watchglass import __version__
from watchglass.editor.actions import Action, actions_for
from watchglass.editor.completion import Item, completion_at
from watchglass.editor.definition import definition_at
from watchglass.editor.hover import hover_at
from watchglass.editor.marks import Mark, marks_of
from watchglass.editor.page import Home, Page, page_of
from watchglass.editor.text import end_of, lines_of
from watchglass.errors import Place, Unreadable, WatchglassError
from watchglass.intake import bytes_of
from watchglass.rulebook import Rulebook
from watchglass.settings import settings_for
from watchglass.sheet import Scalar

PAUSE = 0.01  # seconds without a further change after which a text is reviewed

_LEVELS = {
    "error": types.DiagnosticSeverity.Error,
    "warning": types.DiagnosticSeverity.Warning,
    "information": types.DiagnosticSeverity.Information,
    "hint": types.DiagnosticSeverity.Hint,
}
_SORTS = {
    "key": types.CompletionItemKind.Property,
    "word": types.CompletionItemKind.EnumMember,
    "substance": types.CompletionItemKind.Constant,
    "material": types.CompletionItemKind.Variable,
    "rule": types.CompletionItemKind.Reference,
    "statement": types.CompletionItemKind.Text,
}


class Server(LanguageServer):
    """Keeps the open texts and what they come to."""

    def __init__(self, book: Rulebook, day: Callable[[], str]) -> None:
        """A server that judges by some rules, each time by the law of the day."""
        super().__init__("watchglass", __version__, text_document_sync_kind=types.TextDocumentSyncKind.Full)
        self.book = book
        self.day = day
        self._pages: dict[str, tuple[int | None, str, Page, Rulebook]] = {}
        self._waiting: dict[str, asyncio.TimerHandle] = {}

    # -- texts and what they come to ---------------------------------------------------------------------------------

    def document(self, uri: str) -> TextDocument:
        """The text as the client has it."""
        return self.workspace.get_text_document(uri)

    def page(self, uri: str) -> tuple[Page, Rulebook]:
        """What a text comes to today, and the rules that hold for it; worked out once for each version of it."""
        document, on = self.document(uri), self.day()
        known = self._pages.get(uri)
        if known is not None and known[:2] == (document.version, on):
            return known[2:]
        home, book = self._home(document)
        page = page_of(document.source, home, book, on)
        if uri in self.workspace.text_documents:  # of what is not open no version is known
            self._pages[uri] = (document.version, on, page, book)
        return page, book

    def _home(self, document: TextDocument) -> tuple[Home, Rulebook]:
        path = Path(uris.to_fs_path(document.uri) or "") if document.uri.startswith("file:") else None
        folders = [uris.to_fs_path(uri) for uri in self.workspace.folders]
        roots = tuple(Path(folder).resolve() for folder in folders if folder)
        if path is None:
            return Home(document.uri, None, roots), self.book
        inside = next((root for root in roots if path.resolve().is_relative_to(root)), None)
        name = path.resolve().relative_to(inside).as_posix() if inside is not None else path.name
        return self._configured(Home(name, path.parent, roots), path.parent)

    def _configured(self, home: Home, folder: Path) -> tuple[Home, Rulebook]:
        """With what the nearest configuration says, if it and its shelf lie in an open folder and can be read."""
        try:
            settings = settings_for(folder)
            if settings.file is None or not home.holds(settings.file):
                return home, self.book
            book, defaults = settings.book(), settings.defaults
        except WatchglassError as error:
            return home._replace(trouble=str(error)), self.book
        shelf = defaults.nodes.get("shelf")
        if isinstance(shelf, Scalar) and not home.holds(defaults.folder / str(shelf.value)):
            return home._replace(trouble=f'its shelf "{shelf.raw}" lies outside the folders that are open'), self.book
        return home._replace(defaults=defaults), book

    # -- diagnostics ---------------------------------------------------------------------------------------------------

    def changed(self, uri: str) -> None:
        """Review a text when no further change has come for a moment."""
        self._forget_answers()
        if uri in self._waiting:
            self._waiting[uri].cancel()
        self._waiting[uri] = asyncio.get_running_loop().call_later(PAUSE, self.publish, uri)

    def _forget_answers(self) -> None:
        """Drop what the library keeps of every notification that was handled (pygls 2.1): a day of typing is long."""
        kept: dict[Any, Any] = getattr(self.protocol, "_request_futures", {})
        for number in [number for number, future in kept.items() if future.done()]:
            del kept[number]

    def publish(self, uri: str) -> None:
        """Send the findings of a text."""
        self._waiting.pop(uri, None)
        (page, book), document = self.page(uri), self.document(uri)
        units = Units(page.lines, document)
        found = [_diagnostic(mark, units) for mark in marks_of(page, book)]
        self.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri, found, document.version))

    def saved(self) -> None:
        """A file was saved, perhaps a shelf: all that is open is looked at anew."""
        self._pages.clear()
        for uri in list(self.workspace.text_documents):
            self.changed(uri)

    def closed(self, uri: str) -> None:
        """Forget a text."""
        self._pages.pop(uri, None)
        if uri in self._waiting:
            self._waiting.pop(uri).cancel()
        self.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri, []))


class Units:
    """Places in code points to positions in the units of the client, and back."""

    def __init__(self, lines: list[str], document: TextDocument) -> None:
        """For a text that starts with a byte order mark its first line is one character longer for the client."""
        self._lines = lines
        self._length = document.position_codec.client_num_units
        self._mark = 1 if document.source.startswith("\ufeff") else 0

    def position(self, place: Place) -> types.Position:
        """Of a place, at most the end of its line."""
        if place.line > len(self._lines):
            return types.Position(len(self._lines), 0)
        before = self._lines[place.line - 1][: place.column - 1]
        return types.Position(place.line - 1, self._length(before) + (self._mark if place.line == 1 else 0))

    def range(self, start: Place, end: Place) -> types.Range:
        """Of two places."""
        return types.Range(self.position(start), self.position(end))

    def place(self, position: types.Position) -> Place:
        """Of a position; one in the middle of a character counts as before it."""
        if position.line >= len(self._lines):
            return Place(len(self._lines), len(self._lines[-1]) + 1)
        left = position.character - (self._mark if position.line == 0 else 0)
        for number, character in enumerate(self._lines[position.line]):
            left -= self._length(character)
            if left < 0:
                return Place(position.line + 1, number + 1)
        return Place(position.line + 1, len(self._lines[position.line]) + 1)


def _diagnostic(mark: Mark, units: Units) -> types.Diagnostic:
    return types.Diagnostic(
        range=units.range(mark.start, mark.end),
        message=mark.message,
        severity=_LEVELS[mark.level],
        code=mark.code,
        code_description=None if mark.link is None else types.CodeDescription(mark.link),
        source="watchglass",
    )


def _completion(item: Item, units: Units, start: Place, end: Place, number: int) -> types.CompletionItem:
    return types.CompletionItem(
        label=item.label,
        kind=_SORTS[item.sort],
        detail=item.detail or None,
        documentation=item.told or None,
        filter_text=item.label,
        sort_text=f"{number:05}",
        text_edit=types.TextEdit(units.range(start, end), item.text),
    )


def _code_action(action: Action, uri: str, units: Units) -> types.CodeAction:
    edits = [types.TextEdit(units.range(edit.start, edit.end), edit.text) for edit in action.edits]
    return types.CodeAction(
        title=action.title,
        kind=types.CodeActionKind.QuickFix,
        diagnostics=[_diagnostic(action.mark, units)],
        is_preferred=action.mends or None,
        edit=types.WorkspaceEdit(changes={uri: edits}),
    )


def build(book: Rulebook, day: Callable[[], str]) -> Server:
    """A server with everything that it answers."""
    server = Server(book, day)

    @server.feature(types.TEXT_DOCUMENT_DID_OPEN)
    def did_open(params: types.DidOpenTextDocumentParams) -> None:
        server.changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    def did_change(params: types.DidChangeTextDocumentParams) -> None:
        server.changed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_DID_SAVE)
    def did_save(_: types.DidSaveTextDocumentParams) -> None:
        server.saved()

    @server.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    def did_close(params: types.DidCloseTextDocumentParams) -> None:
        server.closed(params.text_document.uri)

    @server.feature(types.TEXT_DOCUMENT_HOVER)
    def hover(params: types.HoverParams) -> types.Hover | None:
        uri = params.text_document.uri
        page, rules = server.page(uri)
        told = hover_at(page, Units(page.lines, server.document(uri)).place(params.position), rules, day())
        return None if told is None else types.Hover(types.MarkupContent(types.MarkupKind.PlainText, told))

    @server.feature(
        types.TEXT_DOCUMENT_COMPLETION, types.CompletionOptions(trigger_characters=[" ", ":", "{", "[", "-", '"'])
    )
    def completion(params: types.CompletionParams) -> types.CompletionList:
        uri = params.text_document.uri
        page, rules = server.page(uri)
        units = Units(page.lines, server.document(uri))
        place = units.place(params.position)
        offer = completion_at(page, place, rules)
        items = [_completion(item, units, offer.start, place, number) for number, item in enumerate(offer.items)]
        return types.CompletionList(is_incomplete=offer.is_incomplete, items=items)

    @server.feature(types.TEXT_DOCUMENT_DEFINITION)
    def definition(params: types.DefinitionParams) -> types.Location | None:
        uri = params.text_document.uri
        page, _ = server.page(uri)
        units = Units(page.lines, server.document(uri))
        spot = definition_at(page, units.place(params.position))
        if spot is None:
            return None
        if spot.path is None:
            return types.Location(uri, units.range(spot.start, end_of(page.lines, spot.start)))
        target = uris.from_fs_path(str(spot.path))
        lines = _lines(server, target, spot.path) if target is not None else None
        if target is None or lines is None:
            return None
        there = Units(lines, TextDocument(target, "", position_codec=server.document(uri).position_codec))
        return types.Location(target, there.range(spot.start, end_of(lines, spot.start)))

    @server.feature(
        types.TEXT_DOCUMENT_CODE_ACTION, types.CodeActionOptions(code_action_kinds=[types.CodeActionKind.QuickFix])
    )
    def code_action(params: types.CodeActionParams) -> Sequence[types.CodeAction]:
        uri = params.text_document.uri
        page, rules = server.page(uri)
        units = Units(page.lines, server.document(uri))
        start, end = units.place(params.range.start), units.place(params.range.end)
        touched = [mark for mark in marks_of(page, rules) if mark.start <= end and start <= mark.end]
        return [_code_action(action, uri, units) for mark in touched for action in actions_for(page, mark, rules)]

    return server


def _lines(server: Server, uri: str, path: Path) -> list[str] | None:
    """The lines of a file, as it is open in the editor or as it lies on the disk."""
    if uri in server.workspace.text_documents:
        return lines_of(server.document(uri).source)
    try:
        return lines_of(bytes_of(path).decode("utf-8", "replace"))
    except Unreadable:
        return None
