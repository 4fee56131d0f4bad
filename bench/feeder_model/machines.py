"""Hidden machines: the bench with its lamps, one that does what its design says, and others that nobody knows."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random
from typing import Literal

from bench.feeder_model.couplers import PEAK_OVER_RMS
from bench.feeder_model.hidden import (
    AT_ONCE,
    DrawnLag,
    HiddenArc,
    HiddenCoupler,
    HiddenDisc,
    HiddenDrive,
    HiddenLine,
    HiddenLoad,
    HiddenMachine,
    HiddenPress,
    Switching,
)
from timing.circuit.trigger_input import trigger_sense
from timing.design.design import Design
from timing.design.feeder import Actuator, Spread
from timing.design.suppression import off_delay_of, on_delay_of
from timing.power.components import winding
from timing.process.coast import usual_friction
from timing.project import Project
from timing.protocol.target import OUTPUT_BIT
from timing.recorder.adapters import REED_OFF_US, REED_ON_US, Adapter, AdapterKind
from timing.recorder.couplers import LIGHT_UP_US, LOOK, AdapterLag
from timing.recorder.disc import USUAL_ROLL_MM, disc_for
from timing.recorder.fitting import LEAST_WELDING_V, USUAL_MOTOR_V, RecorderWish, recorder_circuits
from timing.recorder.presses import PressCircuit

DRIVE_SWITCHING = {
    "relay": Switching(DrawnLag(7_000, 250), DrawnLag(3_500, 150), bounce_us=2_000),
    "opto-triac": Switching(DrawnLag(60, 10), DrawnLag(4_000, 2_000)),
    "mosfet": Switching(DrawnLag(20), DrawnLag(80)),
}
"""What the add-on itself adds: small relays take 5 ms to 10 ms, let go in half of it and bounce for 1 ms to 5 ms; a
triac holds on until the current's next zero (practice: bounce seen quoted)."""
LOAD_BOUNCE_US = {"gas_valve": 0, "wire_drive": 2_500, "contactor": 4_000}
"""Of contacts that loads work; a valve has none (practice)."""
SPREADS_IN_RANGE = 6.0
"""Standard deviations between the shortest and the longest delay that a design states (choice)."""
STEADY_SHARE = 0.02
"""Standard deviation of a coupler's lag from one operation to the next, over the lag: it hangs on the coupler, hardly
on the moment (choice)."""
CHARGES_LEAST_SHARE = 0.3
"""Least time in which the trigger's pin charges, over the longest (choice: threshold and tolerances the other way)."""
BANK_HOLDS_US = 2_000_000
"""How long a power source's capacitor bank keeps its output up with its own discharge alone (practice)."""
NO_LAG = AdapterLag((0.0, 0.0), (0.0, 0.0))
"""Of something that is not there (exact)."""
RUN_UP_US = 40_000
"""Time constant of a geared feed motor (practice: that of its coast, COAST_BRAKED_US of timing.design.feeder)."""
_LEAST_LAG_US = 100


def lamps(project: Project | None = None) -> HiddenMachine:
    """Return the bench table: lamps on dc on the add-on's outputs.

    project: with it the outputs lie behind the design's relays, without it straight behind the pins.
    """
    if project is None:
        return HiddenMachine({role: HiddenLoad(AT_ONCE, AT_ONCE) for role in OUTPUT_BIT})
    found = _actuators(project.design)
    return HiddenMachine({role: HiddenLoad(DRIVE_SWITCHING[one.drive], AT_ONCE) for role, one in found.items()})


def usual_machine(project: Project) -> HiddenMachine:
    """Return the machine that does what its design says: typical delays, the likely coast, the speed it starts from."""
    return _machine(project, None)


