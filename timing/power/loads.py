"""What is drawn in each phase of the sequence: ac coils from the winding, dc from the regulator's output."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from timing.circuit.senses import contacts_a
from timing.design.board import Board
from timing.design.design import Design
from timing.design.feeder import Actuator
from timing.power.components import rail_v
from timing.sequence.core.table import TABLE, Output, Phase

OUTPUT_ROLE = {Output.GAS: "gas_valve", Output.WIRE: "wire_drive", Output.CONTACTOR: "contactor"}

LAMP_ALLOWANCE_A = 0.008
"""Allowed for the status lamp, above what its resistor passes (practice)."""
TRIGGER_PULL_UP_A = 0.0005
"""Pull-ups of a closed trigger: 5 V over 22 kohm and 20 kohm (derived)."""
RELAY_COIL_W = 0.36
"""Coil power of a small relay with 4 kV isolation; the parts list asks for no more current (choice)."""
DRIVER_A = {"relay": 0.0, "opto-triac": 0.012, "mosfet": 0.006}
"""What the board itself spends to hold an output on: LED of the coupler; relay coils are separate (choice)."""


@dataclass(frozen=True)
class PhaseLoad:
    """What is on in a phase, as the sequence turns it on."""

    phase: Phase
    ac_hold_a: float
    """Coils on the control winding, held, at their nominal voltage."""
    ac_load_s: float
    """The same as a conductance, in siemens."""
    rail_a: float
    """Drawn from the regulator's output."""


@dataclass(frozen=True)
class PullIn:
    """A change of phase, with the ac loads before, during and after the pull-in of what is new."""

    before: Phase
    after: Phase
    before_s: float
    pull_in_s: float
    after_s: float
    lasts_us: int


def actuators(design: Design, outputs: Iterable[Output]) -> list[Actuator]:
    """Return the actuators behind those outputs, in the order of the outputs' bits."""
    ordered = sorted(outputs, key=lambda output: output.value)
    found = [getattr(design.feeder, OUTPUT_ROLE[output]) for output in ordered]
    return [actuator for actuator in found if actuator is not None]


def _on_winding(actuator: Actuator) -> bool:
    return actuator.coil.fed_from == "control"


def _held_s(actuator: Actuator) -> float:
    return actuator.coil.hold_a / actuator.coil.voltage_v if _on_winding(actuator) else 0.0


def _inrush_s(actuator: Actuator) -> float:
    current = actuator.coil.inrush_a or actuator.coil.hold_a
    return current / actuator.coil.voltage_v if _on_winding(actuator) else 0.0


def relay_coil_a(actuator: Actuator, coil_v: float) -> float:
    """Coil current of the relay that drives an actuator: the design's, or that of a usual relay at that voltage."""
    return RELAY_COIL_W / coil_v if actuator.relay_coil_a is None else actuator.relay_coil_a


def rail_load_a(design: Design, board: Board, outputs: Iterable[Output]) -> float:
    """Current from the regulator's output with those outputs on: board, lamp, inputs, relay coils, couplers."""
    coil_v = rail_v(design.supply, board)
    drives = sum(
        DRIVER_A[actuator.drive] + (relay_coil_a(actuator, coil_v) if actuator.drive == "relay" else 0.0)
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
        sum(_held_s(actuator) for actuator in held),
        rail_load_a(design, board, outputs),
    )


def phase_loads(design: Design, board: Board) -> tuple[PhaseLoad, ...]:
    """Return what every phase draws, in the order of the phases."""
    return tuple(phase_load(design, board, phase) for phase in Phase)


def heaviest(loads: Iterable[PhaseLoad]) -> PhaseLoad:
    """Return the phase that draws most: by ac conductance, then by dc."""
    return max(loads, key=lambda load: (load.ac_load_s, load.rail_a))


def pull_ins(design: Design) -> tuple[PullIn, ...]:
    """Return every change of phase of the table that turns a coil on, heaviest first."""
    found = []
    for before, row in TABLE.items():
        for after in {step.to for step in row.transitions}:
            new = actuators(design, TABLE[after].outputs - row.outputs)
            kept = actuators(design, TABLE[after].outputs & row.outputs)
            if any(_on_winding(actuator) for actuator in new):
                held = sum(_held_s(actuator) for actuator in kept)
                found.append(
                    PullIn(
                        before,
                        after,
                        sum(_held_s(actuator) for actuator in actuators(design, row.outputs)),
                        held + sum(_inrush_s(actuator) for actuator in new),
                        held + sum(_held_s(actuator) for actuator in new),
                        max(actuator.on_delay.max_us for actuator in new if _on_winding(actuator)),
                    )
                )
    return tuple(sorted(found, key=lambda change: (-change.pull_in_s, change.before, change.after)))
