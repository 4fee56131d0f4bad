"""Deep ripple and collapse: the state that is stepped through where a straight line would not do."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from timing.power.periodic import steady_state
from timing.power.rectifier import RectifierCircuit
from timing.power.stepped import stepped_state
from timing.power.transient import Stage, run_stages

WEAK = RectifierCircuit(24.0 * 2**0.5, 6.0, 60.0, True, 470e-6, 0.3)
"""24 V behind 6 ohm, on 470 uF."""


@pytest.mark.parametrize("watts", [12.0, 15.0, 17.0])
def test_a_stepped_simulation_stays_in_the_state_with_deep_ripple(watts: float) -> None:
    circuit = replace(WEAK, load_w=watts)
    state = steady_state(circuit)
    assert state.settled
    assert state.ripple_v > 0.2 * state.dc_mean_v
    trace = run_stages(circuit, [Stage(1.0, 0.0)], float(state.start_v), float(state.on_rad), step_s=50e-6)
    last = trace.time_s > 0.9
    assert float(np.mean(trace.reservoir_v[last])) == pytest.approx(float(state.dc_mean_v), rel=0.01)
    assert float(np.min(trace.reservoir_v[last])) == pytest.approx(float(state.dc_min_v), rel=0.02)


@pytest.mark.parametrize("watts", [18.0, 20.0, 22.0, 40.0])
def test_a_load_that_eats_the_reservoir_is_a_collapse(watts: float) -> None:
    """The straight line through the load's curve finds a state up to 22 W; there is none."""
    circuit = replace(WEAK, load_w=watts)
    assert steady_state(circuit).settled == 0.0
    trace = run_stages(circuit, [Stage(3.0, 0.0)], 30.0, step_s=200e-6)
    assert float(np.max(trace.reservoir_v[trace.time_s > 2.9])) < 10.0


def test_both_ways_agree_where_ripple_is_shallow() -> None:
    random = np.random.default_rng(11)
    for bridge in (True, False):
        for _ in range(4):
            circuit = RectifierCircuit(
                random.uniform(20.0, 45.0), random.uniform(0.4, 3.0), 60.0, bridge, 1e-3, 0.2,
                ac_load_s=random.uniform(0.0, 0.05), ac_lag_s=random.uniform(0.0, 0.1),
                series_ohm=random.uniform(0.0, 5.0), load_w=random.uniform(0.5, 2.0), load_a=0.01,
            )  # fmt: skip
            straight, stepped = steady_state(circuit), stepped_state(circuit)
            assert straight.settled
            assert stepped.settled
            assert float(stepped.dc_mean_v) == pytest.approx(float(straight.dc_mean_v), rel=0.005)
            assert float(stepped.rectifier_rms_a) == pytest.approx(float(straight.rectifier_rms_a), rel=0.03)
            assert float(stepped.winding_rms_a) == pytest.approx(float(straight.winding_rms_a), rel=0.03)
            assert float(stepped.winding_rms_v) == pytest.approx(float(straight.winding_rms_v), rel=0.005)
            assert float(stepped.rectifier_w) == pytest.approx(float(straight.rectifier_w), rel=0.03)


def test_an_array_is_solved_like_each_alone_shallow_deep_or_collapsed() -> None:
    watts = np.array([1.0, 15.0, 20.0])
    together = steady_state(replace(WEAK, load_w=watts))
    assert list(np.asarray(together.settled)) == [1.0, 1.0, 0.0]
    for index in (0, 1):
        alone = steady_state(replace(WEAK, load_w=float(watts[index])))
        assert np.asarray(together.dc_mean_v)[index] == pytest.approx(float(alone.dc_mean_v), rel=1e-4)
