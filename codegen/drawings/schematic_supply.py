"""Schematic, sheet 1: from the feeder's winding to the rail, the supply sense, the trigger, the screen."""

from __future__ import annotations

from codegen.drawings.sheet import DASHED, LETTER, SMALL, WIRE_WIDTH, Point, Sheet
from codegen.drawings.symbols import coupler, earth, part_box, source, thyristor, transformer, two, way
from timing.circuit.parts import Group, Netlist, Part, PartKind

BORDER_X = 66.0
"""The connector: the feeder is left of it, the add-on right."""
LINE_A, LINE_B = 42.0, 68.0
TRIGGER_A, TRIGGER_B = 98.0, 118.0
FOUND_Y, FOUND_STEP, SCREEN_Y = 133.0, 5.6, 149.0


def draw_supply(sheet: Sheet) -> None:
    """Draw the sheet."""
    wiring = sheet.wiring
    socket, plug = wiring.mates[0].fixed, wiring.mates[0].free
    _border(sheet, socket, plug)
    _tap(sheet, socket, plug)
    _rectifier(sheet)
    _regulator(sheet)
    _sense(sheet)
    _rail_guard(sheet)
    _trigger(sheet, socket, plug)
    _trigger_as_found(sheet, socket, plug)
    _screen(sheet, socket, plug)


def _border(sheet: Sheet, socket: str, plug: str) -> None:
    sheet.line((BORDER_X, 26), (BORDER_X, SCREEN_Y + 6), dash=DASHED, width=0.3)
    sheet.text((BORDER_X - 2, 26), "feeder", LETTER, "end", bold=True)
    sheet.text((BORDER_X + 2, 26), "add-on", LETTER, bold=True)
    sheet.text((BORDER_X - 2, 30), f"socket {socket}", SMALL, "end")
    sheet.text((BORDER_X + 2, 30), f"plug {plug}", SMALL)


def _tap(sheet: Sheet, socket: str, plug: str) -> None:
    wiring = sheet.wiring
    source = wiring.the(Group.FEEDER, PartKind.TRANSFORMER)
    fuse = wiring.the(Group.FEEDER, PartKind.FUSE)
    transformer(sheet, source.ref, (26, LINE_A), (26, LINE_B))
    two(sheet, fuse.ref, "TAP-A", (32, LINE_A), (46, LINE_A), "below")
    sheet.wire("TAP-A", (26, LINE_A), (32, LINE_A))
    sheet.wire("FEEDER-24VAC-A", (46, LINE_A), (62, LINE_A))
    sheet.wire("FEEDER-24VAC-B", (26, LINE_B), (62, LINE_B))
    for name, y in (("24VAC-A", LINE_A), ("24VAC-B", LINE_B)):
        way(sheet, socket, plug, name, (BORDER_X, y), fixed_left=True)
    sheet.caution(source.ref, (14, LINE_A - 5))
    sheet.caution(fuse.ref, (39, LINE_A - 5))


def _rectifier(sheet: Sheet) -> None:
    wiring = sheet.wiring
    arrester = wiring.only_between("24VAC-A", "24VAC-B", PartKind.VARISTOR)
    apart = wiring.first_of(Group.FEED, PartKind.SECOND_TRANSFORMER) is not None
    x = 74.0 if apart else 80.0
    two(sheet, arrester, "24VAC-A", (x, LINE_A), (x, LINE_B))
    live, back = _rectifier_feed(sheet, x)
    bridge = wiring.first_of(Group.FEED, PartKind.BRIDGE)
    if bridge is not None:
        places = {"~1": (102.0, LINE_A), "~2": (102.0, LINE_B), "+": (122.0, LINE_A), "-": (122.0, LINE_B)}
        part_box(sheet, bridge.ref, (104, LINE_A - 4, 120, LINE_B + 4), places, f"{bridge.ref} {bridge.value}")
        # The sign of a rectifier, across the box.
        sheet.line((107, 55), (117, 55), width=0.3)
        sheet.line((110, 52.6), (110, 57.4), (114, 55), (110, 52.6))
        sheet.line((114, 52.6), (114, 57.4))
        return
    diode = wiring.the(Group.FEED, PartKind.DIODE)
    link = wiring.the(Group.FEED, PartKind.WIRE_LINK)
    for net, y, ref in ((live, LINE_A, diode.ref), (back, LINE_B, link.ref)):
        two(sheet, ref, net, (102, y), (122, y))


