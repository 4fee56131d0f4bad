"""In the feeder and from it: tapping, connector, loads as found, rectifier, regulator, screen, bypass plug."""

from __future__ import annotations

from timing.circuit.drives import Drive
from timing.circuit.parts import BypassLink
from timing.circuit.preferred import VARISTOR_RATINGS_V, rating_at_least
from timing.circuit.wiring import TWISTED, Wiring, elsewhere, load_treatment, short_name
from timing.circuit.wiring_drives import across_coil
from timing.design.design import Design
from timing.design.units import format_quantity
from timing.power.budget import LOSS_FACTOR

LOAD_LETTERS = {"gas_valve": "Y"}
"""Letter of a load in the feeder: Y for a valve, K for the coil of a relay or contactor (practice)."""
SAME_CIRCUIT = 0.25
"""Share by which two readings of one circuit may differ: line, load and meter (practice)."""


def feed(wiring: Wiring) -> None:
    """Rectifier and reservoir."""
    build, supply = wiring.build, wiring.design.supply
    highest = wiring.found.highest_v
    surge_v = rating_at_least(wiring.found.winding.open_v * 1.1, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1]
    ref = build.add(
        "RV", "varistor", f"{surge_v:g} VAC", f"varistor, {surge_v:g} V RMS, 10 mm disc or larger", ("1", "2"),
        reason="takes the spikes that coils and high-frequency starters put on the winding",
    )  # fmt: skip
    build.two(ref, wiring.ac_a, wiring.ac_b)
    peak_reason = f"meets {highest:.0f} V and an inrush of {wiring.found.inrush.peak_a:.0f} A"
    if supply.rectifier == "bridge":
        ref = build.add(
            "BR", "bridge", "200 V 2 A", "bridge rectifier, 200 V, 2 A, 50 A surge", ("~1", "~2", "+", "-"),
            reason=peak_reason,
        )  # fmt: skip
        build.join(wiring.ac_a, f"{ref}.~1")
        build.join(wiring.ac_b, f"{ref}.~2")
        build.join(wiring.plus, f"{ref}.+")
        build.join(wiring.common, f"{ref}.-")
    else:
        ref = build.add("D", "diode", "200 V 3 A", "diode, 200 V, 3 A, 100 A surge", ("A", "K"), reason=peak_reason)
        build.two(ref, wiring.ac_a, wiring.plus)
        # Half-wave has no second diode: one side of the winding is common.
        link = build.add("W", "jumper", "wire", "wire link", ("1", "2"), reason="half-wave: the winding's return")
        build.two(link, wiring.ac_b, wiring.common)
    value = format_quantity(supply.reservoir_f, "F")
    ripple = supply.reservoir_ripple_a or wiring.found.capacitor_ripple_a
    ref = build.add(
        "C", "electrolytic", value,
        f"electrolytic capacitor {value}, {supply.reservoir_rating_v:g} V, 105 degC, "
        f"tan delta {LOSS_FACTOR:g} or less, ripple {ripple:.2g} A or more",
        ("+", "-"), reason=f"reservoir; can stand at {highest:.1f} V",
    )  # fmt: skip
    build.two(ref, wiring.plus, wiring.common)


def regulator(wiring: Wiring) -> None:
    """Regulator with the capacitors at its input and output."""
    build, supplied = wiring.build, wiring.found.regulator
    kind = "linear" if supplied.linear else "switching"
    cooling = f", {supplied.k_per_w:g} K/W to air or better" if supplied.linear else ""
    ref = build.add(
        "U", "regulator", f"{supplied.output_v:g} V",
        f"{kind} regulator, {supplied.output_v:g} V, input {supplied.input_max_v:g} V or more, 0.5 A{cooling}",
        ("IN", "COM", "OUT"), reason=f"its input can stand at {wiring.found.highest_v:.1f} V",
    )  # fmt: skip
    build.join(wiring.plus, f"{ref}.IN")
    build.join(wiring.common, f"{ref}.COM")
    build.join(wiring.rail, f"{ref}.OUT")
    wiring.ceramic(100e-9, wiring.plus, wiring.common, "keeps the regulator's input quiet; close to it")
    ref = build.add(
        "C", "electrolytic", "100 uF", "electrolytic capacitor 100 uF, 25 V", ("+", "-"),
        reason="steadies the rail when a relay pulls in",
    )  # fmt: skip
    build.two(ref, wiring.rail, wiring.common)


