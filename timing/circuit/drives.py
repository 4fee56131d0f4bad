"""Output drives: relay, opto-triac or isolated MOSFET: their resistors, and what they do to the timing.

First their values, then how each is wired, up to the plug; timing/circuit/load_side.py has what lies behind it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from timing.circuit.builder import TWISTED, CircuitBuilder
from timing.circuit.parts import PartKind, Pole
from timing.circuit.preferred import MOSFET_RATINGS_V, at_most, rating_at_least
from timing.circuit.protection import Protection, protection
from timing.circuit.ratings import (
    COUPLER_PULSE_A,
    breaks_ac,
    highest_v,
    relay_size,
    triac_ratings,
)
from timing.circuit.senses import COUPLER_LED_V, INTERNAL_PULL_UP_OHM
from timing.circuit.suppressors import across_dc
from timing.design.board import FIVE_VOLT_LOGIC_V, OUTPUT_ROLES, Board
from timing.design.circuits import MODULE_INPUT_A
from timing.design.design import Design
from timing.design.feeder import Actuator, Coil, Spread
from timing.design.suppression import RELAY_TIME_CONSTANT_S, as_built, clamp_v, off_delay_of
from timing.power.loads import relay_coil_a

GATE_OHM = 220.0
"""In series with a gate: damps ringing, limits the pin's current (practice)."""
COUPLER_LED_A = {"relay": 0.006, "mosfet": 0.006, "opto-triac": 0.012}
"""LED current of the coupler in each drive; an opto-triac needs 5 to 10 mA to fire and ages (practice)."""
LOW_GATE_V = 2.5
"""Gate voltage at which a MOSFET for a 3.3 V pin must be specified: the next step below on data sheets (practice)."""
QUIET_V = 0.8
"""A gate held below this is off; the parts list asks for such a MOSFET (choice)."""
COUPLER_PULL_OHM = 10e3
"""Holds a coupler's LED off while the board boots (choice)."""
TRIAC_HOLDING_A = 0.050
"""Current under which the triac may fail to stay on; the parts list asks for no more (choice)."""
OFF_STATE_A = {"relay": 0.0, "opto-triac": 2e-3, "mosfet": 1e-4}
"""What a drive that is off may leak at most; the parts list asks for no more (practice)."""


@dataclass(frozen=True)
class Drive:
    """One output's drive."""

    role: str
    actuator: Actuator
    on_level: Literal["high", "low"]
    coupled: bool
    """True where the pin lights a coupler's LED; False where it drives a gate."""
    series_ohm: float
    """Between pin and gate, or in series with the LED; 0 where a module has its own."""
    pin_a: float
    """What the pin carries while on."""
    pull_ohm: float | None
    """The external resistor that keeps the output off while the board boots; None for a module whose input only lights
    when the pin draws current from it."""
    boot_v: float
    """Gate voltage (or for a coupler LED voltage drive) if the bootloader's pull-up works against that resistor."""
    off_delay: Spread
    """From the pin to ceasing, suppression included."""
    leakage_a: float
    """Through the drive while it is off; 0 through an open contact."""
    lets_go_a: float
    """Current under which the load is sure to let go."""

    protection: Protection
    """What protects the load's wires."""

    @property
    def holds_in(self) -> bool:
        """True where the leakage may hold the load in after switching off."""
        return self.leakage_a >= self.lets_go_a