def _rectifier_feed(sheet: Sheet, x: float) -> tuple[str, str]:
    """Draw what stands between plug and rectifier, past the arrester at `x` and up to 102; return the nets there."""
    wiring, live, back = sheet.wiring, "24VAC-A", "24VAC-B"
    for net, y in ((live, LINE_A), (back, LINE_B)):
        sheet.wire(net, (70, y), (x, y))
    apart = wiring.first_of(Group.FEED, PartKind.SECOND_TRANSFORMER)
    if apart is not None:
        places = {"1": (84.4, LINE_A), "2": (84.4, LINE_B), "3": (92.2, LINE_A), "4": (92.2, LINE_B)}
        for net, y in ((live, LINE_A), (back, LINE_B)):
            sheet.wire(net, (x, y), (84.4, y))
        part_box(sheet, apart.ref, (85.8, LINE_A - 4, 90.8, LINE_B + 4), places)
        sheet.lines((91, LINE_B + 7), [part.strip() for part in apart.value.split(",")], SMALL, "end")
        fuse = wiring.the(Group.FEED, PartKind.FUSE)
        two(sheet, fuse.ref, "APART-TAP", (92.2, LINE_B), (102, LINE_B), "none")
        sheet.lines((92.6, LINE_B + 7), [fuse.ref, fuse.value], SMALL)
        live, back, x = "APART-A", "APART-B", 92.2
    series = wiring.first_of(Group.FEED, PartKind.RESISTOR)
    if series is not None:
        ends = 102.0 if apart is not None else 98.0
        sheet.wire(live, (x, LINE_A), (ends - 9.4, LINE_A))
        two(sheet, series.ref, live, (ends - 9.4, LINE_A), (ends, LINE_A))
        live = "RECTIFIER-A"
        if ends < 102:
            sheet.wire(live, (ends, LINE_A), (102, LINE_A))
    else:
        sheet.wire(live, (x, LINE_A), (102, LINE_A))
    if apart is None:
        sheet.wire(back, (x, LINE_B), (102, LINE_B))
    return live, back


