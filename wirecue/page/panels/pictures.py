"""The pictures: the timeline with the trigger to hold while it runs, and the wire end."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from html import escape

from nicegui import ui

from codegen.charts.burnback import burnback_svg, in_the_design
from codegen.charts.timeline import LEFT, RIGHT, TRACKS_TOP, WIDTH, timeline_svg
from timing.sequence.core.script import What
from timing.sequence.core.table import Output
from wirecue.page.cards import card
from wirecue.page.live import BEFORE_US, LiveRun, panel_switches, selector_moves, window_us
from wirecue.page.panels.zoom import Zoom
from wirecue.page.screen import Screen, in_page, show_fresh
from wirecue.page.shared import Signal

FRAME_S = 0.1
AXIS = 52
"""Height of the time axis at the foot of the picture, which stays in sight."""
_HEIGHT = re.compile(r'viewBox="[\d.-]+ [\d.-]+ [\d.]+ ([\d.]+)"')
USUAL_NOTE = (
    "An ordinary weld with these times. Above, what the board commands; below it, hatched, what really happens."
)
BY_HAND_NOTE = "Your own run."
OUTPUT_WORDS = {Output.GAS: "gas", Output.WIRE: "wire", Output.CONTACTOR: "arc voltage"}
# Pointer and keys alike: pressed is pressed until it is let go, wherever that happens.
_DOWN = "(e) => { e.target.setPointerCapture?.(e.pointerId); if (e.button === 0) emit(); }"
_KEY_DOWN = (
    "(e) => { if ((e.key === ' ' || e.key === 'Enter') && !e.repeat) emit(); if (e.key === ' ') e.preventDefault(); }"
)
_KEY_UP = "(e) => { if (e.key === ' ' || e.key === 'Enter') emit(); }"


@dataclass(repr=False)
class _Timeline:
    screen: Screen
    picture: ui.html = field(init=False)
    cursor: ui.element = field(init=False)
    veil: ui.element = field(init=False)
    """Hides what would come if everything were let go now."""
    note: ui.label = field(init=False)
    state: ui.label = field(init=False)
    buttons: dict[str, ui.element] = field(default_factory=dict)
    timer: ui.timer = field(init=False)
    back: ui.button = field(init=False)
    zoom: Zoom = field(init=False)
    switches: ui.element = field(init=False)
    run: LiveRun | None = None
    _on: dict[What, bool] = field(default_factory=dict)
    _selector: dict[str, dict[What, bool]] = field(default_factory=dict)
    """How the switches of the panel stand."""
    _began_s: float = 0.0
    _held: set[str] = field(default_factory=set)

    def build(self) -> None:
        with card("timeline"):
            with ui.element("div").classes("strip no-print"):
                for contact, title in (("trigger", "Hold the trigger"), ("purge", "Purge"), ("inch", "Inch")):
                    self._hold_button(contact, title)
                self.switches = ui.element("div").classes("strip")
                self.back = ui.button("Show the ordinary weld", on_click=self.show_usual).props("flat dense")
            # One line for both, so that the picture does not jump under the hand that presses.
            with ui.element("div").classes("strip says"):
                self.state = ui.label().props('role="status" aria-live="polite" data-testid="run-state"')
                self.note = ui.label(USUAL_NOTE).classes("note")
            self.zoom = Zoom(self._draw)
            with (
                ui.element("div").classes("picture").props('tabindex="0" aria-label="timeline picture"') as frame,
                ui.element("div").classes("wide").style("position: relative"),
            ):
                self.zoom.attach(frame)
                self.picture = ui.html("", sanitize=False).props('data-testid="timeline"')
                self.veil = ui.element("div").classes("veil")
                self.cursor = ui.element("div").classes("cursor").props('data-testid="cursor"')
        self.timer = ui.timer(FRAME_S, self._frame, active=False)
        self.screen.follow(self.screen.shared.changed, self.design_changed)
        self.screen.follow(self.screen.refusals, self._show_note)
        self.screen.client.on_disconnect(self._let_go_of_all)

    def _hold_button(self, contact: str, title: str) -> None:
        # A plain button: one that is dressed up keeps the release of a key to itself.
        button = ui.element("button").classes("hold").props(f'type="button" data-testid="{contact}"')
        with button:
            ui.html(title, sanitize=False, tag="span")
        self.buttons[contact] = button
        button.on("pointerdown", lambda: self._move(contact, True), js_handler=_DOWN)
        for event in ("pointerup", "pointercancel", "lostpointercapture", "blur"):
            button.on(event, lambda: self._move(contact, False), js_handler="() => emit()")
        button.on("keydown", lambda: self._move(contact, True), js_handler=_KEY_DOWN)
        button.on("keyup", lambda: self._move(contact, False), js_handler=_KEY_UP)

    def design_changed(self) -> None:
        design = self.screen.shared.project.design
        self.buttons["purge"].set_visibility(design.buttons.purge)
        self.buttons["inch"].set_visibility(design.buttons.inch)
        self._show_switches(panel_switches(design), selector_moves(design))
        self.show_usual()

    def _show_switches(self, wanted: dict[What, tuple[str, bool]], selector: dict[str, dict[What, bool]]) -> None:
        if set(wanted) == set(self._on) and selector == self._selector:
            return
        self._on, self._selector = {what: on for what, (_, on) in wanted.items()}, selector
        selected = {what for moves in selector.values() for what in moves}
        stands = next((label for label, moves in selector.items() if moves.items() <= self._on.items()), None)
        self.switches.clear()
        with self.switches:
            if selector:
                ui.toggle(list(selector), value=stands, on_change=lambda event: self._select(event.value)).props(
                    'dense no-caps data-testid="selector"'
                )
            for what, (title, on) in wanted.items():
                if what not in selected:
                    ui.checkbox(title, value=on, on_change=lambda event, what=what: self._switch(what, event.value))

    def _select(self, label: str) -> None:
        for what, on in self._selector[label].items():
            self._switch(what, on)

    def _switch(self, what: What, on: bool) -> None:
        self._on[what] = on
        if self.run is not None and not self.run.resting:
            self.run.move(what, on, self._now_us())

    def show_usual(self) -> None:
        """Show the picture that the files have, too."""
        self._end()
        self.run = None
        self.back.set_visibility(False)
        self._show_cursor(False)
        self._show_note()
        self.state.set_text("")
        timeline = self.screen.shared.project.timeline
        self.zoom.show_on(timeline.start_us, timeline.end_us)
        self._draw()

    def _draw(self) -> None:
        """Draw what is in sight of the ordinary weld, or of the run that is over."""
        shared, seen_us = self.screen.shared, self.zoom.look.seen_us
        if self.run is not None:
            now_us = self.run.engine.now_us
            svg = timeline_svg(self.run.design, self.run.timeline(window_us(now_us)), seen_us)
        elif seen_us is not None:
            svg = timeline_svg(shared.project.design, shared.project.timeline, seen_us)
        else:
            svg = shared.timeline
        what = "an ordinary weld" if self.run is None else "your run"
        self.picture.set_content(in_page(svg, "timeline", f"timeline of {what}"))

    def _show_note(self) -> None:
        note = USUAL_NOTE if self.run is None else BY_HAND_NOTE
        without = f" Without {' and '.join(self.screen.refused)}: refused." if self.screen.refused else ""
        self.note.set_text(note + without)

    def _now_us(self) -> int:
        return BEFORE_US + round((time.monotonic() - self._began_s) * 1e6)

    def _move(self, contact: str, closed: bool) -> None:
        if closed == (contact in self._held):
            return
        if closed and (self.run is None or self.run.resting):
            self.run = LiveRun(self.screen.shared.project.design)
            for what, on in self._on.items():
                self.run.move(what, on, 0)
            self.zoom.freeze(True)
            self._began_s = time.monotonic()
            self.timer.activate()
            self.back.set_visibility(True)
            self._show_note()
        if self.run is None:
            return
        (self._held.add if closed else self._held.discard)(contact)
        self.buttons[contact].classes(add="held" if closed else "", remove="" if closed else "held")
        self.run.move(contact, closed, self._now_us())
        self._frame()

    def _let_go_of_all(self) -> None:
        for contact in list(self._held):
            self._move(contact, False)

    def _end(self) -> None:
        self.timer.deactivate()
        self.zoom.freeze(False)
        self._held.clear()
        for button in self.buttons.values():
            button.classes(remove="held")

    def _show_cursor(self, shown: bool) -> None:
        self.cursor.set_visibility(shown)
        self.veil.set_visibility(shown)

    def _frame(self) -> None:
        run = self.run
        if run is None:
            return
        now_us = self._now_us()
        run.advance(now_us)
        window = window_us(now_us)
        design = run.design
        svg = timeline_svg(design, run.timeline(window))
        self.picture.set_content(in_page(svg, "timeline", "timeline of your run"))
        height = float(_HEIGHT.findall(svg)[0])
        self.veil.style(f"top: {TRACKS_TOP / height * 100:.2f}%; bottom: {AXIS / height * 100:.2f}%")
        share = (LEFT + min(now_us / window, 1) * (WIDTH - LEFT - RIGHT)) / WIDTH
        for mark in (self.cursor, self.veil):
            mark.style(f"left: {share * 100:.3f}%; transition: left {FRAME_S if now_us > 300_000 else 0}s linear")
        self._show_cursor(True)
        on = " and ".join(OUTPUT_WORDS[output] for output in run.on_outputs())
        words = f"{run.phase.word}{f': {on} on' if on else ''}"
        if self.state.text != words:
            self.state.set_text(words)
        if run.resting:
            self._end()
            self._show_cursor(False)
            self.state.set_text("idle: the run is over")
            self.zoom.show_on(0, window)


def timeline_panel(screen: Screen) -> None:
    """Show the timeline with its trigger."""
    _Timeline(screen).build()


def wire_end_panel(screen: Screen) -> None:
    """Show what each burnback leaves of the wire, with the design's own setting marked."""
    picture = _picture("Wire end", "What each burnback leaves of the wire, with band and window.", "wire-end")

    def show() -> None:
        curve, design = screen.shared.curve, screen.shared.project.design
        if curve is None:
            return
        if isinstance(curve, str):
            picture.set_content(f'<p class="note">{escape(curve)}</p>')
            return
        svg = burnback_svg(design.title or design.name, curve, in_the_design(design))
        picture.set_content(in_page(svg, "ends", "extension left after burnback, by setting"))

    screen.follow(screen.shared.curved, show)
    dim_while_stale(screen, picture, lambda: screen.shared.curve_is_fresh, screen.shared.curved)


def dim_while_stale(screen: Screen, picture: ui.html, fresh: Callable[[], bool], topic: Signal) -> None:
    """Let a picture of an earlier state be seen as such until the new one has come."""

    def show() -> None:
        show_fresh(picture, fresh())

    screen.follow(screen.shared.changed, show)
    screen.follow(topic, show)


def _picture(title: str, note: str, name: str) -> ui.html:
    with card(name, note), ui.element("div").classes("picture").props(f'tabindex="0" aria-label="{title} picture"'):
        return ui.html('<p class="note">computing ...</p>', sanitize=False).props(f'data-testid="{name}"')
