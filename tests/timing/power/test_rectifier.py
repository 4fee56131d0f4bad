"""The periodic state holds what physics demands of it, whatever the circuit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from timing.power.periodic import gauss_legendre, steady_state
from timing.power.rectifier import RectifierCircuit
from timing.power.transient import Stage, run_stages

circuits = st.builds(
    RectifierCircuit,
    emf_peak_v=st.floats(12.0, 60.0),
    source_ohm=st.floats(0.1, 10.0),
    frequency_hz=st.sampled_from([50.0, 60.0]),
    bridge=st.booleans(),
    capacitance_f=st.floats(100e-6, 10e-3),
    esr_ohm=st.floats(0.01, 1.0),
    ac_load_s=st.floats(0.0, 0.2),
    load_a=st.floats(0.001, 0.3),
    load_s=st.floats(0.0, 1e-3),
)


@given(circuits)
def test_the_rectifier_brings_what_the_load_takes(circuit: RectifierCircuit) -> None:
    state = steady_state(circuit)
    assume(state.settled)
    assert state.diode_mean_a * circuit.pulses == pytest.approx(state.load_mean_a, rel=2e-3)


@given(circuits)
def test_power_in_covers_load_and_losses(circuit: RectifierCircuit) -> None:
    state = steady_state(circuit)
    assume(state.settled)
    load_w = state.dc_mean_v * state.load_mean_a
    assert state.rectifier_w > load_w * 0.999
    assert state.rectifier_w <= state.rectifier_va * 1.0001
    assert 0.0 < state.rectifier_power_factor <= 1.0001


@given(circuits)
def test_figures_keep_their_order(circuit: RectifierCircuit) -> None:
    state = steady_state(circuit)
    assume(state.settled)
    assert state.dc_min_v < state.dc_mean_v < state.dc_max_v < circuit.emf_peak_v
    assert state.rectifier_peak_a > state.rectifier_rms_a > state.load_mean_a * 0.999
    esr_drop = circuit.esr_ohm * state.rectifier_peak_a
    # The published bound I / (pulses f C), with what the capacitor's own resistance adds.
    bound = state.load_mean_a / (circuit.pulses * circuit.frequency_hz * circuit.capacitance_f)
    assert state.ripple_v <= bound * 1.01 + esr_drop


def test_a_stepped_simulation_stays_in_the_periodic_state() -> None:
    random = np.random.default_rng(7)
    many = 200
    for bridge in (True, False):
        circuit = RectifierCircuit(
            random.uniform(12.0, 60.0, many),
            random.uniform(0.1, 10.0, many),
            50.0,
            bridge,
            random.uniform(100e-6, 10e-3, many),
            random.uniform(0.01, 1.0, many),
            ac_load_s=random.uniform(0.0, 0.2, many),
            load_a=random.uniform(0.001, 0.3, many),
        )
        state = steady_state(circuit)
        sound = (np.asarray(state.settled) > 0.0) & (np.asarray(state.dc_min_v) > 2.0)
        assert sound.mean() > 0.5
        trace = run_stages(circuit, [Stage(0.02, circuit.ac_load_s)] * 2, state.start_v, state.on_rad, step_s=20e-6)
        second = trace.stage == 1
        mean_v = trace.reservoir_v[second].mean(axis=0)
        rms_a = np.sqrt((trace.winding_a[second] ** 2).mean(axis=0))
        assert np.abs(mean_v - state.dc_mean_v)[sound].max() < 0.12
        assert np.abs(rms_a / state.winding_rms_a - 1.0)[sound].max() < 0.05


def test_an_array_of_circuits_is_solved_like_each_alone() -> None:
    one = RectifierCircuit(38.0, 1.0, 60.0, True, 1e-3, 0.1, ac_load_s=0.02, load_w=2.0)
    loads = np.array([0.5, 2.0, 6.0])
    together = steady_state(replace(one, load_w=loads))
    for index, load in enumerate(loads):
        alone = steady_state(replace(one, load_w=float(load)))
        assert together.dc_mean_v[index] == pytest.approx(float(alone.dc_mean_v), rel=1e-9)
        assert together.winding_rms_a[index] == pytest.approx(float(alone.winding_rms_a), rel=1e-9)


def test_a_load_beyond_the_winding_is_told_and_not_made_up() -> None:
    starved = RectifierCircuit(17.0, 10.0, 50.0, False, 47e-6, 0.1, load_w=20.0)
    assert steady_state(starved).settled == 0.0


@given(circuits)
def test_the_capacitor_carries_what_pulses_and_load_leave_it(circuit: RectifierCircuit) -> None:
    """Rectifier and load current differ by the capacitor's: with an even load their squares differ by the load's."""
    state = steady_state(circuit)
    assume(state.settled)
    # The load is even here but for its small conductance.
    expected = np.sqrt(np.maximum(state.rectifier_rms_a**2 - state.load_mean_a**2, 0.0))
    assert state.capacitor_rms_a == pytest.approx(float(expected), rel=5e-3, abs=1e-4)


@pytest.mark.parametrize("points", [1, 2, 5, 12, 32])
def test_the_quadrature_is_that_of_a_reference_library(points: int) -> None:
    wanted = np.polynomial.legendre.leggauss(points)
    for made, right in zip(gauss_legendre(points), wanted, strict=True):
        assert made == pytest.approx(right, abs=1e-14)
