"""The plate of one dial: which marks stand at which angle, what they say, and its shapes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from codegen.papers.plate_parts import (
    PITCH_MM,
    PLATE_WIDTH_MM,
    SMALL_SIZE_MM,
    SWITCH_HOLES_MM,
    TITLE_MM,
    TITLE_SIZE_MM,
    WORD_SIZE_MM,
    WORDS_MM,
    drill_marks,
    holes_text,
    lever_tick,
    plate_outline,
)
from codegen.papers.shapes import CAP_HEIGHT, Line, Polygon, Shape, Text, polyline
from codegen.style import FRAME
from timing.circuit.dial import PanelDial
from timing.design.front_panel import ControlKind, controls_of
from timing.design.times import TIME_TITLES
from timing.process.settable import DialMark, Settable
from timing.project import Project

TICK_RADIUS_MM = 15.0
LABEL_RADIUS_MM = 21.5
LABEL_SIZE_MM = 2.8
DIGIT_WIDTH, POINT_WIDTH = 0.636, 0.318
"""Widths of a digit and a point over the type size, of the sans typeface used (its metrics: 1303 and 651 of 2048)."""
LABEL_GAP_MM = 0.9
SHORT_TICK_DEG = 2.5
LONGEST_END_LABEL = 5
LARGEST_RING_DEG = 330.0
"""A dial that turns further has no room for its scale on one ring: it needs a turns-counting knob."""
TURNS_ROWS = 12


@dataclass(frozen=True)
class Tick:
    """One mark of a scale."""

    angle_deg: float
    """Clockwise from the anticlockwise stop."""
    time_us: int
    label: str
    """Empty for a short mark."""


@dataclass(frozen=True)
class DialPlate:
    """What one dial's plate shows."""

    name: str
    unit: str
    """Of the labels: ms or s."""
    rotation_deg: float
    ticks: tuple[Tick, ...]
    """By rising angle."""
    setting: Tick
    """Where the design's setting stands."""
    potentiometer: str
    """Resistance, taper and rotation, for people."""
    switch: str
    """What the switch below takes in and out; empty where there is none."""

    @property
    def title(self) -> str:
        """What the plate calls its time: 'stitch pause'."""
        return TIME_TITLES[self.name].removesuffix(" time")

    @property
    def many_turns(self) -> bool:
        """True where the scale is a table for a turns-counting knob."""
        return self.rotation_deg > LARGEST_RING_DEG

    def upright_deg(self, angle_deg: float) -> float:
        """Return an angle clockwise from straight up: the scale stands evenly about the plate's upright."""
        return angle_deg - self.rotation_deg / 2

    def point_mm(self, angle_deg: float, radius_mm: float) -> tuple[float, float]:
        """Return (right, down) from the shaft's centre."""
        upright = math.radians(self.upright_deg(angle_deg))
        return radius_mm * math.sin(upright), -radius_mm * math.cos(upright)


def label_width_mm(label: str) -> float:
    """Return the printed width of digits and points."""
    return LABEL_SIZE_MM * sum(POINT_WIDTH if letter == "." else DIGIT_WIDTH for letter in label)


def dial_plate(dial: PanelDial, switch: str = "") -> DialPlate:
    """Return the plate of one dial, with the place of a switch below for what `switch` names."""
    setting = dial.setting
    unit_us, unit = dial.plate_unit
    blank = DialPlate(
        name=dial.name,
        unit=unit,
        rotation_deg=setting.rotation_deg,
        ticks=(),
        setting=_tick(dial, setting.setting_us, unit_us),
        potentiometer=f"{setting.resistance_ohm / 1000:g} kohm, {setting.taper}, {setting.rotation_deg:g} deg",
        switch=switch,
    )
    ticks = _turns_ticks(dial, unit_us) if blank.many_turns else _ring_ticks(blank, dial, unit_us)
    return DialPlate(**{**vars(blank), "ticks": ticks})


