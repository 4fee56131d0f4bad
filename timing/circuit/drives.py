"""Output drives: relay, opto-triac or isolated MOSFET: their resistors, suppression, and what they do to the timing.

First their values, then how each is wired.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from timing.circuit.builder import TWISTED, CircuitBuilder
from timing.circuit.parts import PartKind, TerminalPlace
from timing.circuit.preferred import VARISTOR_RATINGS_V, at_most, nearest, rating_at_least
from timing.circuit.senses import COUPLER_LED_V, INTERNAL_PULL_UP_OHM
from timing.design.board import FIVE_VOLT_LOGIC_V, Board
from timing.design.design import Design
from timing.design.feeder import Actuator, Spread
from timing.design.roles import OUTPUT_ROLES
from timing.design.suppression import off_delay_of
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
VARISTOR_MARGIN = 1.1 * 1.15
"""High line and light load (choice: 10 % and 15 %)."""
LEAST_SNUBBER_F = 1e-9
"""Smallest snubber capacitor worth fitting (choice)."""


@dataclass(frozen=True)
class Drive:
    """One output's drive."""

    role: str
    actuator: Actuator
    on_level: Literal["high", "low"]
    coupled: bool
    """True where the pin lights a coupler's LED; False where it drives a gate."""
    series_ohm: float
    """Between pin and gate, or in series with the LED."""
    pin_a: float
    """What the pin carries while on."""
    pull_ohm: float
    """The external resistor that keeps the output off while the board boots."""
    boot_v: float
    """Gate voltage (or for a coupler LED voltage drive) if the bootloader's pull-up works against that resistor."""
    off_delay: Spread
    """From the pin to ceasing, suppression included."""
    leakage_a: float
    """Through the open contact or triac; 0 without a snubber."""
    lets_go_a: float
    """Current under which the load is sure to let go."""
    varistor_v: float
    """RMS rating of the varistor across the contact or triac."""

    @property
    def holds_in(self) -> bool:
        """True where the leakage may hold the load in after switching off."""
        return self.leakage_a >= self.lets_go_a


def snubber_leakage_a(
    voltage_v: float, frequency_hz: float, snubber_f: float, snubber_ohm: float, coil_ohm: float = 0.0
) -> float:
    """RMS current through an open switch with a snubber across it.

    `coil_ohm` is the impedance of the coil in series, taken as a pure inductance: it cancels part of the
    capacitor's reactance, so this is the largest leakage that such a coil can see.
    """
    reactance = 1.0 / (2.0 * math.pi * frequency_hz * snubber_f)
    return voltage_v / math.hypot(snubber_ohm, reactance - min(coil_ohm, 0.9 * reactance))


def drive(design: Design, board: Board, role: str) -> Drive:
    """Return the drive of an output role. Raises ValueError where the design has no such load."""
    actuator: Actuator | None = getattr(design.feeder, role)
    if actuator is None:
        raise ValueError(f"the design has no {role}")
    level = getattr(design.board.on_level, role)
    coupled = level == "low" or actuator.drive != "relay"
    coil = actuator.coil
    if coupled:
        series = at_most((board.logic_v - COUPLER_LED_V) / COUPLER_LED_A[actuator.drive])
        pin_a = (board.logic_v - COUPLER_LED_V) / series
        pull, boot_v = COUPLER_PULL_OHM, board.logic_v * COUPLER_PULL_OHM / (COUPLER_PULL_OHM + INTERNAL_PULL_UP_OHM)
    else:
        series = GATE_OHM
        pull = pull_down_ohm(board.logic_v)
        pin_a, boot_v = board.logic_v / pull, board.logic_v * pull / (pull + INTERNAL_PULL_UP_OHM)
    leak = 0.0
    if actuator.snubber_capacitor_f is not None and coil.kind == "ac":
        leak = snubber_leakage_a(
            coil.voltage_v * 1.1,
            design.supply.line_frequency_hz,
            actuator.snubber_capacitor_f,
            actuator.snubber_resistor_ohm,
            coil.voltage_v / coil.hold_a,
        )
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
        leakage_a=leak,
        lets_go_a=coil.hold_a * coil.drop_out_percent / 100.0,
        varistor_v=rating_at_least(coil.voltage_v * VARISTOR_MARGIN, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1],
    )


