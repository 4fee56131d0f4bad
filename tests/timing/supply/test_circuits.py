"""Trigger sense, drives, suppression, dials and supply sense."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.circuit.dial_wiring import PIN_LEAKAGE_A, dial_wiring, dial_wirings, wiper_fraction
from timing.circuit.drives import QUIET_V, drive, drives, pull_down_ohm
from timing.circuit.supply_sense import divider_top_ohm, sense_divider
from timing.circuit.suppression import added_delay_us, let_go_s, off_delay
from timing.circuit.trigger_sense import LED_MAX_A, trigger_sense
from timing.design.board import Board
from timing.design.design import Design
from timing.design.feeder import Actuator, Coil, WireDrive
from timing.design.supply import Supply, SupplySense
from timing.sequence.dials import dial_scale

Changed = Callable[..., Design]


@pytest.mark.parametrize("model", [Supply, SupplySense, Coil, Actuator, WireDrive])
def test_no_two_fields_share_a_key_of_the_design_file(model: type[Supply]) -> None:
    keys = [field.alias for field in model.model_fields.values()]
    assert len(keys) == len(set(keys))


@pytest.mark.parametrize("voltage", ["5 V", "12 V", "24 VAC", "36 V", "60 V"])
@pytest.mark.parametrize("sense", ["ac", "dc"])
def test_the_proposed_trigger_resistor_suits_every_circuit(
    voltage: str, sense: str, changed: Changed, board: Board
) -> None:
    design = changed(
        ('circuit_voltage = "24 VAC"', f'circuit_voltage = "{voltage}"'), ('sense = "ac"', f'sense = "{sense}"')
    )
    found = trigger_sense(design, board)
    assert found.margin >= 1.5
    assert found.high_a <= LED_MAX_A
    assert found.dissipation_w <= 0.5 * found.rating_w + 1e-9


def test_a_single_optocoupler_leaves_gaps_of_more_than_half_a_cycle(changed: Changed, board: Board) -> None:
    ac_input = trigger_sense(changed(), board)
    single = trigger_sense(changed(('optocoupler = "ac-input"', 'optocoupler = "single"')), board)
    assert ac_input.gap_us < 1e6 / 120
    assert single.gap_us == pytest.approx(ac_input.gap_us + 1e6 / 120)
    assert trigger_sense(changed(('sense = "ac"', 'sense = "dc"')), board).gap_us == 0.0


def test_a_plain_diode_delays_the_release_and_a_varistor_hastens_it() -> None:
    early, typical, late = added_delay_us("diode", 9.0, 0.006)
    assert 0 < early < typical < late < 10_000
    assert added_delay_us("zener", 9.0, 0.006) == (0, 0, 0)
    assert added_delay_us("varistor", 9.0, 0.006)[1] < 0


@given(st.floats(0.05, 0.9), st.floats(0.1, 100.0), st.floats(0.1, 100.0))
def test_a_higher_clamp_always_lets_go_sooner(share: float, clamp: float, more: float) -> None:
    assert let_go_s(0.006, 9.0, clamp + more, share) < let_go_s(0.006, 9.0, clamp, share)


def test_the_timing_model_gets_the_slower_release(changed: Changed) -> None:
    plain = changed(('coil = { hold = "0.6 A"', 'suppression = "diode"\ncoil = { hold = "0.6 A"')).feeder.contactor
    slow = off_delay(plain, 9.0)
    assert slow.min_us > plain.off_delay.min_us
    assert slow.typical_us - plain.off_delay.typical_us > 2_000
    assert slow.min_us <= slow.typical_us <= slow.max_us
    kept = changed().feeder.contactor
    assert off_delay(kept, 9.0) == kept.off_delay


@pytest.mark.parametrize("logic_v", [3.3, 5.0])
def test_the_external_resistor_wins_against_a_bootloaders_pull_up(logic_v: float) -> None:
    pull = pull_down_ohm(logic_v)
    assert logic_v * pull / (pull + 20e3) <= QUIET_V
    assert logic_v / pull < 0.005


@pytest.mark.parametrize("kind", ["relay", "opto-triac", "mosfet"])
@pytest.mark.parametrize("level", ["high", "low"])
def test_no_drive_overloads_its_pin(kind: str, level: str, changed: Changed, board: Board) -> None:
    design = changed(
        ('coil = { hold = "0.6 A"', f'drive = "{kind}"\ncoil = {{ hold = "0.6 A"'),
        ('type = "uno"', f'type = "uno"\non_level = {{ contactor = "{level}" }}'),
    )
    found = drive(design, board, "contactor")
    assert 0.0 < found.pin_a <= board.pin_current_a
    assert found.coupled is (level == "low" or kind != "relay")
    assert found.varistor_v is not None
    assert found.varistor_v > 24.0 * 1.2


def test_a_gasless_design_has_two_drives(board_named: Callable[[str], Board], changed: Changed) -> None:
    design = changed()
    assert [one.role for one in drives(design, board_named("uno"))] == ["gas_valve", "wire_drive", "contactor"]
    gasless = design.model_copy(update={"feeder": design.feeder.model_copy(update={"gas_valve": None})})
    assert [one.role for one in drives(gasless, board_named("uno"))] == ["wire_drive", "contactor"]
    with pytest.raises(ValueError, match="no gas_valve"):
        drive(gasless, board_named("uno"), "gas_valve")


def test_a_snubber_at_24_v_leaks_too_little_to_matter(changed: Changed, board: Board) -> None:
    design = changed(('coil = { hold = "0.6 A"', 'snubber_capacitor = "47 nF"\ncoil = { hold = "0.6 A"'))
    found = drive(design, board, "contactor")
    assert 0.0 < found.leakage_a < 0.001
    assert not found.holds_in


def test_dials_keep_off_the_rails_and_a_broken_wiper_reads_as_one(changed: Changed, board: Board) -> None:
    for wiring in dial_wirings(changed(), board):
        scale, pot = dial_scale(wiring.setting, board), wiring.setting.resistance_ohm
        full = board.adc_full_scale
        for pot_ratio in (0.8, 1.0, 1.2):
            low = full * wiper_fraction(0.0, pot * pot_ratio, wiring.end_ohm, wiring.wiper_pull_ohm)
            high = full * wiper_fraction(1.0, pot * pot_ratio, wiring.end_ohm, wiring.wiper_pull_ohm)
            assert scale.fault_below < low <= scale.low_counts + 1
            # The pull keeps a low-tolerance dial half a percent short of its high end, no more.
            assert scale.high_counts - 0.006 * full <= high < scale.fault_above
        open_wiper = PIN_LEAKAGE_A * wiring.wiper_pull_ohm / board.adc_reference_v * full
        assert open_wiper < scale.fault_below
        assert wiring.sag_share < 0.05


def test_a_fixed_time_has_no_dial_wiring(board: Board, changed: Changed) -> None:
    fixed = changed(('{ from = "20 ms", to = "300 ms", setting = "90 ms" }', '"90 ms"')).times.burnback
    with pytest.raises(ValueError, match="no dial"):
        dial_wiring("burnback", fixed, board)


def test_the_divider_keeps_the_pin_in_range(changed: Changed, board: Board) -> None:
    sense = changed().supply.sense
    assert sense is not None
    found = sense_divider(sense, board, 41.2)
    assert found.pin_high_v == pytest.approx(41.2 * 4.7 / 60.7)
    assert found.thresholds.low_counts < found.thresholds.good_counts < board.adc_full_scale
    top = divider_top_ohm(4700.0, board, 41.2)
    assert 41.2 * 4700.0 / (top + 4700.0) <= 5.0
