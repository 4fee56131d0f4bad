"""The trigger's input and the RC across a load as netlists for ngspice, in the cases that their rules are about."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from timing.circuit.found_ends import found_ends
from timing.circuit.ratings import snubber_w
from timing.circuit.senses import HIGH_SHARE, INTERNAL_PULL_UP_OHM, LOW_SHARE, RESISTOR_TOLERANCE
from timing.circuit.trigger_input import (
    CTR_AT_A,
    CTR_FALL,
    CTR_LEFT_AT_END,
    CTR_LEFT_WARM,
    CTR_NEW,
    CTR_NEW_MOST,
    LIGHT_LOAD_RISE,
    OFF_A,
    PULL_UP_OHM,
    TRIGGER_CAPACITOR_F,
    TriggerSense,
    trigger_sense,
)
from timing.power.spice import NGSPICE_THERMAL_V, Expected, SpiceCircuit, measures_of, supply_circuits, transient_run
from timing.project import Project

LED_NEW_V, LED_OLD_V = 1.03, 1.27
"""LED voltage at 5 mA of a low one in a warm box, and of a high one in the cold (practice)."""
LED_SLOPE_V = 0.044
"""By which the LED's voltage rises for 2.7 times the current (practice)."""
CYCLES = 5.0
"""How long a case of the trigger runs, in cycles of the line; measured in the last two (choice)."""
CASE_STEP_S = 20e-6
"""Longest step of a run (choice)."""
DAMP_OHM = 100e3
"""Leak of a damp gun cable (practice)."""
LEFT_F, LEFT_OHM = 100e-9, 100.0
"""The usual RC across a contact (practice)."""
CONTACT_OHM = 1.0
"""A closed trigger with its wires (practice)."""


@dataclass(frozen=True)
class Coupler:
    """One optocoupler: its LED, and what its transistor makes of the LED's current."""

    led_v: float
    """At 5 mA."""
    transfer_ratio: float
    """At 5 mA."""

    @property
    def saturation_a(self) -> float:
        """Of a diode with that voltage at 5 mA."""
        return CTR_AT_A * math.exp(-self.led_v / LED_SLOPE_V)


NEW_COUPLER = Coupler(LED_NEW_V, CTR_NEW_MOST)
"""The one that a leak is most likely to turn on (derived)."""
OLD_COUPLER = Coupler(LED_OLD_V, CTR_NEW * CTR_LEFT_AT_END * CTR_LEFT_WARM)
"""The one that a press is least likely to turn on (derived)."""


def spice_circuits(project: Project) -> tuple[SpiceCircuit, ...]:
    """Return every netlist of a design: supply, trigger, RC across loads."""
    return (*supply_circuits(project.budget), *trigger_circuits(project), *snubber_circuits(project))


def trigger_circuits(project: Project) -> Iterator[SpiceCircuit]:
    """Yield the cases of the trigger's input, each with the parts that are worst for it."""
    sense = trigger_sense(project.design, project.board)
    logic_v, hz = project.board.logic_v, project.design.supply.line_frequency_hz if sense.ac else 0.0
    stray = project.design.supply.line_tolerance_percent / 100.0
    high_v = project.design.trigger.circuit_voltage_v * (1.0 + stray) * LIGHT_LOAD_RISE
    closed, rc = f"Rtrigger s live {CONTACT_OHM!r}", f"Cleft s cx {LEFT_F!r}\nRleft cx live {LEFT_OHM!r}"
    wanted, dry = sense.wanted, found_ends(project.design, project.drives).dry

    def case(name: str, title: str, volts: float, contact: str, pressed: bool) -> SpiceCircuit:
        if dry:
            title = f"dry trigger on the tapped supply: {title}"
        return trigger_circuit(f"trigger-{name}", title, sense, logic_v, hz, volts, contact, pressed)

    yield case("pressed-low-line", "held at low line, optocoupler aged", sense.low_v, closed, True)
    yield case("on-level", f"{wanted.on_v:.3g} V, optocoupler aged", wanted.on_v, closed, True)
    yield case("off-level", f"{wanted.off_v:.3g} V, optocoupler new", wanted.off_v, closed, False)
    leak = f"Rleak s live {high_v / OFF_A!r}"
    yield case("leak", "open, a leak of 1 mA at high line, optocoupler new", high_v, leak, False)
    damp = f"Rdamp s live {DAMP_OHM!r}"
    yield case("damp-cable", "open, 100 kohm of damp cable at high line, optocoupler new", high_v, damp, False)
    yield case("rc-left", "open, 100 nF and 100 ohm left across it, high line, optocoupler new", high_v, rc, False)
    trigger = project.design.trigger
    stated = [f"Rstated s live {trigger.leak_ohm!r}"] if trigger.leak_ohm else []
    stated += [f"Cstated s live {trigger.snubber_capacitor_f!r}"] if trigger.snubber_capacitor_f else []
    if stated:
        yield case("stated-leak", "open, with what the design says to leak", high_v, "\n".join(stated), False)