def _regulator(sheet: Sheet) -> None:
    wiring = sheet.wiring
    module = wiring.first_of(Group.REGULATOR, PartKind.REGULATOR_MODULE)
    if module is not None:
        _regulator_module(sheet, module)
        return
    supplied = wiring.the(
        Group.REGULATOR, PartKind.LINEAR_REGULATOR, PartKind.SWITCHING_REGULATOR, PartKind.ISOLATING_MODULE
    )
    apart = supplied.kind is PartKind.ISOLATING_MODULE
    low = "FEED-COMMON" if apart else "COMMON"
    reservoir = wiring.the(Group.FEED, PartKind.ELECTROLYTIC)
    two(sheet, reservoir.ref, "RESERVOIR+", (128, LINE_A), (128, LINE_B))
    quiet = wiring.only_between("RESERVOIR+", low, PartKind.CAPACITOR)
    two(sheet, quiet, "RESERVOIR+", (146, LINE_A), (146, LINE_B))
    steady = wiring.only_between("RAIL", "COMMON", PartKind.ELECTROLYTIC)
    two(sheet, steady, "RAIL", (198, LINE_A), (198, LINE_B))
    if apart:
        places = {"IN": (161.0, LINE_A), "OUT": (187.0, LINE_A), "IN-COM": (168.0, 54.0), "COM": (180.0, 54.0)}
    else:
        places = {"IN": (161.0, LINE_A), "OUT": (187.0, LINE_A), "COM": (174.0, 54.0)}
    kind = {PartKind.LINEAR_REGULATOR: "linear", PartKind.SWITCHING_REGULATOR: "switching"}.get(
        supplied.kind, "isolating module"
    )
    part_box(
        sheet, supplied.ref, (163, LINE_A - 5, 185, LINE_A + 9), places, f"{supplied.ref} {supplied.value}, {kind}"
    )  # fmt: skip
    sheet.wire("RESERVOIR+", (122, LINE_A), (128, LINE_A), (146, LINE_A), (161, LINE_A))
    sheet.wire("RAIL", (187, LINE_A), (198, LINE_A), (206, LINE_A))
    if apart:
        sheet.wire("FEED-COMMON", (122, LINE_B), (128, LINE_B), (146, LINE_B), (168, LINE_B), (168, 54))
        sheet.wire("COMMON", (180, 54), (180, LINE_B), (198, LINE_B))
        triangle = 180.0
    else:
        sheet.wire("COMMON", (122, LINE_B), (128, LINE_B), (146, LINE_B), (174, LINE_B), (198, LINE_B))
        sheet.wire("COMMON", (174, 54), (174, LINE_B))
        triangle = 174.0
    sheet.wire("COMMON", (triangle, LINE_B), (triangle, LINE_B + 3))
    sheet.common((triangle, LINE_B + 3))
    sheet.flag("RAIL", (206, LINE_A), "right", f"RAIL {supplied.value}")
    sheet.flag("RESERVOIR+", (137, LINE_A), "up")
    sheet.caution("RESERVOIR+", (137, LINE_A - 8))
    sheet.text((triangle + 4, LINE_B + 8.6), "COMMON: every triangle like this", SMALL)
    sheet.caution("COMMON", (triangle - 6, LINE_B + 4))


GUARD_X, GUARD_TOP, GUARD_GATE, GUARD_FOOT = 226.0, 98.0, 110.0, 122.0


def _rail_guard(sheet: Sheet) -> None:
    """Draw what loads or shorts the rail: the preload of a module, or the crowbar."""
    wiring = sheet.wiring
    preload = wiring.first_of(Group.REGULATOR, PartKind.RESISTOR) if not wiring.has_net("CROWBAR-GATE") else None
    fired = wiring.first_of(Group.REGULATOR, PartKind.THYRISTOR)
    rail = "RAIL" if wiring.has_net("RAIL") else "LOGIC"
    clamp = wiring.between(rail, "COMMON", PartKind.ZENER)
    x, feet = GUARD_X, [GUARD_X]
    if preload is not None:
        sheet.text((x - 8, GUARD_TOP - 9), "Least load of the module", LETTER, bold=True)
        two(sheet, preload.ref, rail, (x, GUARD_TOP), (x, GUARD_FOOT))
    elif clamp:
        sheet.text((x - 8, GUARD_TOP - 9), "Clamp across the rail", LETTER, bold=True)
        two(sheet, clamp[0], rail, (x, GUARD_TOP), (x, GUARD_FOOT))
    elif fired is not None:
        sheet.text((x - 8, GUARD_TOP - 9), "Crowbar across the rail", LETTER, bold=True)
        zener = wiring.only_between("CROWBAR-GATE", rail, PartKind.ZENER)
        held = wiring.only_between("CROWBAR-GATE", "COMMON", PartKind.RESISTOR)
        calm = wiring.only_between("CROWBAR-GATE", "COMMON", PartKind.CAPACITOR)
        two(sheet, zener, rail, (x, GUARD_TOP), (x, GUARD_GATE))
        two(sheet, held, "CROWBAR-GATE", (x, GUARD_GATE), (x, GUARD_FOOT))
        two(sheet, calm, "CROWBAR-GATE", (x + 15, GUARD_GATE), (x + 15, GUARD_FOOT))
        anode = (x + 36, GUARD_TOP)
        gate = thyristor(sheet, fired.ref, anode, (x + 36, GUARD_FOOT))
        sheet.wire("CROWBAR-GATE", (x, GUARD_GATE), (x + 15, GUARD_GATE), (gate[0] - 2, GUARD_GATE))
        sheet.wire("CROWBAR-GATE", (gate[0] - 2, GUARD_GATE), (gate[0] - 2, gate[1]), gate)
        sheet.wire(rail, (x, GUARD_TOP), anode)
        feet += [x + 15, x + 36]
    else:
        return
    sheet.flag(rail, (x, GUARD_TOP - 4), "up")
    sheet.wire(rail, (x, GUARD_TOP - 4), (x, GUARD_TOP))
    for foot in feet:
        sheet.wire("COMMON", (foot, GUARD_FOOT), (foot, GUARD_FOOT + 2))
        sheet.common((foot, GUARD_FOOT + 2))


