"""Adapters of the recorder: their values hold at every corner, and follow published relations."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from timing.circuit.trigger_input import LED_DARK_V, LED_LIT_V, LED_MAX_A, led_needed_a
from timing.project import Project
from timing.protocol.recorder import RECORDER_INPUTS, SAMPLE_US, recorder_input
from timing.recorder.adapters import (
    RESISTOR_RATINGS_V,
    WELDING_HIGHEST_V,
    AdapterKind,
    SeenCircuit,
    across_circuit,
    by_module,
    supply_share,
)
from timing.recorder.couplers import FAST_PULL_UP_OHM, WEAK_PULL_UP_OHM, AdapterLag, pin_coupler
from timing.recorder.fitting import COIL_WORKS_FROM, RecorderWish, recorder_circuits
from wirecue.projects import board_names, load_board, load_project

NANO = load_board("nano")
GAS = recorder_input("gas_valve")


def shop(**changes: object) -> Project:
    """The shop feeder, keys of its gas valve's coil changed."""
    project = load_project(ROOT / "examples" / "shop_two_step.toml")
    gas = project.design.feeder.gas_valve
    assert gas is not None
    valve = gas.model_copy(update={"coil": gas.coil.model_copy(update=changes)})
    feeder = project.design.feeder.model_copy(update={"gas_valve": valve})
    return Project(project.design.model_copy(update={"feeder": feeder}), project.board)


@pytest.mark.parametrize("name", board_names())
def test_every_input_has_an_adapter_that_holds_or_a_reason(example, name):
    circuits = recorder_circuits(load_project(example), load_board(name), RecorderWish())
    keys = {one.key for one in RECORDER_INPUTS}
    assert set(circuits.adapters) | set(circuits.left_out) == keys
    assert not set(circuits.adapters) & set(circuits.left_out)
    for adapter in circuits.adapters.values():
        assert adapter.within_ratings, adapter.input.key
        assert adapter.sees_low, adapter.input.key


@given(
    volts=st.floats(9.0, 50.0),
    ac=st.booleans(),
    stray=st.floats(-0.05, 0.05),
    pull=st.sampled_from([FAST_PULL_UP_OHM, WEAK_PULL_UP_OHM]),
    name=st.sampled_from(["nano", "pico"]),
)
def test_no_corner_leaves_the_ratings_and_every_voltage_from_the_least_on_is_seen(volts, ac, stray, pull, name):
    coupler = pin_coupler(load_board(name), pull)
    circuit = SeenCircuit(volts * COIL_WORKS_FROM, volts, volts * 1.265, 60.0 if ac else 0.0)
    kind = AdapterKind.AC_COIL if ac else AdapterKind.DC_COIL
    adapter = across_circuit(GAS, kind, circuit, "", coupler)
    ohm = sum(adapter.series_ohm) * (1.0 + stray)
    peak = math.sqrt(2.0) if ac else 1.0
    assert (circuit.high_v * peak - LED_DARK_V) / ohm <= LED_MAX_A * (1.0 + 1e-9)
    assert (circuit.high_v**2) / ohm <= adapter.rating_w
    assert circuit.high_v * peak <= RESISTOR_RATINGS_V[adapter.rating_w]
    assert adapter.sees_low
    # From the stated voltage on, the aged coupler has what it needs; up to the other the best one has not.
    assert (adapter.on_v - LED_LIT_V) / ohm >= coupler.lit_a * (1.0 - 1e-9)
    assert (adapter.off_v - LED_DARK_V) / ohm <= coupler.dark_a * (1.0 + 1e-9)


