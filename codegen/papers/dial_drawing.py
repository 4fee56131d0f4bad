"""A dial's plate as shapes at full size."""

from __future__ import annotations

from itertools import pairwise

from codegen.papers.dial_plate import (
    DIGIT_WIDTH,
    LABEL_RADIUS_MM,
    LABEL_SIZE_MM,
    TICK_RADIUS_MM,
    DialPlate,
    Tick,
)
from codegen.papers.shapes import CAP_HEIGHT, PALE, Circle, Line, Polygon, Shape, Text, polyline

PLATE_WIDTH_MM, PLATE_HEIGHT_MM, SWITCH_HEIGHT_MM = 60.0, 72.0, 24.0
SHAFT_MM = (30.0, 36.0)
"""Drilling centre of the potentiometer, from the plate's upper left corner."""
SWITCH_MM = (30.0, 80.0)
"""Drilling centre of the switch, where there is one."""
SHAFT_HOLE_MM, SWITCH_HOLE_MM = 7.0, 6.5
"""Usual bushes: M7 of a small potentiometer, M6 or 1/4 in of a toggle switch (practice)."""
LONG_TICK_MM, SHORT_TICK_MM = 3.0, 1.6
ARC_STEP_DEG = 2.0
CROSS_MM = 2.5


def plate_height_mm(plate: DialPlate) -> float:
    """Return the height of a plate, the switch included."""
    return PLATE_HEIGHT_MM + (SWITCH_HEIGHT_MM if plate.off_switch else 0.0)


def plate_shapes(plate: DialPlate) -> list[Shape]:
    """Return the plate with its outline, from its upper left corner."""
    shapes = [
        *_outline(PLATE_WIDTH_MM, plate_height_mm(plate)),
        Text(PLATE_WIDTH_MM / 2, 7.5, plate.name, 4.6, "middle", bold=True),
        *_hole(*SHAFT_MM, SHAFT_HOLE_MM),
        *(_turns(plate) if plate.many_turns else _ring(plate)),
    ]
    return [*shapes, *(_switch() if plate.off_switch else [])]


def _outline(width: float, height: float) -> list[Shape]:
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height), (0.0, 0.0)]
    return [Line(*start, *end, width=0.1, colour=PALE, mark="cut") for start, end in pairwise(corners)]


def _hole(x: float, y: float, diameter: float) -> list[Shape]:
    return [
        Circle(x, y, diameter / 2, width=0.1, dashed=True),
        Line(x - CROSS_MM, y, x + CROSS_MM, y, width=0.1, mark="drill"),
        Line(x, y - CROSS_MM, x, y + CROSS_MM, width=0.1, mark="drill"),
    ]


def _ring(plate: DialPlate) -> list[Shape]:
    centre_x, centre_y = SHAFT_MM
    shapes: list[Shape] = []
    for tick in plate.ticks:
        shapes += _tick(plate, tick)
    first, last = plate.ticks[0].angle_deg, plate.ticks[-1].angle_deg
    steps = max(round((last - first) / ARC_STEP_DEG), 1)
    arc = [plate.point_mm(first + (last - first) * step / steps, TICK_RADIUS_MM) for step in range(steps + 1)]
    shapes += polyline(arc, 0.25)
    shapes.append(_setting_mark(plate))
    shapes = [shape.moved(centre_x, centre_y) for shape in shapes]
    shapes.append(Text(centre_x, centre_y + 14.6, plate.unit, 3.2, "middle", bold=True))
    return [*shapes, *_foot(plate, f"mark: {_written(plate.setting, plate)}")]


def _tick(plate: DialPlate, tick: Tick) -> list[Shape]:
    length = LONG_TICK_MM if tick.label else SHORT_TICK_MM
    inner = plate.point_mm(tick.angle_deg, TICK_RADIUS_MM)
    outer = plate.point_mm(tick.angle_deg, TICK_RADIUS_MM + length)
    width = 0.3 if tick.label else 0.15
    shapes: list[Shape] = [Line(*inner, *outer, width=width, mark=f"tick {plate.name} {tick.time_us}")]
    if tick.label:
        x, y = plate.point_mm(tick.angle_deg, LABEL_RADIUS_MM)
        shapes.append(Text(x, y + LABEL_SIZE_MM * CAP_HEIGHT / 2, tick.label, LABEL_SIZE_MM, "middle"))
    return shapes


def _setting_mark(plate: DialPlate) -> Polygon:
    """A triangle inside the ring, its tip at the setting."""
    tip = plate.point_mm(plate.setting.angle_deg, TICK_RADIUS_MM - 0.4)
    left = plate.point_mm(plate.setting.angle_deg - 5.5, TICK_RADIUS_MM - 3.2)
    right = plate.point_mm(plate.setting.angle_deg + 5.5, TICK_RADIUS_MM - 3.2)
    return Polygon((tip, left, right))


def _written(tick: Tick, plate: DialPlate) -> str:
    return f"{tick.label} {plate.unit}"


def _foot(plate: DialPlate, first: str) -> list[Shape]:
    middle = PLATE_WIDTH_MM / 2
    return [
        Text(middle, PLATE_HEIGHT_MM - 5.0, first, 2.6, "middle"),
        Text(middle, PLATE_HEIGHT_MM - 1.8, plate.potentiometer, 2.2, "middle", colour=PALE),
    ]


def _turns(plate: DialPlate) -> list[Shape]:
    """A table for a turns-counting knob: the turns of each round time, in two columns under the hole."""
    shapes: list[Shape] = [Text(PLATE_WIDTH_MM / 2, 13.0, f"turns = {plate.unit}", 2.6, "middle")]
    rows = -(-len(plate.ticks) // 2)
    for number, tick in enumerate(plate.ticks):
        column, row = divmod(number, rows)
        middle, y = 16.0 + 28.0 * column, 46.0 + 3.1 * row
        turns = f"{tick.angle_deg / 360:.2f}"
        shapes.append(Text(middle - DIGIT_WIDTH, y, turns, LABEL_SIZE_MM, "end"))
        shapes.append(Text(middle + DIGIT_WIDTH, y, f"= {tick.label}", LABEL_SIZE_MM))
    turns = f"{plate.setting.angle_deg / 360:.2f}"
    return [*shapes, *_foot(plate, f"set to {turns} turns: {_written(plate.setting, plate)}")]


def _switch() -> list[Shape]:
    x, y = SWITCH_MM
    return [
        *_hole(x, y, SWITCH_HOLE_MM),
        Text(x + 8.0, y - 3.2, "on", 2.8, bold=True),
        Text(x + 8.0, y + 5.2, "off", 2.8, bold=True),
    ]
