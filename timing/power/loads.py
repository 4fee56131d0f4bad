"""What is drawn in each phase of the sequence: ac coils from the winding, dc from the regulator's output.

The current of an ac coil lags: pulled in it is mostly magnetising current, and while it pulls in, with the magnet's gap
still open, less so. A lagging current lets the winding's voltage fall less than one in phase with it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from timing.circuit.ratings import relay_coil_w
from timing.circuit.senses import contacts_a
from timing.design.board import Board
from timing.design.circuits import MODULE_INPUT_A
from timing.design.design import Design
from timing.design.feeder import Actuator, Coil
from timing.design.suppression import as_built
from timing.power.components import rail_v, regulator
from timing.power.power_factor import HELD_POWER_FACTORS, PULL_IN_POWER_FACTORS, Guess, power_factor
from timing.sequence.core.table import TABLE, Output, Phase

PULL_IN_SHARE = 0.85
"""A coil is made to pull in from 85 % of its rated voltage on, the lower limit in the IEC 60947 series (practice)."""

OUTPUT_ROLE = {Output.GAS: "gas_valve", Output.WIRE: "wire_drive", Output.CONTACTOR: "contactor"}

LAMP_ALLOWANCE_A = 0.008
"""Allowed for the status lamp, above what its resistor passes (practice)."""
TRIGGER_PULL_UP_A = 0.0005
"""Pull-ups of a closed trigger: 5 V over 22 kohm and 20 kohm (derived)."""
DRIVER_A = {"relay": 0.0, "opto-triac": 0.012, "mosfet": 0.006}
"""What the board itself spends to hold an output on: LED of the coupler; relay coils are separate (choice)."""
MODULE_DRIVER_A = DRIVER_A | {"relay": MODULE_INPUT_A}
"""The same for ready-made modules, whose inputs are lit too (choice)."""


@dataclass(frozen=True)
class AcLoad:
    """What hangs on the winding, at its nominal voltage."""

    in_phase_s: float = 0.0
    """Conductance, in siemens."""
    lag_s: float = 0.0
    """Susceptance of what lags, in siemens."""

    def __add__(self, other: AcLoad) -> AcLoad:
        return AcLoad(self.in_phase_s + other.in_phase_s, self.lag_s + other.lag_s)

    @property
    def admittance_s(self) -> float:
        """Current over voltage, in siemens."""
        return math.hypot(self.in_phase_s, self.lag_s)

    def in_series(self, frequency_hz: float) -> tuple[float, float]:
        """Return the same as a resistance and an inductance in series, which a coil is: ohm and henry."""
        square = self.admittance_s**2
        return self.in_phase_s / square, self.lag_s / square / (2.0 * math.pi * frequency_hz)


def loaded_v(open_v: float, source_ohm: float, load: AcLoad) -> float:
    """Return what a winding of that open voltage and resistance has left under a load, in V RMS."""
    return open_v / math.hypot(1.0 + source_ohm * load.in_phase_s, source_ohm * load.lag_s)


def coil_load(coil: Coil, guess: Guess, pulling_in: bool = False) -> AcLoad:
    """Return what a coil is for the winding; nothing, where it is fed from elsewhere."""
    if coil.fed_from != "control":
        return AcLoad()
    amperes = (coil.inrush_a or coil.hold_a) if pulling_in else coil.hold_a
    if coil.kind == "dc":
        factor = 1.0
    elif pulling_in:
        factor = power_factor(coil.pull_in_power_factor_percent, PULL_IN_POWER_FACTORS, guess)
    else:
        factor = power_factor(coil.held_power_factor_percent, HELD_POWER_FACTORS, guess)
    admittance_s = amperes / coil.voltage_v
    return AcLoad(admittance_s * factor, admittance_s * math.sqrt(1.0 - factor**2))


@dataclass(frozen=True)
class PhaseLoad:
    """What is on in a phase, as the sequence turns it on."""

    phase: Phase
    ac_hold_a: float
    """Coils on the control winding, held, at their nominal voltage."""
    ac: AcLoad
    """The same as a load of the winding, with the usual power factor."""
    ac_most: AcLoad
    """With the highest power factor, which pulls the winding's voltage down furthest."""
    rail_a: float
    """Drawn from the regulator's output."""