def test_the_dark_time_is_that_of_a_sine_below_the_threshold():
    """Counted on the sine itself, a million points a cycle of the mains."""
    adapter = recorder_circuits(shop(), NANO, RecorderWish()).adapters["gas_valve"]
    points, period_us = 1_000_000, 1e6 / adapter.circuit.frequency_hz
    peak = adapter.circuit.low_v * math.sqrt(2.0)
    quarter = sum(peak * math.sin(2.0 * math.pi * n / points) < adapter.on_v for n in range(points // 4))
    assert adapter.dark_us == pytest.approx(2.0 * quarter * period_us / points, abs=1.0)
    assert adapter.bridge_us > adapter.dark_us


def test_the_lag_of_an_ac_coil_spans_its_dark_time_and_that_of_dc_does_not():
    adapter = recorder_circuits(shop(), NANO, RecorderWish()).adapters["gas_valve"]
    steady, lag = adapter.steady_lag, adapter.lag
    assert lag.on_us == (steady.on_us[0], steady.on_us[1] + adapter.dark_us)
    assert lag.off_us == (steady.off_us[0] - adapter.dark_us, steady.off_us[1])
    assert steady.on_us[1] - SAMPLE_US <= 60
    assert steady.off_us[1] < 500
    dc = recorder_circuits(shop(kind="dc", fed_from="elsewhere"), NANO, RecorderWish()).adapters["gas_valve"]
    assert dc.dark_us == 0 == dc.bridge_us
    assert dc.lag == dc.steady_lag


def test_a_weaker_pull_up_lets_go_later_and_needs_less_light():
    fast, weak = pin_coupler(NANO, FAST_PULL_UP_OHM), pin_coupler(NANO, WEAK_PULL_UP_OHM)
    assert weak.lit_a < fast.lit_a
    assert weak.lag.off_us[1] > fast.lag.off_us[1]
    assert led_needed_a(0.001, 0.4) < fast.lit_a < led_needed_a(0.0015, 0.4)


def test_the_welding_output_may_stand_at_its_highest_with_one_resistor_shorted():
    adapter = recorder_circuits(shop(), NANO, RecorderWish()).adapters["main_contact"]
    assert adapter.kind is AdapterKind.WELDING
    assert len(adapter.series_ohm) == 2
    assert adapter.circuit.high_v == WELDING_HIGHEST_V
    # The parts list asks for a coupler whose LED bears twice what it gets at most.
    assert WELDING_HIGHEST_V / (0.95 * adapter.series_ohm[0]) <= 2 * LED_MAX_A


@pytest.mark.parametrize(("kind", "volts"), [("ac", 115.0), ("dc", 90.0)])
def test_above_extra_low_voltage_no_adapter_is_made(kind, volts):
    circuits = recorder_circuits(shop(kind=kind, voltage_v=volts, fed_from="elsewhere"), NANO, RecorderWish())
    assert "gas_valve" not in circuits.adapters
    assert "above extra-low voltage" in circuits.left_out["gas_valve"]


def test_a_motor_above_extra_low_voltage_is_left_to_the_disc():
    project = load_project(ROOT / "examples" / "spot_stitch.toml")
    circuits = recorder_circuits(project, NANO, RecorderWish(motor_v=90.0))
    assert "The disc" in circuits.left_out["motor"]
    assert "disc" in circuits.adapters


def test_what_a_person_wishes_changes_inputs_five_and_six():
    wish = RecorderWish(main_contact="contact", sensor="flag")
    adapters = recorder_circuits(shop(), NANO, wish).adapters
    assert adapters["main_contact"].kind is AdapterKind.CONTACT
    assert adapters["sensor"].kind is AdapterKind.REFLEX


def test_a_module_serves_coils_on_24_volts_with_a_lag_of_its_own():
    circuit = SeenCircuit(20.4, 24.0, 30.0, 50.0)
    adapter = by_module(GAS, AdapterKind.AC_COIL, circuit, "", pin_coupler(NANO, FAST_PULL_UP_OHM))
    assert adapter.by_module
    assert not adapter.series_ohm
    assert adapter.sees_low
    assert adapter.steady_lag == AdapterLag((0.0, 500.0 + SAMPLE_US), (0.0, 500.0 + SAMPLE_US))


@given(share=st.floats(0.7, 1.0), level=st.floats(0.2, 0.65), hz=st.sampled_from([50.0, 60.0]))
def test_a_dip_is_read_from_two_dark_times(share, level, hz):
    """level: of the threshold over the peak at rest."""
    rest_us, dip_us = (1e6 * math.asin(one) / math.pi / hz for one in (level, level / share))
    assert supply_share(rest_us, dip_us, hz) == pytest.approx(share)


def test_a_dark_time_of_half_a_cycle_tells_nothing():
    with pytest.raises(ValueError, match="between 0 and 10000 us"):
        supply_share(1000.0, 10_000.0, 50.0)


def test_every_press_is_rated_for_its_circuit_and_held_open_at_boot(example):
    project = load_project(example)
    for name in board_names():
        board = load_board(name)
        for press in recorder_circuits(project, board, RecorderWish()).presses.values():
            assert press.rating_v >= press.open_v
            assert not press.above_extra_low
            # The chip's strongest pull-up leaves the LED dark.
            assert board.logic_v * press.pull_ohm / (press.pull_ohm + 20e3) <= LED_DARK_V
            assert press.pin_a <= board.pin_current_a


def test_a_trigger_on_ac_above_50_v_is_marked():
    project = shop()
    trigger = project.design.trigger.model_copy(update={"circuit_voltage_v": 55.0})
    design = project.design.model_copy(update={"trigger": trigger})
    circuits = recorder_circuits(replace(project, design=design), NANO, RecorderWish())
    assert circuits.presses["trigger"].above_extra_low
