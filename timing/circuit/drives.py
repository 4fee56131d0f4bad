"""Output drives: relay, opto-triac or MOSFET, with their resistors, suppression and what they do to the timing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from timing.circuit.preferred import VARISTOR_RATINGS_V, at_most, rating_at_least
from timing.circuit.snubber import leakage_a
from timing.circuit.suppression import off_delay_of
from timing.design.board import Board
from timing.design.design import Design
from timing.design.feeder import Actuator, Spread
from timing.design.roles import OUTPUT_ROLES

GATE_OHM = 220.0
"""In series with a gate: damps ringing, limits the pin's current (practice)."""
COUPLER_LED_A = {"relay": 0.006, "mosfet": 0.006, "opto-triac": 0.012}
"""LED current of the coupler in each drive; an opto-triac needs 5 to 10 mA to fire and ages (practice)."""
COUPLER_LED_V = 1.3
"""Forward voltage of a coupler's LED (practice)."""
LOW_GATE_V = 2.5
"""Gate voltage at which a MOSFET for a 3.3 V pin must be specified: the next step below on data sheets (practice)."""
QUIET_V = 0.8
"""A gate held below this is off; the parts list asks for such a MOSFET (choice)."""
BOOT_PULL_UP_OHM = 20e3
"""An internal pull-up that a bootloader may switch on; the external resistor must win against it (published:
ATmega328P data sheet, DC characteristics, pull-up 20 kohm to 50 kohm, seen)."""
COUPLER_PULL_OHM = 10e3
"""Holds a coupler's LED off while the board boots (choice)."""
TRIAC_HOLDING_A = 0.050
"""Current under which the triac may fail to stay on; the parts list asks for no more (choice)."""
VARISTOR_MARGIN = 1.1 * 1.15
"""High line and light load (choice: 10 % and 15 %)."""


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
        pull, boot_v = COUPLER_PULL_OHM, board.logic_v * COUPLER_PULL_OHM / (COUPLER_PULL_OHM + BOOT_PULL_UP_OHM)
    else:
        series = GATE_OHM
        pull = pull_down_ohm(board.logic_v)
        pin_a, boot_v = board.logic_v / pull, board.logic_v * pull / (pull + BOOT_PULL_UP_OHM)
    leak = 0.0
    if actuator.snubber_capacitor_f is not None and coil.kind == "ac":
        leak = leakage_a(
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
    return at_most(BOOT_PULL_UP_OHM * QUIET_V / (logic_v - QUIET_V))


def drives(design: Design, board: Board) -> tuple[Drive, ...]:
    """Return the drives of all outputs that the design has, in the order of the roles."""
    return tuple(
        drive(design, board, role.key) for role in OUTPUT_ROLES if getattr(design.feeder, role.key) is not None
    )