def dial_plates(project: Project) -> tuple[DialPlate, ...]:
    """Return the plates of a design's dials, in the order of the panel."""
    below = {one.key: one.title for one in controls_of(project.design) if one.kind is ControlKind.OFF_SWITCH}
    return tuple(dial_plate(dial, below.get(f"{name}_switch", "")) for name, dial in project.dials.items())


def settable_of(dial: PanelDial | None) -> Settable:
    """Return what a hand can set burnback to: the marks of its plate; any time where it has no dial."""
    if dial is None:
        return Settable.fixed()
    plate = dial_plate(dial)
    unit_us, _ = dial.plate_unit
    labelled = [tick for tick in plate.ticks if tick.label]

    def words(tick: Tick) -> str:
        if tick.label:
            return f"mark {tick.label} {plate.unit}"
        below = [other.label for other in labelled if other.time_us < tick.time_us]
        above = [other.label for other in labelled if other.time_us > tick.time_us]
        between = f", the short one between {below[-1]} and {above[0]}" if below and above else ", a short one"
        return f"mark {_text(tick.time_us, unit_us)} {plate.unit}{between}"

    return Settable(tuple(DialMark(tick.time_us / 1e6, words(tick)) for tick in plate.ticks), dial=True)


def _text(time_us: int, unit_us: int) -> str:
    return f"{time_us / unit_us:.12g}"


def _tick(dial: PanelDial, time_us: int, unit_us: int, labelled: bool = True) -> Tick:
    return Tick(dial.angle_deg(time_us), time_us, _text(time_us, unit_us) if labelled else "")


def _ring_ticks(plate: DialPlate, dial: PanelDial, unit_us: int) -> tuple[Tick, ...]:
    low_us, high_us = dial.reach_us
    angle_deg = cache(dial.angle_deg)

    def turned_deg(lower_us: int, upper_us: int) -> float:
        return angle_deg(upper_us) - angle_deg(lower_us)

    def beside(lower_us: int, upper_us: int) -> bool:
        widest_mm = max(label_width_mm(_text(value, unit_us)) for value in (lower_us, upper_us))
        return turned_deg(lower_us, upper_us) >= _clear_deg(widest_mm)

    def apart(lower_us: int, upper_us: int) -> bool:
        return turned_deg(lower_us, upper_us) >= SHORT_TICK_DEG

    def clear(lower_us: int, upper_us: int) -> bool:
        return labels_clear(plate, _tick(dial, lower_us, unit_us), _tick(dial, upper_us, unit_us))

    divide = divided_alike if dial.setting.taper == "linear" else divided
    coarse = divide(whole(high_us), low_us, high_us, beside)
    fine = divide(coarse, low_us, high_us, apart)
    labelled = _with_ends(marks(coarse, low_us, high_us), low_us, high_us, unit_us, clear)
    short = [value for value in marks(fine, low_us, high_us) if value not in labelled]
    ticks = [_tick(dial, value, unit_us) for value in labelled]
    ticks += [_tick(dial, value, unit_us, False) for value in _with_ends_short(short, labelled, apart)]
    return tuple(sorted(ticks, key=lambda tick: tick.angle_deg))


def _clear_deg(width_mm: float) -> float:
    """Angle that keeps two labels of that width clear of each other wherever on the ring they stand."""
    apart_mm = math.hypot(width_mm + LABEL_GAP_MM, LABEL_SIZE_MM + LABEL_GAP_MM)
    return 2 * math.degrees(math.asin(min(apart_mm / 2 / LABEL_RADIUS_MM, 1.0)))


def _with_ends(values: list[int], low_us: int, high_us: int, unit_us: int, beside: Room) -> list[int]:
    """Label both ends where their numbers are short; a round value too close to an end gives way to it."""
    ends = [end_us for end_us in (low_us, high_us) if len(_text(end_us, unit_us)) <= LONGEST_END_LABEL]
    kept = [v for v in values if v in ends or all(beside(*sorted((v, end_us))) for end_us in ends)]
    return sorted({*kept, *ends})


