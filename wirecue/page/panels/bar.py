"""The bar at the top: files, undo, compare, build."""

from __future__ import annotations

from html import escape

from nicegui import ui

from codegen.charts.timeline import usual_timeline_svg
from timing.design.text_file import DesignFileError
from wirecue.output_files import OutputError
from wirecue.page.dialogs import open_dialog
from wirecue.page.files import ChangedOnDiskError, OutsideError
from wirecue.page.panels.build import BUILD, BuildButton
from wirecue.page.screen import Screen, in_page
from wirecue.projects import parse_project

WITHOUT = (
    "Pictures, findings and file are those of the design without what is refused, and nothing can be built, tested or "
    "flashed until that is put right."
)


def bar(screen: Screen) -> None:
    """Show the bar and bind its keys."""
    document = screen.shared.document
    with ui.element("header").classes("bar"):
        ui.html("wirecue", sanitize=False, tag="h1")
        file = ui.label().classes("file").props('role="status" aria-live="polite" data-testid="file"')
        buttons: dict[str, ui.button] = {}
        buttons |= {
            name: ui.button(title, on_click=work).props(f'dense outline data-testid="{name}"')
            for name, title, work in (
                ("start", "New", lambda: ui.navigate.to("/start")),
                ("load", "Load", lambda: _load_dialog(screen)),
                ("save", "Save", lambda: save(screen)),
                ("undo", "Undo", document.undo),
                ("redo", "Redo", document.redo),
                ("compare", "Compare", lambda: _compare_dialog(screen)),
                ("text", "Text", lambda: _text_dialog(screen)),
                ("build", BUILD, None),
            )
        }
        tips = {name: buttons[name] for name in ("undo", "redo")}
        with tips["undo"]:
            undo_tip = ui.tooltip("")
        with tips["redo"]:
            redo_tip = ui.tooltip("")
        with ui.element("div").classes("refused-words whole").props('role="alert" data-testid="refused"') as banner:
            refused = ui.label()
    BuildButton(screen, buttons["build"], told=True)
    buttons["save"].tooltip("Ctrl+S")
    buttons["start"].tooltip("the survey, the examples, the designs of this folder")

    openings = document.openings

    def show() -> None:
        nonlocal openings
        if document.openings != openings:
            openings = document.openings
            screen.say(f"{document.name or 'A new design'} is in work now, in every tab. Undo and Redo change back.")
        file.set_text(f"{document.name or 'new design'} - {_state(screen)}")
        banner.set_visibility(bool(screen.refused))
        refused.set_text(f"{screen.refused_words}. {WITHOUT}")
        file.props["data-revision"] = document.revision
        file.update()
        buttons["save"].set_enabled(document.dirty)
        buttons["compare"].set_enabled(document.dirty)
        for name, what, tip, keys in (
            ("undo", document.undo_what, undo_tip, "Ctrl+Z"),
            ("redo", document.redo_what, redo_tip, "Ctrl+Y"),
        ):
            buttons[name].set_enabled(bool(what))
            tip.set_text(f"{keys}: {what}" if what else "nothing")
        screen.keep_text()

    ui.on("wirecue_save", lambda: save(screen))
    ui.on("wirecue_undo", document.undo)
    ui.on("wirecue_redo", document.redo)
    screen.follow(screen.shared.changed, show)
    screen.follow(screen.refusals, show)


def save(screen: Screen, *, force: bool = False) -> None:
    """Write the design where it came from."""
    document, folder = screen.shared.document, screen.shared.folder
    if not document.dirty and not force:
        return
    name = document.name or folder.free_name(screen.shared.project.design.name)
    try:
        folder.write(name, document.text, force=force)
    except ChangedOnDiskError as changed:
        _changed_dialog(screen, str(changed))
        return
    except (OSError, OutputError, OutsideError) as trouble:
        screen.say(str(trouble), "warning")
        return
    document.saved(name)
    if screen.refused:
        screen.say(f"{screen.refused_words}. Everything else was written.", "warning")


def _state(screen: Screen) -> str:
    """How the file stands; that it is saved is not said while something else is shown than what is in it."""
    changed = screen.shared.document.dirty
    if screen.refused:
        return f"{'changed, and ' if changed else ''}without {' and '.join(screen.refused)}: refused"
    return "changed, not saved" if changed else "saved"


