"""Traces along time, drawn alike in every picture that has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import drawsvg as draw

from codegen.charts.chart import LETTER_WIDTH, Axis, write
from codegen.style import FRAME, HOT, INK, PALE, WARM
from timing.formatting import ms
from timing.sequence.core.engine import Edge, Timeline, on_spans_us
from timing.sequence.core.table import Fault, Output, Phase

# Millimetre-like user units; the picture scales to its place.
WIDTH, LEFT, RIGHT = 1000, 150, 24
TRACK_HEIGHT, TRACK_GAP, BAND_HEIGHT = 30, 12, 30
LABEL_ROWS = 2

# Told apart by lightness as well as by hue, so that grey prints and colour-blind eyes do too.
PHASE_FILL = {
    Phase.PREFLOW: "#cfe3ea",
    Phase.WELD: WARM,
    Phase.BURNBACK: HOT,
    Phase.POSTFLOW: "#9cc3d1",
    Phase.PAUSE: "#eef0ee",
    Phase.PURGE: "#cfe3ea",
    Phase.INCH: "#d8cfa8",
    Phase.HOLD_OFF: "#bfc4c6",
    Phase.AWAIT_RELEASE: "#e3e3e3",
}
DARK_PHASES = {Phase.BURNBACK}
OUTPUT_TITLES = {Output.GAS: "gas valve", Output.WIRE: "wire drive", Output.CONTACTOR: "contactor"}
INPUT_NAMES = {"trigger": "trigger", "purge": "purge button", "inch": "inch button", "arc": "arc sensor"}


@dataclass(frozen=True)
class TimeScale:
    """The stretch of time that a picture shows, across its width."""

    start_us: int
    end_us: int

    @property
    def axis(self) -> Axis:
        """Where its instants lie."""
        return Axis(self.start_us, max(self.end_us, self.start_us + 1), LEFT, WIDTH - RIGHT)

    def x(self, at_us: float) -> float:
        """Return where an instant lies."""
        return self.axis.at(at_us)

    def edge_x(self, at_us: float) -> float:
        """Return where an instant lies, or the end of the picture that is nearest to it."""
        return self.x(min(max(at_us, self.start_us), self.end_us))


def contact_tracks(timeline: Timeline) -> list[tuple[str, tuple[tuple[int, int], ...]]]:
    """Return each input that changes, with the times at which it is closed."""
    tracks = []
    for what, name in INPUT_NAMES.items():
        edges = tuple(
            Edge(change.at_us, Output.GAS, bool(change.value)) for change in timeline.changes if change.what == what
        )
        if edges:
            tracks.append((name, on_spans_us(edges, timeline.end_us)))
    return tracks


def phase_band(picture: draw.Drawing, scale: TimeScale, timeline: Timeline, y: float) -> None:
    """Draw the phases as a band of colours with their names and lengths; where there is no room, the title tells."""
    ends_us = [change.at_us for change in timeline.phases[1:]] + [timeline.end_us]
    # Right ends of the labels above the band, one row over the other.
    rows = [0.0] * LABEL_ROWS
    for change, end_us in zip(timeline.phases, ends_us, strict=True):
        left, right = scale.edge_x(change.at_us), scale.edge_x(end_us)
        fill = PHASE_FILL.get(change.phase)
        if fill is None or right <= left:
            continue
        word = change.phase.word if change.fault is Fault.NONE else f"{change.phase.word}: {change.fault.word}"
        label = f"{word} {ms(end_us - change.at_us)}"
        box = draw.Rectangle(left, y, right - left, BAND_HEIGHT, fill=fill, stroke=FRAME, stroke_width=0.6)
        box.append_title(label)
        picture.append(box)
        middle = (left + right) / 2
        if right - left > LETTER_WIDTH * len(label):
            ink = "white" if change.phase in DARK_PHASES else INK
            write(picture, label, middle, y + 19, anchor="middle", fill=ink)
        else:
            _label_above(picture, rows, y, middle, label)


def _label_above(picture: draw.Drawing, rows: list[float], y: float, middle: float, label: str) -> None:
    half = LETTER_WIDTH * len(label) / 2
    middle_of_text = max(min(middle, WIDTH - RIGHT - half), half)
    free = [row for row, right in enumerate(rows) if right < middle_of_text - half]
    if not free:
        return
    row = free[0]
    rows[row] = middle_of_text + half + LETTER_WIDTH
    base = y - 7 - 15 * row
    picture.append(draw.Line(middle, base + 3, middle, y, stroke=FRAME, stroke_width=0.8))
    write(picture, label, middle_of_text, base, anchor="middle")


def track(
    picture: draw.Drawing,
    scale: TimeScale,
    y: float,
    name: str,
    spans: tuple[tuple[int, int], ...],
    fill: object,
    outline: str = "none",
) -> None:
    """Draw one line with a box for each time that it is on."""
    base = y + TRACK_HEIGHT - 4
    write(picture, name, LEFT - 10, base - 5, 13, anchor="end")
    picture.append(draw.Line(LEFT, base, WIDTH - RIGHT, base, stroke=PALE, stroke_width=1.2))
    for from_us, to_us in spans:
        left, right = scale.edge_x(from_us), scale.edge_x(to_us)
        if right > left:
            box = draw.Rectangle(left, y + 4, right - left, TRACK_HEIGHT - 8, fill=fill, stroke=outline)
            box.append_title(f"{name}: {from_us / 1000:g} ms to {to_us / 1000:g} ms")
            picture.append(box)


Contacts = Sequence[tuple[str, tuple[tuple[int, int], ...]]]
"""Inputs that change, by name, with the times at which they are closed."""


def phases_and_contacts(
    picture: draw.Drawing, scale: TimeScale, timeline: Timeline, contacts: Contacts, y: float
) -> tuple[float, float]:
    """Draw the band of phases and under it each contact; return where the tracks begin, and where the next one goes."""
    phase_band(picture, scale, timeline, y)
    top = y = y + BAND_HEIGHT + TRACK_GAP
    for name, spans in contacts:
        track(picture, scale, y, name, spans, INK)
        y += TRACK_HEIGHT + TRACK_GAP
    return top, y


def time_axis(picture: draw.Drawing, scale: TimeScale, top: float, y: float) -> None:
    """Draw a scale of round times, its ticks from `top` down to `y`."""
    instants_us, step_us = scale.axis.ticks()
    unit_us, unit = (1_000_000, "s") if step_us >= 100_000 else (1_000, "ms")
    for at_us in instants_us:
        x = scale.x(at_us)
        picture.append(draw.Line(x, top, x, y, stroke=PALE, stroke_width=0.7, stroke_dasharray="2 3"))
        write(picture, f"{at_us / unit_us:g}", x, y + 18, anchor="middle")
    write(picture, f"time, {unit}", LEFT - 10, y + 18, anchor="end")
