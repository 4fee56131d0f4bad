"""Switching on, and a contactor pulling in."""

from __future__ import annotations

import numpy as np
import pytest

from timing.power.rectifier import RectifierCircuit
from timing.power.transient import Stage, run_stages, sag, switch_on

CIRCUIT = RectifierCircuit(38.0, 1.0, 60.0, True, 1e-3, 0.1, ac_load_s=0.02, load_w=2.0)


def test_switching_on_at_the_peak_draws_several_times_what_it_draws_at_zero() -> None:
    trace = switch_on(CIRCUIT)
    assert np.argmax(trace.peak_a) in (5, 6, 7)
    assert trace.peak_a.max() > 2.5 * trace.peak_a.min()
    # Less than the peak over all resistance in the path, the limit without capacitor voltage.
    assert trace.peak_a.max() < 38.0 / 1.1 + 38.0 * 0.02


def test_the_let_through_grows_with_time_and_settles() -> None:
    trace = switch_on(CIRCUIT, 0.2)
    early, late = trace.let_through_a2s(0.02), trace.let_through_a2s(0.2)
    assert np.all(late >= early)
    assert np.all(late < 1.3 * trace.let_through_a2s(0.1))


def test_a_pull_in_sags_the_reservoir_and_it_recovers() -> None:
    trace = sag(CIRCUIT, 0.05, 0.2, 0.04)
    before, during = trace.lowest_v(0), trace.lowest_v(1)
    assert during < before - 1.0
    assert trace.reservoir_v[-1] > during
    assert trace.time_below_s(float(before) - 0.5) > 0.02
    assert trace.time_below_s(5.0) == 0.0


def test_with_the_winding_dead_the_reservoir_empties_as_charge_says() -> None:
    dead = RectifierCircuit(0.001, 1.0, 60.0, True, 1e-3, 0.0, load_a=0.1)
    trace = run_stages(dead, [Stage(0.1, 0.0)], 30.0)
    # Constant current: V falls by I t / C.
    assert trace.reservoir_v[-1] == pytest.approx(30.0 - 0.1 * 0.1 / 1e-3, abs=0.02)
