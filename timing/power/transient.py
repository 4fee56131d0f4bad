"""The time domain: switching on, and a step in the ac loads, such as a contactor pulling in.

Stepped with a fixed step; inside a step the capacitor's voltage follows a trapezoidal rule on the diode current
found at both ends, which is second order and cannot ring. One row of the result is one circuit of an array.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from timing.elementwise import FLOATS, Elementwise, arrays
from timing.power.periodic import steady_state
from timing.power.rectifier import Array, Diode, RectifierCircuit, Values

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NEWTON_STEPS = 6
_CLOSE_A = 1e-9
"""Newton's method doubles the digits that are right with each step: at a step this short, all of them are (choice)."""
TRANSIENT_STEP_S = 100e-6
"""Longest step (choice)."""
SURGE_STEPS, SURGE_CONSTANTS = 8.0, 6.0
"""Switching on: steps in a time constant of the empty reservoir, and how many of these are followed so (choice)."""
SWITCH_ON_RAD = tuple(math.radians(degrees) for degrees in (45.0, 67.5, 90.0, 112.5))
"""Angles of the line at which it is switched on: the worst lies between 50 and 90 degrees (derived)."""


@dataclass(frozen=True)
class Stage:
    """A stretch of time with its own ac loads."""

    lasts_s: float
    ac_load_s: Values
    """Conductance of the ac loads across the winding, in siemens."""
    ac_lag_s: Values = 0.0
    """Susceptance of the ac loads, in siemens."""
    step_s: float | None = None
    """Step of the computation; that of the call where None."""


@dataclass(frozen=True)
class Trace:
    """A computed course; arrays of shape (times,) or (times, circuits). The first instant is the start."""

    time_s: Array
    reservoir_v: Array
    rectifier_a: Array
    winding_a: Array
    stage: NDArray[np.int64]
    """Index of the stage of each instant."""
    capacitor_v: Values
    """Voltage behind the capacitor's series resistance at the end."""

    def lowest_v(self, stage: int) -> Values:
        """Lowest reservoir voltage within a stage."""
        lowest: Values = np.min(self.reservoir_v[self.stage == stage], axis=0)
        return lowest

    @property
    def peak_a(self) -> Values:
        """Highest winding current."""
        peak: Values = np.max(np.abs(self.winding_a), axis=0)
        return peak

    def let_through_a2s(self, until_s: float) -> Values:
        """Integral of the squared rectifier current from the start, in A^2 s: what a fuse there must withstand."""
        before = self.time_s <= until_s
        until: Values = np.asarray(np.trapezoid(self.rectifier_a[before] ** 2, self.time_s[before], axis=0))
        return until

    def time_below_s(self, voltage_v: float) -> Values:
        """Total time that the reservoir spends below a voltage."""
        below: Array = np.diff(self.time_s, prepend=0.0) @ (self.reservoir_v < voltage_v)
        return below


def _pulse(
    circuit: RectifierCircuit, do: Elementwise, rest: Values, path_ohm: Values, emission_v: Values, guess: Values
) -> Values:
    """Current into the rectifier where `rest` is left to drive it through the path, by Newton's method."""
    # Where nothing is left there is no current worth having; above, Newton on
    # path i + emission ln(1 + i / saturation) = rest, started where it converges from one side.
    if do is FLOATS and rest <= 0.0:
        return 0.0
    current, saturation_a = do.maximum(guess, 0.0), circuit.diode.saturation_a
    for _ in range(_NEWTON_STEPS):
        excess = path_ohm * current + emission_v * do.log1p(current / saturation_a) - rest
        slope = path_ohm + emission_v / (current + saturation_a)
        before, current = current, do.maximum(current - excess / slope, 0.0)
        if do.largest(abs(current - before)) < _CLOSE_A:
            break
    pulse: Values = do.where(rest > 0.0, current, 0.0)
    return pulse


