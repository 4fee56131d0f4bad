"""The picture of a capture: for each output what was expected above what was measured, and where they part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import drawsvg as draw

from codegen.charts.chart import LETTER_WIDTH, canvas, swatches, write
from codegen.charts.tracks import (
    BAND_HEIGHT,
    OUTPUT_TITLES,
    TRACK_GAP,
    TRACK_HEIGHT,
    WIDTH,
    TimeScale,
    contact_tracks,
    phases_and_contacts,
    time_axis,
    track,
)
from codegen.style import COMMANDED, HOT, TINT, hatch, svg_text
from timing.sequence.core.engine import Edge, Timeline, on_spans_us
from timing.sequence.core.table import Output

_TOP = 96
_CROSS = 5
_LABELLED = 6
"""Marks that are explained in words; more would run into each other."""


@dataclass(frozen=True)
class Discrepancy:
    """One edge that is not as expected."""

    output: Output
    at_us: int
    words: str
    """Short: '3.2 ms late'."""


def capture_svg(
    title: str, predicted: Timeline, seen: Mapping[Output, tuple[Edge, ...]], marks: Sequence[Discrepancy]
) -> str:
    """Return the picture as an SVG document. Times in microseconds from the first sample."""
    scale = TimeScale(predicted.start_us, predicted.end_us)
    contacts = contact_tracks(predicted)
    height = _TOP + BAND_HEIGHT + TRACK_GAP + len(contacts) * (TRACK_HEIGHT + TRACK_GAP)
    height += len(seen) * 2 * (TRACK_HEIGHT + TRACK_GAP) + 56
    picture = canvas(WIDTH, height)
    write(picture, title, 16, 28, 18, weight="bold")
    expecting = hatch("expected", COMMANDED, TINT)
    picture.append_def(expecting)
    _legend(picture, expecting, bool(marks))
    top, y = phases_and_contacts(picture, scale, predicted, contacts, _TOP)
    for output, edges in seen.items():
        expected = predicted.on_spans_us(output)
        track(picture, scale, y, f"{OUTPUT_TITLES[output]} expected", expected, expecting, outline=COMMANDED)
        y += TRACK_HEIGHT
        track(picture, scale, y, "measured", on_spans_us(edges, predicted.end_us), COMMANDED)
        _marks(picture, scale, y, [mark for mark in marks if mark.output is output])
        y += TRACK_HEIGHT + 2 * TRACK_GAP
    time_axis(picture, scale, top, y)
    return svg_text(picture)


def _legend(picture: draw.Drawing, expecting: draw.Pattern, marked: bool) -> None:
    x = swatches(picture, ((expecting, "expected by the design"), (COMMANDED, "measured")), COMMANDED)
    if marked:
        _cross(picture, x + 11, 44.5)
        write(picture, "not as expected", x + 24, 49)


def _marks(picture: draw.Drawing, scale: TimeScale, y: float, marks: Sequence[Discrepancy]) -> None:
    free = 0.0
    for number, mark in enumerate(sorted(marks, key=lambda mark: mark.at_us)):
        x = scale.x(min(max(mark.at_us, scale.start_us), scale.end_us))
        _cross(picture, x, y + TRACK_HEIGHT / 2)
        half = LETTER_WIDTH * len(mark.words) / 2
        middle = max(min(x, WIDTH - half - 8), half + 8)
        if number < _LABELLED and middle - half >= free:
            write(picture, mark.words, middle, y + TRACK_HEIGHT + 10, 11, anchor="middle", fill=HOT)
            free = middle + half + LETTER_WIDTH


def _cross(picture: draw.Drawing, x: float, y: float) -> None:
    for rise in (-_CROSS, _CROSS):
        picture.append(draw.Line(x - _CROSS, y - rise, x + _CROSS, y + rise, stroke=HOT, stroke_width=2.4))