def _with_ends_short(short: list[int], labelled: list[int], apart: Room) -> list[int]:
    return [value for value in short if all(apart(*sorted((value, label_us))) for label_us in labelled)]


def _turns_ticks(dial: PanelDial, unit_us: int) -> tuple[Tick, ...]:
    low_us, high_us = dial.reach_us
    least_deg = dial.setting.rotation_deg / TURNS_ROWS

    def apart(lower_us: int, upper_us: int) -> bool:
        return dial.angle_deg(upper_us) - dial.angle_deg(lower_us) >= least_deg

    values = marks(divided(whole(high_us), low_us, high_us, apart), low_us, high_us)
    inner = [value for value in values if apart(low_us, value) and apart(value, high_us)]
    return tuple(_tick(dial, value, unit_us) for value in sorted({low_us, *inner, high_us}))


def label_box_mm(plate: DialPlate, tick: Tick) -> tuple[float, float, float, float]:
    """Return (left, top, right, bottom) of a tick's label, from the shaft's centre."""
    x, y = plate.point_mm(tick.angle_deg, LABEL_RADIUS_MM)
    half = label_width_mm(tick.label) / 2
    return x - half, y - LABEL_SIZE_MM / 2, x + half, y + LABEL_SIZE_MM / 2


def labels_clear(plate: DialPlate, one: Tick, other: Tick) -> bool:
    """Tell whether the labels of two ticks stand clear of each other."""
    left, top, right, bottom = label_box_mm(plate, one)
    other_left, other_top, other_right, other_bottom = label_box_mm(plate, other)
    across = max(other_left - right, left - other_right)
    along = max(other_top - bottom, top - other_bottom)
    return max(across, along) >= LABEL_GAP_MM


# How a stretch may be divided, by its width's leading digit, the finest way first.
_PARTS = {1: (10, 5, 2), 2: (4, 2), 5: (5,)}

Room = Callable[[int, int], bool]
"""(lower, upper) -> True where marks at both have room beside each other."""


@dataclass(frozen=True)
class Stretch:
    """A piece of a scale; its width is 1, 2 or 5 times a power of ten."""

    start: int
    width: int

    @property
    def end(self) -> int:
        """Its upper end."""
        return self.start + self.width


def whole(high: int) -> tuple[Stretch, ...]:
    """Return the one stretch from 0 to the power of ten that is not below `high`."""
    return (Stretch(0, 10 ** len(str(max(high - 1, 1)))),)


def divided(stretches: Iterable[Stretch], low: int, high: int, room: Room) -> tuple[Stretch, ...]:
    """Return the stretches divided, each for itself, until their marks from `low` to `high` leave no more room."""
    found: list[Stretch] = []
    for stretch in _inside(stretches, low, high):
        parts = next((parts for parts in _ways(stretch) if _fit(parts, low, high, room)), None)
        found += [stretch] if parts is None else divided(parts, low, high, room)
    return tuple(found)


def divided_alike(stretches: Iterable[Stretch], low: int, high: int, room: Room) -> tuple[Stretch, ...]:
    """Return stretches of one width divided all in the same way, for scales that are even."""
    inside = _inside(stretches, low, high)
    for ways in zip(*map(_ways, inside), strict=True):
        if all(_fit(parts, low, high, room) for parts in ways):
            return divided_alike((part for parts in ways for part in parts), low, high, room)
    return tuple(inside)


def marks(stretches: Iterable[Stretch], low: int, high: int) -> list[int]:
    """Return the ends of the stretches between `low` and `high`, rising."""
    ends = {end for stretch in stretches for end in (stretch.start, stretch.end)}
    return sorted(end for end in ends if low <= end <= high)


def _inside(stretches: Iterable[Stretch], low: int, high: int) -> list[Stretch]:
    return [stretch for stretch in stretches if stretch.end > low and stretch.start < high]


