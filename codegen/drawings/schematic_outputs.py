"""Schematic, sheet 2: the output drives, from the board's pins to the loads in the feeder."""

from __future__ import annotations

from codegen.drawings.schematic_supply import ON_BOARD_SHEET, pin_label
from codegen.drawings.sheet import DASHED, LETTER, SMALL, Point, Sheet
from codegen.drawings.symbols import coupler, mosfet, part_box, relay_coil, relay_contact, triac, two, way
from timing.circuit.parts import Group, Netlist, Part, PartKind
from timing.design.board import OUTPUT_ROLES

PITCH, FIRST = 47.0, 52.0
"""From drive to drive, and the pin's line of the first."""
PULL_X, LED_LEFT, LED_RIGHT = 52.0, 84.0, 108.0
CONTACT_X, WAY_X, LOAD_X = 160.0, 212.0, 262.0
AT_LOAD_X, BACK_X, AT_LOAD = 228.0, 257.0, (7.0, 15.0)
RETURN_X = 258.4
"""Where what takes a load's spike begins and ends, and how far its lines lie above that of the load's switched end."""
FEED_LIFT = 22.0
"""How far the feed's line lies above the pin's."""
OUTPUT_TERMINALS = {PartKind.COUPLER: ("C", "E"), PartKind.OPTO_TRIAC: ("1", "2"), PartKind.DC_RELAY: ("+", "-")}
"""Couplers that a pin may light, and the terminals that they switch."""
BEHIND_SHEET = "/4"
"""Where the contacts of interposing contactors are drawn, with what lies behind them."""
NAMES = {"gas_valve": "GAS", "wire_drive": "WIRE", "contactor": "CONT"}


MODULE_LEFT, MODULE_RIGHT, SUPPLY_STEP = 92.0, 144.0, 6.0
"""Ends of a module's leads, and from one of its supplies to the next."""


def module_of(wiring: Netlist, net: str) -> Part | None:
    """Return the ready-made module of an output that a net belongs to, or None."""
    found = next(one for one in wiring.nets if one.name == net)
    return next(
        (
            wiring.part(end.ref)
            for end in found.terminals
            if wiring.part(end.ref).kind in (PartKind.RELAY_MODULE, PartKind.SOLID_STATE_MODULE)
        ),
        None,
    )


def draw_outputs(sheet: Sheet) -> None:
    """Draw the sheet."""
    drawn = [role for role in OUTPUT_ROLES if sheet.wiring.has_net(f"PIN-{role.key}")]
    for index, role in enumerate(drawn):
        Cell(sheet, role.key, FIRST + index * PITCH).draw(role.meaning)
    bottom = FIRST + (len(drawn) - 1) * PITCH + 20
    sheet.line((WAY_X, 24), (WAY_X, bottom), dash=DASHED, width=0.3)
    mates = sheet.wiring.mates
    many = "s" if len(mates) > 1 else ""
    sheet.text((WAY_X - 2, 24), f"add-on, plug{many} {', '.join(mate.free for mate in mates)}", SMALL, "end")
    sheet.text((WAY_X + 2, 24), f"feeder, socket{many} {', '.join(mate.fixed for mate in mates)}", SMALL)
    for number, mate in enumerate(mates):
        sheet.caution(mate.fixed, (WAY_X + 37 + 5.5 * number, 19.5))


