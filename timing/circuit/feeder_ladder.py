"""The feeder as found and the feeder as changed: two ladders of one shape, with every cut between them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from timing.circuit.drives import Drive, elsewhere, short_name, switched_apart
from timing.circuit.found_ends import SWITCHED_AS_FOUND, found_ends
from timing.circuit.ladder import Cut, FeederWiring, Ladder, Rail, Rung, RungPart, Side, Symbol
from timing.circuit.parts import Group, Part, PartKind, Terminal
from timing.design.feeder import AsFound, Coil, WireDrive
from timing.project import Project

WORDS = (
    ("ohmmeter", "all readings with the machine unplugged, locked and measured empty, the add-on's plug pulled"),
    ("FEED", "the wire that brings supply to a load; it goes to one side of the add-on's contact"),
    ("COIL", "the wire from the other side of that contact on to the load"),
    ("LIVE", "the wire from the trigger: it carries voltage while the trigger is pressed"),
    ("RETURN", "the way back to the other side of the supply that the trigger switches"),
    ("TRIG-FEED", "to a dry trigger, from the add-on's 24VAC-A; its way back to 24VAC-B is inside the add-on"),
    ("FOUND", "the other end of a wire that was cut; with the add-on unplugged the bypass plug joins it again"),
)
SET_ASIDE = "nothing: insulated, marked with its number"
PARKED = "as found, for bypass"
OPEN_OHM, JOINED_OHM = 1e6, 1.0
"""Above the first two ends count as apart, below the second as joined: what an ordinary meter tells (choice)."""
APART, JOINED = f"above {OPEN_OHM / 1e6:g} Mohm", f"below {JOINED_OHM:g} ohm"
NO_SHORT = f"never below {JOINED_OHM:g} ohm"
"""Of a contact that a coil and the winding lie across: the meter sees these while it is open."""


def feeder_wiring(project: Project) -> FeederWiring | None:
    """Return both ladders and the cuts; None where the design does not say how the machine was wired.

    Raises NetlistError where two roles share a pin.
    """
    if project.design.feeder.as_found is None:
        return None
    return _Wiring(project, project.design.feeder.as_found).drawn()


class _Wiring:
    """The machine of one design; cuts are numbered in the order in which they come."""

    def __init__(self, project: Project, as_found: AsFound) -> None:
        self.design, self.net, self.as_found = project.design, project.netlist, as_found
        self.outputs: Sequence[Drive] = project.drives
        self.ends = found_ends(self.design, self.outputs)
        self.works = self.ends.works
        self.worked = [one for one in self.outputs if not switched_apart(one)]
        self.cuts: list[Cut] = []
        # The fuse is in 24VAC-A, which therefore has to be the side that is not grounded.
        sides = ("24VAC-A", "24VAC-B")
        grounded = as_found.grounded_side if self.design.supply.grounded == "yes" else None
        rails: dict[str | None, Rail] = {"switched": "left", "common": "right"}
        self.ground = rails.get(grounded)
        self.left, self.right = sides[::-1] if self.ground == "left" else sides

    def drawn(self) -> FeederWiring:
        trigger_found, sensed = self._trigger()
        control = [self._on_control(one) for one in self.worked]
        apart = [self._apart(one) for one in self.outputs if switched_apart(one)]
        interposed = [one for one in self.outputs if one.actuator.interposed is not None]
        coils = [self._contactor_coil(one) for one in interposed if not elsewhere(one)]
        own = [self._contactor_circuit(one) for one in interposed if elsewhere(one)]
        found: list[Ladder] = []
        changed: list[Ladder] = []
        # A dry trigger has no circuit of its own any more: the add-on feeds it from the control circuit.
        in_control = self.design.trigger.sense == "ac" or self.ends.dry
        title = f"Trigger circuit, {self.design.trigger.circuit_voltage_v:g} V dc"
        trigger_changed = (sensed, *self._trigger_parked())
        if isinstance(trigger_found, Ladder):
            found.append(trigger_found)
            changed.append(self._board_parked(trigger_found))
        elif not in_control:
            found.append(Ladder(title, "+", "-", (replace(trigger_found, end="right"),)))
            changed.append(Ladder(title, "+", "-", trigger_changed))
        gun = [trigger_found] if in_control and isinstance(trigger_found, Rung) else []
        relay = [self._relay_contact()] if control and self.works == "relay" else []
        middle = "switched" if control and self.works != "electronics" else ""
        winding = self._winding()
        found.append(self._control((winding, *gun, *relay, *(one for one, _ in control)), middle))
        sense = trigger_changed if in_control else ()
        changed.append(
            self._control((winding, self._tap(), *sense, *(one for _, one in control), *coils, *self._control_parked()))
        )
        motor = self._motor()
        return FeederWiring(
            (*found, *(one for one, _ in apart), *motor),
            # The motor's circuit behind a relay stays as it is.
            (*changed, *own, *(one for _, one in apart)),
            tuple(self.cuts),
            tuple(one for one in WORDS if one[0] != "TRIG-FEED" or self.ends.dry),
        )

    def _control(self, rungs: tuple[Rung, ...], middle: str = "") -> Ladder:
        title = f"Control circuit, {self.design.supply.nominal_v:g} VAC"
        return Ladder(title, self.left, self.right, rungs, self.ground, middle)

    # ---- the trigger

    def _trigger(self) -> tuple[Ladder | Rung, Rung]:
        """The trigger as found, in the control circuit or a ladder of its own, and as changed."""
        gun = RungPart(Symbol.CONTACT, "trigger")
        if self.ends.dry:
            return self._on_electronics(gun), self._dry(gun)
        live = self.way("TRIG-LIVE")
        sensed = (gun, self._terminal("TRIG-LIVE"), RungPart(Symbol.OURS, "sense"), self._terminal("TRIG-RETURN"))
        source, sink = self._trigger_rails()
        other = self.way(self.ends.trigger_found[0]) if self.ends.trigger_found else SET_ASIDE
        cut = self._cut(
            f"the wire from the trigger to {'its relay' if self.works == 'relay' else 'the coils'}",
            (("trigger's end", live), ("other end", other)),
            f"From {source} to this wire: {NO_SHORT} with the trigger open, {JOINED} with it held.",
            f"From {live} to {_named(other)}, trigger open: {APART}. From {source} to {live}, trigger held: {JOINED}.",
        )
        marked = (gun, RungPart(Symbol.CUT, str(cut.number)))
        if self.works == "relay":
            found = Rung("left", "right", (*marked, self._relay_coil()))
        else:
            found = Rung("left", "middle", marked)
        return found, Rung("left", "right", sensed, f"new: a wire from {sink} to {self.way('TRIG-RETURN')}")

    def _relay_coil(self) -> RungPart:
        return RungPart(Symbol.COIL, SWITCHED_AS_FOUND["relay"][1])

    def _trigger_parked(self) -> tuple[Rung, ...]:
        """The coil of the trigger's relay, on the connector."""
        if self.works != "relay":
            return ()
        (found,) = self.ends.trigger_found
        return (Rung("open", "right", (self._terminal(found), self._relay_coil()), PARKED),)

    def _dry(self, gun: RungPart) -> Rung:
        feed, live = (self._terminal(way) for way in self.ends.trigger)
        ours = (RungPart(Symbol.OURS, "24VAC-A"), RungPart(Symbol.OURS, "sense"))
        return Rung("open", "open", (ours[0], feed, gun, live, ours[1]))

    def _on_electronics(self, gun: RungPart) -> Ladder:
        """Both wires of the trigger come off the board, whose supply is not the add-on's to load."""
        ways = [self.way(way) for way in self.ends.trigger]
        boards = [self.way(way) for way in self.ends.trigger_found]
        cuts = [
            self._cut(
                f"{which} wire of the trigger at the control circuit board",
                (("trigger's end", goes), ("board's end", f"{board}, by a new wire")),
                f"From this wire to the trigger's own terminal: {JOINED}.",
                f"From {ways[0]} to {ways[1]}: {APART} with the trigger open, {JOINED} with it held. From {goes} to "
                f"{board}: {APART}.",
            )
            for which, goes, board in zip(("one", "the other"), ways, boards, strict=True)
        ]
        first, second = (RungPart(Symbol.CUT, str(cut.number)) for cut in cuts)
        rung = Rung("left", "right", (first, gun, second))
        return Ladder("Trigger circuit of the control circuit board", "input", "return", (rung,))

    def _board_parked(self, found: Ladder) -> Ladder:
        """The board's own trigger terminals, on the connector."""
        first, second = (self._terminal(way) for way in self.ends.trigger_found)
        return replace(found, rungs=(Rung("left", "right", (first, RungPart(Symbol.GAP), second), PARKED),))

    def _control_parked(self) -> Iterator[Rung]:
        """What switched the coils on the 24 VAC as found, on the connector."""
        loads = [self._terminal(way) for one in self.worked for way in self.ends.load_found(one)]
        if not loads:
            return
        if self.works == "electronics":
            for one in loads:
                yield Rung("left", "open", (RungPart(Symbol.ELECTRONICS, "output"), one), PARKED)
        elif self.works == "relay":
            yield Rung("left", "open", (RungPart(Symbol.CONTACT, "its contact"), *loads), PARKED)
        else:
            yield Rung("open", "open", (*(self._terminal(way) for way in self.ends.trigger_found), *loads), PARKED)

    def _trigger_rails(self) -> tuple[str, str]:
        dc = self.design.trigger.sense == "dc"
        return ("+ of the trigger's circuit", "- of the trigger's circuit") if dc else (self.left, self.right)

    def _relay_contact(self) -> Rung:
        parted = "worked drive and contactor; parted" if self.as_found.one_relay else ""
        return Rung("left", "middle", (RungPart(Symbol.CONTACT, "its contact"),), parted)

    # ---- the supply of the add-on

    def _winding(self) -> Rung:
        whence = {
            "transformer": "control transformer in the feeder; its mains side is not ours",
            "cable": "from the power source, through the control cable",
        }
        return Rung("left", "right", (RungPart(Symbol.WINDING, whence[self.as_found.supply_from]),))

    def _tap(self) -> Rung:
        steps = (self._terminal("24VAC-A"), RungPart(Symbol.OURS, "supply"), self._terminal("24VAC-B"))
        fuse = self._fuse()
        fused = RungPart(Symbol.FUSE, f"{fuse.ref} {fuse.value}")
        placed = (fused, *steps) if self.left == "24VAC-A" else (*steps[::-1], fused)
        return Rung(
            "left", "right", placed, "new: two wires from the terminals of the 24 VAC, the fuse at the first of them"
        )

    # ---- loads

    def _on_control(self, one: Drive) -> tuple[Rung, Rung]:
        """A load on the 24 VAC: one cut, and one new wire that brings the supply."""
        feed, coil = self._ways(one)
        load = _load(one)
        other = next((self.way(way) for way in self.ends.load_found(one)), SET_ASIDE)
        start: Side = "left" if self.works == "electronics" else "middle"
        cut = self._cut(
            f"the wire that switches the {load.label}, close to the {_noun(load)}",
            (("switched side's end", other), (f"{_noun(load)}'s end", coil)),
            f"From this wire to the {load.label}'s own terminal: {JOINED}. From its other terminal to {self.right}: "
            f"{JOINED}.",
            f"From {coil} to {self.right}, through the {load.label}: {_through(one)}. From {_named(other)} to {coil}: "
            f"{NO_SHORT}. From {feed} to {self.left}: {JOINED}. From {feed} to {coil}, plug pulled: {NO_SHORT}.",
        )
        output = (RungPart(Symbol.ELECTRONICS, "output"),) if self.works == "electronics" else ()
        found = Rung(start, "right", (*output, RungPart(Symbol.CUT, str(cut.number)), load))
        note = f"new: a wire from {self.left} to {feed}"
        return found, Rung("left", "right", (*self._ours(one), load), note)

    def _apart(self, one: Drive) -> tuple[Ladder, Ladder]:
        """A load in a circuit of its own: both wires come off the contact that switched it, which goes to the bypass.

        They go to the add-on's contact, or to that of an interposing contactor.
        """
        behind = one.actuator.interposed
        feed, coil = self._ways(one) if behind is None else self._main_contact(one)
        load, name = _load(one), short_name(one)
        contact = self._contact_as_found(one)
        first, second = (self.way(way) for way in self.ends.load_found(one))
        rest = f", {'plug pulled' if behind is None else 'the contactor at rest'}"
        supply = self._cut(
            f"the supply's wire at contact {contact}, which switched the {load.label}",
            (("supply's end", feed), (f"terminal of {contact}", f"{first}, by a new wire")),
            f"Across {contact}, trigger open: {NO_SHORT}. From this wire to the supply's terminal: {JOINED}.",
            f"From {feed} to the supply's terminal: {JOINED}. From {feed} to {first}: {APART}.",
        )
        through = self._cut(
            f"the {load.label}'s wire at contact {contact}",
            ((f"terminal of {contact}", f"{second}, by a new wire"), (f"{_noun(load)}'s end", coil)),
            f"From this wire to the {load.label}'s own terminal: {JOINED}.",
            f"From {coil} to {second}: {APART}. Through the {load.label}: {_through(one)}. From {feed} to {coil}"
            f"{rest}: {NO_SHORT}.",
        )
        found = (
            RungPart(Symbol.CUT, str(supply.number)),
            RungPart(Symbol.CONTACT, contact),
            RungPart(Symbol.CUT, str(through.number)),
            load,
        )
        changed = (*self._ours(one), load) if behind is None else (RungPart(Symbol.CONTACT, self._contactor(one)), load)
        parked = Rung(
            "open", "open",
            (self._terminal(f"{name}-FOUND1"), RungPart(Symbol.CONTACT, contact), self._terminal(f"{name}-FOUND2")),
            PARKED,
        )  # fmt: skip
        circuit = one.actuator.coil if behind is None else behind.load
        # Of a circuit that the add-on's own wires do not enter the poles are not asked for.
        rails = _poles(circuit) if behind is None else UNPOLED
        return (
            Ladder(_circuit_of(load.label, circuit), *rails, (Rung("left", "right", found),)),
            Ladder(_circuit_of(load.label, circuit), *rails, (Rung("left", "right", changed), parked)),
        )

    # ---- interposing contactors

    def _contactor(self, one: Drive) -> str:
        """The ref of the contactor whose coil the add-on switches."""
        ends = self._on_net_of(self.way(f"{short_name(one)}-COIL"))
        return next(ref for ref in ends if self._part(ref).kind is PartKind.INTERPOSING_CONTACTOR)

    def _main_contact(self, one: Drive) -> tuple[str, str]:
        ref = self._contactor(one)
        return f"{ref}.L1", f"{ref}.T1"

    def _contactor_coil(self, one: Drive) -> Rung:
        coil = RungPart(Symbol.COIL, f"coil {self._contactor(one)}")
        feed, _ = self._ways(one)
        note = "" if elsewhere(one) else f"new: wires from {self.left} to {feed}, from A2 to {self.right}"
        return Rung("left", "right", (*self._ours(one), coil), note)

    def _contactor_circuit(self, one: Drive) -> Ladder:
        coil = one.actuator.coil
        title = _circuit_of(f"coil of {self._contactor(one)}", coil)
        return Ladder(title, *_poles(coil), (self._contactor_coil(one),))

    def _motor(self) -> tuple[Ladder, ...]:
        """The motor's circuit behind its relay, which nobody touches."""
        drive = self.design.feeder.wire_drive
        if drive.switched == "motor":
            return ()
        rungs = [
            Rung("left", "middle", (RungPart(Symbol.CONTACT, "drive relay, NO"),), "not touched: stays as it is"),
            Rung("middle", "right", (RungPart(Symbol.MOTOR, "wire feed motor"),)),
        ]
        if drive.braked:
            brake = (RungPart(Symbol.BREAK_CONTACT, "drive relay, NC"), RungPart(Symbol.RESISTOR, "brake"))
            rungs.append(Rung("middle", "right", brake))
        return (Ladder("Motor circuit", "+", "-", tuple(rungs), None, "motor"),)

    # ---- names

    def _fuse(self) -> Part:
        return self.net.the(Group.FEEDER, PartKind.FUSE)

    def way(self, name: str) -> str:
        """Return a connector's way by its name, with the connector's ref."""
        ref = next(mate.fixed for mate in self.net.mates if name in self.net.part(mate.fixed).terminals)
        return f"{ref}.{name}"

    def _terminal(self, name: str) -> RungPart:
        return RungPart(Symbol.TERMINAL, self.way(name))

    def _ways(self, one: Drive) -> tuple[str, str]:
        return self.way(f"{short_name(one)}-FEED"), self.way(f"{short_name(one)}-COIL")

    def _ours(self, one: Drive) -> Iterator[RungPart]:
        feed, coil = self._ways(one)
        fuse = next((part for part in map(self._part, self._on_net_of(feed)) if part.kind is PartKind.FUSE), None)
        if fuse is not None:
            yield RungPart(Symbol.FUSE, f"{fuse.ref} {fuse.value}")
        yield RungPart(Symbol.TERMINAL, feed)
        yield RungPart(Symbol.OURS, one.actuator.drive)
        yield RungPart(Symbol.TERMINAL, coil)

    def _part(self, ref: str) -> Part:
        return self.net.part(ref)

    def _on_net_of(self, way: str) -> list[str]:
        return [end.ref for end in self.net.net_of(Terminal(*way.split(".", 1))).terminals]

    def _contact_as_found(self, one: Drive) -> str:
        net = self.net.net_of(Terminal(*self.way(f"{short_name(one)}-FOUND1").split(".", 1)))
        return next(end.ref for end in net.terminals if self.net.part(end.ref).kind is PartKind.FEEDER_CONTACT)

    def _cut(self, wire: str, ends: tuple[tuple[str, str], tuple[str, str]], before: str, after: str) -> Cut:
        cut = Cut(len(self.cuts) + 1, wire, ends, before, after)
        self.cuts.append(cut)
        return cut


