"""Symbols of parts, after IEC 60617 where it has one, each with its terminals marked."""

from __future__ import annotations

import math
from collections.abc import Callable

import drawsvg as draw

from codegen.drawings.sheet import LETTER, LINE_FEED, SMALL, SYMBOL_WIDTH, WIRE_WIDTH, Point, Sheet
from codegen.style import INK
from timing.circuit.parts import Part, PartKind

Body = Callable[[draw.Group], None]
_CIRCLE_AS_CURVES = 0.5522847
"""Distance of a control point over the radius, for a quarter of a circle as a cubic curve: 4/3 (sqrt 2 - 1) (exact)."""


def _line(
    group: draw.Group, *flat: float, close: bool = False, fill: str = "none", width: float = SYMBOL_WIDTH
) -> None:
    group.append(draw.Lines(*flat, close=close, fill=fill, stroke=INK, stroke_width=width))


def _box(group: draw.Group, half_long: float, half_wide: float) -> None:
    _line(group, -half_long, -half_wide, half_long, -half_wide, half_long, half_wide, -half_long, half_wide, close=True)


def _resistor(group: draw.Group) -> None:
    _box(group, 3.2, 1.2)


def _varistor(group: draw.Group) -> None:
    _box(group, 3.2, 1.2)
    _line(group, -3.6, 2.4, -2.2, 2.4, 2.6, -2.2)


def _fuse(group: draw.Group) -> None:
    _box(group, 3.6, 1.3)
    _line(group, -3.6, 0, 3.6, 0, width=WIRE_WIDTH)


def _capacitor(group: draw.Group) -> None:
    _line(group, -0.6, -2.1, -0.6, 2.1)
    _line(group, 0.6, -2.1, 0.6, 2.1)


def _electrolytic(group: draw.Group) -> None:
    _capacitor(group)
    _line(group, -2.8, -1.6, -1.4, -1.6, width=0.3)
    _line(group, -2.1, -2.3, -2.1, -0.9, width=0.3)


def _diode(group: draw.Group) -> None:
    _line(group, -1.4, -1.6, -1.4, 1.6, 1.4, 0, close=True)
    _line(group, 1.4, -1.6, 1.4, 1.6)


def _zener(group: draw.Group) -> None:
    _line(group, -1.4, -1.6, -1.4, 1.6, 1.4, 0, close=True)
    _line(group, 0.6, -1.6, 1.4, -1.6, 1.4, 1.6, 2.2, 1.6)


def _led(group: draw.Group) -> None:
    _diode(group)
    for shift in (-0.6, 1.0):
        _line(group, shift, -2.0, shift + 1.3, -3.3, width=0.3)
        _line(group, shift + 0.6, -3.2, shift + 1.3, -3.3, shift + 1.2, -2.6, width=0.3)


def _contact(group: draw.Group) -> None:
    _line(group, -3.0, 0, 2.6, -2.2)


def _button(group: draw.Group) -> None:
    _contact(group)
    _line(group, 0, -1.2, 0, -3.2, width=0.3)
    _line(group, -1.2, -3.2, 1.2, -3.2)


def _ring(group: draw.Group, x: float, radius: float) -> None:
    """Draw a circle on the axis as four curves.

    Of a circle the typesetter works out the curves itself, and where one ends at 0 each system comes out at a little
    something else: the paper would not be the same on each, byte for byte.
    """
    near = radius * _CIRCLE_AS_CURVES
    ring = draw.Path(fill="white", stroke=INK, stroke_width=0.3)
    ring.M(x + radius, 0)
    ring.C(x + radius, near, x + near, radius, x, radius).C(x - near, radius, x - radius, near, x - radius, 0)
    ring.C(x - radius, -near, x - near, -radius, x, -radius).C(x + near, -radius, x + radius, -near, x + radius, 0)
    group.append(ring.Z())


def _jumper(group: draw.Group) -> None:
    _ring(group, -2, 0.6)
    _ring(group, 2, 0.6)
    group.append(
        draw.Arc(0, 0, 2, 20, 160, fill="none", stroke=INK, stroke_width=SYMBOL_WIDTH, stroke_dasharray="0.8 0.6")
    )