def feeder_side(wiring: Wiring, socket: str) -> None:
    """What is in the machine of the 24 VAC and the trigger, up to the fixed connector."""
    build = wiring.build
    fuse_a = wiring.found.fuse.rating_a
    transformer = build.add("T", "transformer", f"{wiring.design.supply.nominal_v:g} VAC", "", ("A", "B"), "feeder")
    fuse = build.add(
        "F", "fuse", f"T {fuse_a:g} A", f"fuse T {fuse_a:g} A, IEC 60127-2, 5 x 20 mm, with holder", ("1", "2"),
        "feeder", "at the point of tapping: every wire behind it is safe",
    )  # fmt: skip
    tap = build.net("TAP-A", "ac", fuse_a, "short: nothing protects it")
    build.join(tap, f"{transformer}.A", f"{fuse}.1")
    fused = build.net("FEEDER-24VAC-A", "ac", fuse_a, TWISTED)
    build.join(fused, f"{fuse}.2", f"{socket}.24VAC-A")
    back = build.net("FEEDER-24VAC-B", "ac", fuse_a, TWISTED)
    build.join(back, f"{transformer}.B", f"{socket}.24VAC-B")
    gun = build.add("S", "feeder-trigger", "trigger circuit as found", "", ("LIVE", "RETURN"), "feeder")
    for way in ("LIVE", "RETURN"):
        name = build.net(f"FEEDER-TRIG-{way}", "trigger", 0.1, TWISTED)
        build.join(name, f"{gun}.{way}", f"{socket}.TRIG-{way}")


def load_as_found(wiring: Wiring, socket: str, one: Drive) -> None:
    """A load in the machine, and the contact that switched it, up to the fixed connector."""
    build = wiring.build
    word, amps = short_name(one), one.actuator.coil.hold_a
    terminals = ("FEED", "COIL", "RETURN") if one.actuator.drive == "mosfet" else ("FEED", "COIL")
    coil = one.actuator.coil
    what = f"{one.role.replace('_', ' ')}, {coil.voltage_v:g} V {coil.kind}"
    load = build.add(LOAD_LETTERS.get(one.role, "K"), "feeder-load", what, "", terminals, "feeder")
    for way in ("FEED", "COIL"):
        name = build.net(f"FEEDER-{word}-{way}", "load", amps, load_treatment(one))
        build.join(name, f"{load}.{way}", f"{socket}.{word}-{way}")
    if one.actuator.drive == "mosfet":
        _coil_suppression(wiring, one, f"FEEDER-{word}-COIL", load)
    if elsewhere(one):
        contact = build.add("K", "feeder-contact", f"contact that switched it as found ({word})", "",
                            ("1", "2"), "feeder")  # fmt: skip
        for way in ("1", "2"):
            name = build.net(f"FEEDER-{word}-FOUND{way}", "load", amps, load_treatment(one))
            build.join(name, f"{contact}.{way}", f"{socket}.{word}-FOUND{way}")


def _coil_suppression(wiring: Wiring, one: Drive, coil_net: str, load: str) -> None:
    """At the coil itself, for a load that a MOSFET switches off in no time."""
    build = wiring.build
    back = build.net(f"FEEDER-{short_name(one)}-RETURN", "load", one.actuator.coil.hold_a)
    build.join(back, f"{load}.RETURN")
    across_coil(wiring, one, coil_net, back, one.actuator.coil.voltage_v, f"{short_name(one)}-CLAMP", "feeder")


def screen(wiring: Wiring, socket: str, plug: str) -> None:
    """The cable's screen: to the feeder's chassis at that end, to the metal box at this one, never to common."""
    build = wiring.build
    stud = build.add("E", "earth", "chassis", "", ("1",), "feeder")
    socket_screen = build.net("FEEDER-SCREEN", "screen", 1.0, "short and broad")
    build.join(socket_screen, f"{stud}.1", f"{socket}.SCREEN")
    box = build.add("E", "earth", "box", "solder tag and screw, metal box", ("1",), "box")
    screen = build.net("SCREEN", "screen", 1.0, "short and broad; to the box, never to COMMON")
    build.join(screen, f"{plug}.SCREEN", f"{box}.1")


def bypass(one: Drive, socket: str, design: Design) -> tuple[BypassLink, ...]:
    """Links that put a load back under the contact that switched it as found."""
    word = short_name(one)
    if elsewhere(one):
        note = "through the contact that switched it as found"
        return (
            BypassLink(socket, f"{word}-FEED", f"{word}-FOUND1", note),
            BypassLink(socket, f"{word}-FOUND2", f"{word}-COIL", note),
        )
    trigger, coil = design.trigger, one.actuator.coil
    sure = trigger.sense == coil.kind and abs(trigger.circuit_voltage_v / coil.voltage_v - 1) <= SAME_CIRCUIT
    note = "the trigger's live side fed this coil as found; check against your survey and photographs"
    if not sure:
        note = (
            f"NOT before you have traced it: the trigger carries {trigger.sense} {trigger.circuit_voltage_v:g} V, this "
            f"coil takes {coil.kind} {coil.voltage_v:g} V, so something else switched it as found"
        )
    return (BypassLink(socket, "TRIG-LIVE", f"{word}-COIL", note, sure),)