def trigger_circuit(
    name: str,
    title: str,
    sense: TriggerSense,
    logic_v: float,
    frequency_hz: float,
    volts: float,
    contact: str,
    pressed: bool,
    coupler: Coupler | None = None,
) -> SpiceCircuit:
    """Return the netlist of one case. frequency_hz: 0 for dc; volts: RMS with ac; contact: lines from s to live.

    The resistors stand at the ends of their tolerance that are worse for the case. Nodes: s source, live behind the
    trigger, led, pin; node 0 serves both sides of the coupler.
    """
    unit = coupler or (OLD_COUPLER if pressed else NEW_COUPLER)
    stray = RESISTOR_TOLERANCE if pressed else -RESISTOR_TOLERANCE
    lasts = CYCLES / (frequency_hz or 50.0)
    source = f"SIN(0 {volts * math.sqrt(2.0)!r} {frequency_hz!r})" if frequency_hz else f"DC {volts!r}"
    both = sense.ac and sense.ac_input
    lit = "abs(i(Vled))" if both else "max(i(Vled),0)"
    other = "Dback x led LED" if both else "Dguard 0 led GUARD"
    pulls = [f"Rpull logic pin {PULL_UP_OHM * (1.0 - stray)!r}"]
    # The board's own pull-up counts where it is against the case.
    pulls += [f"Rown logic pin {INTERNAL_PULL_UP_OHM!r}"] if pressed else []
    span = f"from={lasts * 3 / CYCLES!r} to={lasts!r}"
    expected = (
        Expected("low", f"min v(pin) {span}", LOW_SHARE * logic_v, "V", limit="at most")
        if pressed
        else Expected("low", f"min v(pin) {span}", HIGH_SHARE * logic_v, "V", limit="at least")
    )
    body = "\n".join(
        [
            f"Vsource s 0 {source}",
            contact,
            f"Rseries live led {sense.resistor_ohm * (1.0 + stray)!r}",
            f"Rbleed led 0 {sense.bleed_ohm * (1.0 - stray)!r}",
            "Dled led x LED",
            other,
            "Vled x 0 0",
            f".model LED D(IS={unit.saturation_a!r} N={LED_SLOPE_V / NGSPICE_THERMAL_V!r})",
            ".model GUARD D(IS=5e-9 N=1.7 RS=0.05)",
            f"Vlogic logic 0 {logic_v!r}",
            *pulls,
            f"Cpin pin 0 {TRIGGER_CAPACITOR_F!r}",
            # The transistor: the ratio falls below 5 mA, and it saturates near 0.1 V.
            f"Bcoupler pin 0 I={unit.transfer_ratio!r}*{lit}*min(1,pow({lit}/{CTR_AT_A!r}+1e-9,{CTR_FALL!r}))"
            "*(1-exp(-max(v(pin),0)/0.05))",
            f".ic v(pin)={logic_v!r}",
            *transient_run(lasts, CASE_STEP_S, measures_of([expected])),
        ]
    )
    title = f"{title}; the pin reads {'low' if pressed else 'high'}"
    return SpiceCircuit(name, title, (expected,), body + "\n")


def snubber_circuits(project: Project) -> Iterator[SpiceCircuit]:
    """Yield the RC across each load that has one, at high line: the current that heats its resistor."""
    design = project.design
    for one in project.drives:
        actuator, coil = one.actuator, one.actuator.coil
        farad, ohm = actuator.snubber_capacitor_f, actuator.snubber_resistor_ohm
        if farad is None or coil.kind != "ac":
            continue
        hz, lasts = design.supply.line_frequency_hz, 20.0 / design.supply.line_frequency_hz
        rms_a = math.sqrt(snubber_w(design, actuator, farad) / ohm)
        volts = rms_a * math.hypot(ohm, 1.0 / (2.0 * math.pi * hz * farad))
        expected = Expected("current", f"rms i(vrc) from={lasts / 2!r} to={lasts!r}", rms_a, "A", 0.02)
        body = [
            f"Vsource s 0 SIN(0 {volts * math.sqrt(2.0)!r} {hz!r})",
            "Vrc s x 0",
            f"Csnubber x y {farad!r}",
            f"Rsnubber y 0 {ohm!r}",
            *transient_run(lasts, CASE_STEP_S, measures_of([expected])),
        ]
        title = f"RC across the {one.role.replace('_', ' ')} at high line"
        yield SpiceCircuit(f"snubber-{one.role}", title, (expected,), "\n".join(body) + "\n")