def run_stages(
    circuit: RectifierCircuit,
    stages: Sequence[Stage],
    start_v: Values,
    start_rad: Values = 0.0,
    step_s: float = TRANSIENT_STEP_S,
) -> Trace:
    """Follow the circuit through the stages from a capacitor voltage and an angle of the line.

    The circuit's own ac loads are not used; each stage brings its own. Coils that come on at a stage begin without
    current: to their sine comes a direct part that makes it so, and dies away in resistance and inductance. Where an
    armature closes at a stage, the flux goes on as it was, and nothing is added.
    """
    steps = [stage.step_s or step_s for stage in stages]
    counts = [max(1, round(stage.lasts_s / step)) for stage, step in zip(stages, steps, strict=True)]
    numbers: NDArray[np.int64] = np.repeat(np.arange(len(stages), dtype=np.int64), counts)
    times = np.cumsum(np.repeat(np.asarray(steps, np.float64), counts))
    shape = np.broadcast(start_v, start_rad, circuit.emf_peak_v, circuit.capacitance_f, circuit.load_a).shape
    reservoir, rectifier, winding = (np.zeros((len(times) + 1, *shape)) for _ in range(3))
    do = FLOATS if shape == () else arrays()
    if shape == ():
        # A single circuit is followed in plain numbers, which are far quicker than arrays of one.
        circuit, start_rad = _plain(circuit), float(start_rad)
    cap_v: Values = float(start_v) if shape == () else np.broadcast_to(np.asarray(start_v, np.float64), shape).copy()
    emission_v = circuit.diodes_in_path * circuit.diode.emission_v
    loads = [_loaded(circuit, stage, step, start_rad) for stage, step in zip(stages, steps, strict=True)]
    load_a = circuit.load_current_a(do.maximum(cap_v, 1.0)) * (cap_v > 1.0)
    stage, angle, direct_a = loads[0], loads[0].angle, 0.0 * cap_v
    drive = stage.peak_v * do.sin(angle)
    rest = (abs(drive) if circuit.bridge else drive) - cap_v + circuit.esr_ohm * load_a
    pulse = _pulse(circuit, do, rest, stage.path_ohm - 0.5 * stage.charge, emission_v, do.maximum(rest, 0.0))
    net = pulse - load_a
    reservoir[0], rectifier[0] = cap_v + circuit.esr_ohm * net, pulse
    winding[0] = stage.coils_a(do, angle) + stage.share * (do.sign(drive) * pulse if circuit.bridge else pulse)
    for index, (time, number) in enumerate(zip(times.tolist(), numbers.tolist(), strict=True), start=1):
        if loads[number] is not stage:
            before, stage = stage, loads[number]
            angle_now = angle - before.angle + stage.angle
            added_a = before.coils_a(do, angle) + direct_a - stage.coils_a(do, angle_now)
            direct_a = do.where(stage.admittance_s > before.admittance_s, added_a, direct_a)
        angle = circuit.omega * time + stage.angle
        direct_a = direct_a * stage.dies
        drive = stage.peak_v * do.sin(angle) - circuit.source_ohm * direct_a
        predicted = cap_v + 0.5 * stage.charge * net
        rest = (abs(drive) if circuit.bridge else drive) - predicted + stage.ahead_ohm * load_a
        pulse = _pulse(circuit, do, rest, stage.path_ohm, emission_v, do.maximum(pulse, 1e-3))
        net = pulse - load_a
        cap_v = do.maximum(predicted + 0.5 * stage.charge * net, 0.0)
        terminal = cap_v + circuit.esr_ohm * net
        load_a = circuit.load_current_a(do.maximum(terminal, 1.0)) * (terminal > 1.0)
        reservoir[index], rectifier[index] = terminal, pulse
        pulse_a = stage.share * (do.sign(drive) * pulse if circuit.bridge else pulse)
        winding[index] = stage.coils_a(do, angle) + direct_a + pulse_a
    times, numbers = np.concatenate(([0.0], times)), np.concatenate((numbers[:1], numbers))
    return Trace(times, reservoir, rectifier, winding, numbers, cap_v)


@dataclass(frozen=True)
class _Loaded:
    """What a stage makes of the circuit."""

    peak_v: Values
    """Of the winding's voltage, the rectifier apart."""
    angle: Values
    """Of that voltage at the start."""
    share: Values
    admittance_s: Values
    """Of the coils, in siemens."""
    in_phase_a: Values
    lagging_a: Values
    lags: bool
    dies: Values
    """What a step leaves of a direct current in the coils."""
    charge: Values
    """Rise of the capacitor's voltage in a step, by ampere."""
    ahead_ohm: Values
    path_ohm: Values

    def coils_a(self, do: Elementwise, angle: Values) -> Values:
        """Current of the ac loads at an angle of the winding's voltage, once their direct part has died away."""
        in_phase: Values = self.in_phase_a * do.sin(angle)
        return in_phase + self.lagging_a * do.sin(angle - 0.5 * np.pi) if self.lags else in_phase


