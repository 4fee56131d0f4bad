"""The steady state where ripple is deep or the load's appetite decides: stepped through, not linearised.

The reservoir's voltage is all that a half-cycle hands on to the next, so that the state which repeats is a fixed point
of one map: the voltage at the zero of the winding's, to that at the next. A load of constant power draws more the
lower the voltage is; the map then has two fixed points, of which the upper is stable, or none: the supply collapses.
"""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from timing.power.rectifier import Array, Diode, RectifierCircuit, SteadyState, Values
from timing.power.transient import Stage, Trace, run_stages

if TYPE_CHECKING:
    from numpy.typing import NDArray

PULSE_STEPS = 160
"""Steps of the computation between two charging pulses (choice)."""
LEVELS = (1.0, 0.97, 0.93, 0.88, 0.82, 0.75, 0.67, 0.58, 0.48, 0.37, 0.25, 0.12)
"""Where the upper fixed point is looked for, as shares of the winding's peak; downward from the highest (choice)."""
NEAR_SHARE = 0.05
"""A voltage that loses less than this share of the peak in a half-cycle may lie beside a fixed point (choice)."""
ROUNDS = 12
"""Of narrowing it down (choice)."""
LOAD_OFF_V = 1.0
"""Where a time course takes the load off, so that constant power does not ask for any current (choice)."""
CLOSE_V = 1e-4
"""How closely a voltage must repeat (choice)."""


def stepped_state(circuit: RectifierCircuit) -> SteadyState:
    """Return the periodic steady state of one circuit, or of an array of them, by stepping through half-cycles."""
    peak_v = circuit.emf_peak_v * circuit.divide
    upper = LEVELS[0] * peak_v
    upper_gain = _gain_v(circuit, upper)
    lower, lower_gain = upper, upper_gain
    best, best_gain = upper, upper_gain
    for level in LEVELS[1:]:
        searching = lower_gain < 0.0
        if not np.any(searching):
            break
        tried = level * peak_v
        gain = _gain_v(circuit, tried)
        better = gain > best_gain
        best, best_gain = np.where(better, tried, best), np.where(better, gain, best_gain)
        upper, upper_gain = np.where(searching, lower, upper), np.where(searching, lower_gain, upper_gain)
        lower, lower_gain = np.where(searching, tried, lower), np.where(searching, gain, lower_gain)
    settled = np.asarray(lower_gain >= 0.0)
    if np.any(np.logical_and(~settled, best_gain > -NEAR_SHARE * peak_v)):
        # Between two levels there may still be a pair of fixed points, close to where they merge.
        found, gain = _highest(circuit, best, peak_v)
        rescued = ~settled & (gain >= 0.0)
        lower, lower_gain = np.where(rescued, found, lower), np.where(rescued, gain, lower_gain)
        upper = np.where(rescued, found + 0.06 * peak_v, upper)
        upper_gain = np.where(rescued, _gain_v(circuit, upper), upper_gain) if np.any(rescued) else upper_gain
        settled = np.logical_or(settled, rescued)
    start_v = _narrowed(circuit, lower, lower_gain, upper, upper_gain)
    return _figures(circuit, start_v, np.where(settled, 1.0, 0.0))


def refined(circuit: RectifierCircuit, state: SteadyState, bent: NDArray[np.bool_]) -> SteadyState:
    """Return the state with the circuits of `bent` stepped through."""
    if np.ndim(bent) == 0:
        return stepped_state(circuit)

    def part(value: Values) -> Values:
        chosen_ones: Array = np.broadcast_to(value, np.shape(bent))[bent]
        return chosen_ones

    chosen: dict[str, Any] = {
        name: part(value) for name, value in vars(circuit).items() if name not in ("bridge", "diode")
    }
    # One frequency for all: it sets the steps.
    chosen["frequency_hz"] = circuit.frequency_hz
    diode = Diode(**{name: part(value) for name, value in vars(circuit.diode).items()})
    found = stepped_state(replace(circuit, **chosen, diode=diode))
    merged = {}
    for name, value in vars(state).items():
        whole = np.array(np.broadcast_to(value, np.shape(bent)), dtype=np.float64)
        whole[bent] = vars(found)[name]
        merged[name] = whole
    return SteadyState(**merged)


def _half_cycle(circuit: RectifierCircuit, start_v: Values) -> Trace:
    lasts_s = 1.0 / (float(np.max(circuit.frequency_hz)) * circuit.pulses)
    stage = Stage(lasts_s, circuit.ac_load_s, circuit.ac_lag_s, lasts_s / PULSE_STEPS)
    start = start_v if np.ndim(start_v) else float(start_v)
    return run_stages(circuit, [stage], start, 0.0 - circuit.lead_rad)