class Cell:
    """One drive on the sheet."""

    def __init__(self, sheet: Sheet, role: str, y: float) -> None:
        self.sheet, self.wiring, self.role, self.y = sheet, sheet.wiring, role, y
        self.word, self.group = NAMES[role], Group(role)
        self.pin = f"PIN-{role}"
        self.feed, self.coil = f"{self.word}-FEED", f"{self.word}-COIL"
        self.feed_y = y - FEED_LIFT
        self.mate = next(mate for mate in self.wiring.mates if self.feed in self.wiring.part(mate.fixed).terminals)

    def part(self, *kinds: PartKind) -> Part | None:
        """Return this drive's part of some kinds."""
        return self.wiring.first_of(self.group, *kinds)

    def draw(self, title: str) -> None:
        """Draw the drive from left to right."""
        self.sheet.text((12, self.y - 24), title.capitalize(), LETTER, bold=True)
        module = module_of(self.wiring, self.pin)
        if module is not None:
            self._module(module)
            self._way_out(CONTACT_X)
            self._feeder()
            return
        self._pin()
        lit = self.part(*OUTPUT_TERMINALS)
        relay = self.part(PartKind.RELAY)
        starts: list[float] = []
        if lit is not None:
            top, bottom = self._led(lit)
            if lit.kind is PartKind.COUPLER:
                self._follower(lit, top, bottom)
            elif lit.kind is PartKind.DC_RELAY:
                starts = [self._solid_state(top, bottom)]
            else:
                starts = [self._triac(top, bottom)]
        else:
            gate = self.wiring.only_between(self.pin, f"{self.word}-GATE")
            self.sheet.wire(self.pin, (PULL_X, self.y), (64, self.y))
            two(self.sheet, gate, self.pin, (64, self.y), (80, self.y))
            self._switch(80.0)
        if relay is not None:
            relay_contact(self.sheet, relay.ref, (CONTACT_X, self.feed_y), (CONTACT_X, self.y))
            starts = [CONTACT_X]
        self._way_out(starts[0])
        self._feeder()

    def _pin(self) -> None:
        pull = next(
            ref for rail in ("COMMON", "LOGIC") for ref in self.wiring.between(self.pin, rail, PartKind.RESISTOR)
        )  # fmt: skip
        label = f"{pin_label(self.wiring, self.role)} {ON_BOARD_SHEET}"
        self.sheet.flag(self.pin, (46, self.y), "left", label)
        self.sheet.wire(self.pin, (46, self.y), (PULL_X, self.y))
        ends = {self.sheet.net(pull, name) for name in ("1", "2")}
        if "COMMON" in ends:
            two(self.sheet, pull, self.pin, (PULL_X, self.y), (PULL_X, self.y + 13))
            self.sheet.common((PULL_X, self.y + 13))
        else:
            two(self.sheet, pull, self.pin, (PULL_X, self.y), (PULL_X, self.y - 13), "left")
            self.sheet.flag("LOGIC", (PULL_X, self.y - 13), "up")

    def _module(self, module: Part) -> None:
        """The channel of a ready-made module: a box, pin and supplies on its left, what it switches on its right."""
        sheet, wiring, y = self.sheet, self.wiring, self.y
        nets = {name: sheet.net(module.ref, name) for name in module.terminals}
        pulls = wiring.between(self.pin, "COMMON", PartKind.RESISTOR)
        sheet.flag(self.pin, (46, y), "left", f"{pin_label(wiring, self.role)} {ON_BOARD_SHEET}")
        sheet.wire(self.pin, (46, y), *[(PULL_X + 8, y) for _ in pulls], (MODULE_LEFT, y))
        for pull in pulls:
            two(sheet, pull, self.pin, (PULL_X + 8, y), (PULL_X + 8, y + 13))
            sheet.common((PULL_X + 8, y + 13))
        places: dict[str, Point] = {}
        supplies = [name for name, net in nets.items() if net in ("RAIL", "LOGIC", "COMMON")]
        for name, net in nets.items():
            if net == self.pin:
                places[name] = (MODULE_LEFT, y)
            elif net == self.feed:
                places[name] = (MODULE_RIGHT, self.feed_y)
            elif net == self.coil:
                places[name] = (MODULE_RIGHT, y)
        # The supplies of a module of several channels are drawn with its first.
        first = next(net for net in nets.values() if net.startswith("PIN-")) == self.pin
        for index, name in enumerate(supplies if first else ()):
            at = (MODULE_LEFT, self.feed_y + SUPPLY_STEP * index)
            places[name] = at
            if nets[name] == "COMMON":
                sheet.wire("COMMON", at, (at[0] - 6, at[1]))
                sheet.common((at[0] - 6, at[1]))
            else:
                sheet.flag(nets[name], at, "left")
        part_box(sheet, module.ref, (MODULE_LEFT + 2, self.feed_y - 4, MODULE_RIGHT - 2, y + 4), places, module.ref)
        number = next(name for name, net in nets.items() if net == self.coil)[2:]
        channel = [f"channel {number}"] if module.kind is PartKind.RELAY_MODULE else []
        sheet.lines((118, y - 13), [module.kind.value, module.value, *channel], SMALL, "middle")
        for net, height in ((self.feed, self.feed_y), (self.coil, y)):
            sheet.wire(net, (MODULE_RIGHT, height), (CONTACT_X, height))

    def _led(self, lit: Part) -> tuple[float, float]:
        """The lit side; returns the heights of its upper and lower terminals."""
        sheet, led = self.sheet, f"{self.word}-LED"
        series = self.wiring.only_between(self.pin, led)
        sheet.wire(self.pin, (PULL_X, self.y), (62, self.y))
        two(sheet, series, self.pin, (62, self.y), (76, self.y))
        high = sheet.net(lit.ref, "A") == led
        top, bottom = (self.y, self.y + 12) if high else (self.y - 12, self.y)
        outs = OUTPUT_TERMINALS[lit.kind]
        coupler(sheet, lit.ref, LED_LEFT, LED_RIGHT, top, bottom, outs)
        sheet.wire(led, (76, self.y), (LED_LEFT - 2, self.y))
        if high:
            sheet.wire("COMMON", (LED_LEFT - 2, bottom), (LED_LEFT - 6, bottom))
            sheet.common((LED_LEFT - 6, bottom))
        else:
            sheet.wire("LOGIC", (LED_LEFT - 2, top), (LED_LEFT - 6, top))
            sheet.flag("LOGIC", (LED_LEFT - 6, top), "left")
        return top, bottom

    def _follower(self, lit: Part, top: float, bottom: float) -> None:
        """The coupler's transistor as a follower on the MOSFET's gate."""
        sheet, gate = self.sheet, f"{self.word}-GATE"
        sheet.flag("RAIL", (LED_RIGHT + 4, top), "right")
        sheet.wire("RAIL", (LED_RIGHT + 2, top), (LED_RIGHT + 4, top))
        drain = self.wiring.only_between(gate, "COMMON", PartKind.RESISTOR)
        sheet.wire(gate, (LED_RIGHT + 2, bottom), (LED_RIGHT + 8, bottom), (LED_RIGHT + 8, self.y + 3))
        sheet.wire(gate, (LED_RIGHT + 8, self.y + 3), (122, self.y + 3))
        low = max(bottom, self.y + 3)
        two(sheet, drain, gate, (LED_RIGHT + 8, low), (LED_RIGHT + 8, low + 12), "left")
        sheet.common((LED_RIGHT + 8, low + 12))
        self._switch(122.0, self.y + 3)

    def _switch(self, gate_x: float, gate_y: float | None = None) -> None:
        """MOSFET, relay coil, and what takes the coil's spike."""
        sheet, wiring = self.sheet, self.wiring
        switch, relay = (self.wiring.the(self.group, kind) for kind in (PartKind.MOSFET, PartKind.RELAY))
        places = mosfet(sheet, switch.ref, (gate_x, self.y if gate_y is None else gate_y))
        (x, drain_y), source = places["D"], places["S"]
        rail_y, node = self.feed_y, f"{self.word}-RELAY"
        sheet.wire("COMMON", source, (x, source[1] + 2))
        sheet.common((x, source[1] + 2))
        relay_coil(sheet, relay.ref, (x, rail_y), (x, drain_y))
        clamp_x = x + 12
        sheet.wire("RAIL", (x - 4, rail_y), (x, rail_y), (clamp_x, rail_y))
        sheet.flag("RAIL", (x - 4, rail_y), "left")
        sheet.wire(node, (x, drain_y), (clamp_x, drain_y))
        clamp = f"{self.word}-CLAMP"
        if wiring.has_net(clamp):
            middle = (rail_y + drain_y) / 2
            two(sheet, wiring.only_between("RAIL", clamp), "RAIL", (clamp_x, rail_y), (clamp_x, middle))
            two(sheet, wiring.only_between(clamp, node), clamp, (clamp_x, middle), (clamp_x, drain_y))
        else:
            two(sheet, wiring.only_between("RAIL", node), "RAIL", (clamp_x, rail_y), (clamp_x, drain_y))

    def _solid_state(self, top: float, bottom: float) -> float:
        sheet, x = self.sheet, LED_RIGHT + 14
        sheet.wire(self.feed, (LED_RIGHT + 2, top), (x, top), (x, self.feed_y))
        corners = [(x + 8, bottom), (x + 8, self.y)] if bottom != self.y else []
        sheet.wire(self.coil, (LED_RIGHT + 2, bottom), *corners, (CONTACT_X, self.y))
        sheet.wire(self.feed, (x, self.feed_y), (CONTACT_X, self.feed_y))
        return CONTACT_X

    def _triac(self, top: float, bottom: float) -> float:
        sheet, x = self.sheet, CONTACT_X
        power = self.wiring.the(self.group, PartKind.TRIAC)
        fire, gate = f"{self.word}-FIRE", f"{self.word}-GATE"
        two(
            sheet,
            self.wiring.only_between(self.feed, fire),
            fire,
            (LED_RIGHT + 10, top),
            (LED_RIGHT + 24, top),
            "below",
        )
        sheet.wire(fire, (LED_RIGHT + 2, top), (LED_RIGHT + 10, top))
        sheet.wire(self.feed, (LED_RIGHT + 24, top), (LED_RIGHT + 30, top), (LED_RIGHT + 30, self.feed_y))
        sheet.wire(self.feed, (LED_RIGHT + 30, self.feed_y), (x, self.feed_y))
        place = triac(sheet, power.ref, (x, self.feed_y), (x, self.y))
        sheet.wire(gate, (LED_RIGHT + 2, bottom), (LED_RIGHT + 36, bottom), (LED_RIGHT + 36, place[1]), place)
        return x

    def _way_out(self, start: float) -> None:
        """From the contact, triac or MOSFET to the connector."""
        sheet, socket, plug = self.sheet, self.mate.fixed, self.mate.free
        for net, y in ((self.feed, self.feed_y), (self.coil, self.y)):
            sheet.wire(net, (start, y), (WAY_X - 4, y))
            way(sheet, socket, plug, net, (WAY_X, y), fixed_left=False)

    def _feeder(self) -> None:
        """The load as found with what takes its spike, and the contact that switched it."""
        sheet, wiring = self.sheet, self.wiring
        feed, coil, back = (f"FEEDER-{self.word}-{name}" for name in ("FEED", "COIL", "RETURN"))
        back_y = self.y - AT_LOAD[0]
        self._at_load(coil, back)
        contactor = self._part_on(coil, PartKind.INTERPOSING_CONTACTOR)
        if contactor is None:
            self._load(coil, back_y)
        else:
            self._contactor(contactor, back, back_y)
        self._feed(feed)
        sheet.wire(coil, (WAY_X + 4, self.y), (AT_LOAD_X, self.y), (LOAD_X, self.y))
        ends = [(RETURN_X, back_y)] if contactor is not None else []
        sheet.wire(back, (BACK_X, back_y), *ends, (LOAD_X, back_y))
        for net, y in ((feed, self.feed_y), (coil, self.y), (back, back_y)):
            pole = next(one.pole for one in wiring.nets if one.name == net)
            if pole:
                sheet.text((LOAD_X + 1, y - 1.2), pole, LETTER, "end", bold=True)
        self._as_found()

    def _part_on(self, net: str, *kinds: PartKind) -> Part | None:
        found = next(one for one in self.wiring.nets if one.name == net)
        return next((part for end in found.terminals if (part := self.wiring.part(end.ref)).kind in kinds), None)

    def _load(self, coil: str, back_y: float) -> None:
        """The load as found, with where FEED comes from."""
        load = self._part_on(coil, PartKind.FEEDER_COIL, PartKind.FEEDER_VALVE)
        assert load is not None
        places: dict[str, Point] = {
            "FEED": (LOAD_X, self.feed_y),
            "COIL": (LOAD_X, self.y),
            "RETURN": (LOAD_X, back_y),
        }
        part_box(self.sheet, load.ref, (LOAD_X + 2, self.feed_y - 4, 287, self.y + 3), places, load.ref)
        name, _, volts = load.value.partition(", ")
        self.sheet.lines((277, self.y - 15.6), [name, volts, "as found"], SMALL, "middle")

    def _contactor(self, contactor: Part, back: str, back_y: float) -> None:
        """The coil of an interposing contactor, and what supplies it."""
        sheet = self.sheet
        supply = self._part_on(back, PartKind.FEEDER_SUPPLY)
        assert supply is not None
        coil: dict[str, Point] = {"A1": (LOAD_X, self.y), "A2": (LOAD_X, back_y)}
        part_box(sheet, contactor.ref, (LOAD_X + 2, back_y - 3, 287, self.y + 3), coil, " ")
        sheet.lines((278, back_y + 1.6), [contactor.ref, f"contact: {BEHIND_SHEET}"], SMALL, "middle")
        returned = (LOAD_X, self.feed_y + 6)
        places: dict[str, Point] = {"FEED": (LOAD_X, self.feed_y), "RETURN": returned}
        part_box(sheet, supply.ref, (LOAD_X + 2, self.feed_y - 4, 287, returned[1] + 2), places, " ")
        sheet.lines((280, self.feed_y - 0.8), [supply.ref, *supply.value.split(", ")], SMALL, "middle")
        sheet.wire(back, returned, (RETURN_X, returned[1]), (RETURN_X, back_y))

    def _feed(self, feed: str) -> None:
        """From the connector to where FEED leaves its supply, through the add-on's own fuse if there is one."""
        sheet, y, source = self.sheet, self.feed_y, f"{self.word}-SUPPLY"
        if not self.wiring.has_net(source):
            sheet.wire(feed, (WAY_X + 4, y), (LOAD_X, y))
            return
        sheet.wire(feed, (WAY_X + 4, y), (AT_LOAD_X, y))
        two(sheet, self.wiring.only_between(feed, source, PartKind.FUSE), feed, (AT_LOAD_X, y), (BACK_X, y))
        sheet.wire(source, (BACK_X, y), (LOAD_X, y))

    def _as_found(self) -> None:
        sheet, wiring = self.sheet, self.wiring
        found = [f"FEEDER-{self.word}-FOUND{number}" for number in (1, 2)]
        if wiring.has_net(found[0]):
            contact = next(
                part
                for part in wiring.parts_of(Group.FEEDER, PartKind.FEEDER_CONTACT)
                if sheet.net(part.ref, "1") == found[0]
            )
            socket, plug = self.mate.fixed, self.mate.free
            for net, y in zip(found, (self.y + 9, self.y + 16), strict=True):
                way(sheet, socket, plug, net.removeprefix("FEEDER-"), (WAY_X, y), fixed_left=False)
                sheet.wire(net, (WAY_X + 4, y), (LOAD_X, y))
            two(sheet, contact.ref, found[0], (LOAD_X, self.y + 9), (LOAD_X, self.y + 16), "none")
            sheet.lines((LOAD_X + 4, self.y + 12), [f"{contact.ref} switched it as", "found; for bypass"], SMALL)
        end = f"FEEDER-{self.word}-FOUND"
        if wiring.has_net(end):
            worked = wiring.the(Group.FEEDER, PartKind.FEEDER_CONTROL, PartKind.FEEDER_RELAY)
            name = next(name for name in worked.terminals if sheet.net(worked.ref, name) == end)
            y = self.y + 9
            way(sheet, self.mate.fixed, self.mate.free, end.removeprefix("FEEDER-"), (WAY_X, y), fixed_left=False)
            sheet.wire(end, (WAY_X + 4, y), (LOAD_X, y))
            sheet.terminal(worked.ref, name, (LOAD_X, y))
            sheet.lines((LOAD_X + 2, y + 0.8), [f"{worked.ref}.{name}", "as found;", "for bypass"], SMALL)

    def _at_load(self, coil: str, back: str) -> None:
        """What lies across the load, from its switched end to its other one: a line each."""
        wiring = self.wiring
        lines = [
            [ref]
            for ref in wiring.between(coil, back, PartKind.VARISTOR, PartKind.DIODE)
        ]  # fmt: skip
        for inner in (f"{self.word}-AT-LOAD", f"{self.word}-SNUBBER"):
            if wiring.has_net(inner):
                lines.append([wiring.only_between(coil, inner), wiring.only_between(inner, back)])
        for line, lift in zip(lines, AT_LOAD, strict=False):
            self._line_at_load(line, coil, back, self.y - lift)

    def _line_at_load(self, refs: list[str], coil: str, back: str, y: float) -> None:
        sheet, middle = self.sheet, (AT_LOAD_X + BACK_X) / 2
        sheet.wire(coil, (AT_LOAD_X, self.y), (AT_LOAD_X, y))
        if len(refs) == 1:
            two(sheet, refs[0], coil, (AT_LOAD_X, y), (BACK_X, y))
        else:
            inner = next(name for name in (sheet.net(refs[0], end) for end in self._ends(refs[0])) if name != coil)
            two(sheet, refs[0], coil, (AT_LOAD_X, y), (middle, y), "above")
            two(sheet, refs[1], inner, (middle, y), (BACK_X, y), "below" if y == self.y - AT_LOAD[0] else "above")
        if y != self.y - AT_LOAD[0]:
            sheet.wire(back, (BACK_X, y), (BACK_X, self.y - AT_LOAD[0]))

    def _ends(self, ref: str) -> tuple[str, ...]:
        return self.wiring.part(ref).terminals