@dataclass(frozen=True)
class PullIn:
    """A change of phase, with the ac loads before, during and after the pull-in of what is new."""

    before: Phase
    after: Phase
    load_before: AcLoad
    load_during: AcLoad
    load_after: AcLoad
    lasts_us: int
    guess: Guess
    """Power factor of the coils."""


def actuators(design: Design, outputs: Iterable[Output]) -> list[Actuator]:
    """Return the actuators behind those outputs, in the order of the outputs' bits."""
    ordered = sorted(outputs, key=lambda output: output.value)
    found = [getattr(design.feeder, OUTPUT_ROLE[output]) for output in ordered]
    return [as_built(design, actuator) for actuator in found if actuator is not None]


def _on_winding(actuator: Actuator) -> bool:
    return actuator.coil.fed_from == "control"


def _sum(loads: Iterable[AcLoad]) -> AcLoad:
    return sum(loads, AcLoad())


def relay_coil_a(actuator: Actuator, coil_v: float) -> float:
    """Coil current of the relay that drives an actuator: the design's, or that of a relay of the size it needs."""
    return relay_coil_w(actuator) / coil_v if actuator.relay_coil_a is None else actuator.relay_coil_a


def preload_a(design: Design, board: Board) -> float:
    """Current of the resistor that keeps an isolating module at its least load with nothing on; 0 where none is."""
    return max(regulator(design.supply, board, design.circuits).least_load_a - _drawn_a(design, board, ()), 0.0)


def rail_load_a(design: Design, board: Board, outputs: Iterable[Output]) -> float:
    """Current from the regulator's output with those outputs on: board, lamp, inputs, relay coils, couplers."""
    return _drawn_a(design, board, outputs) + preload_a(design, board)


def _drawn_a(design: Design, board: Board, outputs: Iterable[Output]) -> float:
    driver_a = MODULE_DRIVER_A if design.circuits.build == "modules" else DRIVER_A
    coil_v = rail_v(design.supply, board, design.circuits)
    drives = sum(
        driver_a[actuator.drive] + (relay_coil_a(actuator, coil_v) if actuator.drive == "relay" else 0.0)
        for actuator in actuators(design, outputs)
    )
    return board.current_a + LAMP_ALLOWANCE_A + TRIGGER_PULL_UP_A + contacts_a(design, board) + drives


def phase_load(design: Design, board: Board, phase: Phase) -> PhaseLoad:
    """Return what a phase draws."""
    outputs = TABLE[phase].outputs
    held = actuators(design, outputs)
    return PhaseLoad(
        phase,
        sum(actuator.coil.hold_a for actuator in held if _on_winding(actuator)),
        _sum(coil_load(actuator.coil, "typical") for actuator in held),
        _sum(coil_load(actuator.coil, "high") for actuator in held),
        rail_load_a(design, board, outputs),
    )


def phase_loads(design: Design, board: Board) -> tuple[PhaseLoad, ...]:
    """Return what every phase draws, in the order of the phases."""
    return tuple(phase_load(design, board, phase) for phase in Phase)


def heaviest(loads: Iterable[PhaseLoad]) -> PhaseLoad:
    """Return the phase that draws most: by ac current, then by dc."""
    return max(loads, key=lambda load: (load.ac.admittance_s, load.rail_a))


def pull_ins(design: Design, guess: Guess = "typical") -> tuple[PullIn, ...]:
    """Return every change of phase of the table that turns a coil on, heaviest first."""
    found = []
    for before, row in TABLE.items():
        for after in {step.to for step in row.transitions}:
            new = actuators(design, TABLE[after].outputs - row.outputs)
            kept = actuators(design, TABLE[after].outputs & row.outputs)
            if any(_on_winding(actuator) for actuator in new):
                held = _sum(coil_load(actuator.coil, guess) for actuator in kept)
                found.append(
                    PullIn(
                        before,
                        after,
                        _sum(coil_load(actuator.coil, guess) for actuator in actuators(design, row.outputs)),
                        held + _sum(coil_load(actuator.coil, guess, pulling_in=True) for actuator in new),
                        held + _sum(coil_load(actuator.coil, guess) for actuator in new),
                        max(actuator.on_delay.max_us for actuator in new if _on_winding(actuator)),
                        guess,
                    )
                )
    return tuple(sorted(found, key=lambda change: (-change.load_during.admittance_s, change.before, change.after)))
