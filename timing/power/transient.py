"""The time domain: switching on, and a step in the ac loads, such as a contactor pulling in.

Stepped with a fixed step; inside a step the capacitor's voltage follows a trapezoidal rule on the diode current
found at both ends, which is second order and cannot ring. One row of the result is one circuit of an array.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from timing.elementwise import FLOATS, Elementwise, arrays
from timing.power.rectifier import Array, Diode, RectifierCircuit, Values, steady_state

if TYPE_CHECKING:
    from numpy.typing import NDArray

_NEWTON_STEPS = 6
TRANSIENT_STEP_S = 100e-6
"""Step of the inrush (choice)."""


@dataclass(frozen=True)
class Stage:
    """A stretch of time with its own ac loads."""

    lasts_s: float
    ac_load_s: Values
    """Conductance of the ac loads across the winding, in siemens."""


@dataclass(frozen=True)
class Trace:
    """A computed course; arrays of shape (times,) or (times, circuits)."""

    time_s: Array
    reservoir_v: Array
    rectifier_a: Array
    winding_a: Array
    stage: NDArray[np.int64]
    """Index of the stage of each instant."""

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
        step = float(self.time_s[1] - self.time_s[0])
        until: Values = np.sum(self.rectifier_a[self.time_s <= until_s] ** 2, axis=0) * step
        return until

    def time_below_s(self, voltage_v: float) -> Values:
        """Total time that the reservoir spends below a voltage."""
        step = float(self.time_s[1] - self.time_s[0])
        below: Values = np.sum(self.reservoir_v < voltage_v, axis=0) * step
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
        current = do.maximum(current - excess / slope, 0.0)
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

    The circuit's own ac_load_s is not used; each stage brings its own.
    """
    counts = [max(1, round(stage.lasts_s / step_s)) for stage in stages]
    numbers: NDArray[np.int64] = np.repeat(np.arange(len(stages), dtype=np.int64), counts)
    times = np.arange(1, len(numbers) + 1, dtype=np.float64) * step_s
    shape = np.broadcast(start_v, start_rad, circuit.emf_peak_v, circuit.capacitance_f, circuit.load_a).shape
    reservoir, rectifier, winding = _tables(len(times), shape)
    do = FLOATS if shape == () else arrays()
    if shape == ():
        # A single circuit is followed in plain numbers, which are far quicker than arrays of one.
        circuit, start_rad = _plain(circuit), float(start_rad)
    cap_v: Values = float(start_v) if shape == () else np.broadcast_to(np.asarray(start_v, np.float64), shape).copy()
    charge = step_s / circuit.capacitance_f
    # The second half of the trapezoid is implicit: it acts as a resistance in series with the capacitor.
    ahead_ohm = circuit.esr_ohm + 0.5 * charge
    emission_v = circuit.diodes_in_path * circuit.diode.emission_v
    loads = []
    for stage in stages:
        divide = 1.0 / (1.0 + circuit.source_ohm * stage.ac_load_s)
        path_ohm = circuit.source_ohm * divide + circuit.diodes_in_path * circuit.diode.ohm + ahead_ohm
        loads.append((stage.ac_load_s, divide, path_ohm))
    pulse: Values = 0.0 if shape == () else np.zeros(shape)
    load_a = circuit.load_current_a(do.maximum(cap_v, 1.0)) * (cap_v > 1.0)
    net = pulse - load_a
    for index, (time, number) in enumerate(zip(times.tolist(), numbers.tolist(), strict=True)):
        conductance, divide, path_ohm = loads[number]
        emf = circuit.emf_peak_v * do.sin(circuit.omega * time + start_rad)
        drive = abs(emf) if circuit.bridge else emf
        predicted = cap_v + 0.5 * charge * net
        rest = drive * divide - predicted + ahead_ohm * load_a
        pulse = _pulse(circuit, do, rest, path_ohm, emission_v, do.maximum(pulse, 1e-3))
        net = pulse - load_a
        cap_v = do.maximum(predicted + 0.5 * charge * net, 0.0)
        terminal = cap_v + circuit.esr_ohm * net
        load_a = circuit.load_current_a(do.maximum(terminal, 1.0)) * (terminal > 1.0)
        reservoir[index], rectifier[index] = terminal, pulse
        signed = do.sign(emf) * pulse if circuit.bridge else pulse
        winding[index] = emf * conductance * divide + divide * signed
    return Trace(times, reservoir, rectifier, winding, numbers)


def _plain(circuit: RectifierCircuit) -> RectifierCircuit:
    """Return a single circuit with Python's own numbers."""
    numbers: dict[str, Any] = {
        name: float(value) for name, value in vars(circuit).items() if name not in ("bridge", "diode")
    }
    diode = Diode(**{name: float(value) for name, value in vars(circuit.diode).items()})
    return replace(circuit, **numbers, diode=diode)


def _tables(length: int, shape: tuple[int, ...]) -> list[Array]:
    return [np.zeros((length, *shape)) for _ in range(3)]


def switch_on(circuit: RectifierCircuit, lasts_s: float = 0.1, angles: int = 12) -> Trace:
    """Switch on with an empty reservoir, at `angles` instants of the half-cycle at once."""
    instants = np.arange(angles) * np.pi / angles
    return run_stages(circuit, [Stage(lasts_s, circuit.ac_load_s)], np.zeros(angles), instants)


def steady_trace(circuit: RectifierCircuit, cycles: float) -> Trace:
    """Return so many cycles of the periodic state, from the start of a charging pulse on."""
    state = steady_state(circuit)
    lasts_s = cycles / float(np.max(circuit.frequency_hz))
    return run_stages(circuit, [Stage(lasts_s, circuit.ac_load_s)], state.start_v, state.on_rad)


def sag(circuit: RectifierCircuit, pull_in_s: float, pull_in_load_s: Values, after_load_s: Values) -> Trace:
    """Start settled; stage 0 is as it was, stage 1 the pull-in, stage 2 the held load. `circuit` states the first.

    Starts at the angle where the reservoir is lowest, so that the pull-in meets it at its worst.
    """
    before = steady_state(circuit)
    cycle = 1.0 / float(np.max(circuit.frequency_hz))
    stages = [Stage(cycle, circuit.ac_load_s), Stage(pull_in_s, pull_in_load_s), Stage(4.0 * cycle, after_load_s)]
    return run_stages(circuit, stages, before.start_v, before.on_rad)