def _battery(group: draw.Group) -> None:
    """Two cells, plus at the first terminal."""
    for x in (-1.5, 0.9):
        _line(group, x, -2.1, x, 2.1)
    for x in (-0.7, 1.7):
        _line(group, x, -1.0, x, 1.0, width=0.7)
    _line(group, -2.9, -1.4, -1.9, -1.4, width=0.3)
    _line(group, -2.4, -1.9, -2.4, -0.9, width=0.3)


def _reed(group: draw.Group) -> None:
    _line(group, -3.0, 0, 0.6, -0.9)
    _line(group, 3.0, 0, -0.6, 0)
    _line(group, -2.4, -1.5, 2.4, -1.5, 2.4, 1.5, -2.4, 1.5, close=True, width=0.25)


BODIES: dict[PartKind, tuple[Body, float]] = {
    PartKind.RESISTOR: (_resistor, 3.2),
    PartKind.VARISTOR: (_varistor, 3.2),
    PartKind.FUSE: (_fuse, 3.6),
    PartKind.CAPACITOR: (_capacitor, 0.6),
    PartKind.ELECTROLYTIC: (_electrolytic, 0.6),
    PartKind.DIODE: (_diode, 1.4),
    PartKind.ZENER: (_zener, 1.4),
    PartKind.LAMP: (_led, 1.4),
    PartKind.SWITCH: (_contact, 3.0),
    PartKind.DRY_CONTACT: (_contact, 3.0),
    PartKind.PUSH_BUTTON: (_button, 3.0),
    PartKind.FEEDER_CONTACT: (_contact, 3.0),
    PartKind.BATTERY: (_battery, 1.7),
    PartKind.REED: (_reed, 3.0),
    PartKind.JUMPER: (_jumper, 2.6),
    PartKind.WIRE_LINK: (_jumper, 2.6),
}
"""Parts with two terminals: body along its axis from the first terminal to the second, and its half length in mm."""


def two(sheet: Sheet, ref: str, first_net: str, at: Point, to: Point, label: str = "") -> None:
    """Draw a part with two terminals between two points; the one on `first_net` comes at `at`.

    label: where its ref and value stand: above, below, right, left, none; left out: above a lying part and to the
    right of an upright one.
    """
    part = sheet.wiring.part(ref)
    names = part.terminals if sheet.net(ref, part.terminals[0]) == first_net else part.terminals[::-1]
    body, half = BODIES[part.kind]
    start, end = (at, to) if names == part.terminals else (to, at)
    middle = ((at[0] + to[0]) / 2, (at[1] + to[1]) / 2)
    turned = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0]))
    length = math.dist(start, end)
    group = draw.Group(transform=f"translate({middle[0]:g} {middle[1]:g}) rotate({turned:g})", data_part=ref)
    for sign in (-1, 1):
        _line(group, sign * length / 2, 0, sign * half, 0, width=WIRE_WIDTH)
    body(group)
    sheet.canvas.append(group)
    for name, point in zip(names, (at, to), strict=True):
        sheet.terminal(ref, name, point)
    lying = abs(at[1] - to[1]) < 0.01
    if label != "none":
        named(sheet, part, middle, label or ("above" if lying else "right"))


def named(sheet: Sheet, part: Part, middle: Point, label: str, off: float = 3.2) -> None:
    """Write a part's ref and value beside it."""
    x, y = middle
    if label in ("above", "below"):
        text = f"{part.ref} {part.value}".strip()
        sheet.text((x, y - off + 0.4 if label == "above" else y + off + 1.4), text, SMALL, "middle")
        return
    anchor = "start" if label == "right" else "end"
    texts = [text for text in (part.ref, part.value) if text]
    sheet.lines(
        (x + (off if label == "right" else -off), y + 0.9 - (len(texts) - 1) * LINE_FEED * SMALL / 2),
        texts,
        SMALL,
        anchor,
    )