def _ways(stretch: Stretch) -> list[list[Stretch]]:
    """The ways to divide a stretch, the finest first."""
    counts = [count for count in _PARTS[int(str(stretch.width)[0])] if stretch.width % count == 0]
    steps = [stretch.width // count for count in counts]
    return [
        [Stretch(stretch.start + step * number, step) for number in range(count)]
        for count, step in zip(counts, steps, strict=True)
    ]


def _fit(parts: list[Stretch], low: int, high: int, room: Room) -> bool:
    shown = marks(parts, low, high)
    return all(room(lower, upper) for lower, upper in pairwise(shown))


PLATE_HEIGHT_MM, SWITCH_HEIGHT_MM = 72.0, 24.0
SHAFT_MM = (30.0, 36.0)
"""Drilling centre of the potentiometer, from the plate's upper left corner."""
SWITCH_MM = (30.0, 80.0)
"""Drilling centre of the switch, where there is one."""
SHAFT_HOLES_MM = (7.0, 10.0)
"""For the usual bushes of potentiometers: M7 of a small one, 3/8 in of a large one (practice)."""
LONG_TICK_MM, SHORT_TICK_MM = 3.0, 1.6
ARC_STEP_DEG = 2.0


def plate_height_mm(plate: DialPlate) -> float:
    """Return the height of a plate, the switch included."""
    return PLATE_HEIGHT_MM + (SWITCH_HEIGHT_MM if plate.switch else 0.0)


def plate_shapes(plate: DialPlate) -> list[Shape]:
    """Return the plate with its outline, from its upper left corner."""
    shapes = [
        *plate_outline(PLATE_WIDTH_MM, plate_height_mm(plate)),
        Text(PLATE_WIDTH_MM / 2, TITLE_MM, plate.title, TITLE_SIZE_MM, "middle", bold=True),
        *drill_marks(*SHAFT_MM, SHAFT_HOLES_MM),
        *(_turns(plate) if plate.many_turns else _ring(plate)),
    ]
    return [*shapes, *(_switch(plate) if plate.switch else [])]


def _ring(plate: DialPlate) -> list[Shape]:
    centre_x, centre_y = SHAFT_MM
    shapes: list[Shape] = []
    for tick in plate.ticks:
        shapes += _drawn_tick(plate, tick)
    first, last = plate.ticks[0].angle_deg, plate.ticks[-1].angle_deg
    steps = max(round((last - first) / ARC_STEP_DEG), 1)
    arc = [plate.point_mm(first + (last - first) * step / steps, TICK_RADIUS_MM) for step in range(steps + 1)]
    shapes += polyline(arc, 0.25)
    shapes.append(_setting_mark(plate))
    shapes = [shape.moved(centre_x, centre_y) for shape in shapes]
    shapes.append(Text(centre_x, centre_y + 14.6, plate.unit, 3.2, "middle", bold=True))
    return [*shapes, *_foot(plate, f"mark: {_written(plate.setting, plate)}")]


def _drawn_tick(plate: DialPlate, tick: Tick) -> list[Shape]:
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
        Text(
            middle,
            PLATE_HEIGHT_MM - 1.8,
            f"{plate.potentiometer}; {holes_text(SHAFT_HOLES_MM)}",
            SMALL_SIZE_MM,
            "middle",
            colour=FRAME,
        ),
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


def _switch(plate: DialPlate) -> Iterator[Shape]:
    x, y = SWITCH_MM
    yield from drill_marks(x, y, SWITCH_HOLES_MM)
    on = "on" if plate.switch == plate.name else f"{plate.switch} on"
    for label, middle in ((on, y - PITCH_MM / 2), ("off", y + PITCH_MM / 2)):
        yield lever_tick(SWITCH_MM, (x + WORDS_MM - 2.0, middle), label)
        yield Text(x + WORDS_MM, middle + WORD_SIZE_MM * CAP_HEIGHT / 2, label, WORD_SIZE_MM, bold=True)
    foot = PLATE_HEIGHT_MM + SWITCH_HEIGHT_MM - 1.8
    yield Text(PLATE_WIDTH_MM / 2, foot, holes_text(SWITCH_HOLES_MM), SMALL_SIZE_MM, "middle", colour=FRAME)