def _regulator_module(sheet: Sheet, module: Part) -> None:
    """The ready-made module: a box with its terminals."""
    reservoir = sheet.wiring.the(Group.FEED, PartKind.ELECTROLYTIC)
    rail, apart = sheet.net(module.ref, "OUT+"), "OUT-" in module.terminals
    two(sheet, reservoir.ref, "RESERVOIR+", (128, LINE_A), (128, LINE_B))
    places: dict[str, Point] = {"IN+": (155.0, LINE_A), "OUT+": (189.0, LINE_A)}
    if apart:
        low = sheet.net(module.ref, "IN-")
        places |= {"IN-": (155.0, LINE_B), "OUT-": (189.0, LINE_B)}
        sheet.wire(low, (122, LINE_B), (128, LINE_B), (155, LINE_B))
        triangle, bottom = 189.0, LINE_B + 3
    else:
        places["COM"] = (172.0, LINE_B - 4)
        sheet.wire("COMMON", (122, LINE_B), (128, LINE_B), (172, LINE_B), (172, LINE_B - 4))
        triangle, bottom = 172.0, LINE_B - 6
    part_box(sheet, module.ref, (157, LINE_A - 5, 187, bottom), places, f"{module.ref} {module.value}")
    words = ["regulator module,", "isolating" if apart else "not isolated"]
    sheet.lines((172, 51.6), words, SMALL, "middle")
    sheet.wire("RESERVOIR+", (122, LINE_A), (128, LINE_A), (137, LINE_A), (155, LINE_A))
    sheet.wire(rail, (189, LINE_A), (194, LINE_A))
    sheet.flag(rail, (194, LINE_A), "right", f"{rail} {module.value}")
    sheet.wire("COMMON", (triangle, LINE_B), (triangle, LINE_B + 3))
    sheet.common((triangle, LINE_B + 3))
    sheet.flag("RESERVOIR+", (137, LINE_A), "up")
    sheet.caution("RESERVOIR+", (137, LINE_A - 8))
    sheet.text((triangle + 4, LINE_B + 8.6), "COMMON: every triangle like this", SMALL)
    sheet.caution("COMMON", (triangle - 6, LINE_B + 4))


def _sense(sheet: Sheet) -> None:
    wiring = sheet.wiring
    if not wiring.has_net("PIN-supply_sense"):
        return
    x, middle = 226.0, 55.0
    upper = wiring.only_between("RESERVOIR+", "PIN-supply_sense")
    lower = wiring.only_between("PIN-supply_sense", "COMMON", PartKind.RESISTOR)
    steady = wiring.between("PIN-supply_sense", "COMMON", PartKind.CAPACITOR)
    sheet.text((x - 8, 26), "Supply sense", LETTER, bold=True)
    sheet.flag("RESERVOIR+", (x, 36), "up")
    sheet.wire("RESERVOIR+", (x, 36), (x, 40))
    two(sheet, upper, "RESERVOIR+", (x, 40), (x, middle))
    two(sheet, lower, "PIN-supply_sense", (x, middle), (x, LINE_B))
    for ref in steady:
        two(sheet, ref, "PIN-supply_sense", (x + 17, middle), (x + 17, LINE_B))
    sheet.wire("PIN-supply_sense", (x, middle), (x + 17, middle), (x + 22, middle))
    sheet.flag("PIN-supply_sense", (x + 22, middle), "right", f"{pin_label(wiring, 'supply_sense')} {ON_BOARD_SHEET}")
    for at in (x, *(x + 17 for _ in steady)):
        sheet.wire("COMMON", (at, LINE_B), (at, LINE_B + 2))
        sheet.common((at, LINE_B + 2))