def random_machine(project: Project, seed: int) -> HiddenMachine:
    """Return a machine of this design as it might be found: everything that the design states is off, within reason.

    Adapters and presses lie anywhere within what timing.recorder allows them.
    """
    random = Random(seed)
    usual = _machine(project, random)
    assert usual.drive is not None
    friction = usual_friction(usual.drive.braked)
    return replace(
        usual,
        loads={role: _strayed(load, random) for role, load in usual.loads.items()},
        line=replace(
            usual.line,
            open_v=usual.line.open_v * random.uniform(0.95, 1.05),
            source_ohm=usual.line.source_ohm * random.uniform(0.8, 1.3),
        ),
        drive=replace(
            usual.drive,
            speed_mm_s=usual.drive.speed_mm_s * random.uniform(0.8, 1.2),
            run_up_us=round(usual.drive.run_up_us * random.uniform(0.5, 1.8)),
            coast_us=round(usual.drive.coast_us * random.uniform(0.4, 2.0)),
            friction=friction.median * math.exp(random.gauss(0.0, friction.spread)),
        ),
        disc=replace(
            usual.disc,
            mm_per_turn=math.pi * random.uniform(22.0, 40.0),
            duty=random.uniform(0.4, 0.6),
            eccentricity=random.uniform(0.0, 0.02),
        ),
        arc=replace(
            usual.arc,
            gap_mm=random.uniform(2.0, 8.0),
            strikes=_around(random.uniform(4_000, 20_000), random.uniform(0.1, 0.3)),
            ends=_around(random.uniform(1_000, 8_000), random.uniform(0.05, 0.2)),
            reed=_within_lag(AdapterLag(REED_ON_US, REED_OFF_US), random),
        ),
        flag=Switching(
            _around(random.uniform(30_000, 120_000), random.uniform(0.02, 0.08)),
            _around(random.uniform(60_000, 250_000), random.uniform(0.02, 0.08)),
        ),
    )


def hung_adapters(
    project: Project,
    sensor: Literal["arc", "flag"] = "arc",
    main_contact: Literal["contact", "voltage"] = "contact",
) -> dict[str, str]:
    """Return what hangs on the recorder's inputs of a design: nothing on those that it can have no adapter for."""
    circuits = recorder_circuits(project, project.board, RecorderWish(main_contact=main_contact, sensor=sensor))
    things = {"sensor": sensor} | ({"main_contact": "welding_voltage"} if main_contact == "voltage" else {})
    return {key: things.get(key, key) for key in circuits.adapters}


def _machine(project: Project, random: Random | None) -> HiddenMachine:
    """Return the usual machine; its adapters in the middle of what they may be, or with `random` anywhere."""
    design = project.design
    source, wire = winding(design.supply), design.feeder.wire_drive
    circuits = recorder_circuits(project, project.board, RecorderWish())
    loads = {role: _load(design, role, one) for role, one in _actuators(design).items()}
    if wire.turns_motor:
        loads["wire_drive"] = _fed_at_once(loads["wire_drive"])
    presses = {key: _press(project, one, random) for key, one in circuits.presses.items()}
    return HiddenMachine(
        loads=loads,
        line=HiddenLine(design.supply.line_frequency_hz, source.open_v, source.source_ohm),
        couplers={key: _coupler(adapter, random) for key, adapter in circuits.adapters.items()},
        presses=presses,
        drive=HiddenDrive(
            speed_mm_s=design.process.wire_feed_speed_mm_s,
            run_up_us=RUN_UP_US,
            coast_us=wire.likely_coast_us,
            friction=usual_friction(wire.braked).median,
            braked=wire.braked,
            volts=wire.coil.voltage_v if wire.turns_motor else USUAL_MOTOR_V,
            direct=wire.turns_motor,
        ),
        disc=HiddenDisc(disc_for(USUAL_ROLL_MM).sectors, math.pi * USUAL_ROLL_MM),
        arc=HiddenArc(
            open_v=design.process.open_circuit_voltage_v or LEAST_WELDING_V,
            holds_us=BANK_HOLDS_US if design.process.source_capacitance_f else 0,
        ),
    )


def _coupler(adapter: Adapter, random: Random | None) -> HiddenCoupler:
    share = 0.5 if random is None else random.uniform(0.0, 1.0)
    return HiddenCoupler(
        threshold_v=adapter.off_v + share * (adapter.on_v - adapter.off_v),
        # The reed is the arc's own, so that the flag may hang there as well.
        lag=_within_lag(
            adapter.coupler.lag if adapter.kind is AdapterKind.CURRENT else adapter.steady_lag, random, LOOK
        ),
    )