def part_box(
    sheet: Sheet, ref: str, corners: tuple[float, float, float, float], places: dict[str, Point], title: str = ""
) -> None:
    """Draw a part as a box with named terminals on its edges; its ref and `title` stand inside or above."""
    left, top, right, bottom = corners
    sheet.box(*corners)
    sheet.text(((left + right) / 2, top - 1.2), title or ref, SMALL, "middle")
    for name, (x, y) in places.items():
        sheet.terminal(ref, name, (x, y))
        if x <= left:
            _lead(sheet, (x, y), (left, y))
            sheet.text((left + 1, y + 0.8), name, SMALL)
        elif x >= right:
            _lead(sheet, (x, y), (right, y))
            sheet.text((right - 1, y + 0.8), name, SMALL, "end")
        elif y >= bottom:
            _lead(sheet, (x, y), (x, bottom))
            sheet.text((x, bottom - 1), name, SMALL, "middle")
        else:
            _lead(sheet, (x, y), (x, top))
            sheet.text((x, top + 2.8), name, SMALL, "middle")


def _lead(sheet: Sheet, at: Point, to: Point) -> None:
    if at != to:
        sheet.line(at, to, width=WIRE_WIDTH)


def way(sheet: Sheet, socket: str, plug: str, name: str, at: Point, fixed_left: bool) -> None:
    """Draw one way of the connector, plug in socket, 8 mm wide about `at`; its name stands on the socket's side."""
    x, y = at
    sides = (socket, plug) if fixed_left else (plug, socket)
    for ref, sign in zip(sides, (-1, 1), strict=True):
        if name not in sheet.wiring.part(ref).terminals:
            continue
        fixed = ref == socket
        tip = x - 0.6 if fixed == fixed_left else x + 0.6
        sheet.line((x + sign * 4, y), (x + sign * 1.6, y), width=WIRE_WIDTH)
        # The socket is drawn as an open arrow, the plug as the one that sits in it.
        sheet.line((x + sign * 1.6 - 1, y - 1.3), (tip + 0.9, y), (x + sign * 1.6 - 1, y + 1.3))
        sheet.terminal(ref, name, (x + sign * 4, y))
    side = -1 if fixed_left else 1
    sheet.text((x + side * 2.6, y - 1.2), name, SMALL, "end" if fixed_left else "start")


def mosfet(sheet: Sheet, ref: str, at: Point) -> dict[str, Point]:
    """Draw an N-channel MOSFET; `at` is its gate; returns the places of G, D and S."""
    x, y = at
    places = {"G": at, "D": (x + 7, y - 5), "S": (x + 7, y + 5)}
    sheet.line((x, y), (x + 3.2, y), width=WIRE_WIDTH)
    sheet.line((x + 3.2, y - 2.6), (x + 3.2, y + 2.6))
    for shift in (-2.2, 0, 2.2):
        sheet.line((x + 4, y + shift - 0.8), (x + 4, y + shift + 0.8))
    sheet.line((x + 4, y - 2.2), (x + 7, y - 2.2), (x + 7, y - 5))
    sheet.line((x + 4, y + 2.2), (x + 7, y + 2.2), (x + 7, y + 5))
    sheet.line((x + 4, y), (x + 7, y), (x + 7, y + 2.2))
    sheet.line((x + 5.6, y - 0.8), (x + 4.2, y), (x + 5.6, y + 0.8))
    for name, place in places.items():
        sheet.terminal(ref, name, place)
    part = sheet.wiring.part(ref)
    sheet.lines((x + 8.6, y + 1.2), [part.ref, part.value], SMALL)
    return places


def npn(sheet: Sheet, ref: str, at: Point) -> dict[str, Point]:
    """Draw an NPN transistor; `at` is its base; returns the places of B, C and E."""
    x, y = at
    places = {"B": at, "C": (x + 7, y - 5), "E": (x + 7, y + 5)}
    sheet.line((x, y), (x + 4, y), width=WIRE_WIDTH)
    sheet.line((x + 4, y - 2.6), (x + 4, y + 2.6))
    sheet.line((x + 4, y - 1), (x + 7, y - 3), (x + 7, y - 5), width=WIRE_WIDTH)
    sheet.line((x + 4, y + 1), (x + 7, y + 3), (x + 7, y + 5), width=WIRE_WIDTH)
    sheet.line((x + 6.4, y + 1.7), (x + 6.6, y + 2.8), (x + 5.3, y + 2.7), width=0.3)
    for name, place in places.items():
        sheet.terminal(ref, name, place)
    part = sheet.wiring.part(ref)
    sheet.lines((x + 8.6, y + 0.4), [part.ref, part.value], SMALL)
    return places