def _trigger(sheet: Sheet, socket: str, plug: str) -> None:
    wiring = sheet.wiring
    gun = wiring.the(Group.FEEDER, PartKind.FEEDER_TRIGGER)
    lit = wiring.the(Group.TRIGGER, PartKind.COUPLER, PartKind.AC_INPUT_COUPLER)
    sheet.text((14, TRIGGER_A - 9), "Trigger sense", LETTER, bold=True)
    dry = "TRIG-FEED" in wiring.part(plug).terminals
    ends = {net: name for name in gun.terminals for net in [sheet.net(gun.ref, name)]}
    places: dict[str, Point] = {}
    for name, y in (("TRIG-LIVE", TRIGGER_A), ("TRIG-FEED" if dry else "TRIG-RETURN", TRIGGER_B)):
        places[ends[f"FEEDER-{name}"]] = (40.0, y)
        sheet.wire(f"FEEDER-{name}", (40, y), (62, y))
        way(sheet, socket, plug, name, (BORDER_X, y), fixed_left=True)
    part_box(sheet, gun.ref, (14, TRIGGER_A - 4, 38, TRIGGER_B + 4), places, f"{gun.ref} {gun.value}")
    _gun(sheet, (21, TRIGGER_A), gun.value, dry)
    if dry:
        _dry_feed(sheet)
    sheet.caution("FEEDER-TRIG-LIVE", (46, TRIGGER_A - 5))
    series = wiring.only_between("TRIG-LIVE", "TRIG-LED")
    sheet.wire("TRIG-LIVE", (70, TRIGGER_A), (74, TRIGGER_A))
    two(sheet, series, "TRIG-LIVE", (74, TRIGGER_A), (88, TRIGGER_A))
    sheet.wire("TRIG-LED", (88, TRIGGER_A), (BLEED_X, TRIGGER_A), (GUARD_LED_X, TRIGGER_A), (120, TRIGGER_A))
    back = "24VAC-B" if dry else "TRIG-RETURN"
    sheet.wire(back, (BLEED_X, TRIGGER_B), (GUARD_LED_X, TRIGGER_B), (120, TRIGGER_B))
    if not dry:
        sheet.wire(back, (70, TRIGGER_B), (BLEED_X, TRIGGER_B))
    bleed = wiring.only_between("TRIG-LED", back, PartKind.RESISTOR)
    two(sheet, bleed, "TRIG-LED", (BLEED_X, TRIGGER_A), (BLEED_X, TRIGGER_B))
    for guard in wiring.between("TRIG-LED", back, PartKind.DIODE):
        two(sheet, guard, "TRIG-LED", (GUARD_LED_X, TRIGGER_A), (GUARD_LED_X, TRIGGER_B))
    coupler(sheet, lit.ref, 122, 150, TRIGGER_A, TRIGGER_B, ("C", "E"))
    pull, steady = wiring.only_between("LOGIC", "PIN-trigger"), wiring.only_between("PIN-trigger", "COMMON")
    sheet.flag("LOGIC", (162, TRIGGER_A - 16), "up")
    sheet.wire("LOGIC", (162, TRIGGER_A - 16), (162, TRIGGER_A - 13))
    two(sheet, pull, "LOGIC", (162, TRIGGER_A - 13), (162, TRIGGER_A))
    sheet.wire("PIN-trigger", (152, TRIGGER_A), (162, TRIGGER_A), (182, TRIGGER_A), (196, TRIGGER_A))
    sheet.flag("PIN-trigger", (196, TRIGGER_A), "right", f"{pin_label(wiring, 'trigger')} {ON_BOARD_SHEET}")
    two(sheet, steady, "PIN-trigger", (182, TRIGGER_A), (182, TRIGGER_B))
    sheet.wire("COMMON", (152, TRIGGER_B), (182, TRIGGER_B))
    sheet.wire("COMMON", (162, TRIGGER_B), (162, TRIGGER_B + 3))
    sheet.common((162, TRIGGER_B + 3))


