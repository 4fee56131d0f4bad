"""The times: slider and number for each, with the ends of its dial."""

from __future__ import annotations

from dataclasses import dataclass, field

from nicegui import events, ui

from timing.design.features import features_of
from timing.design.times import TIME_KEYS, TIME_MEANINGS, TIME_TITLES, TimeSetting
from timing.design.units import format_duration
from wirecue.page.cards import card
from wirecue.page.panels.dial_ends import DialEnds
from wirecue.page.screen import Screen

FIXED_SPAN = 3
"""A fixed time has no dial; its slider then goes to so many times what it is."""


class Slider(ui.slider):
    """A slider that the browser moves by itself: an answer of the server that comes late must not pull it back."""

    LOOPBACK = False


@dataclass(repr=False)
class _Row:
    screen: Screen
    name: str
    slider: Slider = field(init=False)
    number: ui.number = field(init=False)
    ends: DialEnds = field(init=False)
    box: ui.element = field(init=False)
    _own: bool = False
    """True while a change comes from this row's slider, which stands right already."""
    _showing: bool = False
    """True while the slider is put where the design says, which is no change of the design."""
    _high_ms: float = 1.0
    _shown: tuple[int, float] | None = None
    """Which opening of a design, and its time in ms, as it was shown last."""

    def build(self) -> None:
        title, self.ends = TIME_TITLES[self.name], DialEnds(self.screen, self.name)
        self.box = ui.element("div").classes("time").props(f'id="time-{self.name}"')
        with self.box:
            ui.html(
                f'{title} <span class="note">{TIME_MEANINGS[self.name]}</span>', sanitize=False, tag="label"
            ).classes("name")
            self.number = ui.number(suffix="ms", min=0, step=1, precision=3).props(
                f'dense outlined aria-label="{title} in milliseconds" hide-bottom-space'
            )
            self.slider = Slider(min=0, max=1, value=0, on_change=self._moved).props(f'aria-label="{title}" dense')
            self.slider.style("grid-column: 1 / -1; padding: 0 8px")
            self.ends.build()
        self.slider.mark(f"{self.name}-slider")
        self.slider.props(f'data-testid="{self.name}-slider"')
        self.number.props(f'data-testid="{self.name}-number"')
        self.slider.on("change", self._let_go)
        self.number.on("change", self._typed)

    def _moved(self, event: events.ValueChangeEventArguments[float | None]) -> None:
        if self._showing or event.value is None:
            return
        self._own = True
        try:
            self._set(float(event.value))
        finally:
            self._own = False

    def _let_go(self, event: events.GenericEventArguments) -> None:
        # The last place of a quick hand comes with this before it comes by itself, and is no news then.
        self.slider.set_value(float(event.args))
        self.screen.shared.document.seal()

    def _typed(self, event: events.GenericEventArguments) -> None:
        # What the event brings, not the field's own value: before the line stands, events may overtake each other.
        if not event.args:
            self._shown = None
            self.show()
            return
        self._set(float(event.args))
        self.screen.shared.document.seal()

    def _set(self, time_ms: float) -> None:
        document = self.screen.shared.document
        text = format_duration(max(round(time_ms * 1000), 0))
        group = f"time {self.name}"
        why = self.screen.attempt(lambda: document.set_values({f"{TIME_KEYS[self.name]}.setting": text}, group))
        self._complain(why)

    def _complain(self, why: str) -> None:
        self.number.props["error"] = bool(why)
        self.number.props["error-message"] = why
        self.screen.note_refusal(TIME_KEYS[self.name], why)

    def _setting(self) -> TimeSetting | None:
        return features_of(self.screen.shared.project.design).times.get(self.name)

    def show(self) -> None:
        """Show the time as it stands."""
        setting = self._setting()
        self.box.set_visibility(setting is not None)
        if setting is None:
            self._complain("")
            self.ends.complain("")
            return
        time_ms, opening = setting.setting_us / 1000, self.screen.shared.document.openings
        if self._shown is None or self._shown[0] != opening:
            self._high_ms = 0.0
        low_ms = setting.low_us / 1000 if setting.dial else 0.0
        high_ms = setting.high_us / 1000 if setting.dial else self._fixed_end_ms(time_ms)
        self._place_slider(low_ms, high_ms, time_ms)
        # Where it stands as before, the field is left alone: somebody may be typing in it.
        shown = (opening, time_ms)
        if shown != self._shown:
            self._shown = shown
            self._complain("")
            if self.number.value != time_ms:
                self.number.set_value(time_ms)
        self.ends.show(setting, opening)

    def _place_slider(self, low_ms: float, high_ms: float, time_ms: float) -> None:
        """Put the slider where the design says. What stands right is not sent to the browser again."""
        wanted = {"min": low_ms, "max": high_ms, "step": step_ms(high_ms - low_ms)}
        changed = {name: value for name, value in wanted.items() if self.slider.props.get(name) != value}
        if changed:
            self.slider.props.update(changed)
        if not self._own:
            self._showing = True
            try:
                self.slider.set_value(time_ms)
            finally:
                self._showing = False

    def _fixed_end_ms(self, time_ms: float) -> float:
        """Keep the slider's end where it is while there is room, so that it does not run away under the hand."""
        if not time_ms * 1.05 <= self._high_ms <= max(time_ms * FIXED_SPAN * 2, 200):
            self._high_ms = max(round(time_ms * FIXED_SPAN, -1), 100)
        return self._high_ms


def step_ms(span_ms: float) -> float:
    """Return a round step for a slider over `span_ms`, a few hundred steps in all."""
    return next(step for step in (1.0, 5.0, 10.0, 50.0, 100.0) if span_ms / step <= 500 or step == 100.0)


def times_panel(screen: Screen) -> None:
    """Show a row for each time that a design can have."""
    with card("times"):
        rows = [_Row(screen, name) for name in TIME_KEYS]
        for row in rows:
            row.build()

        def show() -> None:
            for row in rows:
                row.show()

        screen.follow(screen.shared.changed, show)