def triac(sheet: Sheet, ref: str, top: Point, bottom: Point) -> Point:
    """Draw an upright triac between MT2 above and MT1 below; returns the place of its gate, to the left."""
    x, middle = top[0], (top[1] + bottom[1]) / 2
    gate = (x - 6, middle + 4)
    sheet.line(top, (x, middle - 1.6), width=WIRE_WIDTH)
    sheet.line(bottom, (x, middle + 1.6), width=WIRE_WIDTH)
    sheet.line((x - 2.6, middle - 1.6), (x + 2.6, middle - 1.6))
    sheet.line((x - 2.6, middle + 1.6), (x + 2.6, middle + 1.6))
    sheet.line((x - 2.6, middle - 1.6), (x - 1.3, middle + 1.6), (x, middle - 1.6))
    sheet.line((x, middle + 1.6), (x + 1.3, middle - 1.6), (x + 2.6, middle + 1.6))
    sheet.line((x - 1.3, middle + 1.6), (x - 3, middle + 4), gate)
    for name, place in (("MT2", top), ("MT1", bottom), ("G", gate)):
        sheet.terminal(ref, name, place)
    part = sheet.wiring.part(ref)
    sheet.lines((x - 3.6, middle - 3), [part.ref, part.value], SMALL, "end")
    return gate


def thyristor(sheet: Sheet, ref: str, top: Point, bottom: Point) -> Point:
    """Draw an upright thyristor, anode above; returns the place of its gate, to the left."""
    x, middle = top[0], (top[1] + bottom[1]) / 2
    gate = (x - 6, middle + 4)
    sheet.line(top, (x, middle - 1.6), width=WIRE_WIDTH)
    sheet.line(bottom, (x, middle + 1.6), width=WIRE_WIDTH)
    sheet.line((x - 1.8, middle - 1.6), (x + 1.8, middle - 1.6), (x, middle + 1.6), (x - 1.8, middle - 1.6))
    sheet.line((x - 1.8, middle + 1.6), (x + 1.8, middle + 1.6))
    sheet.line((x - 0.6, middle + 1.6), (x - 3, middle + 4), gate)
    for name, place in (("A", top), ("K", bottom), ("G", gate)):
        sheet.terminal(ref, name, place)
    part = sheet.wiring.part(ref)
    sheet.lines((x + 3.2, middle - 0.2), [part.ref, part.value], SMALL)
    return gate


RELAY_HALF = 3.1
"""Half the height of a relay's coil, which has its ref and voltage in it."""


def relay_coil(sheet: Sheet, ref: str, top: Point, bottom: Point) -> None:
    """Draw an upright relay coil from A1 above to A2 below."""
    x, middle = top[0], (top[1] + bottom[1]) / 2
    sheet.line(top, (x, middle - RELAY_HALF), width=WIRE_WIDTH)
    sheet.line(bottom, (x, middle + RELAY_HALF), width=WIRE_WIDTH)
    sheet.box(x - 4.5, middle - RELAY_HALF, x + 4.5, middle + RELAY_HALF)
    sheet.terminal(ref, "A1", top)
    sheet.terminal(ref, "A2", bottom)
    sheet.text((x + 0.8, middle - RELAY_HALF - 0.9), "A1", SMALL)
    sheet.text((x + 0.8, middle + RELAY_HALF + 2.5), "A2", SMALL)
    part = sheet.wiring.part(ref)
    sheet.lines((x, middle - 0.7), [part.ref, part.value], SMALL, "middle")


