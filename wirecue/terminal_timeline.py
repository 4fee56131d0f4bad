"""A timeline as text, for the terminal."""

from __future__ import annotations

from codegen.traces import tracks
from timing.design.design import Design
from timing.sequence.table import Fault
from timing.sequence.timeline import Timeline

NAME_WIDTH = 18


def terminal_timeline(design: Design, timeline: Timeline, width: int, *, ascii_only: bool = False) -> str:
    """Return tracks drawn in characters, `width` columns wide in all, and the phases as a list."""
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
    lines.append("")
    lines += [_phase_line(timeline, index) for index in range(len(timeline.phases))]
    return "\n".join(lines)


def _axis(columns: int, span_us: int) -> str:
    step = max(columns // 5, 10)
    marks = "".join(f"{position * span_us / columns / 1e6:.3g} s".ljust(step) for position in range(0, columns, step))
    return f"{'':>{NAME_WIDTH}} {marks[:columns]}"


def _phase_line(timeline: Timeline, index: int) -> str:
    change = timeline.phases[index]
    end_us = timeline.phases[index + 1].at_us if index + 1 < len(timeline.phases) else None
    lasts = "" if end_us is None else f"for {(end_us - change.at_us) / 1000:.1f} ms"
    fault = "" if change.fault is Fault.NONE else f"  [{change.fault.word}]"
    return f"{change.at_us / 1000:>12.1f} ms  {change.phase.word:<14} {lasts}{fault}".rstrip()
