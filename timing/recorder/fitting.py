"""Which adapter suits each input of the recorder at a design's machine, and why an input has none."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from timing.circuit.ratings import breaks_ac, highest_v
from timing.design.board import Board
from timing.design.design import Design
from timing.design.feeder import EXTRA_LOW_DC_V, Coil
from timing.project import Project
from timing.protocol.recorder import recorder_input
from timing.recorder.adapters import (
    REED_OFF_US,
    REED_ON_US,
    REFLEX_US,
    WELDING_HIGHEST_V,
    Adapter,
    AdapterKind,
    SeenCircuit,
    across_circuit,
    by_module,
    from_battery,
)
from timing.recorder.couplers import FAST_PULL_UP_OHM, WEAK_PULL_UP_OHM, AdapterLag, pin_coupler
from timing.recorder.presses import PressCircuit, press_circuits

COIL_WORKS_FROM = 0.85
"""Share of its nominal voltage from which a coil must pull in, and must be seen (published: IEC 60947-4-1, limits of
operation of contactors, 85 % to 110 %, seen quoted)."""
USUAL_MOTOR_V = 24.0
"""Of a feeder's motor whose plate was not read (practice)."""
MOTOR_RISE = 1.25
"""What a motor may get over what stands on its plate (practice)."""
SLOW_MOTOR = 0.35
"""Share of the motor's voltage at which it must be seen: a slow wire (choice)."""
LEAST_WELDING_V = 14.0
"""Volts of a welding arc without current, and less than any source stands at open (published: IEC 60974-1, the straight
line of conventional load voltages, seen quoted)."""
MODULE_CLASS_V = (20.0, 28.0)
"""Nominal voltages that an input module for 24 V serves (choice)."""
PULSE_HZ_PER_LINE = 1.0
"""Slowest pulses of a motor's supply over the line's frequency: a half-wave controller's (practice)."""


@dataclass(frozen=True)
class RecorderWish:
    """What a person chooses of the recorder."""

    main_contact: Literal["voltage", "contact"] = "voltage"
    """Whether input 5 lies across the welding output, or has a bare spare contact of the contactor."""
    sensor: Literal["arc", "flag"] = "arc"
    """Whether input 6 has the current switch, or the flag at the nozzle."""
    motor_v: float | None = None
    """On the plate of the wire motor; None: 24 V is taken."""


@dataclass(frozen=True)
class RecorderCircuits:
    """The recorder's circuits for one design on one board."""

    board: Board
    """The recorder's own, not the add-on's."""
    adapters: dict[str, Adapter]
    """By the key of the input, in the order of the inputs."""
    left_out: dict[str, str]
    """Why an input has none, by its key."""
    refused: frozenset[str]
    """Those of them whose circuit may kill."""
    presses: dict[str, PressCircuit]


class _LeftOutError(Exception):
    """There is no adapter; the text says why."""


class _AboveExtraLowError(_LeftOutError):
    """There is none because the circuit may kill."""


def recorder_circuits(project: Project, board: Board, wish: RecorderWish) -> RecorderCircuits:
    """Return adapters and presses for a design; board: the recorder's."""
    adapters: dict[str, Adapter] = {}
    left_out: dict[str, str] = {}
    refused = set()
    for key, make in _MAKERS.items():
        try:
            adapters[key] = make(project.design, board, wish)
        except _LeftOutError as why:
            left_out[key] = str(why)
            refused |= {key} if isinstance(why, _AboveExtraLowError) else set()
    return RecorderCircuits(board, adapters, left_out, frozenset(refused), press_circuits(project, board))


# ---- one function an input


def _gas_valve(design: Design, board: Board, _: RecorderWish) -> Adapter:
    if design.feeder.gas_valve is None:
        raise _LeftOutError("there is no gas valve with gasless wire")
    return _coil(design, board, "gas_valve", design.feeder.gas_valve.coil)


def _wire_drive(design: Design, board: Board, _: RecorderWish) -> Adapter:
    drive = design.feeder.wire_drive
    if drive.turns_motor and not breaks_ac(drive.coil):
        return _motor_circuit(design, board, drive.coil.voltage_v, "wire_drive")
    return _coil(design, board, "wire_drive", drive.coil)


def _contactor(design: Design, board: Board, _: RecorderWish) -> Adapter:
    return _coil(design, board, "contactor", design.feeder.contactor.coil)


