"""Dialogs: what is asked before something changes, with what changes."""

from __future__ import annotations

from collections.abc import Callable
from html import escape

from nicegui import ui

from timing.design.difference import typed_differences
from wirecue.page.screen import Screen
from wirecue.page.words import told_table

CHANGED_MEANWHILE = (
    "The design was changed meanwhile, here or in another tab. Close this and look again: nothing was put in."
)


def open_dialog(screen: Screen, title: str, *, wide: bool = False) -> tuple[ui.dialog, ui.card]:
    """Open an empty dialog; return it and the card to fill."""
    with screen.client, ui.dialog(value=True) as dialog:
        # At once, not drifting in: whoever asked for it waits for it.
        dialog.props(f'aria-label="{escape(title)}" transition-duration=0')
        dialog.on("hide", dialog.delete)
        with ui.card().style(f"max-width: {'1040px' if wide else '620px'}; width: 100%") as card:
            ui.html(escape(title), sanitize=False, tag="h2").classes("text-weight-bold")
    return dialog, card


def difference_table(before: str, after: str, heads: tuple[str, str] = ("now", "then")) -> str:
    """Return what is typed otherwise in one text of a design than in another, key by key; empty where nothing is."""
    rows = [
        (one.key, one.old if one.old is not None else "(not there)", one.new if one.new is not None else "(taken out)")
        for one in typed_differences(before, after)
    ]
    return told_table(("key", *heads), rows, name="differences") if rows else ""


def ask_to_put_in(
    screen: Screen,
    title: str,
    before: str,
    after: str,
    *,
    undo: str,
    told: str = "",
    done: Callable[[], None] = lambda: None,
) -> None:
    """Show what changes from one text of the design in work to another, and put the other in when that is wanted.

    undo: what undo would take back; told: HTML to show above the changes; done: called once it is in. Nothing is
    written to the disk: that is for Save.
    """
    dialog, card = open_dialog(screen, title, wide=True)
    document = screen.shared.document

    def put_in() -> None:
        if document.text != before:
            trouble.set_text(CHANGED_MEANWHILE)
            return
        why = screen.attempt(lambda: document.replace_text(after, undo))
        trouble.set_text(why)
        if not why:
            dialog.close()
            screen.say("It is in the design now. Save writes it to the disk, Undo takes it back.")
            done()

    changes = difference_table(before, after)
    with card:
        if told:
            ui.html(told, sanitize=False)
        ui.html(changes or "Nothing in the design changes.", sanitize=False)
        trouble = ui.label().props('role="alert" data-testid="put-in-trouble"')
        with ui.row():
            if changes:
                ui.button("Put it into the design", on_click=put_in).props('data-testid="put-in"')
            ui.button("Cancel" if changes else "Close", on_click=dialog.close).props("outline")
