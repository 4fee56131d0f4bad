"""The periodic steady state of a rectifier circuit, solved directly: no run-in is simulated.

Between the instant `on` when a diode pair starts to conduct and the instant `off` when it stops, and from there to the
next start, the circuit is linear of first order with a sinusoidal drive, so both stretches have closed forms. What is
left is two unknown angles and two conditions: the current is zero at `off`, and the reservoir returns to where it
began. Newton's method finds them; the diode's law and a constant-power load are linearised about the state as it
emerges. Where the ripple is too deep for that, or nothing is found like that, the state is stepped through instead.
Angles in radians of the line, zero where the winding's voltage with nothing drawn rises through zero.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from timing.power.rectifier import Array, RectifierCircuit, SteadyState, Values

if TYPE_CHECKING:
    from numpy.typing import NDArray

_LEAST_CONDUCTANCE_S = 1e-7
_STEPS = 40
_CLOSE_RAD = 1e-9
_SETTLED_RAD = 1e-6
_LAGS = (1.0, 0.7)
"""A large capacitor charges evenly about the peak; a small one is full before the pulse is over."""


def gauss_legendre(points: int) -> tuple[Array, Array]:
    """Return nodes and weights of Gauss-Legendre quadrature on -1 to 1 (exact): roots of the polynomial, by Newton.

    The same as numpy's, whose polynomial package would be loaded for these two rules alone at every start.
    """
    nodes = np.cos(np.pi * (np.arange(points, 0, -1) - 0.25) / (points + 0.5))
    slope = nodes
    for _ in range(_NEWTON_STEPS):
        before, value = np.ones(points), nodes
        for degree in range(2, points + 1):
            before, value = value, ((2 * degree - 1) * nodes * value - (degree - 1) * before) / degree
        slope = points * (nodes * value - before) / (nodes * nodes - 1.0)
        nodes = nodes - value / slope
    return nodes, 2.0 / ((1.0 - nodes * nodes) * slope * slope)


_NEWTON_STEPS = 4
"""After four the roots stand to the last digit (measured: by a test)."""
_ON_NODES, _ON_WEIGHTS = gauss_legendre(32)
_OFF_NODES, _OFF_WEIGHTS = gauss_legendre(12)


@dataclass(frozen=True)
class _Linear:
    """The circuit linearised about a state: peak E, path resistance D, load a + g v, decay rates per radian."""

    peak_v: Values
    drop_v: Values
    path_ohm: Values
    load_a: Values
    load_s: Values
    esr_ohm: Values
    share: Values
    per_farad: Values
    on_rate: Values
    offset_v: Values
    sine_v: Values
    cosine_v: Values
    off_rate: Values

    def boundary_v(self, sine: Values) -> Values:
        """Capacitor voltage at which the diodes just carry no current, for a sine of the angle."""
        return (self.peak_v * sine - self.drop_v) / self.share + self.esr_ohm * self.load_a

    def forced_v(self, angle: Values) -> Values:
        """Particular solution while conducting."""
        return self.offset_v + self.sine_v * np.sin(angle) + self.cosine_v * np.cos(angle)


def _linearise(circuit: RectifierCircuit, on: Values, off: Values) -> _Linear:
    period = 2.0 * np.pi / circuit.pulses
    peak = circuit.emf_peak_v * circuit.divide
    top = np.maximum(peak - circuit.diodes_in_path * 0.8, 0.3)
    level = np.maximum(0.5 * (peak * np.sin(on) - circuit.diodes_in_path * 0.8 + top), 0.3 * top)
    tangent_a = circuit.load_a + 2.0 * circuit.load_w / level
    tangent_s = circuit.load_s - circuit.load_w / level**2
    tangent_s = np.where(np.abs(tangent_s) < _LEAST_CONDUCTANCE_S, _LEAST_CONDUCTANCE_S, tangent_s)
    pulse_a = np.maximum(circuit.load_current_a(level), 1e-9) * period / (off - on)
    diode, series = circuit.diode, circuit.diodes_in_path
    path = circuit.feed_ohm + series * (diode.ohm + diode.emission_v / pulse_a)
    drop = series * diode.emission_v * (np.log1p(pulse_a / diode.saturation_a) - 1.0)
    share = 1.0 / (1.0 + circuit.esr_ohm * tangent_s)
    path = path + share * circuit.esr_ohm
    per_farad = share / (circuit.capacitance_f * circuit.omega)
    conductance = share / path + tangent_s
    on_rate = -per_farad * conductance
    drive = per_farad * peak / path
    scale = drive / (1.0 + on_rate**2)
    offset = ((share * circuit.esr_ohm * tangent_a - drop) / path - tangent_a) / conductance
    return _Linear(
        peak, drop, path, tangent_a, tangent_s, circuit.esr_ohm, share, per_farad,
        on_rate, offset, -on_rate * scale, -scale, per_farad * tangent_s,
    )  # fmt: skip


def _first_guess(circuit: RectifierCircuit, lag: float) -> tuple[Values, Values]:
    """Angles of a pulse that carries the load's charge; `lag` is its half after the peak over that before.

    A half-width d about the peak carries peak / path (sin d - d cos d) / pi, about d^3 / 3, in each pulse.
    """
    peak = circuit.emf_peak_v * circuit.divide
    load = circuit.load_current_a(np.maximum(0.8 * peak, 0.5)) + 1e-6
    path = circuit.feed_ohm + circuit.diodes_in_path * circuit.diode.ohm + circuit.esr_ohm + 1e-3
    half_width = np.minimum(np.cbrt(6.0 * np.pi / circuit.pulses * load * path / peak), 1.0)
    half_width = np.maximum(half_width, 0.02)
    return 0.5 * np.pi - half_width, 0.5 * np.pi + lag * half_width


def _newton_step(line: _Linear, on: Values, off: Values, period: float) -> tuple[Values, Values]:
    sine_on, cosine_on, sine_off, cosine_off = np.sin(on), np.cos(on), np.sin(off), np.cos(off)
    v_on, v_off = line.boundary_v(sine_on), line.boundary_v(sine_off)
    slope_on, slope_off = line.peak_v * cosine_on / line.share, line.peak_v * cosine_off / line.share
    width = off - on
    # Condition 1, divided by the width so that the useless root off = on is gone.
    grown = np.exp(line.on_rate * width)
    free = v_on - line.offset_v - line.sine_v * sine_on - line.cosine_v * cosine_on
    miss = line.offset_v + line.sine_v * sine_off + line.cosine_v * cosine_off + free * grown - v_off
    by_off = line.sine_v * cosine_off - line.cosine_v * sine_off + line.on_rate * free * grown - slope_off
    by_on = grown * (slope_on - line.sine_v * cosine_on + line.cosine_v * sine_on - line.on_rate * free)
    first = miss / width
    first_by_on, first_by_off = (by_on + first) / width, (by_off - first) / width
    # Condition 2: what is left after the discharge is what the next pulse starts from.
    rest = line.load_a / line.load_s
    left = np.exp(-line.off_rate * (period - width))
    second = (v_off + rest) * left - rest - v_on
    second_by_on = -line.off_rate * left * (v_off + rest) - slope_on
    second_by_off = line.off_rate * left * (v_off + rest) + slope_off * left
    determinant = first_by_on * second_by_off - first_by_off * second_by_on
    return (
        (first * second_by_off - second * first_by_off) / determinant,
        (second * first_by_on - first * second_by_on) / determinant,
    )


def _angles(circuit: RectifierCircuit, lag: float = _LAGS[0]) -> tuple[Values, Values, Values]:
    """Return (on, off, settled)."""
    period = 2.0 * np.pi / circuit.pulses
    on, off = _first_guess(circuit, lag)
    line = _linearise(circuit, on, off)
    for _ in range(_STEPS):
        on_move, off_move = _newton_step(line, on, off, period)
        new_on = np.minimum(np.maximum(on - np.minimum(np.maximum(on_move, -0.3), 0.3), 0.0), 0.5 * np.pi)
        new_off = np.minimum(np.maximum(off - np.minimum(np.maximum(off_move, -0.3), 0.3), new_on + 1e-4), np.pi)
        moved = np.maximum(np.abs(new_on - on), np.abs(new_off - off))
        on, off = new_on, new_off
        line = _linearise(circuit, on, off)
        if np.all(moved < _CLOSE_RAD):
            break
    within = (off < np.pi - 1e-6) & (on > 1e-6) & (off - on < period)
    return on, off, np.where((moved < _SETTLED_RAD) & within, 1.0, 0.0)


def _best_angles(circuit: RectifierCircuit) -> tuple[Values, Values, Values]:
    """Angles from the first guess; where that leads nowhere, from the other."""
    on, off, settled = _angles(circuit)
    if np.all(settled):
        return on, off, settled
    other_on, other_off, other_settled = _angles(circuit, _LAGS[1])
    better = np.asarray(settled) < np.asarray(other_settled)
    return (
        np.where(better, other_on, on),
        np.where(better, other_off, off),
        np.where(better, other_settled, settled),
    )


def steady_state(circuit: RectifierCircuit) -> SteadyState:
    """Return the periodic steady state of one circuit, or of an array of them.

    A circuit without a periodic state (its load takes more than the winding gives) comes back with settled = 0
    and numbers that mean nothing.
    """
    with np.errstate(all="ignore"):
        state = _figures(circuit, *_best_angles(circuit))
        bent = _bent(circuit, state)
        if not np.any(bent):
            return state
        # It is made of this module, and seldom needed.
        from timing.power.stepped import refined

        return refined(circuit, state, bent)


DEEP_SHARE = 0.12
"""Share by which a load's current may change from the reservoir's mean to its lowest before its line is taken for the
curve that it is: the mean is then right within some 0.3 % (measured: against the stepped state)."""


def _bent(circuit: RectifierCircuit, state: SteadyState) -> NDArray[np.bool_]:
    """Tell where the linearised state is none, or not good enough."""
    mean_v = np.maximum(state.dc_mean_v, 1e-3)
    swing = circuit.load_w / np.maximum(state.dc_min_v, 0.1 * mean_v) - circuit.load_w / mean_v
    drawn = np.maximum(circuit.load_current_a(mean_v), 1e-9)
    straight = (np.asarray(state.settled) > 0.0) & (swing <= DEEP_SHARE * drawn)
    # Without constant power the load's line is straight in any case.
    bent: NDArray[np.bool_] = ~straight & (np.asarray(circuit.load_w) > 0.0)
    return bent


def _figures(circuit: RectifierCircuit, on: Values, off: Values, settled: Values) -> SteadyState:
    period = 2.0 * np.pi / circuit.pulses
    line = _linearise(circuit, on, off)

    def spread(value: Values) -> Array:
        return np.asarray(value, dtype=np.float64)[..., None]

    wide = _Linear(*(spread(value) for value in vars(line).values()))
    half_on, half_off = spread(0.5 * (off - on)), spread(0.5 * (on + period - off))
    on_angle = spread(on) + half_on * (_ON_NODES + 1.0)
    since_off = half_off * (_OFF_NODES + 1.0)
    on_weight, off_weight = half_on * _ON_WEIGHTS / period, half_off * _OFF_WEIGHTS / period

    sine = np.sin(on_angle)
    free = wide.boundary_v(np.sin(spread(on))) - wide.forced_v(spread(on))
    on_cap_v = wide.forced_v(on_angle) + free * np.exp(wide.on_rate * (on_angle - spread(on)))
    pulse_a = (wide.peak_v * sine - wide.drop_v - wide.share * (on_cap_v - wide.esr_ohm * wide.load_a)) / wide.path_ohm
    pulse_a = np.maximum(pulse_a, 0.0)
    on_v = wide.share * (on_cap_v + wide.esr_ohm * (pulse_a - wide.load_a))
    rest = wide.load_a / wide.load_s
    off_cap_v = (wide.boundary_v(np.sin(spread(off))) + rest) * np.exp(-wide.off_rate * since_off) - rest
    off_v = wide.share * (off_cap_v - wide.esr_ohm * wide.load_a)
    on_load, off_load = wide.load_a + wide.load_s * on_v, wide.load_a + wide.load_s * off_v

    def mean(while_on: Array, while_off: Array | None = None) -> Array:
        total: Array = np.sum(while_on * on_weight, axis=-1)
        return total if while_off is None else total + np.sum(while_off * off_weight, axis=-1)

    edge_v = np.maximum(line.peak_v * np.sin(on) - line.drop_v, 0.0)
    lowest = np.minimum(np.minimum(np.min(on_v, axis=-1), np.min(off_v, axis=-1)), edge_v)
    highest = np.max(on_v, axis=-1)
    mean_v, mean_a = mean(on_v, off_v), mean(on_load, off_load)
    square = mean(pulse_a**2)
    cosine = np.cos(on_angle)
    in_phase, lagging = mean(sine * pulse_a), -mean(cosine * pulse_a)
    # On the ac side the pulses of a half-wave rectifier come once a cycle, those of a bridge twice.
    share = circuit.pulse_share
    own_a, lag_a = line.peak_v * circuit.ac_load_s, line.peak_v * circuit.ac_lag_s
    own_square = own_a**2 + lag_a**2
    winding_square = 0.5 * own_square + 2.0 * share * (own_a * in_phase + lag_a * lagging) + share**2 * square
    thevenin = circuit.source_ohm * share
    terminal_square = 0.5 * line.peak_v**2 - 2.0 * line.peak_v * thevenin * in_phase + thevenin**2 * square
    winding_v, winding_a = np.sqrt(terminal_square), np.sqrt(winding_square)
    watts = line.peak_v * in_phase - thevenin * square
    rms = np.sqrt(square)
    va = winding_v * rms
    return SteadyState(
        settled=settled,
        on_rad=on - circuit.lead_rad,
        start_v=line.boundary_v(np.sin(on)),
        dc_mean_v=mean_v,
        dc_min_v=lowest,
        dc_max_v=highest,
        ripple_v=highest - lowest,
        load_mean_a=mean_a,
        capacitor_rms_a=np.sqrt(mean((pulse_a - on_load) ** 2, off_load**2)),
        rectifier_rms_a=rms,
        rectifier_peak_a=np.max(pulse_a, axis=-1),
        diode_mean_a=mean(pulse_a) / circuit.pulses,
        winding_rms_a=winding_a,
        winding_peak_a=np.maximum(
            np.max(spread(own_a) * sine - spread(lag_a) * cosine + spread(share) * pulse_a, axis=-1),
            np.sqrt(own_square),
        ),
        winding_rms_v=winding_v,
        rectifier_va=va,
        rectifier_w=watts,
        rectifier_power_factor=watts / va,
        total_va=winding_v * winding_a,
    )
