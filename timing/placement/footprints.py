"""How many holes each kind of part takes on a 2.54 mm grid: its pins, its body, and how it may be turned.

All of it is assumed (practice): parts of one kind differ from make to make. The paper prints what was assumed, so that
a part can be held against it before anything is cut.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from timing.circuit.parts import Part, PartKind
from timing.errors import WirecueError

PITCH_MM = 2.54
"""From hole to hole (exact: a tenth of an inch)."""

Offset = tuple[int, int]
"""Holes down and to the right of the first pin."""


class FootprintError(WirecueError):
    """A part that no hole pattern is known for."""

    exit_code = 1

    def __init__(self, part: Part, why: str) -> None:
        super().__init__(part.ref, why)
        self.part, self.why = part, why

    def __str__(self) -> str:
        return (
            f"{self.part.ref} ({self.part.kind.value} {self.part.value}) has no place on the board: {self.why}\n"
            '  do       build the loose way with ready-made modules, `circuits.build = "modules"`'
        )


@dataclass(frozen=True)
class HolePattern:
    """Pins and body of a part as it stands unturned. Rows count downwards, columns to the right."""

    name: str
    """Also what was assumed, in words."""
    pins: Mapping[str, Offset]
    """By terminal, from the first pin."""
    body: tuple[int, int, int, int]
    """First and last row, first and last column of what the body covers, from the first pin; pins included."""
    turns: tuple[int, ...] = (0, 90, 180, 270)
    """Quarter turns, clockwise as seen from the component side, in degrees."""
    height_mm: float = 4.0
    hot: bool = False
    """True where a row of holes round the body stays free for air."""

    def turned(self, turn: int) -> tuple[dict[str, Offset], tuple[int, int, int, int]]:
        """Return pins and body after a turn (degrees, a multiple of 90)."""
        pins = {name: rotated(at, turn) for name, at in self.pins.items()}
        top, bottom, left, right = self.body
        corners = [rotated((row, column), turn) for row in (top, bottom) for column in (left, right)]
        rows, columns = [row for row, _ in corners], [column for _, column in corners]
        return pins, (min(rows), max(rows), min(columns), max(columns))


def rotated(at: Offset, turn: int) -> Offset:
    """Return an offset after a clockwise turn in degrees."""
    row, column = at
    for _ in range(turn // 90 % 4):
        row, column = column, -row
    return row, column


AXIAL_STRETCH = 3
"""By how many holes the leads of an axial part may stand further apart than its body asks (choice)."""
HOT_FROM_W = 0.5
"""A resistor rated above this gets air round it (choice)."""
RESISTOR_SPANS = ((0.25, 4, 0), (0.5, 5, 0), (1.0, 6, 0), (2.0, 8, 0), (3.0, 9, 1), (5.0, 11, 1), (10.0, 20, 2))
"""Rating in W, holes from lead to lead, holes that the body reaches to either side (practice)."""
CAN_SIZES = ((3e-3, 2, 1), (25e-3, 2, 2), (80e-3, 3, 3), (160e-3, 4, 4), (350e-3, 4, 5), (800e-3, 4, 7))
"""Most farad times volt, holes from lead to lead, radius in holes of electrolytics (practice)."""
FILM_FROM_V = 160.0
"""From this rating on a small capacitor is a film one with leads 15 mm apart (practice)."""

_RECORDERS = "on the recorder's board, which is small enough to be laid out by hand"
_OF_ITS_OWN = "a board of its own in the box, wired by its terminals"
OFF_BOARD = {
    PartKind.BOARD: "stands beside the strip board, joined pin by pin",
    PartKind.DC_RELAY: "screwed to the metal of the box, with terminals of its own",
    PartKind.EARTH: "solder tag at the metal box",
    PartKind.LAMP: "front panel",
    PartKind.SOCKET: "fixed to the feeder",
    PartKind.PLUG: "on the add-on's cable",
    PartKind.FEEDER_CONTACT: "in the feeder",
    PartKind.FEEDER_CONTROL: "in the feeder",
    PartKind.FEEDER_RELAY: "in the feeder",
    PartKind.FEEDER_SUPPLY: "in the feeder",
    PartKind.INTERPOSING_CONTACTOR: "in the feeder",
    PartKind.FEEDER_COIL: "in the feeder",
    PartKind.FEEDER_VALVE: "in the feeder",
    PartKind.FEEDER_TRIGGER: "in the feeder",
    PartKind.POTENTIOMETER: "front panel",
    PartKind.SWITCH: "front panel",
    PartKind.SELECTOR: "front panel",
    PartKind.PUSH_BUTTON: "front panel",
    PartKind.DRY_CONTACT: "where it belongs",
    PartKind.TRANSFORMER: "in the feeder",
    PartKind.SECOND_TRANSFORMER: "screwed to the box",
    PartKind.RELAY_MODULE: _OF_ITS_OWN,
    PartKind.SOLID_STATE_MODULE: _OF_ITS_OWN,
    PartKind.INPUT_MODULE: _OF_ITS_OWN,
    PartKind.REGULATOR_MODULE: _OF_ITS_OWN,
    PartKind.TEST_LEADS: "outside the recorder's box",
    PartKind.REED: "at the welding cable",
    PartKind.REFLEX_SENSOR: "at the disc or the flag",
    PartKind.BATTERY: "in a clip of its own in the recorder's box",
    PartKind.PHOTO_RELAY: _RECORDERS,
    PartKind.TRANSISTOR: _RECORDERS,
    PartKind.TERMINAL_BLOCK: _RECORDERS,
}
"""Kinds that stand elsewhere: their wires land on the board."""


def patterns_of(part: Part) -> tuple[HolePattern, ...]:
    """Return the hole patterns that a part may have, the shortest first. Raises FootprintError."""
    make = ON_BOARD.get(part.kind)
    if make is None:
        raise FootprintError(part, f"no hole pattern is known for a {part.kind.value}")
    return make(part)


def _axial(part: Part, span: int, half: int = 0, hot: bool = False, height_mm: float = 4.0) -> tuple[HolePattern, ...]:
    first, second = part.terminals
    return tuple(
        HolePattern(
            f"lying, {long} holes from lead to lead", {first: (0, 0), second: (long, 0)}, (0, long, -half, half),
            height_mm=height_mm, hot=hot,
        )
        for long in range(span, span + AXIAL_STRETCH + 1)
    )  # fmt: skip


def _figure(part: Part, unit: str) -> float:
    """The last figure with a unit in a part's description."""
    found = re.findall(rf"([0-9.]+) {unit}\b", part.description)
    if not found:
        raise FootprintError(part, f"its description, {part.description!r}, gives no figure in {unit}")
    return float(found[-1])


