"""From a design and its board to the netlist of the whole add-on.

The feeder's side (tapping, connector, loads as found, screen, bypass plug), the feed, and what the board listens to
(trigger, buttons, switches, dials, its own supply), with the lamp; the drives bring their own wiring.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from timing.circuit.builder import SCREENED, TWISTED, CircuitBuilder
from timing.circuit.cautions import cautions
from timing.circuit.dial import WIPER_CAPACITOR_F, PanelDial
from timing.circuit.drives import DRIVES, Drive, short_name, switched_apart
from timing.circuit.feed import feed, regulator_stage
from timing.circuit.found_ends import TRIGGER_RELAY_A, FoundEnds, bypass_links, ends_as_found, found_ends
from timing.circuit.load_side import load_as_found
from timing.circuit.modules import input_module, regulator_module, switching_modules
from timing.circuit.panel_contacts import PANEL_CONTACTS, PanelContacts
from timing.circuit.parts import Group, Mate, Netlist, PartKind, TerminalPlace
from timing.circuit.preferred import nearest
from timing.circuit.senses import (
    CONTACT_CAPACITOR_F,
    SENSE_CAPACITOR_F,
    contact_sense,
)
from timing.circuit.trigger_input import (
    CTR_NEW,
    CTR_NEW_MOST,
    LED_MAX_A,
    PULL_UP_OHM,
    TRIGGER_CAPACITOR_F,
    trigger_sense,
)
from timing.design.board import SUPPLY_SENSE, Role
from timing.design.pinning import needed_roles
from timing.design.units import format_quantity
from timing.power.fuse import OTHER_FAMILY
from timing.power.loads import LAMP_ALLOWANCE_A
from timing.project import Project


def netlist(project: Project) -> Netlist:
    """Return the netlist of a design on its board.

    A role without a pin gets a terminal that says so. Raises NetlistError where two roles share a pin: check the
    design against the rules on pins first.
    """
    wiring = CircuitBuilder.begun(project)
    outputs = project.drives
    feeder = wiring.within(Group.FEEDER)
    low = [one for one in outputs if not one.actuator.coil.above_extra_low]
    high = [one for one in outputs if one.actuator.coil.above_extra_low]
    ends = found_ends(project.design, outputs)
    usual = _connector(feeder, ["24VAC-A", "24VAC-B", *ends.trigger], low, ["SCREEN"], ends)
    # What may kill does not share a connector with what may be handled.
    apart = [_connector(feeder, [], high, [], ends, ", for mains, unlike the other")] if high else []
    mates = (usual, *apart)
    at = {one.role: mates[-1] if one in high else usual for one in outputs}
    wiring.build.join(wiring.ac_a, f"{usual.free}.24VAC-A")
    wiring.build.join(wiring.ac_b, f"{usual.free}.24VAC-B")
    _feeder_side(feeder, usual.fixed, ends, outputs)
    # After the feeder's own, so that its transformer and its fuse are T1 and F1.
    feed(wiring.within(Group.FEED))
    regulator = regulator_module if wiring.of_modules else regulator_stage
    regulator(wiring.within(Group.REGULATOR))
    for one in outputs:
        load_as_found(feeder, at[one.role].fixed, one)
    _trigger(wiring.within(Group.TRIGGER), usual.free, ends)
    if wiring.of_modules:
        switching_modules(wiring.within(Group.MODULES), [(one, at[one.role].free) for one in outputs])
    else:
        for one in outputs:
            DRIVES[one.actuator.drive](wiring.within(Group(one.role)), one, at[one.role].free)
    _inputs(wiring.within(Group.INPUTS))
    _dials(wiring.within(Group.DIALS), project.dials.values())
    _sense(wiring.within(Group.SENSE))
    _screen(wiring.within(Group.SCREEN), usual.fixed, usual.free)
    ends_as_found(feeder, usual.fixed, ends, outputs)
    links = tuple(bypass_links(ends, usual, [(one, at[one.role]) for one in outputs]))
    deadly = [
        wiring.build.on(f"FEEDER-{short_name(one)}-COIL", PartKind.INTERPOSING_CONTACTOR)
        for one in outputs
        if one.actuator.interposed is not None and one.actuator.interposed.load.above_extra_low
    ]
    placed = cautions(project.budget, [mate.fixed for mate in mates], wiring.mcu, deadly)
    return wiring.build.finish(mates, links, placed)


def _connector(
    wiring: CircuitBuilder,
    first: Sequence[str],
    outputs: Sequence[Drive],
    last: Sequence[str],
    ends: FoundEnds,
    kind: str = "",
) -> Mate:
    """Add a connector in two halves: ways for both, and in the feeder's half those of the ends as found.

    The feeder's half is live when it stands alone: it has the contacts that a finger cannot reach.
    """
    names = [short_name(one) for one in outputs]
    ways = (*first, *(f"{name}-{way}" for name in names for way in ("FEED", "COIL")), *last)
    at_contacts = (way for one in outputs if switched_apart(one) for way in ends.load_found(one))
    at_trigger = (way for one in outputs if not switched_apart(one) for way in ends.load_found(one))
    both = (*ways, *at_contacts, *(ends.trigger_found if first else ()), *at_trigger)
    volts = max((CONNECTOR_V, *(one.actuator.coil.voltage_v for one in outputs)))
    rated_v = next(step for step in CONNECTOR_RATINGS_V if step >= volts)
    amps = max((wiring.budget.fuse.rating_a, *(one.actuator.coil.hold_a for one in outputs)))
    text = (
        f"connector, {len(both)}-pole, polarised, {rated_v:g} V, {math.ceil(amps * CONNECTOR_MARGIN):g} A a way{kind}"
    )
    value = f"{len(both)}-pole"
    reason = "the add-on unplugs; the bypass plug fits"
    socket = wiring.add(PartKind.SOCKET, value, f"{text}, female contacts, fixed to the feeder", both, "feeder", reason)
    plug = wiring.add(PartKind.PLUG, value, f"{text}, male contacts, on the add-on's cable", ways, "cable")
    return Mate(socket, plug)


CONNECTOR_V, CONNECTOR_RATINGS_V = 50.0, (50.0, 300.0)
"""What the 24 VAC, its peak and a light load ask of a connector, and the classes to choose from (choice)."""
CONNECTOR_MARGIN = 1.25
"""Many ways side by side warm each other (practice)."""


def _feeder_side(wiring: CircuitBuilder, socket: str, ends: FoundEnds, outputs: Sequence[Drive]) -> None:
    """What is in the machine of the 24 VAC and the trigger, up to the fixed connector."""
    build = wiring.build
    held = wiring.budget.fuse
    fuse_a = held.rating_a
    transformer = wiring.add(PartKind.TRANSFORMER, f"{wiring.design.supply.nominal_v:g} VAC", "", ("A", "B"), "feeder")
    fuse = wiring.add(
        PartKind.FUSE, held.marking, f"fuse {held.title}, time-lag, 5 x 20 mm, with holder", ("1", "2"), "feeder",
        f"at the point of tapping: every wire behind it is safe; {OTHER_FAMILY}",
    )  # fmt: skip
    tap = build.net("TAP-A", "ac", fuse_a, "short: nothing protects it")
    build.join(tap, f"{transformer}.A", f"{fuse}.1")
    fused = build.net("FEEDER-24VAC-A", "ac", fuse_a, TWISTED)
    build.join(fused, f"{fuse}.2", f"{socket}.24VAC-A")
    back = build.net("FEEDER-24VAC-B", "ac", fuse_a, TWISTED)
    build.join(back, f"{transformer}.B", f"{socket}.24VAC-B")
    trigger = wiring.design.trigger
    circuit = f"trigger, {trigger.circuit_voltage_v:g} V {trigger.sense}"
    worked_a = {
        # Through the bypass plug the trigger carries the coils again.
        "coils": sum(one.actuator.coil.hold_a for one in outputs if not switched_apart(one)),
        "relay": TRIGGER_RELAY_A,
        "electronics": fuse_a,
    }[ends.works]
    back_a, terminals = 0.1, ("LIVE", "RETURN")
    if ends.dry:
        # Cut off the control circuit board it is a contact and no more: the add-on feeds it, behind its fuse.
        circuit, back_a, terminals = "trigger, dry contact", fuse_a, ("1", "2")
    gun = wiring.add(PartKind.FEEDER_TRIGGER, circuit, "", terminals, "feeder")
    for way, terminal in zip(ends.trigger, terminals, strict=True):
        amps = worked_a if way == "TRIG-LIVE" else back_a
        name = build.net(f"FEEDER-{way}", "trigger", max(amps, 0.1), TWISTED)
        build.join(name, f"{gun}.{terminal}", f"{socket}.{way}")


def _screen(wiring: CircuitBuilder, socket: str, plug: str) -> None:
    """The cable's screen: to the feeder's chassis at that end, to the metal box at this one, never to common."""
    build = wiring.build
    stud = wiring.add(PartKind.EARTH, "chassis", "", ("1",), "feeder")
    socket_screen = build.net("FEEDER-SCREEN", "screen", 1.0, "short and broad")
    build.join(socket_screen, f"{stud}.1", f"{socket}.SCREEN")
    box = wiring.add(PartKind.EARTH, "box", "solder tag and screw, metal box", ("1",), "box")
    screen = build.net("SCREEN", "screen", 1.0, "short and broad; to the box, never to COMMON")
    build.join(screen, f"{plug}.SCREEN", f"{box}.1")


LAMP_V, LAMP_A = 2.0, 0.005
"""Forward voltage and current of the status LED (practice)."""
BENCH_LINK: dict[str, tuple[str, TerminalPlace]] = {
    "board": ("pin header with jumper", "box"),
    "modules": ("piece of wire, put under two screws of the board's carrier for the bench", "module"),
}


def _trigger(wiring: CircuitBuilder, plug: str, ends: FoundEnds) -> None:
    """The trigger's optocoupler, from the plug to the pin."""
    build, sense = wiring.build, trigger_sense(wiring.design, wiring.board)
    live = build.net("TRIG-LIVE", "trigger", wiring.budget.fuse.rating_a if ends.dry else 0.05, TWISTED)
    build.join(live, f"{plug}.TRIG-LIVE")
    if ends.dry:
        # A dry contact gets the tapped supply through the plug, and its way back is inside the add-on.
        back = wiring.ac_b
        build.join(wiring.ac_a, f"{plug}.TRIG-FEED")
    else:
        back = build.net("TRIG-RETURN", "trigger", 0.05, TWISTED)
        build.join(back, f"{plug}.TRIG-RETURN")
    led = build.net("TRIG-LED", "trigger", 0.05)
    reason = f"reads closed from {sense.kept.on_v:.1f} V on; the contact carries {1000 * sense.wetting_a:.0f} mA"
    wiring.resistor(sense.resistor_ohm, live, led, reason, sense.dissipation_w)
    leak = f"{sense.kept.off_v:.1f} V, and a leak of {1000 * sense.kept.off_a:.1f} mA, still read open"
    wiring.resistor(sense.bleed_ohm, led, back, leak)
    # One kind for both, with modules: it needs no diode beside it.
    ac_input = wiring.of_modules or (sense.ac and sense.ac_input)
    kind = PartKind.AC_INPUT_COUPLER if ac_input else PartKind.COUPLER
    text = "optocoupler, ac input" if ac_input else "optocoupler"
    ref = wiring.add(
        kind, f"CTR {100 * CTR_NEW:g} %",
        f"{text}, transistor output, CTR {100 * CTR_NEW:g} % to {100 * CTR_NEW_MOST:g} % at 5 mA, "
        f"LED {2000 * LED_MAX_A:g} mA, 5 kV isolation",
        ("A", "K", "C", "E"), reason="keeps the trigger's circuit apart from the board",
    )  # fmt: skip
    build.join(led, f"{ref}.A")
    build.join(back, f"{ref}.K")
    pin = wiring.pin("trigger")
    build.join(pin, f"{ref}.C")
    build.join(wiring.common, f"{ref}.E")
    if not ac_input:
        guard = wiring.add(PartKind.DIODE, "100 V 1 A", "diode, 100 V, 1 A", ("A", "K"),
                          reason="protects the LED from reverse voltage")  # fmt: skip
        build.two(guard, back, led)
    wiring.resistor(PULL_UP_OHM, wiring.logic, pin, "pulls the trigger pin up")
    wiring.ceramic(TRIGGER_CAPACITOR_F, pin, wiring.common, "takes the starter's high frequency off the pin", 50.0)


