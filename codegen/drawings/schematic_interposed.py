"""Schematic, sheet 4: the contacts of interposing contactors, and the loads behind them, all of it in the feeder."""

from __future__ import annotations

from collections.abc import Iterator

from codegen.drawings.schematic_outputs import NAMES
from codegen.drawings.sheet import LETTER, SMALL, Point, Sheet
from codegen.drawings.symbols import earth, part_box, two
from timing.circuit.parts import Netlist, Part, PartKind, Terminal
from timing.design.board import OUTPUT_ROLES, Role

PITCH, FIRST = 45.0, 36.0
"""From circuit to circuit, and the height of the first one's feed."""
COIL_DOWN, BACK_DOWN = 10.0, 32.0
"""How far the load's switched end and its other one lie below its feed."""
CONTACT_X, VARISTOR_X, RC_X, LOAD_X = 62.0, 92.0, 118.0, 156.0
METAL_X, BAR_X = 214.0, 250.0


def interposed_roles(wiring: Netlist) -> Iterator[tuple[Role, Part]]:
    """Yield the outputs with an interposing contactor, and that contactor."""
    for role in OUTPUT_ROLES:
        net = next((one for one in wiring.nets if one.name == f"FEEDER-{NAMES[role.key]}-COIL"), None)
        for end in () if net is None else net.terminals:
            part = wiring.part(end.ref)
            if part.kind is PartKind.INTERPOSING_CONTACTOR:
                yield role, part


def draw_interposed(sheet: Sheet) -> None:
    """Draw the sheet."""
    for index, (role, contactor) in enumerate(interposed_roles(sheet.wiring)):
        _circuit(sheet, role, contactor, FIRST + index * PITCH)


def _circuit(sheet: Sheet, role: Role, contactor: Part, y: float) -> None:
    wiring, word = sheet.wiring, NAMES[role.key]
    feed, coil, back = (f"{word}-LOAD-{way}" for way in ("FEED", "COIL", "RETURN"))
    coil_y, back_y = y + COIL_DOWN, y + BACK_DOWN
    load = next(
        wiring.part(end.ref)
        for end in wiring.net_of(Terminal(contactor.ref, "L1")).terminals
        if end.ref != contactor.ref
    )
    title = f"{role.meaning.capitalize()}: contact of {contactor.ref}, where the load was switched as found"
    sheet.text((12, y - 8), title, LETTER, bold=True)
    places: dict[str, Point] = {"L1": (CONTACT_X, y), "T1": (CONTACT_X, coil_y)}
    part_box(sheet, contactor.ref, (20, y - 4, CONTACT_X - 2, coil_y + 4), places, " ")
    blade = CONTACT_X - 12
    sheet.line((CONTACT_X - 7, y), (blade, y), (blade, y + 2), (blade - 2.2, y + 7))
    sheet.line((blade, y + 7.6), (blade, coil_y), (CONTACT_X - 7, coil_y))
    sheet.lines((22, y + 3), [contactor.ref, "interposing", "contactor"], SMALL)
    sheet.caution(contactor.ref, (14, y + 4))
    sheet.wire(feed, (CONTACT_X, y), (LOAD_X, y))
    ends: dict[str, Point] = {"FEED": (LOAD_X, y), "COIL": (LOAD_X, coil_y), "RETURN": (LOAD_X, back_y)}
    kept = {name: at for name, at in ends.items() if name in load.terminals}
    part_box(sheet, load.ref, (LOAD_X + 2, y - 4, LOAD_X + 34, back_y + 3), kept, load.ref)
    name, _, volts = load.value.partition(", ")
    sheet.lines(
        (LOAD_X + 22, y + 14), [name, volts, "as found; its own", "supply and its", "protection stay"], SMALL, "middle"
    )
    across = [VARISTOR_X] if "RETURN" in load.terminals else []
    inner = f"{word}-LOAD-SNUBBER"
    if wiring.has_net(inner):
        across.append(RC_X)
        middle = (coil_y + back_y) / 2
        two(sheet, wiring.only_between(coil, inner), coil, (RC_X, coil_y), (RC_X, middle))
        two(sheet, wiring.only_between(inner, back), inner, (RC_X, middle), (RC_X, back_y))
    sheet.wire(coil, (CONTACT_X, coil_y), *((x, coil_y) for x in across), (LOAD_X, coil_y))
    if across:
        two(sheet, wiring.only_between(coil, back), coil, (VARISTOR_X, coil_y), (VARISTOR_X, back_y))
        sheet.wire(back, *((x, back_y) for x in across), (LOAD_X, back_y))
    if wiring.has_net(f"{word}-PE"):
        _protective_conductor(sheet, f"{word}-PE", contactor, y)


def _protective_conductor(sheet: Sheet, net: str, contactor: Part, y: float) -> None:
    """The metal round the contactor, tied to the machine's protective conductor."""
    metal, bar = next(one for one in sheet.wiring.nets if one.name == net).terminals
    sheet.text((METAL_X - 12, y), f"Metal that carries {contactor.ref}, tied to the protective conductor", SMALL)
    sheet.wire(net, (METAL_X, y + 6), (BAR_X, y + 6))
    earth(sheet, metal.ref, (METAL_X, y + 6), "metal")
    earth(sheet, bar.ref, (BAR_X, y + 6), "PE")
