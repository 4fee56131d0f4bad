"""A timeline as text, for the terminal."""

from __future__ import annotations

from codegen.timeline_files import tracks
from timing.design.design import Design
from timing.formatting import round_step, tenths_ms
from timing.process.wire_track import WeldEnd, WireTrack, interpolated, likely_wire_track
from timing.sequence.core.engine import Timeline
from timing.sequence.core.table import Fault

NAME_WIDTH = 18
LABEL_WIDTH = 10
"""Columns for the label of an instant and some air."""
BLOCKS, DIGITS = "·▁▂▃▄▅▆▇█", ".123456789"


def terminal_timeline(design: Design, timeline: Timeline, width: int, *, ascii_only: bool = False) -> str:
    """Return traces drawn in characters, `width` columns wide in all, and the phases as a list."""
    columns = max(width - NAME_WIDTH - 1, 20)
    on, off = ("#", ".") if ascii_only else ("█", "·")
    span_us = max(timeline.end_us - timeline.start_us, 1)
    lines = [_axis(columns, span_us)]
    for name, changes in tracks(design, timeline).items():
        cells = [off] * columns
        ends_us = [at_us for at_us, _ in changes[1:]] + [timeline.end_us]
        for (at_us, value), end_us in zip(changes, ends_us, strict=True):
            if value:
                first = (at_us - timeline.start_us) * columns // span_us
                last = max((end_us - timeline.start_us) * columns // span_us, first + 1)
                cells[first : min(last, columns)] = on * (min(last, columns) - first)
        lines.append(f"{name.replace('_', ' '):>{NAME_WIDTH}} {''.join(cells)}")
    track = likely_wire_track(design, timeline)
    if track is not None:
        levels = DIGITS if ascii_only else BLOCKS
        for name, values, highest_mm in (
            ("extension", track.extension_mm, track.distance_mm),
            ("arc length", track.arc_length_mm, track.arc_scale_mm),
        ):
            lines.append(f"{name:>{NAME_WIDTH}} {_heights(track, values, highest_mm, columns, timeline, levels)}")
        lines.append(
            f"{'':>{NAME_WIDTH}} full height: extension {track.distance_mm:g} mm, arc {track.arc_scale_mm:g} mm"
        )
    lines.append("")
    lines += [_phase_line(timeline, index) for index in range(len(timeline.phases))]
    lines += [] if track is None or not track.ends else ["", *(_end_line(end) for end in track.ends)]
    return "\n".join(lines)


def _heights(
    track: WireTrack, values: tuple[float, ...], highest_mm: float, columns: int, timeline: Timeline, levels: str
) -> str:
    """Return a length over time as characters of rising height; what is longer than `highest_mm` fills the height."""
    step_us = (timeline.end_us - timeline.start_us) / max(columns - 1, 1)
    instants_us = (timeline.start_us + number * step_us for number in range(columns))
    lengths_mm = (interpolated(at_us, track.time_us, values) for at_us in instants_us)
    steps = (int(length_mm / highest_mm * len(levels)) for length_mm in lengths_mm)
    return "".join(levels[min(max(step, 0), len(levels) - 1)] for step in steps)


def _end_line(end: WeldEnd) -> str:
    return f"{tenths_ms(end.at_us):>15}  {end.extension_mm:.1f} mm extension left: {end.outcome}"


def _axis(columns: int, span_us: int) -> str:
    """Return round times, each above its own column, and none that would be cut off."""
    step_us = max(round_step(span_us, columns // LABEL_WIDTH), 1.0)
    unit_us, unit = (1e6, "s") if step_us >= 100_000 else (1e3, "ms")
    line = ""
    for number in range(columns):
        at_us = number * step_us
        label, column = f"{at_us / unit_us:g} {unit}", round(at_us * columns / span_us)
        if column + len(label) > columns:
            break
        line = line.ljust(column) + label
    return f"{'':>{NAME_WIDTH}} {line}"


def _phase_line(timeline: Timeline, index: int) -> str:
    change = timeline.phases[index]
    end_us = timeline.phases[index + 1].at_us if index + 1 < len(timeline.phases) else None
    lasts = "" if end_us is None else f"for {(end_us - change.at_us) / 1000:.1f} ms"
    fault = "" if change.fault is Fault.NONE else f"  [{change.fault.word}]"
    return f"{tenths_ms(change.at_us):>15}  {change.phase.word:<14} {lasts}{fault}".rstrip()