def _gain_v(circuit: RectifierCircuit, start_v: Values) -> Values:
    """Return by how much the reservoir is higher when the half-cycle is over."""
    gain: Values = _half_cycle(circuit, start_v).capacitor_v - start_v
    return gain


def _highest(circuit: RectifierCircuit, about_v: Values, peak_v: Values) -> tuple[Values, Values]:
    """Return where the gain is highest near a level, and that gain: thirds of a span, narrowed."""
    low, high = about_v - 0.06 * peak_v, np.minimum(about_v + 0.06 * peak_v, peak_v)
    for _ in range(5):
        third = (high - low) / 3.0
        left, right = low + third, high - third
        rises = _gain_v(circuit, left) < _gain_v(circuit, right)
        low, high = np.where(rises, left, low), np.where(rises, high, right)
    middle = 0.5 * (low + high)
    return middle, _gain_v(circuit, middle)


def _narrowed(
    circuit: RectifierCircuit, lower: Values, lower_gain: Values, upper: Values, upper_gain: Values
) -> Values:
    """Return the fixed point between a voltage that gains and one that does not: secants that keep both ends."""
    middle = lower
    for _ in range(ROUNDS):
        middle = lower + (upper - lower) * lower_gain / np.maximum(lower_gain - upper_gain, 1e-12)
        middle = np.minimum(np.maximum(middle, lower), upper)
        gain = _gain_v(circuit, middle)
        if np.all(np.abs(gain) < CLOSE_V):
            break
        gains = gain >= 0.0
        # The end that stays has its gain halved, so that it does not stay for ever.
        upper_gain, lower_gain = (
            np.where(gains, 0.5 * upper_gain, gain),
            np.where(gains, gain, 0.5 * lower_gain),
        )
        lower, upper = np.where(gains, middle, lower), np.where(gains, upper, middle)
    return middle


def _figures(circuit: RectifierCircuit, start_v: Values, settled: Values) -> SteadyState:
    trace = _half_cycle(circuit, start_v)
    period_s = trace.time_s[-1]

    def mean(values: Array) -> Array:
        total: Array = np.trapezoid(values, trace.time_s, axis=0) / period_s
        return total

    volts, pulse_a = trace.reservoir_v, trace.rectifier_a
    load_a = np.asarray(circuit.load_current_a(np.maximum(volts, 1.0)))
    column = (-1,) + (1,) * (trace.reservoir_v.ndim - 1)
    angle = circuit.omega * trace.time_s.reshape(column) - circuit.lead_rad
    terminal_v = circuit.emf_peak_v * np.sin(angle) - circuit.source_ohm * trace.winding_a
    high, low = np.max(volts, axis=0), np.min(volts, axis=0)
    rms_a, winding_v, winding_a = (np.sqrt(mean(values**2)) for values in (pulse_a, terminal_v, trace.winding_a))
    signed_a = pulse_a * np.sign(np.sin(angle + circuit.lead_rad)) if circuit.bridge else pulse_a
    watts = mean(terminal_v * signed_a)
    figures: dict[str, Values] = {
        # Under a volt the load is off in this computation, and any regulator long before.
        "settled": np.where(low > LOAD_OFF_V, settled, 0.0),
        "on_rad": 0.0 - circuit.lead_rad + 0.0 * start_v,
        "start_v": start_v,
        "dc_mean_v": mean(volts),
        "dc_min_v": low,
        "dc_max_v": high,
        "ripple_v": high - low,
        "load_mean_a": mean(load_a),
        "capacitor_rms_a": np.sqrt(mean((pulse_a - load_a) ** 2)),
        "rectifier_rms_a": rms_a,
        "rectifier_peak_a": np.max(pulse_a, axis=0),
        "diode_mean_a": mean(pulse_a) / circuit.pulses,
        "winding_rms_a": winding_a,
        "winding_peak_a": np.max(np.abs(trace.winding_a), axis=0),
        "winding_rms_v": winding_v,
        "rectifier_va": winding_v * rms_a,
        "rectifier_w": watts,
        "rectifier_power_factor": watts / (winding_v * rms_a),
        "total_va": winding_v * winding_a,
    }
    assert set(figures) == {item.name for item in fields(SteadyState)}
    return SteadyState(**figures)