def drive(design: Design, board: Board, role: str) -> Drive:
    """Return the drive of an output role. Raises ValueError where the design has no such load."""
    actuator: Actuator | None = getattr(design.feeder, role)
    if actuator is None:
        raise ValueError(f"the design has no {role}")
    actuator = as_built(design, actuator)
    level = getattr(design.board.on_level, role)
    coupled = level == "low" or actuator.drive != "relay"
    coil = actuator.coil
    pull: float | None
    if design.circuits.build == "modules":
        coupled, series, pin_a = True, 0.0, MODULE_INPUT_A
        pull = pull_down_ohm(board.logic_v) if level == "high" else None
        boot_v = 0.0 if pull is None else board.logic_v * pull / (pull + INTERNAL_PULL_UP_OHM)
    elif coupled:
        series = at_most((board.logic_v - COUPLER_LED_V) / COUPLER_LED_A[actuator.drive])
        pin_a = (board.logic_v - COUPLER_LED_V) / series
        pull, boot_v = COUPLER_PULL_OHM, board.logic_v * COUPLER_PULL_OHM / (COUPLER_PULL_OHM + INTERNAL_PULL_UP_OHM)
    else:
        series = GATE_OHM
        pull = pull_down_ohm(board.logic_v)
        pin_a, boot_v = board.logic_v / pull, board.logic_v * pull / (pull + INTERNAL_PULL_UP_OHM)
    return Drive(
        role=role,
        actuator=actuator,
        on_level=level,
        coupled=coupled,
        series_ohm=series,
        pin_a=pin_a,
        pull_ohm=pull,
        boot_v=boot_v,
        off_delay=off_delay_of(design, actuator),
        leakage_a=OFF_STATE_A[actuator.drive],
        protection=protection(design, actuator),
        lets_go_a=coil.hold_a * coil.drop_out_percent / 100.0,
    )


def pull_down_ohm(logic_v: float) -> float:
    """Largest E12 resistor that keeps a gate below QUIET_V against a bootloader's pull-up."""
    return at_most(INTERNAL_PULL_UP_OHM * QUIET_V / (logic_v - QUIET_V))


def drives(design: Design, board: Board) -> tuple[Drive, ...]:
    """Return the drives of all outputs that the design has, in the order of the roles."""
    return tuple(
        drive(design, board, role.key) for role in OUTPUT_ROLES if getattr(design.feeder, role.key) is not None
    )


COUPLER_GATE_OHM = 10e3
"""Discharges a gate that a coupler drives (choice)."""


MAINS = (
    "above extra-low voltage, fitted and tested by a licensed electrician: a twisted pair in a sleeve of its own, "
    "apart from every other wire"
)


def short_name(one: Drive) -> str:
    """Return the short name of an output in nets and connector ways."""
    return {"gas_valve": "GAS", "wire_drive": "WIRE", "contactor": "CONT"}[one.role]


def elsewhere(one: Drive) -> bool:
    """True for a load on another circuit than the control winding."""
    return one.actuator.coil.fed_from == "elsewhere" or one.actuator.coil.above_extra_low


def switched_apart(one: Drive) -> bool:
    """True where a contact in a circuit of the load's own switched it as found, not the trigger or what it works."""
    return elsewhere(one) or one.actuator.interposed is not None


def poles(load: Coil) -> tuple[Pole, Pole]:
    """Return the poles of a load's circuit: that of FEED and COIL, and that of the load's other end."""
    if breaks_ac(load):
        return "", ""
    return ("+", "-") if load.switched_pole == "plus" else ("-", "+")


def load_treatment(one: Drive) -> str:
    """Return how to run the wires of a load."""
    return MAINS if one.actuator.coil.above_extra_low else TWISTED


def load_nets(wiring: CircuitBuilder, one: Drive, plug: str) -> tuple[str, str]:
    """The two ways between plug and drive; whatever takes the load's spike lies at the load."""
    word, amps = short_name(one), one.protection.wire_a
    pole, _ = poles(one.actuator.coil)
    feed = wiring.build.net(f"{word}-FEED", "load", amps, load_treatment(one), pole)
    coil = wiring.build.net(f"{word}-COIL", "load", amps, load_treatment(one), pole)
    wiring.build.join(feed, f"{plug}.{word}-FEED")
    wiring.build.join(coil, f"{plug}.{word}-COIL")
    return feed, coil


def _pulled_pin(wiring: CircuitBuilder, one: Drive) -> str:
    pin = wiring.pin(one.role)
    high = one.on_level == "high"
    if one.pull_ohm is None:
        return pin
    wiring.resistor(
        one.pull_ohm,
        pin,
        wiring.common if high else wiring.logic,
        f"keeps the {one.role.replace('_', ' ')} off while the board boots",
    )
    return pin