def _without(screen: Screen) -> None:
    if screen.refused:
        ui.label(f"{screen.refused_words}: it is not counted here.").classes("refused-words")


def _changed_dialog(screen: Screen, words: str) -> None:
    dialog, card = open_dialog(screen, "Changed on the disk")

    def overwrite() -> None:
        dialog.close()
        save(screen, force=True)

    def take_theirs() -> None:
        dialog.close()
        _open(screen, screen.shared.document.name)

    with card:
        ui.label(words)
        with ui.row():
            ui.button("Cancel", on_click=dialog.close).props("outline autofocus")
            ui.button("Overwrite it", on_click=overwrite).props("outline")
            ui.button("Load it; Undo brings my changes back", on_click=take_theirs).props("outline")


def _load_dialog(screen: Screen) -> None:
    dialog, card = open_dialog(screen, f"Load a design from {screen.shared.folder.root.name or 'the folder'}")
    names = screen.shared.folder.names()

    told = screen.shared.document.dirty

    def take(name: str) -> None:
        dialog.close()
        if screen.shared.document.dirty and not told:
            # Another tab has changed something since this one asked.
            _load_dialog(screen)
        else:
            _open(screen, name)

    with card:
        if told:
            ui.label(
                "The design in work has changes that are not saved, made here or in another tab. They leave the screen "
                "when another one is loaded; Undo brings them back."
            ).classes("note").props('data-testid="unsaved"')
        if not names:
            ui.label("There is no design file here yet. New leads to the survey and the examples.")
        for name in names:
            choice = ui.button(name, on_click=lambda name=name: take(name)).props("flat align=left").classes("w-full")
            choice.props["data-file"] = name
        ui.button("Cancel", on_click=dialog.close).props("outline")


def _open(screen: Screen, name: str) -> None:
    shared = screen.shared
    try:
        shared.document.open(shared.folder.read(name), name)
    except (DesignFileError, OutsideError) as bad:
        screen.say(str(bad), "warning")


def _compare_dialog(screen: Screen) -> None:
    document = screen.shared.document
    _, card = open_dialog(screen, f"Changed since {document.name or 'the start'} was saved", wide=True)
    rows = "".join(
        f"<tr><td>{escape(one.key)}</td><td>{escape(one.saved or '(not there)')}</td>"
        f"<td>{escape(one.now or '(taken out)')}</td></tr>"
        for one in document.differences()
    )
    head = "<tr><th>key</th><th>saved</th><th>now</th></tr>"
    saved = parse_project(document.saved_text, document.name or "design")
    with card:
        _without(screen)
        table = f'<table class="plain" data-testid="differences">{head}{rows}</table>'
        ui.html(table if rows else "Only comments or layout differ.", sanitize=False)
        for name, title, svg in (
            ("then", "As saved", usual_timeline_svg(saved)),
            ("now", "As it is now", screen.shared.timeline),
        ):
            ui.html(title, sanitize=False, tag="h3").classes("text-weight-bold")
            ui.html(in_page(svg, name, title), sanitize=False).classes("picture w-full")


def _text_dialog(screen: Screen) -> None:
    document = screen.shared.document
    dialog, card = open_dialog(screen, "The design as text", wide=True)
    began_at = document.revision

    def apply() -> None:
        if document.revision != began_at:
            trouble.set_text(
                "The design was changed meanwhile, here or in another tab. Copy what you typed, close this and open it "
                "again: nothing was applied."
            )
            return
        why = screen.attempt(lambda: document.replace_text(str(area.value)))
        trouble.set_text(why)
        if not why:
            dialog.close()

    with card:
        _without(screen)
        area = ui.textarea(value=document.text).props('outlined aria-label="design file" data-testid="text-area"')
        area.classes("w-full").props('input-style="font-family: monospace; font-size: 13px; height: 55vh"')
        trouble = ui.label().props('role="alert" data-testid="text-trouble"')
        with ui.row():
            ui.button("Take it over", on_click=apply).props('data-testid="text-apply"')
            ui.button("Cancel", on_click=dialog.close).props("outline")
