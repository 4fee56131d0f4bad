"""What a recorder can measure at a design's machine: what to connect, what the hands do, what it tells and fills in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from timing.commission.step import PanelSetup
from timing.measure.cycle import (
    LEAST_HOLD_US,
    MeasuringCycle,
    NoCycleError,
    longest_wire_mm,
    purge_cycle,
    trigger_cycle,
)
from timing.measure.lag import LoadLines
from timing.measure.turning import SETTLED_US
from timing.project import Project
from timing.recorder.adapters import Adapter
from timing.recorder.disc import DISC_SLOTS
from timing.recorder.fitting import RecorderCircuits, RecorderWish, recorder_circuits
from timing.safety import (
    ALTERED,
    BEFORE_OPENING,
    GAS,
    LIVE_MEASURING,
    NOT_SAFETY,
    ROLLS_AND_WIRE,
    WELDING_CIRCUIT,
    WHILE_WELDING,
)
from timing.sequence.core.table import Output

REPEATS = 10
"""Repeats of a quantity (choice: limits of t at ten are 13 % wider than at any number)."""
SPEED_REPEATS = 5
"""Runs whose wire is cut and measured: each costs a minute (choice)."""
SUPPLY_REPEATS = 3
"""Pulls in which the supply is watched: it makes two hundred edges a second (choice)."""
MOST_REPEATS = 50
"""More tell nothing that some ten do not (choice)."""
LARGEST_TURN_MM = 130.0
"""Wire that a turn of a feeder's drive roll feeds, at the most: rolls of 40 mm (practice)."""
SPEED_RUN_US = 3_000_000
"""How long the wire runs to be measured with a rule (choice)."""

RECORDER_CAUTIONS = (
    "The computer is joined to the recorder's own side alone, behind its couplers: its USB, its common and its pins go "
    "to nothing of the machine, nor to the add-on. The add-on's own USB stays unplugged: its COMMON is not isolated "
    "from the feeder.",
    "The adapters go on and come off with the machine unplugged. A machine is opened by those alone who may: inside "
    "are mains, charged capacitors and the welding circuit; leave those to a licensed electrician. Local codes come "
    "first.",
    "The recorder presses the trigger by itself, without warning: gun clamped and pointing away, nobody near wire, "
    "rolls or work, one hand at the machine's switch. Pulling the recorder's USB plug lets go at once.",
)
"""Said before anything is measured."""


@dataclass(frozen=True)
class Quantity:
    """One thing to measure."""

    key: str
    title: str
    tells: str
    """What comes of it, in one sentence."""
    watches: tuple[str, ...]
    """The recorder's inputs that it needs."""
    do: tuple[str, ...]
    """What the hands do, in order."""
    cautions: tuple[str, ...]
    cycle: MeasuringCycle | None
    """What the recorder does, each time; None where a hand pulls the trigger."""
    repeats: int
    lines: LoadLines | None = None
    """Of the load whose lags it is."""
    asks_length: bool = False
    """True where a person measures the wire of each run."""
    fills: tuple[str, ...] = ()
    """Keys of the design file that it fills in."""
    bridged: bool = True
    """False where the openings of the supply's input are what is looked at."""

    @property
    def setup(self) -> PanelSetup:
        """Where the panel stands."""
        return PanelSetup() if self.cycle is None else self.cycle.setup

    def wire_mm(self, project: Project, repeats: int) -> float:
        """Return the most wire that comes out with the pressure arm down, in mm."""
        return 0.0 if self.cycle is None else longest_wire_mm(project.design, self.cycle, repeats)


@dataclass(frozen=True)
class MeasuringPlan:
    """What can be measured at one machine, in order, and why the rest cannot."""

    quantities: tuple[Quantity, ...]
    left_out: dict[str, str]
    circuits: RecorderCircuits

    def quantity(self, key: str) -> Quantity:
        """Return one of them. Raises KeyError."""
        return {one.key: one for one in self.quantities}[key]


DISC_STEP = (
    "The printed disc on the drive roll's shaft, the reflex sensor facing it. Where it has not "
    f"{DISC_SLOTS} dark sectors, `--slots` says how many."
)


class _CannotError(Exception):
    """A quantity that this machine does not have, or this recorder cannot see: why."""


def measuring_plan(project: Project) -> MeasuringPlan:
    """Return what can be measured at a design's machine."""
    # Lags of the recorder's circuits are alike on every board; the add-on's own stands in for it.
    circuits = recorder_circuits(project, project.board, RecorderWish())
    found, left_out = [], {}
    for key, make in _MAKERS.items():
        try:
            found.append(make(project, circuits))
        except (_CannotError, NoCycleError) as why:
            left_out[key] = str(why)
    return MeasuringPlan(tuple(found), left_out, circuits)