def _inputs(wiring: CircuitBuilder) -> None:
    """Buttons, switches, contacts, the bench link and the lamp."""
    build = wiring.build
    contacts = PanelContacts(wiring)
    needed = needed_roles(wiring.design)
    if wiring.of_modules:
        input_module(contacts, [role for role in needed if role.key in PANEL_CONTACTS])
    for role in needed:
        if role.key == "bench_link":
            text, place = BENCH_LINK[wiring.design.circuits.build]
            ref = wiring.add(PartKind.JUMPER, "bench link", text, ("1", "2"), place, "read at power-up; off in service")
            build.two(ref, wiring.pin(role.key), wiring.common)
        elif role.key in PANEL_CONTACTS and not wiring.of_modules:
            _contact(contacts, role)
        elif role.key == "lamp":
            _lamp(wiring, role)


def _contact(contacts: PanelContacts, role: Role) -> None:
    wiring, build = contacts.wiring, contacts.wiring.build
    pin = build.net(f"PIN-{role.key}", "signal", 0.02, SCREENED)
    build.join(pin, f"{wiring.mcu}.{wiring.pins[role.key]}")
    contacts.join(role.key, pin)
    sense = contact_sense(wiring.board)
    wiring.resistor(sense.pull_up_ohm, wiring.logic, pin, f"wets the contact with {1000 * sense.wetting_a:.1f} mA")
    wiring.ceramic(CONTACT_CAPACITOR_F, pin, wiring.common, "keeps the wire's noise off the pin", 50.0)


