"""An interposing contactor, and the load behind it in a circuit of its own.

The add-on works the contactor's coil. Its contact takes the place of the one that switched the load as found: the
machine's own wires of that circuit move over to it, and what takes the load's spike stands right at the load.
"""

from __future__ import annotations

from timing.circuit.builder import CircuitBuilder
from timing.circuit.drives import MAINS, Drive, elsewhere, short_name
from timing.circuit.lists import SPIKE_LEG_A, gauge_for
from timing.circuit.parts import PartKind
from timing.circuit.preferred import VARISTOR_RATINGS_V, X2_RATINGS_V
from timing.circuit.ratings import VARISTOR_DC_SHARE, highest_v
from timing.circuit.suppressors import across_ac, across_dc, rc_across
from timing.design.feeder import Interposed
from timing.design.suppression import load_time_constant_s

RC_F, RC_OHM = 100e-9, 100.0
"""The usual RC element across an ac load behind a contactor (practice)."""
NOT_LISTED = "; no varistor listed stands its voltage: a licensed electrician chooses what takes the load's spike"
AT_LOAD = "short, right at the load"
MOVED = "the machine's own wire, moved over from the contact as found; a new piece no thinner than that wire"
PROTECTIVE = (
    "protective conductor, green-yellow or as local code asks, as thick as the circuit's own wires; first to be "
    "connected, last to be taken off; by a licensed electrician"
)


def interposing_contactor(wiring: CircuitBuilder, one: Drive, behind: Interposed) -> tuple[str, str, str]:
    """Add the contactor and the load behind it. Returns the terminals that belong to the coil's own circuit: where FEED
    leaves its supply, the coil's switched end, and its other end."""
    build, coil = wiring.build, one.actuator.coil
    word, name = short_name(one), one.role.replace("_", " ")
    contactor = wiring.add(
        PartKind.INTERPOSING_CONTACTOR,
        f"interposing, {coil.voltage_v:g} V {coil.kind}",
        f"interposing contactor for the {name}, coil {coil.voltage_v:g} V {coil.kind}, {coil.hold_a:g} A held or less "
        f"(A1, A2), NO contact (L1, T1) {_contact(behind)}",
        ("A1", "A2", "L1", "T1"), "feeder",
        f"breaks {behind.hold_a:g} A, {behind.inrush_a or behind.hold_a:g} A at the start, at {behind.voltage_v:g} V "
        f"{behind.kind}: too much for a small relay; its contact stands where the load was switched as found"
        f"{'' if _listed(wiring, behind) else NOT_LISTED}",
    )  # fmt: skip
    supply = wiring.add(
        PartKind.FEEDER_SUPPLY,
        f"{'its supply' if elsewhere(one) else 'winding T1'}, {coil.voltage_v:g} V {coil.kind}",
        "", ("FEED", "RETURN"), "feeder",
    )  # fmt: skip
    build.join(f"FEEDER-{word}-RETURN", f"{supply}.RETURN")
    _load_behind(wiring, one, behind, contactor)
    if behind.load.above_extra_low:
        _protective_conductor(wiring, word, contactor, behind)
    return f"{supply}.FEED", f"{contactor}.A1", f"{contactor}.A2"


def _contact(behind: Interposed) -> str:
    stated = behind.contact_dc
    if behind.kind == "dc" and stated is not None:
        return f"stated for {stated.voltage_v:g} V dc, {stated.current_a:g} A, {stated.category} (an ac rating is none)"
    return f"AC-15 {behind.hold_a:g} A at {behind.voltage_v:g} V (IEC 60947-5-1), or AC-3 for a motor (IEC 60947-4-1)"


def _load_behind(wiring: CircuitBuilder, one: Drive, behind: Interposed, contactor: str) -> None:
    build, word, name = wiring.build, short_name(one), one.role.replace("_", " ")
    treatment = MAINS if behind.load.above_extra_low else MOVED
    kind = PartKind.FEEDER_VALVE if one.role == "gas_valve" else PartKind.FEEDER_COIL
    at_load = f"{AT_LOAD}; by a licensed electrician" if behind.load.above_extra_low else AT_LOAD
    listed = _listed(wiring, behind)
    terminals = ("FEED", "COIL", *(("RETURN",) if listed else ()))
    load = wiring.add(kind, f"{name}, {behind.voltage_v:g} V {behind.kind}", "", terminals, "feeder")
    for way, end in (("FEED", "L1"), ("COIL", "T1")):
        net = build.net(f"{word}-LOAD-{way}", "load", behind.hold_a, treatment)
        build.join(net, f"{contactor}.{end}", f"{load}.{way}")
    if listed:
        back = build.net(f"{word}-LOAD-RETURN", "load", min(behind.hold_a, SPIKE_LEG_A), at_load)
        build.join(back, f"{load}.RETURN")
        _suppressed(wiring, one, behind, (f"{word}-LOAD-COIL", back))


def _listed(wiring: CircuitBuilder, behind: Interposed) -> bool:
    """Tell whether a varistor is listed that stands the load's circuit."""
    rated_v = VARISTOR_RATINGS_V[-1] * (VARISTOR_DC_SHARE if behind.kind == "dc" else 1.0)
    return highest_v(wiring.design, behind.load) <= rated_v


def _suppressed(wiring: CircuitBuilder, one: Drive, behind: Interposed, nets: tuple[str, str]) -> None:
    """What takes the load's spike, right at the load."""
    like = one.actuator.model_copy(
        update={"coil": behind.load, "interposed": None, "snubber_capacitor_f": RC_F, "snubber_resistor_ohm": RC_OHM}
    )
    highest = highest_v(wiring.design, behind.load)
    if behind.kind == "ac":
        across_ac(wiring, like, *nets)
        if not behind.load.above_extra_low or highest <= X2_RATINGS_V[-1]:
            rc_across(wiring, like, *nets, f"{short_name(one)}-LOAD-SNUBBER")
        return
    # Either way round, because the poles of this circuit are not asked for; and it lets a motor coast as it did.
    across_dc(
        wiring, "varistor", nets, "", volts=behind.voltage_v, highest=highest, amps=behind.hold_a,
        time_constant_s=load_time_constant_s(like), place="feeder",
    )  # fmt: skip


def _protective_conductor(wiring: CircuitBuilder, word: str, contactor: str, behind: Interposed) -> None:
    build = wiring.build
    metal = wiring.add(
        PartKind.EARTH, "metal", f"terminal for a protective conductor, {gauge_for(behind.hold_a)} or thicker, with "
        "ring lug and locking washer", ("1",), "feeder",
        f"the metal that carries {contactor} must not become live through a loose wire; connected and tested by a "
        "licensed electrician, by local code",
    )  # fmt: skip
    bar = wiring.add(PartKind.EARTH, "PE", "", ("1",), "feeder")
    name = build.net(f"{word}-PE", "load", behind.hold_a, PROTECTIVE)
    build.join(name, f"{metal}.1", f"{bar}.1")
