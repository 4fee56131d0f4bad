"""Flashing: the design in work onto its board, after a question that names both; the board itself has the last word."""

from __future__ import annotations

import asyncio
from html import escape

from nicegui import ui

from bench.usb_ports import usb_ports
from timing.errors import WirecueError
from wirecue.flashing import FlashPlan, plan_flash
from wirecue.page.beside import design_path, saved_first
from wirecue.page.cards import folded_card
from wirecue.page.dialogs import open_dialog
from wirecue.page.flash_job import FlashJob
from wirecue.page.screen import Screen
from wirecue.page.words import folded, told_html, told_list

_NOTE = "The sketch goes onto the board through its bootloader, is read back, and the board says what it carries."
_SAVE_FIRST = "What the board carries should be what the file holds, and this design has changes: save it first."
ONLY_ONE = "the only one that is plugged in"
_SHOW_S = 0.3
"""How often the screen looks at an upload."""


def flash_panel(screen: Screen) -> None:
    """Show the flashing, folded until it is wanted."""
    folded_card("flash", _NOTE, lambda _: _Flash(screen), printed=False)


def plan_html(plan: FlashPlan) -> str:
    """Return what is asked before a board is flashed: board, port, steps, notes and cautions."""
    board = plan.project.board.title
    port = f" on <strong>{escape(plan.port)}</strong>" if plan.port else ""
    return "".join(
        (
            f"<p>{escape(plan.project.design.name)}, digest {escape(plan.project.design.digest())}, goes onto the "
            f"<strong>{escape(board)}</strong>{port}.</p>",
            told_list((f"{step}." for step in plan.steps), "ol"),
            told_list(plan.notes),
            "<h3>Before a board is flashed</h3>",
            told_list(plan.cautions),
            folded("The command line", "".join(f"<pre>{escape(line)}</pre>" for line in plan.commands)),
        )
    )


def job_html(job: FlashJob) -> str:
    """Return how far an upload is, or how it ended."""
    lines = told_list((f"{line} ..." if job.active else line for line in job.lines), "ol")
    if job.trouble:
        said = f'<p class="said">{escape(job.trouble)}</p>'
        return f'{lines}<p role="alert"><strong>✗ It did not go well.</strong></p>{said}'
    if job.result is None:
        return lines or "<p>beginning ...</p>"
    first, *others = job.result.sentences
    return f"{lines}<p><strong>✓ {told_html(first)}</strong></p>{told_list(others)}"


class _Flash:
    def __init__(self, screen: Screen) -> None:
        self.screen = screen
        self._shown = ""
        self._planning = False
        self.is_saved = saved_first(screen, _SAVE_FIRST)
        with ui.element("div").classes("strip"):
            self.port = ui.select([ONLY_ONE], value=ONLY_ONE, label="port")
            self.port.props('dense outlined data-testid="flash-port"').style("min-width: 220px")
            ui.button("Look for ports", on_click=self._look_for_ports).props("flat dense")
            self.start = ui.button("Flash the board ...", on_click=self._plan).props('data-testid="flash-start"')
        self._allow = screen.only_as_shown(self.start, self._may_start)
        self.trouble = ui.html("", sanitize=False).props('role="alert" data-testid="flash-trouble"')
        self.told = ui.html("", sanitize=False).props('role="status" aria-live="polite" data-testid="flash-state"')
        self.timer = ui.timer(_SHOW_S, self._look)
        screen.follow(screen.shared.changed, self._allow)
        self._look()

    @property
    def job(self) -> FlashJob | None:
        """The upload that all tabs see; None before the first."""
        found: FlashJob | None = self.screen.shared.kept.get("flash")
        return found

    def _may_start(self) -> bool:
        return self.is_saved() and not self._planning and (self.job is None or not self.job.active)

    def _look_for_ports(self) -> None:
        ports = {one.name: one.told for one in usb_ports()}
        if not ports:
            self.screen.say("No board is plugged in. A cable that only charges carries no data: take another one.")
        wanted = self.port.value if self.port.value in ports else ONLY_ONE
        self.port.set_options({ONLY_ONE: ONLY_ONE, **ports}, value=wanted)

    async def _plan(self) -> None:
        path = design_path(self.screen.shared)
        if path is None or not self._may_start():
            return
        port, project = None if self.port.value == ONLY_ONE else str(self.port.value), self.screen.shared.project
        self._planning = True
        self._allow()
        try:
            plan = await asyncio.to_thread(plan_flash, path, project, port)
        except WirecueError as error:
            self.trouble.set_content(f'<p class="said">{escape(str(error))}</p>')
            return
        finally:
            self._planning = False
            self._allow()
        self.trouble.set_content("")
        self._ask(plan)

    def _ask(self, plan: FlashPlan) -> None:
        dialog, card = open_dialog(self.screen, f"Flash the {plan.project.board.title}?", wide=True)

        def go() -> None:
            dialog.close()
            if plan.project is self.screen.shared.project and self._may_start():
                job = self.screen.shared.kept["flash"] = FlashJob(plan)
                job.start()
                self._look()
            else:
                self.screen.say("The design has changed meanwhile, or a board is being flashed: nothing was done.")

        with card:
            ui.html(plan_html(plan), sanitize=False)
            heeded = ui.checkbox("All of this is so").props('data-testid="flash-heeded"')
            with ui.row():
                yes = ui.button("Flash it", on_click=go).props('data-testid="flash-go"')
                yes.bind_enabled_from(heeded, "value")
                ui.button("Cancel", on_click=dialog.close).props("outline")

    def _look(self) -> None:
        job = self.job
        shown = "" if job is None else job_html(job)
        if shown != self._shown:
            self._shown = shown
            self.told.set_content(shown)
            self._allow()