def _named(end: str) -> str:
    return "the other end" if end == SET_ASIDE else end


UNPOLED = ("side 1", "side 2")


def _poles(circuit: Coil) -> tuple[str, str]:
    """Names of the rails of a load on a supply of its own."""
    if circuit.kind == "ac":
        return UNPOLED
    return ("+", "-") if circuit.switched_pole == "plus" else ("-", "+")


def _circuit_of(label: str, circuit: Coil) -> str:
    title = f"Circuit of the {label}, {circuit.voltage_v:g} V {circuit.kind}"
    return f"{title}; may kill: for a licensed electrician" if circuit.above_extra_low else title


def _load(one: Drive) -> RungPart:
    if one.role == "gas_valve":
        return RungPart(Symbol.VALVE, "gas valve")
    if isinstance(one.actuator, WireDrive):
        relay = one.actuator.switched == "relay-coil"
        return RungPart(Symbol.COIL, "drive relay") if relay else RungPart(Symbol.MOTOR, "wire feed motor")
    return RungPart(Symbol.COIL, "contactor")


def _noun(load: RungPart) -> str:
    return {Symbol.VALVE: "valve", Symbol.MOTOR: "motor"}.get(load.symbol, "coil")


def _through(one: Drive) -> str:
    """What the meter shows through the load, so that a joint to the wrong one is seen."""
    behind = one.actuator.interposed
    coil = one.actuator.coil if behind is None else behind.load
    motor = isinstance(one.actuator, WireDrive) and one.actuator.switched == "motor"
    if coil.kind == "dc" and not motor:
        return f"about {coil.voltage_v / coil.hold_a:.3g} ohm, its voltage over its current"
    return "some ohms, neither open nor a short"
