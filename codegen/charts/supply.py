"""The picture of the 24 VAC supply: reservoir by corner, winding by phase, ripple and pull-in over time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import drawsvg as draw

from codegen.charts.chart import Axis, canvas, write
from codegen.style import COMMANDED, FRAME, PALE, svg_text, text_width
from timing.design.units import format_quantity
from timing.power.budget import Budget, Corner, pull_in_trace
from timing.power.record import SupplyReport
from timing.power.rectifier import Array
from timing.power.transient import steady_trace
from timing.power.verdict import supply_verdict

WIDTH, MARGIN, LEFT = 1000, 18, 262
ROW, BAR, HEAD = 24, 14, 40
COURSE_HEIGHT = 190
LABEL_ROW, LABEL_GAP = 15, 14
"""Height of a row of labels over a panel, and what two in one row keep between them."""
FORBIDDEN, LIMIT, WARM = "#f3dcd3", "#b5541f", "#e8a33d"
"""Ground of what must not be, its line, and a bar that is over."""
CYCLES_SHOWN = 3.0


@dataclass(frozen=True)
class _Level:
    """A threshold in a picture."""

    value: float
    text: str
    forbids: str = ""
    """above, below, or empty."""


def supply_svg(report: SupplyReport) -> str:
    """Return the picture of a design's supply as an SVG document."""
    found = report.budget
    panels: list[tuple[float, Callable[[draw.Drawing, float], None]]] = [
        (HEAD + ROW * len(found.corners) + 36, lambda picture, y: _corners(picture, found, y)),
        (HEAD + ROW * len(found.phases) + 36, lambda picture, y: _phases(picture, found, y)),
        (COURSE_HEIGHT + 2 * HEAD + 10, lambda picture, y: _courses(picture, found, y)),
    ]
    height = 80 + sum(panel for panel, _ in panels)
    picture = canvas(WIDTH, height)
    design = found.design
    write(picture, f"{design.title or design.name}: the 24 VAC supply", MARGIN, 28, 18, weight="bold")
    regulator = f"{found.regulator.output_v:g} V {design.supply.regulator} regulator"
    under = (
        f"Winding {found.winding.open_v:.1f} V open, {found.winding.source_ohm:.2f} ohm; "
        f"{design.supply.rectifier}; reservoir {format_quantity(design.supply.reservoir_f, 'F')}; {regulator}."
    )
    write(picture, under, MARGIN, 48)
    write(picture, supply_verdict(report).answer, MARGIN, 66)
    y = 80.0
    for panel, paint in panels:
        paint(picture, y)
        y += panel
    return svg_text(picture)


def _heading(picture: draw.Drawing, x: float, y: float, text: str) -> None:
    write(picture, text, x, y + 18, 13, weight="bold")


def _scale(picture: draw.Drawing, axis: Axis, top: float, base: float, unit: str) -> None:
    """Ticks under a panel of bars or a course."""
    values, step = axis.ticks()
    for value in values:
        x = axis.at(value)
        picture.append(draw.Line(x, top, x, base, stroke=PALE, stroke_width=0.8))
        label = f"{value:g}" + (f" {unit}" if axis.high - value < step else "")
        # The last one, with its unit, keeps within the picture.
        write(picture, label, min(x, WIDTH - 4 - text_width(label, 11) / 2), base + 14, 11, anchor="middle")


def _corners(picture: draw.Drawing, found: Budget, y: float) -> None:
    least, most, rating = found.regulator.input_min_v, found.regulator.input_max_v, found.supply.reservoir_rating_v
    axis = Axis(0.0, 1.08 * max(most, found.highest_v, rating), LEFT, WIDTH - 60)
    _heading(picture, MARGIN, y, "Voltage at the reservoir, by corner")
    top, base = y + HEAD, y + HEAD + ROW * len(found.corners)
    for left, right in ((axis.left, axis.at(least)), (axis.at(most), axis.right)):
        picture.append(draw.Rectangle(left, top, right - left, base - top, fill=FORBIDDEN))
    _scale(picture, axis, top, base, "V")
    limits = ((least, "regulator drops out below"), (most, "regulator's rated input"), (rating, "capacitor's rating"))
    taken = -1e9
    for value, text in sorted(limits):
        x, label = axis.at(value), f"{text} {value:g} V"
        wide = text_width(label, 11)
        # Labels that would meet stand one above the other, each to the left of its line, which goes up to it.
        row = 1 if x - wide - LABEL_GAP < taken else 0
        taken = x if row == 0 else taken
        up = top - LABEL_ROW * (row + 1)
        dashed = {"stroke_dasharray": "4 3"} if value == rating else {}
        picture.append(draw.Line(x, up, x, base, stroke=LIMIT, stroke_width=1.2, **dashed))
        left = x - 5 - wide >= MARGIN
        write(picture, label, x - 5 if left else x + 5, up + 10, 11, anchor="end" if left else "start", fill=LIMIT)
    for index, corner in enumerate(found.corners):
        _corner(picture, axis, corner, top + ROW * index, least, most)


def _corner(picture: draw.Drawing, axis: Axis, corner: Corner, y: float, least: float, most: float) -> None:
    middle = y + ROW / 2
    write(picture, corner.title, LEFT - 10, middle + 4, anchor="end")
    if not corner.state.settled:
        write(picture, "collapses: no steady state", axis.left + 6, middle + 4, fill=LIMIT)
        return
    low, high = float(corner.state.dc_min_v), float(corner.state.dc_max_v)
    fill = COMMANDED if least <= low and high <= most else LIMIT
    left, right = axis.at(low), max(axis.at(high), axis.at(low) + 3)
    box = draw.Rectangle(left, middle - BAR / 2, right - left, BAR, fill=fill)
    box.append_title(f"{corner.title}: {low:.2f} V to {high:.2f} V")
    picture.append(box)
    label = f"{low:.1f}" if high - low < 0.15 else f"{low:.1f} to {high:.1f}"
    write(picture, f"{label} V", left - 6, middle + 4, 11, anchor="end")