def motor_line(project: Project) -> str:
    """Return the input that sees the wire motor: its own, or that of a load which is the motor."""
    return "wire_drive" if project.design.feeder.wire_drive.turns_motor else "motor"


def _needed(circuits: RecorderCircuits, *keys: str) -> tuple[Adapter, ...]:
    for key in keys:
        if key not in circuits.adapters:
            raise _CannotError(circuits.left_out[key])
    return tuple(circuits.adapters[key] for key in keys)


def _half_period_us(project: Project, adapter: Adapter) -> float:
    return 0.5e6 / project.design.supply.line_frequency_hz if adapter.circuit.frequency_hz else 0.0


def _connect(*adapters: Adapter) -> str:
    places = "; ".join(f"input {one.input.number} to {one.across}" for one in adapters)
    return f"Machine unplugged: connect the recorder's adapters, {places}; the presses to trigger and purge button."


def _gas_valve(project: Project, circuits: RecorderCircuits) -> Quantity:
    (coil,) = _needed(circuits, "gas_valve")
    purge = project.design.buttons.purge
    cycle = purge_cycle(project) if purge else trigger_cycle(project, LEAST_HOLD_US)
    return Quantity(
        "gas_valve",
        "Gas valve: relay, and gas at the nozzle",
        "How long the add-on's relay takes to the valve's coil, and the gas from there to the nozzle.",
        ("gas_valve", "sensor"),
        (
            _connect(coil),
            "Hang a flag of thin paper before the nozzle, in the light of the reflex sensor on input 6; no draught.",
            "Cylinder open, flow as for work.",
        ),
        (GAS, *(() if purge else (ROLLS_AND_WIRE, WELDING_CIRCUIT))),
        cycle,
        REPEATS,
        LoadLines(Output.GAS, "gas_valve", "sensor", _half_period_us(project, coil), coil.steady_lag),
    )


def _contactor(project: Project, circuits: RecorderCircuits) -> Quantity:
    coil, main = _needed(circuits, "contactor", "main_contact")
    return Quantity(
        "contactor",
        "Contactor: pull-in and drop-out",
        "On-delay and off-delay of the contactor, the add-on's relay included: the off-delay is half of what burnback "
        "hangs on.",
        ("contactor", "main_contact"),
        (
            _connect(coil, main),
            "Pressure arm up, work clamp off, gun clear of everything.",
            "Power source on: its open-circuit voltage shows when the contact is closed.",
        ),
        (ROLLS_AND_WIRE, WELDING_CIRCUIT, LIVE_MEASURING),
        trigger_cycle(project, LEAST_HOLD_US),
        REPEATS,
        LoadLines(
            Output.CONTACTOR,
            "contactor",
            "main_contact",
            _half_period_us(project, coil),
            coil.steady_lag,
            main.steady_lag,
        ),
        fills=("feeder.contactor.on_delay", "feeder.contactor.off_delay"),
    )


def _wire_drive(project: Project, circuits: RecorderCircuits) -> Quantity:
    motor, drive = motor_line(project), project.design.feeder.wire_drive
    adapters = _needed(circuits, *dict.fromkeys(("wire_drive", motor)))
    coil = None if motor == "wire_drive" else "wire_drive"
    off = ("feeder.wire_drive.off_delay",) if drive.braked else ()
    return Quantity(
        "wire_drive",
        "Wire drive: pull-in" + (" and drop-out" if drive.braked else ""),
        "On-delay of the wire drive, the add-on's relay included"
        + (", and its off-delay." if drive.braked else "; its off-delay comes with the coast: a motor without a brake "
           "makes a voltage of its own while it runs on."),
        tuple(dict.fromkeys(("wire_drive", motor))),
        (_connect(*adapters), "Pressure arm up, so that no wire comes; power source off where it can be."),
        (ROLLS_AND_WIRE, WELDING_CIRCUIT),
        trigger_cycle(project, LEAST_HOLD_US),
        REPEATS,
        LoadLines(
            Output.WIRE,
            coil,
            motor,
            _half_period_us(project, adapters[0]) if coil else 0.0,
            adapters[0].steady_lag,
            adapters[-1].steady_lag,
            off_hidden=not drive.braked,
        ),
        fills=("feeder.wire_drive.on_delay", *off),
    )  # fmt: skip


_WIRE_RUNS = (
    "Power source off, or its output otherwise dead; work clamp off. Gun clamped straight and pointing away.",
    "Pressure arm down, the wire speed knob where you weld, wire through the gun as for work.",
)


