"""Switching on, and a contactor pulling in."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from timing.power.rectifier import RectifierCircuit
from timing.power.transient import SWITCH_ON_RAD, Stage, run_stages, sag, surge_a, switch_on

CIRCUIT = RectifierCircuit(38.0, 1.0, 60.0, True, 1e-3, 0.1, ac_load_s=0.02, load_w=2.0)


EVENLY = np.arange(24) * np.pi / 24


def test_switching_on_at_the_peak_draws_several_times_what_it_draws_at_zero() -> None:
    trace = switch_on(CIRCUIT, start_rad=EVENLY)
    assert np.argmax(trace.peak_a) == 12
    assert trace.peak_a.max() > 2.5 * trace.peak_a.min()
    # Less than the peak over all resistance in the path, the limit without capacitor voltage.
    assert trace.peak_a.max() < 38.0 / 1.1 + 38.0 * 0.02


@pytest.mark.parametrize("reservoir_f", [10e-6, 47e-6, 220e-6, 1e-3, 10e-3])
@pytest.mark.parametrize("series_ohm", [0.0, 4.7])
def test_the_surge_is_the_highest_of_all_instants_and_its_squares_of_the_angles_tried(
    reservoir_f: float, series_ohm: float
) -> None:
    """The surge of a small reservoir is over in tens of microseconds; the first instant has it."""
    circuit = replace(CIRCUIT, capacitance_f=reservoir_f, series_ohm=series_ohm, ac_load_s=0.0, load_w=0.2)
    trace = switch_on(circuit, 0.05, EVENLY)
    assert float(trace.peak_a.max()) == pytest.approx(float(surge_a(circuit)), rel=0.01)
    tried = switch_on(circuit, 0.05, np.asarray(SWITCH_ON_RAD)).let_through_a2s(0.05)
    assert np.max(tried) > 0.97 * np.max(trace.let_through_a2s(0.05))
    finer = run_stages(circuit, [Stage(0.05, 0.0)], 0.0, SWITCH_ON_RAD[2], step_s=min(2e-6, reservoir_f / 10.0))
    assert switch_on(circuit, 0.05, SWITCH_ON_RAD[2]).let_through_a2s(0.05) == pytest.approx(
        float(finer.let_through_a2s(0.05)), rel=0.03
    )


def test_the_let_through_grows_with_time_and_settles() -> None:
    trace = switch_on(CIRCUIT, 0.2)
    early, late = trace.let_through_a2s(0.02), trace.let_through_a2s(0.2)
    assert np.all(late >= early)
    assert np.all(late < 1.3 * trace.let_through_a2s(0.1))


def test_a_pull_in_sags_the_reservoir_and_it_recovers() -> None:
    trace = sag(CIRCUIT, Stage(0.05, 0.2), Stage(4 / 60, 0.04))
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