def relay_contact(sheet: Sheet, ref: str, top: Point, bottom: Point) -> None:
    """Draw an upright normally open contact from 11 above to 14 below."""
    x, middle = top[0], (top[1] + bottom[1]) / 2
    sheet.line(top, (x, middle - 2.6), width=WIRE_WIDTH)
    sheet.line((x, middle - 2.6), (x - 2.2, middle + 2.4))
    sheet.line((x, middle + 2.6), bottom, width=WIRE_WIDTH)
    sheet.terminal(ref, "11", top)
    sheet.terminal(ref, "14", bottom)
    sheet.text((x + 0.8, top[1] + 3.4), "11", SMALL)
    sheet.text((x + 0.8, bottom[1] - 1.4), "14", SMALL)
    sheet.text((x + 1.6, middle + 0.8), ref, SMALL)


def coupler(
    sheet: Sheet, ref: str, left: float, right: float, top: float, bottom: float, outs: tuple[str, str]
) -> None:
    """Draw a coupler: LED between A and K on the left, what it switches between `outs` on the right.

    A and the first of `outs` lie at `top`, K and the other at `bottom`.
    """
    part = sheet.wiring.part(ref)
    places = {"A": (left - 2, top), "K": (left - 2, bottom), outs[0]: (right + 2, top), outs[1]: (right + 2, bottom)}
    sheet.box(left, top - 3, right, bottom + 3)
    middle, at = (top + bottom) / 2, left + 6.5
    group = draw.Group(transform=f"translate({at:g} {middle:g}) rotate(90)")
    _diode(group)
    sheet.canvas.append(group)
    if part.kind is PartKind.AC_INPUT_COUPLER:
        other = draw.Group(transform=f"translate({at + 4:g} {middle:g}) rotate(-90)")
        _diode(other)
        sheet.canvas.append(other)
        sheet.line((at, middle - 2.6), (at + 4, middle - 2.6), (at + 4, middle - 1.4), width=WIRE_WIDTH)
        sheet.line((at, middle + 2.6), (at + 4, middle + 2.6), (at + 4, middle + 1.4), width=WIRE_WIDTH)
    for y, edge in ((top, -1.4), (bottom, 1.4)):
        sheet.line((left - 2, y), (at, y), (at, middle + edge), width=WIRE_WIDTH)
    shift = right - 9
    for lift in (-1.0, 0.8):
        sheet.line((shift - 3.4, middle + lift), (shift - 1, middle + lift), width=0.3)
        sheet.line(
            (shift - 1.8, middle + lift - 0.5),
            (shift - 1, middle + lift),
            (shift - 1.8, middle + lift + 0.5),
            width=0.3,
        )
    _switched(sheet, part.kind, right - 4.5, middle)
    for y, edge in ((top, -2.6), (bottom, 2.6)):
        sheet.line((right + 2, y), (right - 4.5, y), (right - 4.5, middle + edge), width=WIRE_WIDTH)
    for name, place in places.items():
        sheet.terminal(ref, name, place)
        inward = 1 if place[0] < left else -1
        edge_x = left if inward == 1 else right
        sheet.text((edge_x + inward * 0.8, place[1] - 0.7), name, SMALL, "start" if inward == 1 else "end")
    sheet.text(((left + right) / 2, top - 4.2), f"{part.ref} {part.value}".strip(), SMALL, "middle")


def _switched(sheet: Sheet, kind: PartKind, x: float, middle: float) -> None:
    if kind in (PartKind.COUPLER, PartKind.AC_INPUT_COUPLER):
        sheet.line((x - 2.6, middle - 1.8), (x - 2.6, middle + 1.8))
        sheet.line((x - 2.6, middle - 0.7), (x, middle - 2.6))
        sheet.line((x - 2.6, middle + 0.7), (x, middle + 2.6))
        sheet.line((x - 1.6, middle + 2.2), (x - 0.2, middle + 2.45), (x - 0.9, middle + 1.2), width=0.3)
    elif kind is PartKind.OPTO_TRIAC:
        sheet.line((x, middle - 2.6), (x, middle - 1.2), width=WIRE_WIDTH)
        sheet.line((x, middle + 2.6), (x, middle + 1.2), width=WIRE_WIDTH)
        sheet.line((x - 2, middle - 1.2), (x + 2, middle - 1.2))
        sheet.line((x - 2, middle + 1.2), (x + 2, middle + 1.2))
        sheet.line((x - 2, middle - 1.2), (x - 1, middle + 1.2), (x, middle - 1.2))
        sheet.line((x, middle + 1.2), (x + 1, middle - 1.2), (x + 2, middle + 1.2))
    else:
        sheet.line((x, middle - 2.6), (x - 1.8, middle + 2.2))