def _press(project: Project, circuit: PressCircuit, random: Random | None) -> HiddenPress:
    lag = _within_lag(circuit.lag, random)
    if circuit.press.key != "trigger":
        return HiddenPress(lag)
    sense = trigger_sense(project.design, project.board)
    share = 0.5 if random is None else random.uniform(0.0, 1.0)
    volts = sense.kept.off_v + share * (sense.kept.on_v - sense.kept.off_v)
    # The pin's capacitor is emptied at once, and charges as slowly as that bound at the most.
    rises = AdapterLag((0.0, LIGHT_UP_US), (CHARGES_LEAST_SHARE * sense.rise_us, sense.rise_us))
    return HiddenPress(
        lag,
        HiddenCoupler(volts * (PEAK_OVER_RMS if sense.ac else 1.0), _within_lag(rises, random)),
        sensed_ac=sense.ac,
        both_ways=sense.ac_input,
    )


def _within_lag(bounds: AdapterLag, random: Random | None, less: AdapterLag = NO_LAG) -> Switching:
    """Return a lag in the geometric middle of its bounds, or with `random` anywhere, each share alike in its logarithm.

    less: a part of the bounds that is another's.
    """
    lags = []
    for (least, most), (_, others) in ((bounds.on_us, less.on_us), (bounds.off_us, less.off_us)):
        low, high = max(least, 1.0), max(most - others, 2.0)
        share = 0.5 if random is None else random.uniform(0.0, 1.0)
        lags.append(_around(low * (high / low) ** share, STEADY_SHARE))
    return Switching(lags[0], lags[1])


def _actuators(design: Design) -> dict[str, Actuator]:
    found = {role: getattr(design.feeder, role) for role in OUTPUT_BIT}
    return {role: one for role, one in found.items() if one is not None}


def _load(design: Design, role: str, actuator: Actuator) -> HiddenLoad:
    coil, relay = actuator.coil, DRIVE_SWITCHING[actuator.drive]
    on, off = on_delay_of(actuator), off_delay_of(design, actuator)
    return HiddenLoad(
        relay=relay,
        acts=Switching(_rest(on, relay.on), _rest(off, relay.off), LOAD_BOUNCE_US[role]),
        ac=coil.kind == "ac",
        volts=coil.voltage_v,
        from_winding=coil.fed_from == "control",
        inrush_a=coil.inrush_a or coil.hold_a,
        hold_a=coil.hold_a,
    )


def _rest(whole: Spread, relay: DrawnLag) -> DrawnLag:
    """Return what is left of a delay for the load behind the add-on's own lag, so that both have the whole's spread."""
    spread_us = (whole.max_us - whole.min_us) / SPREADS_IN_RANGE
    rest_us = math.sqrt(max(spread_us**2 - relay.spread_us**2, 0.0))
    return DrawnLag(max(whole.typical_us - relay.mean_us, _LEAST_LAG_US), round(rest_us))


def _fed_at_once(load: HiddenLoad) -> HiddenLoad:
    """Return a motor that the add-on's contact feeds itself: all of the delay lies in front of that contact."""
    on, off = (
        DrawnLag(first.mean_us + then.mean_us, round(math.hypot(first.spread_us, then.spread_us)))
        for first, then in ((load.relay.on, load.acts.on), (load.relay.off, load.acts.off))
    )
    return replace(load, relay=Switching(on, off, load.relay.bounce_us), acts=AT_ONCE)


def _strayed(load: HiddenLoad, random: Random) -> HiddenLoad:
    return replace(
        load,
        relay=_other(load.relay, random),
        acts=load.acts if load.acts == AT_ONCE else _other(load.acts, random),
        inrush_a=load.inrush_a * random.uniform(0.8, 1.2),
    )


def _other(switching: Switching, random: Random) -> Switching:
    return Switching(
        _around(switching.on.mean_us * random.uniform(0.6, 1.6), random.uniform(0.01, 0.08)),
        _around(switching.off.mean_us * random.uniform(0.6, 1.6), random.uniform(0.01, 0.08)),
        round(switching.bounce_us * random.uniform(0.2, 1.5)),
    )


def _around(mean_us: float, spread_share: float) -> DrawnLag:
    return DrawnLag(round(mean_us), round(mean_us * spread_share))