def _resistor(part: Part) -> tuple[HolePattern, ...]:
    watts = _figure(part, "W")
    for rating, span, half in RESISTOR_SPANS:
        if watts <= rating:
            return _axial(part, span, half, watts > HOT_FROM_W, 4.0 if watts <= 1 else 10.0)
    raise FootprintError(part, f"a resistor of {watts:g} W belongs on the metal of the box")


def _capacitor(part: Part) -> tuple[HolePattern, ...]:
    if _figure(part, "V") >= FILM_FROM_V:
        return (_two(part, "film capacitor, leads 15 mm apart", 6, (-1, 7), 1, 12.0),)
    return (_two(part, "capacitor, leads 5 mm apart", 2, (0, 2), 0, 7.0),)


def _two(part: Part, name: str, span: int, long: tuple[int, int], half: int, height_mm: float) -> HolePattern:
    first, second = part.terminals
    return HolePattern(name, {first: (0, 0), second: (span, 0)}, (*long, -half, half), height_mm=height_mm)


_FARADS = {"F": 1.0, "mF": 1e-3, "uF": 1e-6, "nF": 1e-9}


def _electrolytic(part: Part) -> tuple[HolePattern, ...]:
    for unit in ("uF", "mF", "F"):
        if f" {unit}" in f" {part.value}":
            farad = float(part.value.split()[0]) * _FARADS[unit]
            break
    else:
        raise FootprintError(part, f"its value, {part.value!r}, is no capacitance in uF or mF")
    volts = float((re.findall(r"([0-9.]+) V\b", part.description) or ["0"])[0])
    for most, span, radius in CAN_SIZES:
        if farad * volts <= most:
            beyond = radius - span // 2
            name = f"upright can, up to {(2 * radius + 1) * PITCH_MM:.0f} mm across, leads {span * 2.5:g} mm apart"
            return (_two(part, name, span, (-beyond, span + beyond), radius, 40.0 if radius > 2 else 15.0),)
    raise FootprintError(part, "a capacitor of that size is held by a clamp beside the board")


def _diode(part: Part) -> tuple[HolePattern, ...]:
    return _axial(part, 6 if "100 A surge" in part.description else 4)


def _varistor(part: Part) -> tuple[HolePattern, ...]:
    return (_two(part, "disc of up to 12 mm, leads 7.5 mm apart", 3, (-1, 4), 0, 14.0),)


def _fixed(
    name: str, pins: Mapping[str, Offset], body: tuple[int, int, int, int], height_mm: float, *, hot: bool = False,
    turns: tuple[int, ...] = (0, 90, 180, 270),
) -> Callable[[Part], tuple[HolePattern, ...]]:  # fmt: skip
    def made(part: Part) -> tuple[HolePattern, ...]:
        if set(part.terminals) != set(pins):
            raise FootprintError(part, f"a {name} with the terminals {', '.join(part.terminals)} is not known")
        return (HolePattern(name, pins, body, turns, height_mm, hot),)

    return made


def _dip(name: str, left: tuple[str, ...], right: tuple[str, ...], pitch: int = 1) -> HolePattern:
    """Pins downwards at the left, and at the right 7.62 mm away; an empty name is a pin that stays unused."""
    pins = {name: (row * pitch, 0) for row, name in enumerate(left) if name}
    pins |= {name: (row * pitch, 3) for row, name in enumerate(right) if name}
    return HolePattern(name, pins, (0, (len(left) - 1) * pitch, 0, 3), height_mm=4.5)