def potentiometer(sheet: Sheet, ref: str, low: Point, high: Point, wiper: Point) -> None:
    """Draw a lying potentiometer: 1 at `low`, 3 at `high`, the wiper 2 below at `wiper`."""
    y, middle = low[1], (low[0] + high[0]) / 2
    sheet.line(low, (middle - 4, y), width=WIRE_WIDTH)
    sheet.line(high, (middle + 4, y), width=WIRE_WIDTH)
    sheet.box(middle - 4, y - 1.4, middle + 4, y + 1.4)
    sheet.line(wiper, (middle, y + 1.6), width=WIRE_WIDTH)
    sheet.line((middle - 0.8, y + 3), (middle, y + 1.5), (middle + 0.8, y + 3))
    for name, place in (("1", low), ("3", high), ("2", wiper)):
        sheet.terminal(ref, name, place)
    sheet.text((low[0] + 0.6, y - 0.8), "1", SMALL)
    sheet.text((high[0] - 0.6, y - 0.8), "3", SMALL, "end")
    sheet.text((middle + 1.2, wiper[1] - 0.7), "2", SMALL)


def source(sheet: Sheet, at: Point, ac: bool) -> None:
    """Draw a source of voltage: a circle with a wave, or with the two lines of dc."""
    x, y = at
    sheet.canvas.append(draw.Circle(x, y, 2.8, fill="white", stroke=INK, stroke_width=SYMBOL_WIDTH))
    if ac:
        wave = draw.Path(fill="none", stroke=INK, stroke_width=0.3).M(x - 1.6, y)
        sheet.canvas.append(wave.Q(x - 0.8, y - 1.8, x, y).Q(x + 0.8, y + 1.8, x + 1.6, y))
        return
    sheet.line((x - 1.5, y - 0.5), (x + 1.5, y - 0.5), width=0.3)
    sheet.line((x - 1.5, y + 0.6), (x + 1.5, y + 0.6), width=0.3, dash="0.7 0.4")


def earth(sheet: Sheet, ref: str, at: Point, text: str) -> None:
    """Draw a chassis sign below its terminal."""
    x, y = at
    sheet.line(at, (x, y + 2), width=WIRE_WIDTH)
    sheet.line((x - 2.4, y + 2), (x + 2.4, y + 2))
    for shift in (-2.4, 0, 2.4):
        sheet.line((x + shift, y + 2), (x + shift - 1, y + 3.6))
    sheet.terminal(ref, "1", at)
    sheet.text((x + 3.4, y + 3.2), f"{ref} {text}", SMALL)


def transformer(sheet: Sheet, ref: str, top: Point, bottom: Point) -> None:
    """Draw the control transformer, its secondary from A above to B below; the mains side is not ours."""
    x, middle = top[0] - 4, (top[1] + bottom[1]) / 2
    sheet.line(top, (x, top[1]), (x, middle - 6), width=WIRE_WIDTH)
    sheet.line(bottom, (x, bottom[1]), (x, middle + 6), width=WIRE_WIDTH)
    for index in range(4):
        y = middle - 4.5 + 3 * index
        sheet.canvas.append(draw.Arc(x, y, 1.5, 90, 270, fill="none", stroke=INK, stroke_width=SYMBOL_WIDTH))
        sheet.canvas.append(draw.Arc(x - 5, y, 1.5, 270, 90, fill="none", stroke=INK, stroke_width=SYMBOL_WIDTH))
    sheet.line((x - 2.5, middle - 6.5), (x - 2.5, middle + 6.5), width=0.6)
    part = sheet.wiring.part(ref)
    for name, place in (("A", top), ("B", bottom)):
        sheet.terminal(ref, name, place)
        sheet.text((place[0] - 0.6, place[1] - 1), name, SMALL, "end")
    sheet.lines((x + 3, middle - 0.6), [part.ref, part.value], LETTER)
