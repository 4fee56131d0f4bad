"""The picture of a sequence: what the board commands above what gas, wire and arc voltage really do."""

from __future__ import annotations

from dataclasses import dataclass

import drawsvg as draw

from codegen.charts.chart import Parent, canvas, swatches, write
from codegen.charts.tracks import (
    BAND_HEIGHT,
    LEFT,
    OUTPUT_TITLES,
    RIGHT,
    TRACK_GAP,
    TRACK_HEIGHT,
    WIDTH,
    TimeScale,
    contact_tracks,
    phases_and_contacts,
    time_axis,
    track,
)
from codegen.style import COMMANDED, PALE, TINT, hatch, svg_text, text_width
from timing.design.design import Design
from timing.design.feeder import WireDrive
from timing.once import once
from timing.process.burnback import Release, wire_speed_mm_s
from timing.process.coast import usual_friction
from timing.process.wire_track import WireTrack, likely_wire_track
from timing.project import Project
from timing.sequence.core.engine import Timeline, on_spans_us
from timing.sequence.core.table import Output
from timing.sequence.simulate import actual_edges, loads_of

__all__ = ["LEFT", "RIGHT", "TRACKS_TOP", "WIDTH", "timeline_svg", "usual_timeline_svg"]

TRACKS_TOP = 96
ACTUAL_NAMES = {Output.GAS: "gas flows", Output.WIRE: "wire moves", Output.CONTACTOR: "voltage on"}
TAIL_POINTS = 16
LENGTH_HEIGHT, LENGTH_GAP, LENGTH_HEADROOM = 46, 20, 14


@once
def usual_timeline_svg(project: Project) -> str:
    """Return the picture of an ordinary weld as an SVG document."""
    return timeline_svg(project.design, project.timeline)


def timeline_svg(design: Design, timeline: Timeline, seen_us: tuple[int, int] | None = None) -> str:
    """Return the picture of `timeline` as an SVG document.

    seen_us: beginning and end of the stretch that is shown, across the whole width; None: all of it.
    """
    scale = TimeScale(*(seen_us or (timeline.start_us, timeline.end_us)))
    contacts = contact_tracks(timeline)
    outputs = list(loads_of(design))
    wire = likely_wire_track(design, timeline)
    lengths = _lengths(wire)
    height = TRACKS_TOP + BAND_HEIGHT + TRACK_GAP + (len(contacts) + 2 * len(outputs)) * (TRACK_HEIGHT + TRACK_GAP) + 56
    height += len(lengths) * (LENGTH_HEIGHT + LENGTH_GAP) + (LENGTH_HEADROOM if lengths else 0)
    picture = canvas(WIDTH, height)
    write(picture, design.title or design.name, 16, 28, 18, weight="bold")
    acting = hatch("actual", COMMANDED, TINT)
    picture.append_def(acting)
    entries = ((COMMANDED, "commanded by the board"), (acting, "what really happens, typical delays"))
    swatches(picture, entries, COMMANDED)
    # Whole curves, of which only the stretch is seen.
    curves: draw.Drawing | draw.Group = picture
    if seen_us is not None:
        window = draw.ClipPath()
        window.append(draw.Rectangle(LEFT, 0, WIDTH - LEFT - RIGHT, height))
        curves = draw.Group(clip_path=window)
    top_of_tracks, y = phases_and_contacts(picture, scale, timeline, contacts, TRACKS_TOP)
    actual = actual_edges(design, timeline)
    for output in outputs:
        track(picture, scale, y, OUTPUT_TITLES[output], timeline.on_spans_us(output), COMMANDED)
        y += TRACK_HEIGHT
        spans = on_spans_us(actual[output], timeline.end_us)
        track(picture, scale, y, ACTUAL_NAMES[output], spans, acting, outline=COMMANDED)
        if output is Output.WIRE:
            _coast(curves, scale, y, spans, design.feeder.wire_drive, timeline.end_us)
        y += TRACK_HEIGHT + 2 * TRACK_GAP
    y += LENGTH_HEADROOM if lengths else 0
    for length in lengths:
        _length_names(picture, y, length)
        _length_track(curves, scale, y, length, timeline.end_us)
        if length.full_name:
            write(picture, length.full_name, WIDTH - RIGHT, y - 4, 10, anchor="end")
        y += LENGTH_HEIGHT + LENGTH_GAP
    if wire is not None:
        _wire_ends(picture, scale, y - len(lengths) * (LENGTH_HEIGHT + LENGTH_GAP), wire, timeline.end_us)
    if curves is not picture:
        picture.append(curves)
    time_axis(picture, scale, top_of_tracks, y)
    return svg_text(picture)