def _coupler(part: Part) -> tuple[HolePattern, ...]:
    return _checked(part, _dip("DIP-4: 1 A, 2 K, 3 E, 4 C", ("A", "K"), ("C", "E")))


def _opto_triac(part: Part) -> tuple[HolePattern, ...]:
    return _checked(part, _dip("DIP-6: 1 A, 2 K, 4 and 6 the switch; 3 and 5 cut off", ("A", "K", ""), ("2", "", "1")))


def _bridge(part: Part) -> tuple[HolePattern, ...]:
    return _checked(part, _dip("flat bridge, ac pins and dc pins 7.6 mm apart", ("~1", "~2"), ("+", "-"), 2))


def _checked(part: Part, pattern: HolePattern) -> tuple[HolePattern, ...]:
    if set(part.terminals) != set(pattern.pins):
        raise FootprintError(part, f"one with the terminals {', '.join(part.terminals)} is not known")
    return (pattern,)


_UPRIGHT = (0, 180)
"""Turns that keep the pins of a row of pins on strips of their own."""

ON_BOARD: dict[PartKind, Callable[[Part], tuple[HolePattern, ...]]] = {
    PartKind.RESISTOR: _resistor,
    PartKind.CAPACITOR: _capacitor,
    PartKind.ELECTROLYTIC: _electrolytic,
    PartKind.DIODE: _diode,
    PartKind.ZENER: _diode,
    PartKind.VARISTOR: _varistor,
    PartKind.WIRE_LINK: lambda part: _axial(part, 3),
    PartKind.FUSE: lambda part: (_two(part, "fuse holder, 5 x 20 mm, pins 22.5 mm apart", 9, (0, 9), 1, 12.0),),
    PartKind.BRIDGE: _bridge,
    PartKind.COUPLER: _coupler,
    PartKind.AC_INPUT_COUPLER: _coupler,
    PartKind.OPTO_TRIAC: _opto_triac,
    PartKind.JUMPER: lambda part: (_two(part, "pin header with jumper", 1, (0, 1), 0, 9.0),),
    PartKind.MOSFET: _fixed(
        "TO-92: S, G, D, the leads spread", {"S": (0, 0), "G": (1, 0), "D": (2, 0)}, (0, 2, 0, 1), 6.0, turns=_UPRIGHT
    ),
    PartKind.TRIAC: _fixed(
        "TO-220: MT1, MT2, G", {"MT1": (0, 0), "MT2": (1, 0), "G": (2, 0)}, (-1, 3, 0, 1), 20.0, hot=True,
        turns=_UPRIGHT,
    ),
    PartKind.THYRISTOR: _fixed(
        "TO-220: K, A, G", {"K": (0, 0), "A": (1, 0), "G": (2, 0)}, (-1, 3, 0, 1), 20.0, hot=True, turns=_UPRIGHT
    ),
    PartKind.ISOLATING_MODULE: _fixed(
        "25 x 25 mm: input pins 5 mm apart, output pins 5 mm apart, 20 mm from the input's",
        {"IN": (0, 0), "IN-COM": (2, 0), "OUT": (0, 8), "COM": (2, 8)}, (-4, 5, -1, 9), 12.0, hot=True, turns=(0, 180),
    ),
    PartKind.LINEAR_REGULATOR: _fixed(
        "TO-220 with heat sink: IN, COM, OUT", {"IN": (0, 0), "COM": (1, 0), "OUT": (2, 0)}, (-2, 4, 0, 4), 25.0,
        hot=True, turns=_UPRIGHT,
    ),
    PartKind.SWITCHING_REGULATOR: _fixed(
        "three pins in a row: IN, COM, OUT", {"IN": (0, 0), "COM": (1, 0), "OUT": (2, 0)}, (-1, 3, -1, 2), 12.0,
        hot=True, turns=_UPRIGHT,
    ),
    PartKind.RELAY: _fixed(
        "29 x 13 mm: coil pins 7.5 mm apart, contact pins 7.5 mm apart, 20 mm from the coil's",
        {"A1": (0, 0), "A2": (3, 0), "11": (3, -8), "14": (0, -8)}, (-1, 4, -10, 1), 16.0, turns=(0, 180),
    ),
}  # fmt: skip
"""Kinds that stand on the board."""


def wire_header(terminals: tuple[str, ...]) -> HolePattern:
    """Return pins one under the other, for the wires of what stands elsewhere."""
    pins = {terminal: (row, 0) for row, terminal in enumerate(terminals)}
    return HolePattern("pins in a row, a wire to each", pins, (0, len(pins) - 1, 0, 0), _UPRIGHT, 9.0)


def screw_terminals(terminals: tuple[str, ...]) -> HolePattern:
    """Return screw terminals 5.08 mm apart, opening to the left."""
    pins = {terminal: (2 * row, 0) for row, terminal in enumerate(terminals)}
    return HolePattern("screw terminals 5.08 mm apart", pins, (0, 2 * len(pins) - 1, -1, 2), (0,), 12.0)
