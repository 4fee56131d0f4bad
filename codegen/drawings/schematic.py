"""The schematic, three sheets of A4 in landscape; here the whole, and sheet 3: the board with all on the panel.

An interposing contactor adds a fourth.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from codegen.drawings.schematic_interposed import draw_interposed
from codegen.drawings.schematic_outputs import draw_outputs
from codegen.drawings.schematic_supply import draw_supply, pin_label
from codegen.drawings.selector import selector_symbol
from codegen.drawings.sheet import EDGE, SMALL, WIDTH, Point, Sheet
from codegen.drawings.symbols import part_box, potentiometer, two
from timing.circuit.parts import Group, Part, PartKind
from timing.once import once
from timing.project import Project
from timing.sequence.core.columns import TIME_NAMES

LEFT, RIGHT, BUS_X = 124.0, 166.0, 14.0
PULL_X, CAPACITOR_X = 93.0, 108.0
INPUTS_LEFT, INPUTS_RIGHT = 89.0, 117.0
"""Ends of the leads of an opto-input module."""
FIRST, ROW, DIAL, FLAG = 36.0, 11.6, 23.6, 4.6


def draw_board(sheet: Sheet) -> None:
    """Draw the sheet."""
    wiring = sheet.wiring
    board = wiring.the(Group.BOARD, PartKind.BOARD)
    places: dict[str, Point] = {}
    left_end = _left(sheet, places, board.ref)
    right_end = _right(sheet, places)
    bottom = max(left_end, right_end) + 4
    supply_pins = [name for name in board.terminals if name not in places]
    nets = {name: sheet.net(board.ref, name) for name in supply_pins}
    for name, net in nets.items():
        x = {"RAIL": LEFT + 12, "LOGIC": LEFT + 30, "COMMON": LEFT + 21}[net]
        places[name] = (x, bottom + 2) if net == "COMMON" else (x, FIRST - 8)
        if net == "COMMON":
            sheet.common((x, bottom + 2))
        else:
            sheet.flag(net, (x, FIRST - 8), "up")
    part_box(sheet, board.ref, (LEFT + 2, FIRST - 6, RIGHT - 2, bottom), places, " ")
    middle = (LEFT + RIGHT) / 2
    sheet.lines((middle, (FIRST + bottom) / 2), [board.ref, *board.value.split(", ")], SMALL, "middle")
    sheet.caution(board.ref, (LEFT - 2, FIRST - 8))


def _left(sheet: Sheet, places: dict[str, Point], board: str) -> float:
    """Lamp and contacts; returns the height of the last."""
    wiring = sheet.wiring
    y, lows = FIRST, []
    through: list[tuple[str, float]] = []
    for part in wiring.parts_of(
        Group.INPUTS, PartKind.LAMP, PartKind.SWITCH, PartKind.SELECTOR, PartKind.PUSH_BUTTON, PartKind.DRY_CONTACT,
        PartKind.JUMPER,
    ):  # fmt: skip
        lows.append(y)
        if part.kind is PartKind.LAMP:
            nets = [_lamp(sheet, part, y)]
        else:
            sheet.text((23, y - 4.2), f"{part.ref} {part.value}", SMALL)
            seen = [name for name in (sheet.net(part.ref, end) for end in part.terminals) if name != "COMMON"]
            if part.kind is PartKind.SELECTOR:
                selector_symbol(sheet, part.ref, (22, y), 36, ROW)
            else:
                two(sheet, part.ref, "COMMON", (22, y), (36, y), "none")
            nets = [name.replace("CONTACT-", "PIN-") for name in seen]
            rows = [y + ROW * index for index in range(len(seen))]
            for name, net, row in zip(seen, nets, rows, strict=True):
                if net == name:
                    _contact(sheet, net, row)
                    continue
                sheet.wire(name, (36, row), (INPUTS_LEFT, row))
                sheet.wire(net, (INPUTS_RIGHT, row), (LEFT, row))
                through.append((name, row))
        for net in nets:
            pin = next(name for name in wiring.part(board).terminals if sheet.net(board, name) == net)
            places[pin] = (LEFT, y)
            y += ROW
    if through:
        _input_module(sheet, through)
    for low in lows:
        sheet.wire("COMMON", (BUS_X, low), (22, low))
    sheet.wire("COMMON", *[(BUS_X, low) for low in lows], (BUS_X, lows[-1] + 4))
    sheet.common((BUS_X, lows[-1] + 4))
    return y - ROW


def _lamp(sheet: Sheet, part: Part, y: float) -> str:
    """The status lamp, with its resistor where it has none built in; returns the net of its pin."""
    two(sheet, part.ref, "COMMON", (22, y), (36, y))
    if not sheet.wiring.has_net("LAMP"):
        sheet.wire("PIN-lamp", (36, y), (LEFT, y))
        return "PIN-lamp"
    two(sheet, sheet.wiring.only_between("PIN-lamp", "LAMP"), "LAMP", (44, y), (60, y))
    sheet.wire("LAMP", (36, y), (44, y))
    sheet.wire("PIN-lamp", (60, y), (LEFT, y))
    return "PIN-lamp"


def _contact(sheet: Sheet, net: str, y: float) -> None:
    """What hangs on the wire from a contact to its pin."""
    caps = sheet.wiring.between(net, "COMMON", PartKind.CAPACITOR)
    for cap in caps:
        two(sheet, cap, net, (CAPACITOR_X, y), (CAPACITOR_X, y + 6))
        sheet.common((CAPACITOR_X, y + 6))
    pulls = sheet.wiring.between("LOGIC", net, PartKind.RESISTOR)
    for pull in pulls:
        two(sheet, pull, net, (PULL_X, y), (PULL_X, y - 8))
        sheet.flag("LOGIC", (PULL_X, y - 8), "left")
    sheet.wire(net, (36, y), *[(PULL_X, y) for _ in pulls], *[(CAPACITOR_X, y) for _ in caps], (LEFT, y))


def _input_module(sheet: Sheet, through: Sequence[tuple[str, float]]) -> None:
    """The opto-input module as a box, contacts on its left, pins on its right, its supplies above and below."""
    module = sheet.wiring.the(Group.INPUTS, PartKind.INPUT_MODULE)
    top, bottom = through[0][1] - 6.5, through[-1][1] + 5
    places: dict[str, Point] = {}
    ends = {sheet.net(module.ref, name): name for name in module.terminals}
    for net, y in through:
        places[ends[net]] = (INPUTS_LEFT, y)
        places[ends[net.replace("CONTACT-", "PIN-")]] = (INPUTS_RIGHT, y)
    supplies = {"IN+": (95.0, top - 2), "VCC": (111.0, top - 2), "GND": (103.0, bottom + 1)}
    for name, (x, y) in supplies.items():
        if name not in module.terminals:
            continue
        net = sheet.net(module.ref, name)
        places[name] = (x, y)
        if net == "COMMON":
            sheet.common((x, y))
        else:
            sheet.flag(net, (x, y), "up")
    part_box(sheet, module.ref, (INPUTS_LEFT + 2, top, INPUTS_RIGHT - 2, bottom), places, " ")
    sheet.lines((103, (top + bottom) / 2 - 1.2), [module.ref, "inputs"], SMALL, "middle")


def _right(sheet: Sheet, places: dict[str, Point]) -> float:
    """Flags to the other sheets, then the dials; returns the height of the last."""
    wiring = sheet.wiring
    elsewhere = {"gas_valve": 2, "wire_drive": 2, "contactor": 2, "trigger": 1, "supply_sense": 1}
    y = FIRST
    for role, other in elsewhere.items():
        net = f"PIN-{role}"
        if not wiring.has_net(net):
            continue
        pin = pin_label(wiring, role).partition(": ")[2]
        places[pin] = (RIGHT, y)
        sheet.wire(net, (RIGHT, y), (RIGHT + 6, y))
        sheet.flag(net, (RIGHT + 6, y), "right", f"{net} /{other}")
        y += FLAG
    last = y
    y += 9.0
    for name in TIME_NAMES:
        if not wiring.has_net(f"PIN-{name}_dial"):
            continue
        pin = pin_label(wiring, f"{name}_dial").partition(": ")[2]
        places[pin] = (RIGHT, y)
        _dial(sheet, name, y)
        last = y
        y += DIAL
    return last


def _dial(sheet: Sheet, name: str, y: float) -> None:
    wiring, upper = sheet.wiring, y - 6
    top, bottom, pin = f"{name.upper()}-TOP", f"{name.upper()}-BOTTOM", f"PIN-{name}_dial"
    pot = next(part for part in wiring.parts_of(Group.DIALS, PartKind.POTENTIOMETER) if sheet.net(part.ref, "2") == pin)
    pull = wiring.only_between(pin, "COMMON", PartKind.RESISTOR)
    quiet = wiring.between(pin, "COMMON", PartKind.CAPACITOR)
    sheet.wire(pin, (RIGHT, y), (180, y), (202, y), (240, y))
    two(sheet, pull, pin, (180, y), (180, y + 9))
    for ref in quiet:
        two(sheet, ref, pin, (202, y), (202, y + 9))
    for x in (180, *(202 for _ in quiet)):
        sheet.common((x, y + 9))
    potentiometer(sheet, pot.ref, (232, upper), (248, upper), (240, y))
    sheet.text((240, upper - 4.4), f"{pot.ref} {name} {pot.value}", SMALL, "middle")
    two(sheet, wiring.only_between(bottom, "COMMON"), "COMMON", (208, upper), (222, upper))
    sheet.wire(bottom, (222, upper), (232, upper))
    sheet.wire("COMMON", (208, upper), (204, upper))
    sheet.common((204, upper))
    two(sheet, wiring.only_between("LOGIC", top), top, (258, upper), (272, upper))
    sheet.wire(top, (248, upper), (258, upper))
    sheet.flag("LOGIC", (272, upper), "right")


SHEETS: tuple[tuple[str, Callable[[Sheet], None]], ...] = (
    ("supply and trigger", draw_supply),
    ("outputs", draw_outputs),
    ("board and panel", draw_board),
)
BEHIND: tuple[str, Callable[[Sheet], None]] = ("behind the interposing contactors", draw_interposed)


@once
def schematic(project: Project) -> tuple[str, ...]:
    """Return the sheets of the schematic as SVG documents."""
    drawn = []
    behind = any(one.actuator.interposed is not None for one in project.drives)
    sheets = (*SHEETS, BEHIND) if behind else SHEETS
    for number, (title, draw_on) in enumerate(sheets, start=1):
        sheet = Sheet.of(project, f"Schematic {number} of {len(sheets)}: {title}")
        sheet.text((WIDTH - EDGE - 3, 13.5), "In a flag, /2 and the like: the sheet on which it goes on.", SMALL, "end")
        draw_on(sheet)
        drawn.append(sheet.finish())
    return tuple(drawn)