def _coast(
    picture: Parent, scale: TimeScale, y: float, spans: tuple[tuple[int, int], ...], drive: WireDrive, end_us: int
) -> None:
    """Draw the wire's speed dying away after the drive has let go."""
    base, height = y + TRACK_HEIGHT - 4, TRACK_HEIGHT - 8
    release = Release.coasting(drive.likely_coast_us / 1e6, usual_friction(drive.braked).median)
    stop_us = float(release.coast.stop_s) * 1e6
    coasting_us = [stop_us * number / TAIL_POINTS for number in range(1, TAIL_POINTS + 1)]
    left = [float(wire_speed_mm_s(release, 1.0, at_us / 1e6)) for at_us in coasting_us]
    starts_us = [from_us for from_us, _ in spans]
    for _, off_us in spans:
        next_us = min((start_us for start_us in starts_us if start_us > off_us), default=end_us)
        if off_us >= end_us:
            continue
        tail = draw.Path(fill=TINT, stroke=COMMANDED, stroke_width=0.8)
        tail.M(scale.x(off_us), base).V(base - height)
        for after_us, share in zip(coasting_us, left, strict=True):
            if off_us + after_us > next_us:
                break
            tail.L(scale.x(off_us + after_us), round(base - height * share, 2))
        tail.V(base).Z()
        picture.append(tail)


@dataclass(frozen=True)
class _Length:
    """A length of the wire's end over time, and what its track's full height stands for."""

    name: str
    time_us: tuple[float, ...]
    values_mm: tuple[float, ...]
    full_mm: float
    full_name: str


def _lengths(wire: WireTrack | None) -> list[_Length]:
    if wire is None:
        return []
    return [
        _Length("extension", wire.time_us, wire.extension_mm, wire.distance_mm, "work"),
        _Length("arc length", wire.time_us, wire.arc_length_mm, wire.arc_scale_mm, ""),
    ]


def _length_names(picture: draw.Drawing, y: float, length: _Length) -> None:
    """Write what a length is, and draw the lines of its full height and of none."""
    base, top = y + LENGTH_HEIGHT, y
    write(picture, length.name, LEFT - 44, y + LENGTH_HEIGHT / 2 + 5, 13, anchor="end")
    for mm, at in ((length.full_mm, top), (0.0, base)):
        write(picture, f"{mm:.3g} mm", LEFT - 5, at + 4, 10, anchor="end")
        picture.append(draw.Line(LEFT, at, WIDTH - RIGHT, at, stroke=PALE, stroke_width=1.2))


def _length_track(picture: Parent, scale: TimeScale, y: float, length: _Length, end_us: int) -> None:
    """Draw a length as a filled curve; what is longer than the full height is cut off there."""
    base = y + LENGTH_HEIGHT
    curve = draw.Path(fill=TINT, stroke=COMMANDED, stroke_width=1.4)
    curve.M(scale.x(length.time_us[0]), base)
    for at_us, mm in zip(length.time_us, length.values_mm, strict=True):
        share = min(mm / length.full_mm, 1.0)
        curve.L(scale.x(min(at_us, end_us)), round(base - share * LENGTH_HEIGHT, 2))
    picture.append(curve.V(base).Z())


def _wire_ends(picture: draw.Drawing, scale: TimeScale, y: float, wire: WireTrack, end_us: int) -> None:
    """Write above the extension what each weld in sight left of it."""
    free = 0.0
    for end in wire.ends:
        at_us = min(end.at_us, end_us)
        if not scale.start_us <= at_us <= scale.end_us:
            continue
        words = f"{end.extension_mm:.0f} mm left: {end.outcome}"
        wide = text_width(words, 11)
        x = max(min(scale.x(at_us), WIDTH - RIGHT - 40 - wide), LEFT)
        if x < free:
            continue
        free = x + wide + 8
        write(picture, words, x, y - 4, 11, weight="bold")
