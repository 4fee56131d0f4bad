"""Behind the plug: each load as found, what takes its spike, and the contact that switched it."""

from __future__ import annotations

from timing.circuit.builder import CircuitBuilder
from timing.circuit.drives import Drive, load_treatment, poles, short_name, switched_apart
from timing.circuit.interposing import interposing_contactor
from timing.circuit.parts import PartKind
from timing.circuit.ratings import highest_v
from timing.circuit.suppressors import across_ac, across_dc, rc_across
from timing.design.suppression import clamped_at_load, load_time_constant_s

LOADS_AS_FOUND = {"gas_valve": PartKind.FEEDER_VALVE}
"""What a load in the machine is, if not the coil of a relay or contactor."""
DIODE_SURGES = 10.0
"""Surge that a rectifier diode bears over its current, at the least (practice)."""


def load_as_found(wiring: CircuitBuilder, socket: str, one: Drive) -> None:
    """A load in the machine, and the contact that switched it, up to the fixed connector."""
    build, coil = wiring.build, one.actuator.coil
    word, amps = short_name(one), one.protection.wire_a
    switched, other = poles(coil)
    for way in ("FEED", "COIL"):
        name = build.net(f"FEEDER-{word}-{way}", "load", amps, load_treatment(one), switched)
        build.join(name, f"{socket}.{word}-{way}")
    back = build.net(f"FEEDER-{word}-RETURN", "load", amps, "", other)
    behind = one.actuator.interposed
    ends = _as_found(wiring, one) if behind is None else interposing_contactor(wiring, one, behind)
    _fused(wiring, one, f"FEEDER-{word}-FEED", ends[0])
    build.join(f"FEEDER-{word}-COIL", ends[1])
    build.join(back, ends[2])
    _suppressed(wiring, one, f"FEEDER-{word}-COIL", back)
    if switched_apart(one):
        contact = wiring.add(PartKind.FEEDER_CONTACT, f"contact that switched it as found ({word})", "",
                            ("1", "2"), "feeder")  # fmt: skip
        for way in ("1", "2"):
            name = build.net(f"FEEDER-{word}-FOUND{way}", "load", amps, load_treatment(one))
            build.join(name, f"{contact}.{way}", f"{socket}.{word}-FOUND{way}")


def _as_found(wiring: CircuitBuilder, one: Drive) -> tuple[str, str, str]:
    """Add a load as found, nothing to buy; returns where its FEED leaves its supply, and both its ends."""
    coil, name = one.actuator.coil, one.role.replace("_", " ")
    kind = LOADS_AS_FOUND.get(one.role, PartKind.FEEDER_COIL)
    value = f"{name}, {coil.voltage_v:g} V {coil.kind}"
    load = wiring.add(kind, value, "", ("FEED", "COIL", "RETURN"), "feeder")
    return f"{load}.FEED", f"{load}.COIL", f"{load}.RETURN"


def _fused(wiring: CircuitBuilder, one: Drive, feed: str, source: str) -> None:
    """The add-on's own fuse where the FEED wire leaves the supply; without one the two are the same."""
    build, held, coil = wiring.build, one.protection.fuse, one.actuator.coil
    if held is None:
        build.join(feed, source)
        return
    dc = f", stated for {coil.voltage_v:g} V dc" if coil.kind == "dc" and coil.above_extra_low else ""
    opens = "" if held.opens_in_s is None else f"; a dead short opens it within {held.opens_in_s:g} s"
    fuse = wiring.add(
        PartKind.FUSE, held.marking, f"fuse {held.title}, time-lag, 5 x 20 mm, with holder{dc}", ("1", "2"), "feeder",
        f"where {short_name(one)}-FEED leaves its supply: carries {held.continuous_a:g} A, withstands "
        f"{held.inrush_a2s:.2g} A^2 s at pull-in{opens}",
    )  # fmt: skip
    tapped = build.net(f"{short_name(one)}-SUPPLY", "load", one.protection.wire_a, "short: nothing protects it")
    build.join(tapped, source, f"{fuse}.1")
    build.join(feed, f"{fuse}.2")


def _suppressed(wiring: CircuitBuilder, one: Drive, switched: str, other: str) -> None:
    """What takes the spike, right at the load: across its coil, not across the contact."""
    actuator, coil, word = one.actuator, one.actuator.coil, short_name(one)
    kind = clamped_at_load(actuator)
    if kind is None:
        across_ac(wiring, actuator, switched, other)
    else:
        plus, minus = (switched, other) if coil.switched_pole == "plus" else (other, switched)
        across_dc(
            wiring, kind, (plus, minus), f"{word}-AT-LOAD",
            volts=coil.voltage_v, highest=highest_v(wiring.design, coil),
            amps=max(coil.hold_a, (coil.inrush_a or 0.0) / DIODE_SURGES),
            time_constant_s=load_time_constant_s(actuator), place="feeder",
        )  # fmt: skip
    rc_across(wiring, actuator, switched, other, f"{word}-SNUBBER")
