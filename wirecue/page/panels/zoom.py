"""Looking closer at the timeline: by buttons, keys, mouse and touch. The server draws what is in sight anew."""

from __future__ import annotations

import math
from collections.abc import Callable

from nicegui import ui
from nicegui.events import GenericEventArguments

from codegen.charts.timeline import LEFT, RIGHT, WIDTH
from timing.design.units import format_duration
from wirecue.page.look import Look

CLOSER = 1.6
"""A press of a button or key looks closer by so much (choice)."""
ALONG = 0.25
"""And further along by this share of what is in sight (choice)."""
HELP = (
    "With the picture in focus: + and - look closer and further away, arrows go along, 0 shows all. Mouse: Ctrl and "
    "wheel, or drag. Touch: two fingers."
)


class Zoom:
    """The controls of a timeline's picture, and the stretch that is in sight.

    draw: draws the picture anew; it is called after every change of `look`.
    """

    def __init__(self, draw: Callable[[], None]) -> None:
        self.look = Look.at_all(0, 1)
        self._draw = draw
        self._frozen = False
        with ui.element("div").classes("strip zoom no-print").props('role="group" aria-label="part of the timeline"'):
            self.buttons = {
                name: self._button(sign, words, change)
                for name, sign, words, change in (
                    ("closer", "+", "look closer", lambda look: look.closer(CLOSER)),
                    ("further", "−", "look from further away", lambda look: look.closer(1 / CLOSER)),
                    ("back", "◀", "earlier", lambda look: look.along(-ALONG)),
                    ("on", "▶", "later", lambda look: look.along(ALONG)),
                    ("whole", "all", "show the whole timeline", lambda look: Look.at_all(look.start_us, look.end_us)),
                )
            }
            self.words = ui.label().classes("note").props('role="status" aria-live="polite" data-testid="in-sight"')
        self.buttons["closer"].tooltip(HELP)
        ui.on("wirecue_look", self._asked)

    def attach(self, picture: ui.element) -> None:
        """Let keys, mouse and touch on a picture ask for another stretch."""
        self.picture = picture.classes("zoomable")
        picture.props(f"data-plot-from={LEFT / WIDTH} data-plot-to={1 - RIGHT / WIDTH}")
        self._show()

    def show_on(self, start_us: int, end_us: int) -> None:
        """Keep to the same stretch on a timeline from `start_us` to `end_us`, as far as that goes."""
        self._now(self.look.on(start_us, end_us))

    def freeze(self, frozen: bool) -> None:
        """Show the whole and nothing else while something runs."""
        self._frozen = frozen
        self._now(Look.at_all(self.look.start_us, self.look.end_us) if frozen else self.look)

    def _button(self, sign: str, words: str, change: Callable[[Look], Look]) -> ui.button:
        button = ui.button(sign, on_click=lambda: self._change(change))
        return button.props(f'dense outline aria-label="{words}"').classes("square")

    def _asked(self, event: GenericEventArguments) -> None:
        asked = event.args if isinstance(event.args, dict) else {}
        closer, at, along, whole = (_number(asked, name) for name in ("closer", "at", "along", "whole"))
        if whole:
            self._change(lambda look: Look.at_all(look.start_us, look.end_us))
        elif closer:
            self._change(lambda look: look.closer(closer, min(max(at, 0.0), 1.0)).along(along))
        else:
            self._change(lambda look: look.along(along))

    def _change(self, change: Callable[[Look], Look]) -> None:
        if self._frozen:
            return
        wanted = change(self.look)
        if wanted != self.look:
            self._now(wanted)
            self._draw()

    def _now(self, look: Look) -> None:
        self.look = look
        self._show()

    def _show(self) -> None:
        look, whole = self.look, self.look.is_whole
        self.picture.classes(add="" if whole else "zoomed", remove="zoomed" if whole else "")
        for name in ("further", "whole"):
            self.buttons[name].set_enabled(not whole)
        self.buttons["back"].set_enabled(look.from_us > look.start_us)
        self.buttons["on"].set_enabled(look.to_us < look.end_us)
        self.buttons["closer"].set_enabled(not self._frozen)
        seen = f"{format_duration(_whole_ms(look.from_us))} to {format_duration(_whole_ms(look.to_us))}"
        self.words.set_text("" if whole else f"{seen} of {format_duration(_whole_ms(look.end_us))}")


def _whole_ms(time_us: int) -> int:
    return round(time_us, -3)


def _number(asked: dict[str, object], name: str) -> float:
    """Return what a browser sent under a name; 0 where that is no number."""
    value = asked.get(name)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else 0.0