def _coil(design: Design, board: Board, key: str, coil: Coil) -> Adapter:
    if coil.above_extra_low:
        raise _AboveExtraLowError(
            f"its circuit stands at {coil.voltage_v:g} V {coil.kind}, above extra-low voltage: no adapter of this "
            "sheet goes there. A spare bare contact of what it works, brought out by a licensed electrician, can be "
            "seen with a contact's adapter"
        )
    ac = breaks_ac(coil)
    line = 1.0 - design.supply.line_tolerance_percent / 100.0
    circuit = SeenCircuit(
        low_v=coil.voltage_v * min(line, COIL_WORKS_FROM),
        nominal_v=coil.voltage_v,
        high_v=highest_v(design, coil),
        frequency_hz=design.supply.line_frequency_hz if ac else 0.0,
    )
    kind = AdapterKind.AC_COIL if ac else AdapterKind.DC_COIL
    words = {"gas_valve": "gas valve", "wire_drive": "wire drive", "contactor": "contactor"}
    across = f"the {words[key]}'s coil, COIL and RETURN"
    low, high = MODULE_CLASS_V
    make = by_module if design.circuits.build == "modules" and low <= coil.voltage_v <= high else across_circuit
    return make(recorder_input(key), kind, circuit, across, pin_coupler(board, FAST_PULL_UP_OHM))


def _motor(design: Design, board: Board, wish: RecorderWish) -> Adapter:
    drive = design.feeder.wire_drive
    if drive.turns_motor:
        raise _LeftOutError("the add-on switches the motor itself: input 2 sees it")
    return _motor_circuit(design, board, wish.motor_v or USUAL_MOTOR_V, "motor")


def _motor_circuit(design: Design, board: Board, motor_v: float, key: str) -> Adapter:
    if motor_v > EXTRA_LOW_DC_V:
        raise _AboveExtraLowError(
            f"the motor takes {motor_v:g} V, above extra-low voltage: no adapter of this sheet goes there. The disc on "
            "the drive roll sees the wire itself"
        )
    circuit = SeenCircuit(
        low_v=SLOW_MOTOR * motor_v,
        nominal_v=motor_v,
        high_v=MOTOR_RISE * motor_v,
        pulses_hz=PULSE_HZ_PER_LINE * design.supply.line_frequency_hz,
    )
    across = "the wire motor's two terminals, either way round"
    return across_circuit(recorder_input(key), AdapterKind.MOTOR, circuit, across, pin_coupler(board, FAST_PULL_UP_OHM))


def _main_contact(design: Design, board: Board, wish: RecorderWish) -> Adapter:
    seen_at, coupler = recorder_input("main_contact"), pin_coupler(board, WEAK_PULL_UP_OHM)
    if wish.main_contact == "contact":
        return from_battery(
            seen_at, AdapterKind.CONTACT, "a spare bare contact of the contactor, both its wires free", coupler,
            AdapterLag((0.0, 0.0), (0.0, 0.0)),
        )  # fmt: skip
    open_v = design.process.open_circuit_voltage_v or LEAST_WELDING_V
    line = 1.0 - design.supply.line_tolerance_percent / 100.0
    circuit = SeenCircuit(max(open_v * line, LEAST_WELDING_V * line), open_v, WELDING_HIGHEST_V)
    across = "the welding output, at the power source's terminals"
    return across_circuit(seen_at, AdapterKind.WELDING, circuit, across, coupler)


def _sensor(design: Design, board: Board, wish: RecorderWish) -> Adapter:
    seen_at, coupler = recorder_input("sensor"), pin_coupler(board, FAST_PULL_UP_OHM)
    if wish.sensor == "arc":
        reed = AdapterLag(REED_ON_US, REED_OFF_US)
        return from_battery(seen_at, AdapterKind.CURRENT, "the reed at the welding cable", coupler, reed)
    if design.feeder.gas_valve is None:
        raise _LeftOutError("there is no gas to move a flag with gasless wire")
    reflex = AdapterLag(REFLEX_US, REFLEX_US)
    return from_battery(seen_at, AdapterKind.REFLEX, "a reflex sensor at the nozzle's flag", coupler, reflex)


def _disc(_design: Design, board: Board, _: RecorderWish) -> Adapter:
    reflex = AdapterLag(REFLEX_US, REFLEX_US)
    return from_battery(
        recorder_input("disc"), AdapterKind.REFLEX, "a reflex sensor at the disc on the drive roll",
        pin_coupler(board, FAST_PULL_UP_OHM), reflex,
    )  # fmt: skip


def _supply(design: Design, board: Board, _: RecorderWish) -> Adapter:
    supply = design.supply
    winding = Coil.model_construct(fed_from="control", kind="ac", voltage_v=supply.nominal_v, hold_a=0.0)
    high_v = highest_v(design, winding)
    circuit = SeenCircuit(
        supply.nominal_v * COIL_WORKS_FROM, supply.nominal_v, high_v, frequency_hz=supply.line_frequency_hz
    )
    across = f"the {supply.nominal_v:g} VAC, both its sides, behind its fuse"
    return across_circuit(
        recorder_input("supply"), AdapterKind.SUPPLY, circuit, across, pin_coupler(board, FAST_PULL_UP_OHM)
    )


_MAKERS = {
    "gas_valve": _gas_valve, "wire_drive": _wire_drive, "contactor": _contactor, "motor": _motor,
    "main_contact": _main_contact, "sensor": _sensor, "disc": _disc, "supply": _supply,
}  # fmt: skip