def _lamp(wiring: CircuitBuilder, role: Role) -> None:
    build = wiring.build
    if wiring.of_modules:
        logic_v = wiring.board.logic_v
        text = f"LED for a panel, resistor built in, {logic_v:g} V, {1000 * LAMP_ALLOWANCE_A:g} mA or less"
        ref = wiring.add(PartKind.LAMP, "status", text, ("A", "K"), "panel")
        build.two(ref, wiring.pin(role.key), wiring.common)
        return
    pin, lamp = wiring.pin(role.key), build.net("LAMP", "signal")
    wiring.resistor(nearest((wiring.board.logic_v - LAMP_V) / LAMP_A), pin, lamp, f"{1000 * LAMP_A:g} mA for the lamp")
    ref = wiring.add(PartKind.LAMP, "status", "LED, 5 mm, with holder", ("A", "K"), "panel")
    build.two(ref, lamp, wiring.common)


def _dials(wiring: CircuitBuilder, dials: Iterable[PanelDial]) -> None:
    """Every dial with its end resistors and its wiper's pull."""
    build = wiring.build
    for dial in dials:
        name = dial.name.upper()
        top = build.net(f"{name}-TOP", "signal", 0.02, SCREENED)
        bottom = build.net(f"{name}-BOTTOM", "signal", 0.02, SCREENED)
        pin = build.net(f"PIN-{dial.name}_dial", "signal", 0.02, SCREENED)
        build.join(pin, f"{wiring.mcu}.{wiring.pins[f'{dial.name}_dial']}")
        value = format_quantity(dial.setting.resistance_ohm, "ohm")
        pot = wiring.add(
            PartKind.POTENTIOMETER, value, f"potentiometer {value}, {dial.setting.taper} taper, "
            f"{dial.setting.rotation_deg:g} deg, {dial.name} dial", ("1", "2", "3"), "panel",
        )  # fmt: skip
        build.join(bottom, f"{pot}.1")
        build.join(pin, f"{pot}.2")
        build.join(top, f"{pot}.3")
        wiring.resistor(dial.end_ohm, wiring.logic, top, "keeps a sound dial off the top rail")
        wiring.resistor(dial.end_ohm, bottom, wiring.common, "keeps a sound dial off the bottom rail")
        wiring.resistor(dial.wiper_pull_ohm, pin, wiring.common, "makes an open wiper read as broken")
        if not wiring.of_modules:
            wiring.ceramic(WIPER_CAPACITOR_F, pin, wiring.common, "keeps the arc's noise off the reading", 50.0)


def _sense(wiring: CircuitBuilder) -> None:
    """The supply-sense divider, where the design has one."""
    divider = wiring.design.supply.sense
    if divider is None:
        return
    pin = wiring.pin(SUPPLY_SENSE.key)
    wiring.resistor(divider.divider_top_ohm, wiring.plus, pin, "supply sense, upper part")
    wiring.resistor(divider.divider_bottom_ohm, pin, wiring.common, "supply sense, lower part")
    if not wiring.of_modules:
        wiring.ceramic(SENSE_CAPACITOR_F, pin, wiring.common, "steadies the reading", 50.0)
