"""The budget of a design: corners, phases, hold-up, and what changes them."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import aged, budget, hold_up_s
from timing.power.components import FuseChoice, choose_fuse, rail_v, regulator, usual_regulation_percent, winding
from timing.power.loads import heaviest, phase_load, phase_loads, pull_ins
from timing.power.rectifier import RectifierCircuit
from timing.sequence.core.table import TABLE, Output, Phase

Changed = Callable[..., Design]


def test_a_measured_winding_is_taken_as_measured(changed: Changed) -> None:
    source = winding(changed().supply)
    assert source.measured
    assert source.open_v == 27.4
    assert source.source_ohm == pytest.approx((27.4 - 25.2) / 2.1)


def test_an_unmeasured_winding_gives_its_rated_voltage_at_its_rated_current(changed: Changed) -> None:
    supply = changed(
        ('measured_open = "27.4 V"\n', ""), ('measured_loaded = "25.2 V"\n', ""), ('measured_load = "2.1 A"\n', "")
    ).supply
    source = winding(supply)
    assert not source.measured
    assert source.open_v - source.source_ohm * 100.0 / 24.0 == pytest.approx(24.0)
    assert [usual_regulation_percent(va) for va in (5, 40, 100, 500)] == [25.0, 13.0, 10.0, 5.0]


def test_each_phase_draws_what_the_table_turns_on(changed: Changed, board: Board) -> None:
    design = changed()
    for phase in Phase:
        load = phase_load(design, board, phase)
        on = TABLE[phase].outputs
        # Gas valve 0.33 A and contactor 0.6 A hang on the winding; the wire drive is fed from elsewhere.
        assert load.ac_hold_a == pytest.approx(0.33 * (Output.GAS in on) + 0.6 * (Output.CONTACTOR in on))
        assert load.rail_a == pytest.approx(board.current_a + 0.0085 + 2 * 5 / 2200 + 0.040 * len(on))
    assert heaviest(phase_loads(design, board)).phase is Phase.WELD


def test_the_heaviest_pull_in_is_found_in_the_table(changed: Changed) -> None:
    changes = pull_ins(changed())
    assert (changes[0].before, changes[0].after) == (Phase.PREFLOW, Phase.WELD)
    assert changes[0].pull_in_s == pytest.approx((0.33 + 3.5) / 24.0)
    assert changes[0].lasts_us == 45_000


def test_nothing_on_the_winding_means_no_sag(changed: Changed, board: Board) -> None:
    design = changed(
        ('coil = { hold = "0.33 A"', 'coil = { fed_from = "elsewhere", hold = "0.33 A"'),
        ('coil = { hold = "0.6 A"', 'coil = { fed_from = "elsewhere", hold = "0.6 A"'),
    )
    assert budget(design, board).sag is None


def test_the_unloaded_corner_is_the_highest_and_the_aged_one_the_lowest(changed: Changed, board: Board) -> None:
    found = budget(changed(), board)
    assert found.closes
    assert found.highest_v == float(found.corner("high-bare").state.dc_max_v) > 40.0
    lowest = min(float(corner.state.dc_min_v) for corner in found.corners)
    assert lowest == float(found.corner("low-aged").state.dc_min_v)
    assert found.sag is not None
    assert found.sag.lowest_v < lowest
    assert found.sag.winding_v < found.sag.winding_alone_v


def test_phases_with_more_on_leave_less_voltage(changed: Changed, board: Board) -> None:
    found = budget(changed(), board)
    states = {phase.load.phase: phase.state for phase in found.phases}
    assert states[Phase.WELD].dc_mean_v < states[Phase.PREFLOW].dc_mean_v < states[Phase.IDLE].dc_mean_v
    assert states[Phase.WELD].winding_rms_a > states[Phase.PREFLOW].winding_rms_a > states[Phase.IDLE].winding_rms_a


def test_ageing_takes_capacitance_and_doubles_resistance(changed: Changed) -> None:
    capacitance, series = aged(
        changed(('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nreservoir_esr = "0.2 ohm"')).supply
    )
    assert capacitance == pytest.approx(1000e-6 * 0.8 * 0.8)
    assert series == pytest.approx(0.4)


def test_hold_up_follows_the_energy_of_the_capacitor() -> None:
    # Constant power: t = C (V1^2 - V2^2) / (2 P).
    network = RectifierCircuit(30.0, 1.0, 60.0, True, 1e-3, 0.1, load_w=2.0)
    assert hold_up_s(network, 30.0, 12.0) == pytest.approx(1e-3 * (900 - 144) / 4.0, rel=1e-3)
    assert hold_up_s(network, 12.0, 12.0) == 0.0


def test_the_rail_suits_the_board(changed: Changed, board: Board) -> None:
    supply = changed().supply
    assert rail_v(supply, board) == 9.0
    low = board.model_copy(update={"vin_min_v": 1.8, "vin_max_v": 5.5})
    assert rail_v(supply, low) == 5.0
    odd = board.model_copy(update={"vin_min_v": 5.5, "vin_max_v": 6.0})
    assert rail_v(supply, odd) == 6.0
    given = changed(('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nregulator_output = "8 V"')).supply
    assert rail_v(given, board) == 8.0


def test_a_relay_on_a_lower_rail_draws_more(changed: Changed, board: Board) -> None:
    design = changed()
    low = board.model_copy(update={"vin_min_v": 1.8, "vin_max_v": 5.5})
    welding, idle = phase_load(design, low, Phase.WELD), phase_load(design, low, Phase.IDLE)
    assert welding.rail_a - idle.rail_a == pytest.approx(3 * 0.36 / 5.0)


def test_a_linear_regulator_heats_by_the_excess_and_a_switching_one_by_its_losses(
    changed: Changed, board: Board
) -> None:
    linear = regulator(changed(("[supply]", '[supply]\nregulator = "linear"')).supply, board)
    assert linear.input_load(0.2) == (pytest.approx(0.206), 0.0)
    assert linear.loss_w(34.0, 0.2) == pytest.approx(25.0 * 0.2 + 34.0 * 0.006)
    switching = regulator(changed().supply, board)
    assert switching.input_load(0.2) == (0.004, pytest.approx(9.0 * 0.2 / 0.8))
    assert switching.loss_w(34.0, 0.2) == pytest.approx(9.0 * 0.2 * 0.25 + 34.0 * 0.004)


def test_a_coil_pulls_in_on_its_inrush_and_then_draws_its_holding_current(changed: Changed) -> None:
    change = pull_ins(changed())[0]
    assert change.before_s == pytest.approx(0.33 / 24.0)
    assert change.after_s == pytest.approx((0.33 + 0.6) / 24.0)


def test_inrush_is_that_of_the_largest_capacitor_within_its_tolerance(changed: Changed, board: Board) -> None:
    def squares(capacitor: str, tolerance: str) -> float:
        stated = f'reservoir = "{capacitor}"\nreservoir_tolerance = "{tolerance}"\nreservoir_esr = "0.2 ohm"'
        return budget(changed(('reservoir = "1000 uF"', stated)), board).inrush.a2s

    assert squares("1000 uF", "20 %") == pytest.approx(squares("1200 uF", "0 %"), rel=1e-6)
    assert squares("1000 uF", "20 %") > 1.1 * squares("1000 uF", "0 %")


def test_a_fuse_is_loaded_to_a_share_of_its_rating_only() -> None:
    """The rest of its rating is for a warm box: common practice, no source."""
    assert choose_fuse(0.31, 0.0, 100.0).rating_a == 0.63
    assert choose_fuse(0.29, 0.0, 100.0).rating_a == 0.5
    assert not FuseChoice(0.5, 0.31, 0.0, 100.0).carries
