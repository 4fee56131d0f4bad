"""What lies beside the saved design: its logbook. Cards that keep something there need a saved file first."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from nicegui import ui

from wirecue.logbooks import logbook_path
from wirecue.page.cards import Fold
from wirecue.page.panels.bar import save
from wirecue.page.screen import Screen
from wirecue.page.shared import Shared

_LOOK_S = 1.0
"""How often an open card looks whether somebody has added to the logbook."""


def design_path(shared: Shared) -> Path | None:
    """Return where the design in work is saved; None where it never was."""
    name = shared.document.name
    return shared.folder.root / name if name else None


def log_state(shared: Shared) -> str:
    """Return what changes whenever the logbook does, or another design is in work."""
    path = design_path(shared)
    if path is None:
        return ""
    try:
        facts = logbook_path(path).stat()
    except OSError:
        return f"{path} without"
    return f"{path} {facts.st_mtime_ns} {facts.st_size}"


def follow_log(screen: Screen, fold: Fold, show: Callable[[], None]) -> None:
    """Call `show` when an open card's logbook has changed, by whomever, and when the card is opened."""
    seen = [""]

    def look() -> None:
        state = log_state(screen.shared)
        if fold.is_open and state != seen[0]:
            seen[0] = state
            show()

    timer = ui.timer(_LOOK_S, look, active=False)

    def turned() -> None:
        timer.active = fold.is_open
        seen[0] = "" if not fold.is_open else seen[0]
        look()

    screen.follow(fold.turned, turned)
    screen.follow(screen.shared.changed, look)


def saved_first(screen: Screen, why: str) -> Callable[[], bool]:
    """Lay out a line that says why the design must be saved first, with a button; return what tells whether it is."""
    with ui.element("div").classes("strip refused-words no-print") as line:
        ui.label(why)
        ui.button("Save", on_click=lambda: save(screen)).props("dense outline")

    def is_saved() -> bool:
        return bool(screen.shared.document.name) and not screen.shared.document.dirty

    def show() -> None:
        line.set_visibility(not is_saved())

    screen.follow(screen.shared.changed, show)
    return is_saved