def _loaded(circuit: RectifierCircuit, stage: Stage, step_s: float, start_rad: Values) -> _Loaded:
    circuit = replace(circuit, ac_load_s=stage.ac_load_s, ac_lag_s=stage.ac_lag_s)
    peak_v = circuit.emf_peak_v * circuit.divide
    charge = step_s / circuit.capacitance_f
    # The second half of the trapezoid is implicit: it acts as a resistance in series with the capacitor.
    ahead_ohm = circuit.esr_ohm + 0.5 * charge
    admittance_s = np.hypot(stage.ac_load_s, stage.ac_lag_s)
    # As a resistance and an inductance in series, which a coil is, with the winding in the same loop.
    rate = circuit.omega * (stage.ac_load_s + circuit.source_ohm * admittance_s**2) / np.maximum(stage.ac_lag_s, 1e-9)
    loaded = {
        "peak_v": peak_v,
        "angle": start_rad + circuit.lead_rad,
        "share": circuit.pulse_share,
        "admittance_s": admittance_s,
        "in_phase_a": peak_v * stage.ac_load_s,
        "lagging_a": peak_v * stage.ac_lag_s,
        "dies": np.exp(-step_s * rate),
        "charge": charge,
        "ahead_ohm": ahead_ohm,
        "path_ohm": circuit.feed_ohm + circuit.diodes_in_path * circuit.diode.ohm + ahead_ohm,
    }
    plain = {name: float(value) if np.ndim(value) == 0 else value for name, value in loaded.items()}
    return _Loaded(**plain, lags=bool(np.any(stage.ac_lag_s)))


def _plain(circuit: RectifierCircuit) -> RectifierCircuit:
    """Return a single circuit with Python's own numbers."""
    numbers: dict[str, Any] = {
        name: float(value) for name, value in vars(circuit).items() if name not in ("bridge", "diode")
    }
    diode = Diode(**{name: float(value) for name, value in vars(circuit.diode).items()})
    return replace(circuit, **numbers, diode=diode)


def switch_on(circuit: RectifierCircuit, lasts_s: float = 0.1, start_rad: Values | None = None) -> Trace:
    """Switch on with an empty reservoir at an angle of the line, or at several at once; the worst ones if left out.

    The first surge is over in a few time constants of winding and reservoir; with a small reservoir these are short.
    """
    angles = np.asarray(SWITCH_ON_RAD) if start_rad is None else start_rad
    constant_s = float(np.min((circuit.feed_ohm + circuit.esr_ohm) * circuit.capacitance_f))
    fine_s = min(constant_s / SURGE_STEPS, TRANSIENT_STEP_S)
    surge_s = min(SURGE_CONSTANTS * constant_s, lasts_s / 2.0)
    loads = (circuit.ac_load_s, circuit.ac_lag_s)
    stages = [Stage(surge_s, *loads, step_s=fine_s), Stage(lasts_s - surge_s, *loads)]
    return run_stages(circuit, stages, np.zeros(np.shape(angles)), angles)


def surge_a(circuit: RectifierCircuit) -> Values:
    """Return the highest current into the rectifier at switching on.

    It flows in the first instant where that is at the peak of the winding's voltage: at no other is more left to
    drive it, the reservoir being empty. The current of the ac loads comes on top in the winding.
    """
    peak_v = circuit.emf_peak_v * circuit.divide
    path_ohm = circuit.feed_ohm + circuit.diodes_in_path * circuit.diode.ohm + circuit.esr_ohm
    emission_v = circuit.diodes_in_path * circuit.diode.emission_v
    return _pulse(circuit, arrays(), peak_v, path_ohm, emission_v, peak_v / path_ohm)


def steady_trace(circuit: RectifierCircuit, cycles: float) -> Trace:
    """Return so many cycles of the periodic state, from the start of a charging pulse on."""
    state = steady_state(circuit)
    lasts_s = cycles / float(np.max(circuit.frequency_hz))
    return run_stages(circuit, [Stage(lasts_s, circuit.ac_load_s, circuit.ac_lag_s)], state.start_v, state.on_rad)


def sag(circuit: RectifierCircuit, pull_in: Stage, after: Stage) -> Trace:
    """Start settled; stage 0 is as it was, stage 1 the pull-in, stage 2 the held load. `circuit` states the first.

    Starts at the angle where the reservoir is lowest, so that the pull-in meets it at its worst.
    """
    before = steady_state(circuit)
    cycle = 1.0 / float(np.max(circuit.frequency_hz))
    stages = [Stage(cycle, circuit.ac_load_s, circuit.ac_lag_s), pull_in, after]
    return run_stages(circuit, stages, before.start_v, before.on_rad)
