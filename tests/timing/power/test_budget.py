"""The budget of a design: corners, phases, hold-up, and what changes them."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import aged, budget, hold_up_s
from timing.power.components import fallen_ohm, rail_v, regulator, usual_regulation_percent, winding
from timing.power.fuse import FuseChoice, choose_fuse
from timing.power.loads import coil_load, heaviest, loaded_v, phase_load, phase_loads, pull_ins
from timing.power.rectifier import RectifierCircuit
from timing.power.shorts import shorted_a
from timing.sequence.core.table import TABLE, Output, Phase

Changed = Callable[..., Design]
SENSE = 'sense = { divider_top = "56 kohm", divider_bottom = "4.7 kohm", low = "15 V", good = "18 V" }'


def test_a_measured_winding_is_taken_as_measured(changed: Changed) -> None:
    source = winding(changed().supply)
    assert source.measured
    assert source.open_v == 27.4
    assert source.source_ohm == pytest.approx((27.4 - 25.2) / 2.1)
    assert (source.least_ohm, source.most_ohm) == pytest.approx((2.1 / 2.1, 2.3 / 2.1))


@given(st.floats(0.2, 5.0), st.floats(0.2, 4.0), st.floats(0.1, 1.0))
def test_the_resistance_is_found_behind_a_load_of_any_power_factor(ohm: float, load_a: float, factor: float) -> None:
    """The loaded voltage by the law of cosines, from the resistance; and back."""
    assume(ohm * load_a < 12.0)
    across_v = ohm * load_a
    loaded = math.sqrt(27.4**2 - (across_v * math.sqrt(1.0 - factor**2)) ** 2) - across_v * factor
    assert fallen_ohm(27.4, 27.4 - loaded, load_a, factor) == pytest.approx(ohm, rel=1e-6)


def test_coils_hide_most_of_the_windings_resistance(changed: Changed) -> None:
    """2.16 ohm under 1.5 A of coils with a power factor of 0.35 falls by 1.3 V only, as 0.87 ohm with a lamp would."""
    true_ohm, load_a = 2.16, 1.5
    across_v = true_ohm * load_a
    loaded = math.sqrt(27.4**2 - (across_v * math.sqrt(1.0 - 0.35**2)) ** 2) - across_v * 0.35
    assert (27.4 - loaded) / load_a == pytest.approx(0.87, abs=0.005)
    readings = (
        ('measured_loaded = "25.2 V"', f'measured_loaded = "{loaded:.4f} V"'),
        (
            'measured_load = "2.1 A"\nmeasured_with = "resistive"',
            'measured_load = "1.5 A"',
        ),
    )
    source = winding(changed(*readings).supply)
    assert source.source_ohm == pytest.approx(true_ohm, rel=1e-3)
    assert source.least_ohm < 0.8 * true_ohm
    assert source.most_ohm > 1.3 * true_ohm
    stated = winding(changed(*readings, ("[supply]", '[supply]\nmeasured_power_factor = "35 %"')).supply)
    assert stated.source_ohm == pytest.approx(true_ohm, rel=1e-3)
    assert source.least_ohm < stated.least_ohm < true_ohm < stated.most_ohm < source.most_ohm


def test_an_unmeasured_winding_gives_its_rated_voltage_at_its_rated_current(changed: Changed) -> None:
    supply = changed(
        ('measured_open = "27.4 V"\n', ""), ('measured_loaded = "25.2 V"\n', ""), ('measured_load = "2.1 A"\n', "")
    ).supply
    source = winding(supply)
    assert not source.measured
    assert source.open_v - source.source_ohm * 100.0 / 24.0 == pytest.approx(24.0)
    assert source.least_ohm < 0.8 * source.source_ohm < 1.3 * source.source_ohm < source.most_ohm
    assert [usual_regulation_percent(va) for va in (5, 40, 100, 500)] == [25.0, 13.0, 10.0, 5.0]


def test_each_phase_draws_what_the_table_turns_on(changed: Changed, board: Board) -> None:
    design = changed()
    for phase in Phase:
        load = phase_load(design, board, phase)
        on = TABLE[phase].outputs
        # Gas valve 0.33 A and contactor 0.6 A hang on the winding; the wire drive is fed from elsewhere.
        assert load.ac_hold_a == pytest.approx(0.33 * (Output.GAS in on) + 0.6 * (Output.CONTACTOR in on))
        # The drive's contact is stated for 10 A: a larger relay than the two for 5 A.
        relays_w = 0.53 * (Output.WIRE in on) + 0.36 * len(on - {Output.WIRE})
        assert load.rail_a == pytest.approx(board.current_a + 0.0085 + 2 * 5 / 2200 + relays_w / 9.0)
    assert heaviest(phase_loads(design, board)).phase is Phase.WELD


def test_the_heaviest_pull_in_is_found_in_the_table(changed: Changed) -> None:
    changes = pull_ins(changed())
    assert (changes[0].before, changes[0].after) == (Phase.PREFLOW, Phase.WELD)
    # The valve, held, lags more than the contactor that pulls in: amperes add as arrows.
    valve, contactor = 0.33 / 24.0, 3.5 / 24.0
    assert changes[0].load_during.in_phase_s == pytest.approx(0.35 * valve + 0.70 * contactor)
    lag = math.sqrt(1 - 0.35**2) * valve + math.sqrt(1 - 0.7**2) * contactor
    assert changes[0].load_during.lag_s == pytest.approx(lag)
    assert changes[0].load_during.admittance_s < valve + contactor
    assert changes[0].lasts_us == 45_000


def test_a_coil_that_lags_pulls_the_winding_down_less(changed: Changed, board: Board) -> None:
    """27.4 V behind 4.7 ohm, with 3.5 A at 24 V and a power factor of 0.5: the dip as if in phase is twice the true."""
    coil = changed(
        ('inrush = "3.5 A"', 'inrush = "3.5 A", pull_in_power_factor = "50 %"'),
    ).feeder.contactor.coil
    lagging = 27.4 - loaded_v(27.4, 2.16, coil_load(coil, "typical", pulling_in=True))
    in_phase = 27.4 - 27.4 / (1.0 + 2.16 * 3.5 / 24.0)
    assert in_phase > 1.4 * lagging
    stated = budget(changed(('inrush = "3.5 A"', 'inrush = "3.5 A", pull_in_power_factor = "50 %"')), board).sag
    usual = budget(changed(), board).sag
    assert stated is not None
    assert usual is not None
    assert stated.winding_v > usual.winding_v
    assert usual.winding_v < usual.winding_best_v


def test_coils_of_other_circuits_and_dc_coils(changed: Changed) -> None:
    contactor = changed().feeder.contactor.coil
    assert coil_load(contactor.model_copy(update={"fed_from": "elsewhere"}), "typical").admittance_s == 0.0
    dc = coil_load(contactor.model_copy(update={"kind": "dc"}), "low")
    assert (dc.in_phase_s, dc.lag_s) == (pytest.approx(0.6 / 24.0), 0.0)


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
    assert welding.rail_a - idle.rail_a == pytest.approx((2 * 0.36 + 0.53) / 5.0)


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
    assert change.load_before.admittance_s == pytest.approx(0.33 / 24.0)
    assert change.load_after.admittance_s == pytest.approx((0.33 + 0.6) / 24.0)


def test_inrush_is_that_of_the_largest_capacitor_within_its_tolerance(changed: Changed, board: Board) -> None:
    def squares(capacitor: str, tolerance: str) -> float:
        stated = f'reservoir = "{capacitor}"\nreservoir_tolerance = "{tolerance}"\nreservoir_esr = "0.2 ohm"'
        return budget(changed(('reservoir = "1000 uF"', stated)), board).inrush.a2s

    assert squares("1000 uF", "20 %") == pytest.approx(squares("1200 uF", "0 %"), rel=1e-6)
    assert squares("1000 uF", "20 %") > 1.1 * squares("1000 uF", "0 %")


def held(rating_a: float, continuous_a: float, inrush_a2s: float, short_a: float) -> FuseChoice:
    return FuseChoice(rating_a, continuous_a, inrush_a2s, short_a, short_a, short_a)


def test_a_fuse_is_loaded_to_a_share_of_its_rating_only() -> None:
    """The rest of its rating is for a warm box: common practice, no source."""
    assert choose_fuse(held(0.0, 0.31, 0.0, 30.0)).rating_a == 0.63
    assert choose_fuse(held(0.0, 0.29, 0.0, 30.0)).rating_a == 0.5
    assert not held(0.5, 0.31, 0.0, 30.0).carries


def test_the_unkind_corners_take_the_ends_of_what_the_readings_leave_open(changed: Changed, board: Board) -> None:
    found = budget(changed(('measured_with = "resistive"\n', "")), board)
    ohms = {corner.key: float(corner.circuit.source_ohm) for corner in found.corners}
    assert ohms["high-idle"] == found.winding.least_ohm
    assert ohms["nominal-on"] == found.winding.source_ohm
    assert ohms["low-aged"] == found.winding.most_ohm
    assert found.fuse.prospective_a == pytest.approx(27.4 * 0.9 / found.winding.most_ohm)
    assert found.fuse.highest_a == pytest.approx(27.4 * 1.1 / found.winding.least_ohm)


def test_a_resistor_in_the_feed_cuts_the_surge_and_lets_a_smaller_fuse_do(changed: Changed, board: Board) -> None:
    plain = budget(changed(), board)
    limited = budget(changed(("[supply]", '[supply]\nseries_resistor = "4.7 ohm"')), board)
    assert limited.inrush.peak_a < 0.25 * plain.inrush.peak_a
    assert limited.fuse.rating_a <= 0.63 < plain.fuse.rating_a
    assert limited.fuse.works
    lowest = (float(one.corner("low-aged").state.dc_min_v) for one in (plain, limited))
    assert 0.5 < next(lowest) - next(lowest) < 2.5


def test_a_second_transformer_is_seen_from_both_sides(changed: Changed, board: Board) -> None:
    plain = budget(changed(), board)
    apart = budget(changed(("[supply]", '[supply]\nisolation = "transformer"')), board)
    assert apart.isolation.ratio == pytest.approx(18.0 * 1.18 / 24.0)
    # 24 V to 18 V leaves less on the reservoir; the winding's own volts and amperes stay what they are.
    assert apart.highest_v < 0.9 * plain.highest_v
    # A short behind it is too weak for the first fuse, and ended by a fuse of its own.
    assert apart.second_fuse is not None
    assert apart.second_fuse.works
    assert apart.second_fuse.rating_a < apart.fuse.rating_a
    assert apart.fuse.works
    on, as_found = apart.corner("nominal-on").state, plain.corner("nominal-on").state
    assert on.winding_rms_v == pytest.approx(as_found.winding_rms_v, rel=0.01)
    assert on.winding_rms_a == pytest.approx(as_found.winding_rms_a, rel=0.05)


def test_an_isolating_module_costs_input_voltage_and_efficiency(changed: Changed, board: Board) -> None:
    plain = budget(changed(), board)
    apart = budget(changed(("[supply]", '[supply]\nisolation = "module"'), (SENSE, "")), board)
    assert apart.regulator.input_min_v == 18.0
    assert apart.regulator.input_max_v >= 60.0
    loads = (float(one.corner("nominal-on").circuit.load_w) for one in (plain, apart))
    assert next(loads) < next(loads)
    assert apart.crowbar is None
    # What the board itself does not take, a resistor does, so that the module keeps its voltage.
    assert min(phase.load.rail_a for phase in apart.phases) >= apart.regulator.least_load_a * 0.999


def test_the_clamp_of_modules_has_figures_of_its_own(changed: Changed, board: Board) -> None:
    soldered = budget(changed(), board)
    modules = budget(changed(('build = "board"', 'build = "modules"')), board)
    assert (soldered.rail_clamp, modules.crowbar) == (None, None)
    assert soldered.crowbar is not None
    clamp = modules.rail_clamp
    assert clamp is not None
    assert modules.regulator.output_v * 1.05 <= clamp.clamps_from_v < clamp.breakdown_v < clamp.clamps_by_v
    # What the diode keeps is not left to drive the current: less than through a crowbar, or into a dead short.
    assert clamp.fault_a < soldered.crowbar.fault_a < soldered.fuse.fault_a
    # By the wave's form, what it takes is between power at mean and at RMS current; at high line it is the most.
    high, low = modules.corners[0].circuit, modules.corners[-1].circuit
    assert clamp.heat_w == pytest.approx(clamp.clamps_by_v * shorted_a(high, clamp.clamps_by_v, 0.3))
    assert clamp.heat_w > clamp.clamps_by_v * shorted_a(low, clamp.clamps_by_v, 0.3)
    # At the power of its rating it bears the pulse of its rating, at a tenth a hundred times as long.
    assert replace(clamp, heat_w=1500.0).fails_in_s == pytest.approx(1e-3)
    assert replace(clamp, heat_w=150.0).fails_in_s == pytest.approx(0.1)


def test_the_crowbar_leaves_the_rail_alone_and_fires_within_what_the_board_bears(
    changed: Changed, board: Board
) -> None:
    found = budget(changed(), board)
    assert found.crowbar is not None
    assert found.regulator.output_v * 1.05 < found.crowbar.fires_from_v < found.crowbar.fires_by_v < board.vin_max_v
    assert found.crowbar.fault_a < found.fuse.fault_a