def pull_down_ohm(logic_v: float) -> float:
    """Largest E12 resistor that keeps a gate below QUIET_V against a bootloader's pull-up."""
    return at_most(INTERNAL_PULL_UP_OHM * QUIET_V / (logic_v - QUIET_V))


def drives(design: Design, board: Board) -> tuple[Drive, ...]:
    """Return the drives of all outputs that the design has, in the order of the roles."""
    return tuple(
        drive(design, board, role.key) for role in OUTPUT_ROLES if getattr(design.feeder, role.key) is not None
    )


TRIAC_GATE_OHM = 180.0
"""Limits the firing current of the triac (choice)."""
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


def load_treatment(one: Drive) -> str:
    """Return how to run the wires of a load."""
    return MAINS if one.actuator.coil.above_extra_low else TWISTED


def across_coil(
    wiring: CircuitBuilder, one: Drive, plus: str, minus: str, volts: float, inner: str, place: TerminalPlace = "box"
) -> None:
    """Zener and diode, diode alone, or varistor across a dc coil."""
    build, kind = wiring.build, one.actuator.suppression
    if kind == "varistor":
        rating = rating_at_least(volts, VARISTOR_RATINGS_V) or VARISTOR_RATINGS_V[-1]
        ref = wiring.add(PartKind.VARISTOR, f"{rating:g} VAC", f"varistor, {rating:g} V RMS", ("1", "2"), place,
                        reason="takes the coil's spike and lets it go quickly")  # fmt: skip
        build.two(ref, plus, minus)
        return
    diode = wiring.add(PartKind.DIODE, "100 V 1 A", "diode, 100 V, 1 A", ("A", "K"), place, "takes the coil's spike")
    if kind == "diode":
        build.two(diode, minus, plus)
        return
    middle = build.net(inner, "dc", 0.1)
    value = f"{nearest(volts):g} V"
    zener = wiring.add(PartKind.ZENER, value, f"zener diode, {value}, 1.3 W", ("A", "K"), place,
                      reason="lets the coil's current die quickly, so that it lets go on time")  # fmt: skip
    build.two(diode, minus, middle)
    build.join(middle, f"{zener}.K")
    build.join(plus, f"{zener}.A")


def _load_nets(wiring: CircuitBuilder, one: Drive, plug: str) -> tuple[str, str]:
    word, amps = short_name(one), one.actuator.coil.hold_a
    feed = wiring.build.net(f"{word}-FEED", "load", amps, load_treatment(one))
    coil = wiring.build.net(f"{word}-COIL", "load", amps, load_treatment(one))
    wiring.build.join(feed, f"{plug}.{word}-FEED")
    wiring.build.join(coil, f"{plug}.{word}-COIL")
    if one.actuator.drive != "mosfet":
        ref = wiring.add(
            PartKind.VARISTOR, f"{one.varistor_v:g} VAC", f"varistor, {one.varistor_v:g} V RMS, 10 mm disc or larger",
            ("1", "2"), reason="takes the spike of the coil when it is switched off; leaks nothing to hold it in",
        )  # fmt: skip
        wiring.build.two(ref, feed, coil)
    if one.actuator.snubber_capacitor_f is not None:
        middle = wiring.build.net(f"{word}-SNUBBER", "load", 0.1)
        volts = 250.0 if one.actuator.coil.voltage_v <= 125.0 else 630.0
        reason = f"leaks {1000 * one.leakage_a:.2f} mA; the coil lets go under {1000 * one.lets_go_a:.0f} mA"
        wiring.ceramic(one.actuator.snubber_capacitor_f, feed, middle, reason, volts)
        wiring.resistor(one.actuator.snubber_resistor_ohm, middle, coil, "limits the snubber's current", 0.25)
    return feed, coil