def _led(wiring: CircuitBuilder, one: Drive, pin: str, kind: PartKind, text: str, terminals: tuple[str, ...]) -> str:
    """The lit side of a coupler, between pin and common or between logic supply and pin."""
    build = wiring.build
    led = build.net(f"{short_name(one)}-LED", "signal")
    high = one.on_level == "high"
    wiring.resistor(one.series_ohm, pin, led, f"LED current, {1000 * one.pin_a:.0f} mA")
    ref = wiring.add(kind, "", text, terminals, reason=_apart(wiring, one, kind))
    build.join(led if high else wiring.logic, f"{ref}.A")
    build.join(wiring.common if high else led, f"{ref}.K")
    return ref


def _apart(wiring: CircuitBuilder, one: Drive, kind: PartKind) -> str:
    """Why a coupler is there, with what it sees of the load."""
    apart, load = "keeps the load's circuit apart from the board", one.actuator.coil
    if kind is PartKind.OPTO_TRIAC:
        return f"{apart}; blocks a peak of {triac_ratings(wiring.design, load).peak_v:.0f} V and the spikes on it"
    if kind is PartKind.DC_RELAY:
        spike = clamp_v(one.actuator.suppression, load.voltage_v)
        return f"{apart}; sees {highest_v(wiring.design, load):.0f} V and the clamped spike of {spike:.0f} V on top"
    return apart


