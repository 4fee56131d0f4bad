"""The logbook: what was done to the machine, newest first, and a place to add to it: as `wirecue log`."""

from __future__ import annotations

from html import escape

from nicegui import ui
from nicegui.events import GenericEventArguments

from timing.errors import WirecueError
from timing.logbook.entry import LONGEST_NOTE, EntryKind, Logbook
from timing.logbook.words import head_of, told_entries, when
from wirecue.logbooks import append_entry, logbook_path, read_logbook
from wirecue.page.beside import design_path, follow_log
from wirecue.page.cards import Fold, folded_card
from wirecue.page.screen import Screen, mark_refused, typed_in
from wirecue.page.words import told_list, told_table

_NOTE = "What was built, flashed, tested, welded and set, and when; it lies beside the design."
ADDED = {EntryKind.NOTE: "a note", EntryKind.SETTING: "what was set on the machine"}
"""Kinds of entries that are typed here."""


def log_panel(screen: Screen) -> None:
    """Show the logbook, folded until it is wanted."""
    folded_card("log", _NOTE, lambda fold: _Log(screen, fold))


def log_html(book: Logbook, name: str) -> str:
    """Return a logbook as HTML, newest first, every text escaped; name: of its file."""
    rows = [(when(entry), head_of(entry), words) for entry, words in told_entries(book)]
    entries = told_table(("when", "what", ""), rows[::-1], name="log-entries") if rows else (
        f"<p>Nothing entered yet. {escape(name)} begins with the first entry.</p>"
    )  # fmt: skip
    unread = told_list(
        f"{name}, line {line.number}, is no entry and is kept as it is: {line.why}" for line in book.unread
    )
    return entries + unread


def note_trouble(text: str) -> str:
    """Return why a text is no entry; nothing where it is one."""
    if 0 < len(text) <= LONGEST_NOTE:
        return ""
    return f"{len(text)} characters; 1 to {LONGEST_NOTE} say something"


class _Log:
    def __init__(self, screen: Screen, fold: Fold) -> None:
        self.screen = screen
        with ui.element("div").classes("strip no-print"):
            self.kind = ui.select(ADDED, value=EntryKind.NOTE, label="add").props("dense outlined")
            self.text = ui.input("in your words", placeholder="new liner, 3 m gun").style("flex: 1 1 14rem")
            self.text.props('dense outlined hide-bottom-space data-testid="log-text"')
            add = ui.button("Add").props('data-testid="log-add"')
        for part, event in ((add, "click"), (self.text, "keydown.enter")):
            part.on(event, self._add, js_handler=typed_in("log-text"))
        self.told = ui.html("", sanitize=False).props('data-testid="log"')
        follow_log(screen, fold, self._show)

    def _add(self, event: GenericEventArguments) -> None:
        text, path = str(event.args).strip(), design_path(self.screen.shared)
        why = note_trouble(text) if path is not None else "save the design first: its logbook lies beside it"
        if not why and path is not None:
            try:
                append_entry(logbook_path(path), self.kind.value, {"text": text})
            except WirecueError as error:
                why = str(error)
        mark_refused(self.text, why)
        if not why and path is not None:
            self.text.set_value("")
            self.screen.say(f"Entered in {logbook_path(path).name}.")
        self._show()

    def _show(self) -> None:
        path = design_path(self.screen.shared)
        if path is None:
            self.told.set_content("<p>This design was never saved; its logbook lies beside the file.</p>")
            return
        log = logbook_path(path)
        try:
            self.told.set_content(log_html(read_logbook(log), log.name))
        except WirecueError as error:
            self.told.set_content(f'<p class="said">{escape(str(error))}</p>')
