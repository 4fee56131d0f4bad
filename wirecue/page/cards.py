"""The cards that the page is made of, in the order of the job, and the way from one to the next.

A card that is folded away is filled when it is opened first; what is slow in it is worked out only while it is open.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape

from nicegui import ui

from wirecue.page.shared import Signal


@dataclass(frozen=True)
class Station:
    """One card of the page."""

    key: str
    """In its address: #at-KEY."""
    title: str
    word: str
    """In the way along the top."""


STATIONS = (
    Station("settings", "Process", "Design"),
    Station("advise", "Where to start", "Advice"),
    Station("times", "Times", "Times"),
    Station("timeline", "Timeline", "Timeline"),
    Station("wire-end", "Wire end", "Wire end"),
    Station("spot-curve", "Spot", "Spot"),
    Station("supply", "24 VAC supply", "Supply"),
    Station("findings", "Findings", "Check"),
    Station("parts", "Parts and wires", "Parts"),
    Station("build", "Build", "Build"),
    Station("bench", "Bench", "Bench"),
    Station("flash", "Flash the board", "Flash"),
    Station("commissioning", "Commissioning", "Commission"),
    Station("welds", "Test welds", "Welds"),
    Station("log", "Logbook", "Log"),
    Station("symptoms", "What do you see?", "Trouble"),
)
"""In the order of the job."""
_BY_KEY = {station.key: station for station in STATIONS}


@dataclass
class Fold:
    """A card that is open or folded away in this tab."""

    section: ui.element
    is_open: bool = False
    turned: Signal = field(default_factory=Signal)
    """Told when it is opened or folded away."""

    def _turn(self, is_open: bool) -> None:
        if is_open != self.is_open:
            self.is_open = is_open
            self.turned.tell()


@contextmanager
def card(key: str, note: str = "", *, printed: bool = True) -> Iterator[ui.element]:
    """Lay out a card that is always open; what is made inside goes into it."""
    with _section(key, printed) as section:
        ui.html(escape(_BY_KEY[key].title), sanitize=False, tag="h2")
        if note:
            ui.label(note).classes("note")
        yield section


def folded_card(key: str, note: str, fill: Callable[[Fold], object], *, printed: bool = True) -> Fold:
    """Lay out a card that is folded away; `fill` makes what is in it when it is opened first."""
    filled = False
    with _section(key, printed) as section, ui.element("details") as details:
        with ui.element("summary"):
            ui.html(escape(_BY_KEY[key].title), sanitize=False, tag="h2")
            ui.label(note).classes("note")
        inside = ui.element("div").classes("inside")
    fold = Fold(section)

    def toggled(is_open: bool) -> None:
        nonlocal filled
        if is_open and not filled:
            filled = True
            with inside:
                fill(fold)
        fold._turn(is_open)

    details.on("toggle", lambda event: toggled(bool(event.args)), js_handler="(e) => emit(e.target.open)")
    return fold


@contextmanager
def _section(key: str, printed: bool) -> Iterator[ui.element]:
    station, place = _BY_KEY[key], list(_BY_KEY).index(key) + 1
    with ui.element("section").classes(f"card place-{key}{'' if printed else ' no-print'}") as section:
        section.props(f'id="at-{key}" tabindex="-1" aria-label="{escape(station.title)}"').style(f"order: {place}")
        yield section