def _phases(picture: draw.Drawing, found: Budget, y: float) -> None:
    rated = found.supply.rating_va / found.supply.nominal_v
    totals = [float(phase.state.winding_rms_a) if phase.state.settled else 0.0 for phase in found.phases]
    axis = Axis(0.0, 1.15 * max(rated, *totals), LEFT, WIDTH - 60)
    _heading(picture, MARGIN, y, "Current in the winding, by phase")
    top, base = y + HEAD, y + HEAD + ROW * len(found.phases)
    picture.append(draw.Rectangle(axis.at(rated), top, axis.right - axis.at(rated), base - top, fill=FORBIDDEN))
    _scale(picture, axis, top, base, "A")
    x = axis.at(rated)
    picture.append(draw.Line(x, top - 4, x, base, stroke=LIMIT, stroke_width=1.2))
    write(picture, f"rated {rated:.2f} A", x, top - 7, 11, anchor="middle", fill=LIMIT)
    for index, (phase, total) in enumerate(zip(found.phases, totals, strict=True)):
        middle = top + ROW * index + ROW / 2
        word = phase.load.phase.word
        write(picture, word, LEFT - 10, middle + 4, anchor="end")
        if not phase.state.settled:
            write(picture, "collapses: no steady state", axis.left + 6, middle + 4, fill=LIMIT)
            continue
        fill = COMMANDED if total <= rated else LIMIT
        box = draw.Rectangle(axis.left, middle - BAR / 2, axis.at(total) - axis.left, BAR, fill=fill, stroke=FRAME)
        box.append_title(f"{word}: {total:.3f} A, coils {phase.load.ac_hold_a:.3f} A of it")
        picture.append(box)
        says = f"{total:.2f} A: coils {phase.load.ac_hold_a:.2f} A, rail {1000 * phase.load.rail_a:.0f} mA dc"
        write(picture, says, axis.at(total) + 6, middle + 4, 11)


def _courses(picture: draw.Drawing, found: Budget, y: float) -> None:
    """Ripple at both ends of the line on the left, the heaviest pull-in on the right."""
    least = _Level(found.regulator.input_min_v, f"regulator's least input {found.regulator.input_min_v:g} V", "below")
    half = (WIDTH - 4 * MARGIN) / 2
    steady = []
    for key, colour in (("high-on", WARM), ("nominal-on", COMMANDED), ("low-aged", LIMIT)):
        corner = found.corner(key)
        if corner.state.settled:
            trace = steady_trace(corner.circuit, CYCLES_SHOWN)
            steady.append((corner.title, colour, 1000 * trace.time_s, trace.reservoir_v))
    _course(picture, MARGIN, y, half, "Ripple on the reservoir", steady, ())
    if found.sag is None:
        return
    trace = pull_in_trace(found.corner("low-aged").circuit, found.sag.change, found.isolation)
    sense = found.supply.sense
    levels = [least] + ([_Level(sense.low_v, f"counts as low under {sense.low_v:g} V")] if sense else [])
    change = found.sag.change
    title = f"Pull-in at low line, aged capacitor: {change.before.word} to {change.after.word}"
    line = ("reservoir", COMMANDED, 1000 * trace.time_s, trace.reservoir_v)
    _course(picture, 3 * MARGIN + half, y, half, title, [line], levels)


def _course(
    picture: draw.Drawing,
    x: float,
    y: float,
    width: float,
    title: str,
    lines: Sequence[tuple[str, str, Array, Array]],
    levels: Sequence[_Level],
) -> None:
    _heading(picture, x, y, title)
    if not lines:
        return
    values = [float(value) for _, _, _, course in lines for value in (course.min(), course.max())]
    values += [level.value for level in levels]
    room = max(0.12 * (max(values) - min(values)), 0.2)
    top, base = y + HEAD, y + HEAD + COURSE_HEIGHT
    height = Axis(min(values) - room, max(values) + room, base, top)
    time = Axis(0.0, max(float(times[-1]) for _, _, times, _ in lines), x + 34, x + width)
    _scale(picture, time, top, base, "ms")
    for value in height.ticks(5)[0]:
        at = height.at(value)
        picture.append(draw.Line(time.left, at, time.right, at, stroke=PALE, stroke_width=0.8))
        write(picture, f"{value:g} V", time.left - 5, at + 4, 11, anchor="end")
    for level in levels:
        at = height.at(level.value)
        if level.forbids:
            picture.append(draw.Rectangle(time.left, at, time.right - time.left, base - at, fill=FORBIDDEN))
        picture.append(draw.Line(time.left, at, time.right, at, stroke=LIMIT, stroke_width=1.2))
        write(picture, level.text, time.right - 4, at - 4, 11, anchor="end", fill=LIMIT)
    for _, colour, times, course in lines:
        points = [
            coordinate
            for at_ms, volts in zip(times.tolist(), course.tolist(), strict=True)
            for coordinate in (time.at(at_ms), height.at(volts))
        ]
        picture.append(draw.Lines(*points, close=False, fill="none", stroke=colour, stroke_width=1.6))
    picture.append(draw.Rectangle(time.left, top, time.right - time.left, base - top, fill="none", stroke=FRAME))
    at = time.left
    for text, colour, _, _ in lines:
        picture.append(draw.Line(at, base + 28, at + 16, base + 28, stroke=colour, stroke_width=3))
        write(picture, text, at + 20, base + 32, 11)
        at += 34 + 6.3 * len(text)