BLEED_X, GUARD_LED_X = 89.4, 106.4
GUN_LEAD = 6.0
"""From the trigger's contact towards the names of its terminals."""
FED_X, BACK_X = 71.6, 73.2
"""Where 24VAC-A comes down to a dry trigger, and its way back goes up to 24VAC-B."""


def _dry_feed(sheet: Sheet) -> None:
    """Draw how a dry trigger is fed, from the tapped supply behind the plug."""
    foot = TRIGGER_B + 5
    sheet.wire("24VAC-A", (FED_X, LINE_A), (FED_X, TRIGGER_B), (70, TRIGGER_B))
    sheet.wire("24VAC-B", (BACK_X, LINE_B), (BACK_X, foot), (BLEED_X, foot), (BLEED_X, TRIGGER_B))


def _gun(sheet: Sheet, at: Point, value: str, dry: bool) -> None:
    """Draw what makes LIVE live: the trigger's contact, in series with the supply of its circuit unless it is dry."""
    x, y = at
    for end in (y, TRIGGER_B):
        sheet.line((x, end), (x + GUN_LEAD, end), width=WIRE_WIDTH)
    sheet.line((x, y), (x, y + 2), (x - 2.2, y + 6))
    if dry:
        sheet.line((x, y + 6.4), (x, TRIGGER_B))
        return
    sheet.line((x, y + 6.4), (x, y + 9.2))
    source(sheet, (x, y + 12), "ac" in value.split())
    sheet.line((x, y + 14.8), (x, TRIGGER_B))


def _trigger_as_found(sheet: Sheet, socket: str, plug: str) -> None:
    """Draw the ends at what the trigger worked as found, on the connector for the bypass plug."""
    worked = sheet.wiring.first_of(Group.FEEDER, PartKind.FEEDER_CONTROL, PartKind.FEEDER_RELAY)
    if worked is None:
        return
    ends = {name: sheet.net(worked.ref, name) for name in worked.terminals}
    found = [(name, net) for name, net in ends.items() if net.startswith("FEEDER-TRIG")]
    for index, (name, net) in enumerate(found):
        y = FOUND_Y + FOUND_STEP * index
        sheet.terminal(worked.ref, name, (40, y))
        sheet.wire(net, (40, y), (62, y))
        way(sheet, socket, plug, net.removeprefix("FEEDER-"), (BORDER_X, y), fixed_left=True)
        sheet.text((38.4, y + 0.8), f"{worked.ref}.{name}", SMALL, "end")
    if found:
        sheet.text((14, FOUND_Y - 4.6), f"{worked.value}; for bypass", SMALL)


def _screen(sheet: Sheet, socket: str, plug: str) -> None:
    chassis, box = (part.ref for part in sheet.wiring.parts_of(Group.SCREEN, PartKind.EARTH))
    way(sheet, socket, plug, "SCREEN", (BORDER_X, SCREEN_Y), fixed_left=True)
    sheet.wire("FEEDER-SCREEN", (62, SCREEN_Y), (34, SCREEN_Y))
    sheet.wire("SCREEN", (70, SCREEN_Y), (98, SCREEN_Y))
    earth(sheet, chassis, (34, SCREEN_Y), "chassis")
    earth(sheet, box, (98, SCREEN_Y), "metal box")
    sheet.caution("FEEDER-SCREEN", (48, SCREEN_Y - 4))


ON_BOARD_SHEET = "/3"
"""In a flag: the net goes on on the sheet of the board."""


def pin_label(wiring: Netlist, role: str) -> str:
    """Return what stands in the flag of a pin's net: the net's own name and the pin."""
    board = wiring.the(Group.BOARD, PartKind.BOARD)
    net = next(net for net in wiring.nets if net.name == f"PIN-{role}")
    pin = next(terminal.name for terminal in net.terminals if terminal.ref == board.ref)
    return f"{net.name}: {pin}"
