"""The ends of one time's dial, and whether it has one. Where its plate is made, a new one is asked about first."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from nicegui import events, ui

from timing.design.loading import parse_design
from timing.design.moves import panel_moves, plates_to_print
from timing.design.saving import with_values
from timing.design.text_file import DesignFileError
from timing.design.times import TIME_KEYS, TIME_TITLES, TimeSetting, time_limits_us
from timing.design.units import format_duration
from wirecue.page.dialogs import ask_to_put_in
from wirecue.page.document import as_dial, as_fixed
from wirecue.page.panels.advise import moves_html
from wirecue.page.screen import Screen, refusal
from wirecue.panel_moves import moved_by

ENDS = ("from", "to")
PLATE_MADE = "Not taken over: the plate of this dial is made, and another end needs another plate."


@dataclass(repr=False)
class DialEnds:
    """The line below a time: from where to where its dial goes, and the way on a dial and off it."""

    screen: Screen
    name: str
    fields: dict[str, ui.number] = field(default_factory=dict)
    words: ui.label = field(init=False)
    between: ui.label = field(init=False)
    switch: ui.label = field(init=False)
    on_dial: ui.button = field(init=False)
    trouble: ui.element = field(init=False)
    why: ui.label = field(init=False)
    plate: ui.button = field(init=False)
    _wanted: str = ""
    """The design with the ends that were typed, which wait for a word on the plate."""
    _shown: tuple[object, ...] = ()

    @property
    def key(self) -> str:
        """Of the time, in the design file."""
        return TIME_KEYS[self.name]

    def build(self) -> None:
        """Make the line."""
        title = TIME_TITLES[self.name]
        with ui.element("div").classes("ends"):
            with ui.element("div").classes("strip"):
                self.words = ui.label().classes("note")
                for end in ENDS:
                    if end == "to":
                        self.between = ui.label("to").classes("note")
                    self._build_field(end, title)
            self.switch = ui.label("with an off switch").classes("note")
            self.on_dial = ui.button(on_click=self._toggle).props("flat dense size=sm no-caps")
            self.on_dial.props(f'data-testid="{self.name}-on-dial"')
            with ui.element("div").classes("refused-words whole").props('role="alert"') as self.trouble:
                self.why = ui.label().props(f'data-testid="{self.name}-ends-trouble"')
                self.plate = ui.button("A new plate ...", on_click=self._ask_for_plate).props("flat dense no-caps")
                self.plate.props(f'data-testid="{self.name}-new-plate"')

    def _build_field(self, end: str, title: str) -> None:
        number = ui.number(suffix="ms", min=0, step=1, precision=3).props(
            "dense outlined hide-bottom-space no-error-icon"
        )
        number.props(f'aria-label="{title}: dial {end}, in milliseconds" data-testid="{self.name}-{end}"')
        number.classes("end").on("change", lambda event: self._typed(end, event))
        self.fields[end] = number

    def show(self, setting: TimeSetting, opening: int) -> None:
        """Show the dial as it stands; where it stands as before, somebody may be typing in it."""
        fixed_us = None if setting.dial else setting.setting_us
        shown = (opening, setting.from_us, setting.to_us, setting.off_switch, fixed_us)
        if shown == self._shown:
            return
        self._shown = shown
        self.complain("")
        low = format_duration(setting.low_us)
        self.words.set_text("dial from" if setting.dial else f"fixed at {low}, no dial")
        for end, value_us in zip(ENDS, (setting.from_us, setting.to_us), strict=True):
            self.fields[end].set_visibility(setting.dial)
            if value_us is not None:
                self.fields[end].set_value(value_us / 1000)
        self.between.set_visibility(setting.dial)
        self.switch.set_visibility(setting.off_switch)
        self.on_dial.set_text("make it fixed" if setting.dial else "put it on a dial")

    def complain(self, why: str, end: str = "", wanted: str = "") -> None:
        """Say below the dial why its ends stay; an empty `why` takes that back. wanted: the text that waits."""
        self._wanted = wanted
        self.why.set_text(why)
        self.trouble.set_visibility(bool(why))
        self.plate.set_visibility(bool(wanted))
        for each in ENDS:
            wrong = why if each == end else ""
            self.fields[each].props["error"] = bool(wrong)
            self.screen.note_refusal(f"{self.key}.{each}", wrong)

    def _typed(self, end: str, event: events.GenericEventArguments) -> None:
        document = self.screen.shared.document
        if not event.args:
            self._shown = ()
            self._show_again()
            return
        text = format_duration(max(round(float(event.args) * 1000), 0))
        self._change(lambda: with_values(document.text, {f"{self.key}.{end}": text}, document.name)[0], end)

    def _toggle(self) -> None:
        document, setting = self.screen.shared.document, self._setting()
        if setting is None:
            return
        text = format_duration(setting.setting_us)
        if setting.dial:
            self._change(lambda: as_fixed(document.text, self.key, text))
            return
        low_us = max(setting.setting_us // 4000 * 1000, time_limits_us(self.name)[0])
        high = format_duration(min(max(setting.setting_us * 2, 100_000), time_limits_us(self.name)[1]))
        self._change(lambda: as_dial(document.text, self.key, text, format_duration(low_us), high))

    def _change(self, change: Callable[[], str], end: str = "") -> None:
        """Take a change of the dial over, or where plates are made, ask first."""
        document = self.screen.shared.document
        try:
            after = change()
            design = parse_design(after, document.name or "design")
        except DesignFileError as refused:
            self.complain(refusal(refused), end)
            return
        moves = panel_moves(self.screen.shared.project.design, design)
        if not (design.panel.made and moves):
            self.complain(self.screen.attempt(lambda: document.replace_text(after, f"{self.key}: its dial")), end)
            return
        if plates_to_print(moves):
            after, _ = with_values(after, {"panel.made": False}, document.name or "design")
        self.complain(PLATE_MADE if end else "", end, after if end else "")
        if not end:
            self._wanted = after
            self._ask_for_plate()

    def _ask_for_plate(self) -> None:
        document = self.screen.shared.document
        name = document.name or "design"
        moved = moves_html(Path(name), moved_by(document.text, self._wanted, name))
        title = f"The dial of the {TIME_TITLES[self.name]}, whose plate is made"
        ask_to_put_in(self.screen, title, document.text, self._wanted, undo=f"{self.key}: its dial", told=moved)

    def _setting(self) -> TimeSetting | None:
        return self.screen.shared.project.design.setting(self.name)

    def _show_again(self) -> None:
        setting = self._setting()
        if setting is not None:
            self.show(setting, self.screen.shared.document.openings)