def _relay(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    build, word = wiring.build, short_name(one)
    feed, coil = load_nets(wiring, one, plug)
    pin = _pulled_pin(wiring, one)
    gate, drain = build.net(f"{word}-GATE", "signal"), build.net(f"{word}-RELAY", "dc", 0.1)
    if one.coupled:
        text = "optocoupler, transistor output, CTR 50 % or more at 5 mA"
        ref = _led(wiring, one, pin, PartKind.COUPLER, text, ("A", "K", "C", "E"))
        build.join(wiring.rail, f"{ref}.C")
        build.join(gate, f"{ref}.E")
        wiring.resistor(COUPLER_GATE_OHM, gate, wiring.common, "discharges the gate")
    else:
        wiring.resistor(one.series_ohm, pin, gate, "limits the gate current")
    from_rail = one.coupled or wiring.board.logic_v >= FIVE_VOLT_LOGIC_V
    opens = "logic level" if from_rail else f"specified at {LOW_GATE_V:g} V on the gate"
    switch = wiring.add(
        PartKind.MOSFET,
        "60 V",
        f"MOSFET, N-channel, {opens}, off below {QUIET_V:g} V, 60 V, 0.2 A or more",
        ("G", "D", "S"),
    )
    build.join(gate, f"{switch}.G")
    build.join(drain, f"{switch}.D")
    build.join(wiring.common, f"{switch}.S")
    rail_v = wiring.budget.regulator.output_v
    coil_a = relay_coil_a(one.actuator, rail_v)
    rating, reason = contact_rating(one.actuator)
    relay = wiring.add(
        PartKind.RELAY, f"{rail_v:g} V", f"relay, coil {rail_v:g} V dc, {1000.0 * coil_a:.3g} mA or less, "
        f"one normally open (NO) contact, {rating}, 4 kV coil to contact",
        ("A1", "A2", "11", "14"), reason=reason,
    )  # fmt: skip
    build.join(wiring.rail, f"{relay}.A1")
    build.join(drain, f"{relay}.A2")
    build.join(feed, f"{relay}.11")
    build.join(coil, f"{relay}.14")
    across_dc(
        wiring, one.actuator.suppression, (wiring.rail, drain), f"{word}-CLAMP",
        volts=rail_v, highest=rail_v, amps=coil_a, time_constant_s=RELAY_TIME_CONSTANT_S,
    )  # fmt: skip


def contact_rating(actuator: Actuator) -> tuple[str, str]:
    """What the contact must be rated for, and why: AC-15 for an ac coil, for dc what the design states."""
    stated, load = actuator.contact_dc, actuator.coil
    pulls_in = f"switches {load.hold_a:g} A, {load.inrush_a or load.hold_a:g} A at pull-in, at {load.voltage_v:g} V"
    size = relay_size(actuator)
    if load.kind == "ac":
        if size is None or not size.name:
            return f"AC-15 {load.hold_a:g} A at {load.voltage_v:g} V (IEC 60947-5-1)", pulls_in
        return (
            f"{size.contact_a:g} A, {size.name} or AC-15 {load.hold_a:g} A at {load.voltage_v:g} V (IEC 60947-5-1)",
            f"{pulls_in}; {size.name} breaks {size.break_va:g} VA and makes {size.make_va:g} VA of coils",
        )
    if stated is not None:
        rating = f"{stated.voltage_v:g} V dc, {stated.current_a:g} A, {stated.category}"
        return f"stated for {rating} (an ac rating is none)", f"breaks {load.voltage_v:g} V dc; {pulls_in}"
    return "30 V dc, 5 A", f"{pulls_in}; of a resistive rating three tenths are for coils"


def _opto_triac(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    build, word = wiring.build, short_name(one)
    feed, coil = load_nets(wiring, one, plug)
    pin = _pulled_pin(wiring, one)
    rated = triac_ratings(wiring.design, one.actuator.coil)
    text = (
        f"opto-triac, zero crossing, {rated.blocking_v:g} V, pulse {COUPLER_PULSE_A:g} A, "
        f"{1000 * COUPLER_LED_A['opto-triac']:g} mA or less to fire"
    )
    opto = _led(wiring, one, pin, PartKind.OPTO_TRIAC, text, ("A", "K", "1", "2"))
    gate, feeding = build.net(f"{word}-GATE", "load", 0.05), build.net(f"{word}-FIRE", "load", 0.05)
    fires = f"at the peak of {rated.peak_v:.0f} V the coupler carries {rated.peak_v / rated.gate_ohm:.1f} A"
    wiring.resistor(rated.gate_ohm, feed, feeding, fires, 0.25)
    build.join(feeding, f"{opto}.1")
    build.join(gate, f"{opto}.2")
    value = f"{rated.blocking_v:g} V {rated.current_a:g} A"
    sink = "" if rated.k_per_w is None else f", {rated.k_per_w:.2g} K/W junction to air"
    triac = wiring.add(
        PartKind.TRIAC,
        value,
        f"triac, {rated.blocking_v:g} V, {rated.current_a:g} A, snubberless, holds from {1000 * TRIAC_HOLDING_A:g} mA, "
        f"isolated tab{sink}",
        ("MT2", "MT1", "G"),
        reason=f"blocks a peak of {rated.peak_v:.0f} V and the spikes on it; {rated.heat_w:.2g} W of heat",
    )
    build.join(feed, f"{triac}.MT2")
    build.join(coil, f"{triac}.MT1")
    build.join(gate, f"{triac}.G")


def _mosfet(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    feed, coil = load_nets(wiring, one, plug)
    pin = _pulled_pin(wiring, one)
    load = one.actuator.coil
    highest = highest_v(wiring.design, load)
    seen = highest + clamp_v(one.actuator.suppression, load.voltage_v)
    volts = rating_at_least(seen, MOSFET_RATINGS_V) or MOSFET_RATINGS_V[-1]
    amps = 2.0 * max(load.inrush_a or 0.0, load.hold_a)
    text = f"dc solid-state relay (isolated MOSFET output), {volts:g} V, {amps:.2g} A or more"
    ref = _led(wiring, one, pin, PartKind.DC_RELAY, text, ("A", "K", "+", "-"))
    plus, minus = (feed, coil) if load.switched_pole == "plus" else (coil, feed)
    wiring.build.join(plus, f"{ref}.+")
    wiring.build.join(minus, f"{ref}.-")


DRIVES: dict[str, Callable[[CircuitBuilder, Drive, str], None]] = {
    "relay": _relay,
    "opto-triac": _opto_triac,
    "mosfet": _mosfet,
}
