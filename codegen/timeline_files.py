"""A timeline as files that other tools read, VCD (IEEE 1364), CSV, JSON, and as text for a terminal."""

from __future__ import annotations

import csv
import io
import json
from operator import itemgetter
from typing import Any

from vcd import VCDWriter

from timing.design.design import Design
from timing.formatting import round_step, tenths_ms
from timing.interpolation import interpolated
from timing.process.wire_track import WeldEnd, WireTrack, likely_wire_track
from timing.sequence.core.engine import Edge, Timeline
from timing.sequence.core.table import Fault, Output
from timing.sequence.simulate import CHANGES_HEAD, actual_edges

OUTPUT_KEYS = {Output.GAS: "gas_valve", Output.WIRE: "wire_drive", Output.CONTACTOR: "contactor"}
TRACED_CONTACTS = ("trigger", "purge", "inch", "arc", "interlock", "supply", "four_step")
NORMALLY_CLOSED = ("interlock", "supply")


def tracks(design: Design, timeline: Timeline) -> dict[str, list[tuple[int, int]]]:
    """Return every binary trace by name as (microseconds, 0 or 1) changes; the first is the state at the start."""
    found: dict[str, list[tuple[int, int]]] = {}
    for contact in TRACED_CONTACTS:
        changes = [(change.at_us, change.value) for change in timeline.changes if change.what == contact]
        if changes:
            found[contact] = [(timeline.start_us, int(contact in NORMALLY_CLOSED)), *changes]
    for output, edges in actual_edges(design, timeline).items():
        key = OUTPUT_KEYS[output]
        found[key] = _changes(timeline, timeline.edges_of(output))
        found[f"{key}_actual"] = _changes(timeline, edges)
    return found


def wire_points(track: WireTrack | None) -> dict[str, list[tuple[int, float]]]:
    """Return the traces of the wire's end by name as (microseconds, mm) points; none without an arc."""
    if track is None:
        return {}
    lengths = {"extension_mm": track.extension_mm, "arc_length_mm": track.arc_length_mm}
    return {
        name: [(round(float(at_us)), round(float(mm), 2)) for at_us, mm in zip(track.time_us, values, strict=True)]
        for name, values in lengths.items()
    }


def _changes(timeline: Timeline, edges: tuple[Edge, ...]) -> list[tuple[int, int]]:
    return [(timeline.start_us, 0), *((edge.at_us, int(edge.on)) for edge in edges)]


def vcd_text(design: Design, timeline: Timeline) -> str:
    """Return the timeline as a value change dump with a timescale of one microsecond.

    Each phase that occurs is a wire of its own: software for logic analysers drops strings, some of it vectors too.
    What it does not know of either, the real numbers of the wire's end, it leaves out; viewers of waves show them.
    """
    wires = tracks(design, timeline) | _phase_wires(timeline)
    lengths = wire_points(likely_wire_track(design, timeline))
    file = io.StringIO()
    with VCDWriter(file, timescale="1 us", date="", version="wirecue", init_timestamp=timeline.start_us) as writer:
        variables = {name: writer.register_var(design.name, name, "wire", size=1, init=0) for name in wires}
        variables |= {name: writer.register_var(design.name, name, "real", init=0.0) for name in lengths}
        changes: list[tuple[int, Any, float]] = [
            (at_us, variables[name], value) for name, states in (wires | lengths).items() for at_us, value in states
        ]
        for at_us, variable, value in sorted(changes, key=itemgetter(0)):
            writer.change(variable, at_us, value)
        writer.close(max([timeline.end_us, *(at_us for at_us, _, _ in changes)]))
    return file.getvalue()


def _phase_wires(timeline: Timeline) -> dict[str, list[tuple[int, int]]]:
    found: dict[str, list[tuple[int, int]]] = {}
    for phase in sorted({change.phase for change in timeline.phases}):
        states = [(change.at_us, int(change.phase is phase)) for change in timeline.phases]
        found[f"phase_{phase.word.replace('-', '_')}"] = states
    return found


def csv_text(design: Design, timeline: Timeline) -> str:
    """Return every change as a row: time_us, trace, value; phases by name."""
    everything = tracks(design, timeline) | wire_points(likely_wire_track(design, timeline))
    rows: list[tuple[int, str, float | str]] = [
        (at_us, name, value) for name, states in everything.items() for at_us, value in states
    ]
    rows += [(change.at_us, "phase", change.phase.word) for change in timeline.phases]
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(CHANGES_HEAD)
    rows.sort(key=itemgetter(0))
    writer.writerows(rows)
    return file.getvalue()


def timeline_json(design: Design, timeline: Timeline) -> str:
    """Return the timeline as JSON; the unit of each number stands in its key."""
    track = likely_wire_track(design, timeline)
    data: dict[str, Any] = {
        "design": design.name,
        "digest": design.digest(),
        "end_us": timeline.end_us,
        "phases": [
            {"at_us": change.at_us, "phase": change.phase.word, "fault": change.fault.word}
            for change in timeline.phases
        ],
        "traces": {
            name: [{"at_us": at_us, "value": value} for at_us, value in states]
            for name, states in tracks(design, timeline).items()
        },
        "wire": {
            name: [{"at_us": at_us, "mm": mm} for at_us, mm in points] for name, points in wire_points(track).items()
        },
        "wire_ends": [
            {"at_us": end.at_us, "extension_mm": round(end.extension_mm, 2), "outcome": end.outcome}
            for end in (track.ends if track else ())
        ],
    }
    return json.dumps(data, indent=2) + "\n"


NAME_WIDTH = 18
LABEL_WIDTH = 10
"""Columns for the label of an instant and some air."""
# Characters of rising height.
BLOCKS, DIGITS = "·▁▂▃▄▅▆▇█", ".123456789"


def timeline_text(design: Design, timeline: Timeline, width: int, *, ascii_only: bool = False) -> str:
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