def _pulled_pin(wiring: CircuitBuilder, one: Drive) -> str:
    pin = wiring.pin(one.role)
    high = one.on_level == "high"
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
    ref = wiring.add(kind, "", text, terminals, reason="keeps the load's circuit apart from the board")
    build.join(led if high else wiring.logic, f"{ref}.A")
    build.join(wiring.common if high else led, f"{ref}.K")
    return ref


def _relay(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    build, word = wiring.build, short_name(one)
    feed, coil = _load_nets(wiring, one, plug)
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
    rail_v, load = wiring.budget.regulator.output_v, one.actuator.coil
    coil_ma = 1000.0 * relay_coil_a(one.actuator, rail_v)
    relay = wiring.add(
        PartKind.RELAY, f"{rail_v:g} V", f"relay, coil {rail_v:g} V dc, {coil_ma:.3g} mA or less, "
        f"one normally open (NO) contact, {_contact_rating(one)}, 4 kV coil to contact",
        ("A1", "A2", "11", "14"), reason=f"switches {load.hold_a:g} A, {load.inrush_a or load.hold_a:g} A at pull-in",
    )  # fmt: skip
    build.join(wiring.rail, f"{relay}.A1")
    build.join(drain, f"{relay}.A2")
    build.join(feed, f"{relay}.11")
    build.join(coil, f"{relay}.14")
    across_coil(wiring, one, wiring.rail, drain, rail_v, f"{word}-CLAMP")


def _contact_rating(one: Drive) -> str:
    """What the contact must be rated for: the design's stated dc rating, or an ac rating in steps of 5 A."""
    stated, load = one.actuator.contact_dc, one.actuator.coil
    if load.kind == "dc" and stated is not None:
        return f"stated for {stated.voltage_v:g} V dc, {stated.current_a:g} A, {stated.category} (an ac rating is none)"
    contact_a = max(load.inrush_a or load.hold_a, 2.0 * load.hold_a)
    return f"{'30 V dc' if load.kind == 'dc' else '250 V'}, {max(5.0, 5.0 * -(-contact_a // 5)):g} A"


def _opto_triac(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    build, word = wiring.build, short_name(one)
    feed, coil = _load_nets(wiring, one, plug)
    pin = _pulled_pin(wiring, one)
    text = "opto-triac, zero crossing, 400 V, 10 mA to fire"
    opto = _led(wiring, one, pin, PartKind.OPTO_TRIAC, text, ("A", "K", "1", "2"))
    gate, feeding = build.net(f"{word}-GATE", "load", 0.05), build.net(f"{word}-FIRE", "load", 0.05)
    wiring.resistor(TRIAC_GATE_OHM, feed, feeding, "limits the firing current", 0.25)
    build.join(feeding, f"{opto}.1")
    build.join(gate, f"{opto}.2")
    triac = wiring.add(
        PartKind.TRIAC,
        "400 V 8 A",
        f"triac, 400 V, 8 A, snubberless, holds from {1000 * TRIAC_HOLDING_A:g} mA, isolated tab",
        ("MT2", "MT1", "G"),
    )
    build.join(feed, f"{triac}.MT2")
    build.join(coil, f"{triac}.MT1")
    build.join(gate, f"{triac}.G")


def _mosfet(wiring: CircuitBuilder, one: Drive, plug: str) -> None:
    feed, coil = _load_nets(wiring, one, plug)
    pin = _pulled_pin(wiring, one)
    load = one.actuator.coil
    volts, amps = max(60.0, 2.5 * load.voltage_v), 2.0 * max(load.inrush_a or 0.0, load.hold_a)
    text = f"dc solid-state relay (isolated MOSFET output), {volts:g} V, {amps:.2g} A or more"
    ref = _led(wiring, one, pin, PartKind.DC_RELAY, text, ("A", "K", "+", "-"))
    wiring.build.join(feed, f"{ref}.+")
    wiring.build.join(coil, f"{ref}.-")


DRIVES: dict[str, Callable[[CircuitBuilder, Drive, str], None]] = {
    "relay": _relay,
    "opto-triac": _opto_triac,
    "mosfet": _mosfet,
}