def _wire_speed(project: Project, circuits: RecorderCircuits) -> Quantity:
    motor = motor_line(project)
    adapters = _needed(circuits, motor, "disc")
    return Quantity(
        "wire_speed",
        "Wire feed speed",
        "Wire feed speed from whole turns of the drive roll and a rule, and how much wire a turn feeds.",
        (motor, "disc"),
        (
            _connect(*adapters),
            DISC_STEP,
            *_WIRE_RUNS,
            "Before each run cut the wire flush with the contact tip; after it cut again, lay the piece straight along "
            "a rule, and read it to a millimetre.",
        ),
        (ROLLS_AND_WIRE, WELDING_CIRCUIT),
        trigger_cycle(project, SPEED_RUN_US),
        SPEED_REPEATS,
        asks_length=True,
        fills=("process.wire_feed_speed",),
    )


def _coast(project: Project, circuits: RecorderCircuits) -> Quantity:
    motor, drive = motor_line(project), project.design.feeder.wire_drive
    adapters = _needed(circuits, motor, "disc")
    turn_us = 1.3 * LARGEST_TURN_MM / project.design.process.wire_feed_speed_mm_s * 1e6
    off = () if drive.braked else ("feeder.wire_drive.off_delay",)
    return Quantity(
        "coast",
        "Coast",
        "What the wire runs on once its drive has let go, in time at full speed and in mm, and how it comes up to speed"
        + ("." if drive.braked else "; with it the wire drive's off-delay."),
        (motor, "disc"),
        (
            _connect(*adapters),
            DISC_STEP,
            *_WIRE_RUNS,
        ),
        (ROLLS_AND_WIRE, WELDING_CIRCUIT),
        trigger_cycle(project, round(2 * SETTLED_US + turn_us)),
        REPEATS,
        fills=("feeder.wire_drive.coast", "feeder.wire_drive.coast_measured", *off),
    )


def _arc(project: Project, circuits: RecorderCircuits) -> Quantity:
    coil, sensor = _needed(circuits, "contactor", "sensor")
    return Quantity(
        "arc",
        "Arc: on and off",
        "How long after the contactor's coil the arc strikes, and how long it burns on: what the delays come to at the "
        "arc itself.",
        ("contactor", "sensor"),
        (
            _connect(coil, sensor),
            "Make short welds on scrap with your own hand on the trigger: two seconds each, as for work. The recorder "
            "presses nothing.",
        ),
        (WHILE_WELDING, WELDING_CIRCUIT, ROLLS_AND_WIRE),
        None,
        REPEATS,
        LoadLines(
            Output.CONTACTOR,
            "contactor",
            "sensor",
            _half_period_us(project, coil),
            coil.steady_lag,
            sensor.steady_lag,
        ),
    )


def _supply(project: Project, circuits: RecorderCircuits) -> Quantity:
    (supply,) = _needed(circuits, "supply")
    return Quantity(
        "supply",
        "Dips of the 24 VAC",
        "How far the control supply dips while the coils pull in and while they hold, against what it is at rest.",
        ("supply",),
        (_connect(supply), "Pressure arm up, work clamp off; everything else as for work."),
        (ROLLS_AND_WIRE, WELDING_CIRCUIT),
        trigger_cycle(project, LEAST_HOLD_US),
        SUPPLY_REPEATS,
        bridged=False,
    )


_MAKERS = {
    "gas_valve": _gas_valve,
    "contactor": _contactor,
    "wire_drive": _wire_drive,
    "wire_speed": _wire_speed,
    "coast": _coast,
    "arc": _arc,
    "supply": _supply,
}
QUANTITY_KEYS = tuple(_MAKERS)
"""All that can be measured at any machine, in order (derived)."""


def general_cautions(project: Project) -> Iterator[str]:
    """Yield what is said before anything is connected."""
    yield from RECORDER_CAUTIONS
    yield BEFORE_OPENING
    yield NOT_SAFETY
    yield ALTERED
    yield next(one.text for one in project.netlist.cautions if one.at == "COMMON")


def run_cautions(project: Project, quantity: Quantity, repeats: int) -> Iterator[str]:
    """Yield what can hurt at one quantity, with how long its wire runs."""
    yield from quantity.cautions
    cycle = quantity.cycle
    if cycle is not None and cycle.wire_us:
        metres = quantity.wire_mm(project, repeats) / 1000
        yield (
            f"The recorder presses {repeats} times; the drive runs {cycle.wire_us / 1e6:.1f} s each time. With the "
            f"pressure arm down no more than {metres:.1f} m of wire come out in all; with it up, none."
        )
