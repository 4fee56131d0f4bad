"""What the board listens through: the trigger, its own supply."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.circuit.senses import LED_MAX_A, divider_top_ohm, sense_divider, trigger_sense
from timing.design.board import Board
from timing.design.design import Design

Changed = Callable[..., Design]


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


def test_the_divider_keeps_the_pin_in_range(changed: Changed, board: Board) -> None:
    sense = changed().supply.sense
    assert sense is not None
    found = sense_divider(sense, board, 41.2)
    assert found.pin_high_v == pytest.approx(41.2 * 4.7 / 60.7)
    assert found.thresholds.low_counts < found.thresholds.good_counts < board.adc_full_scale
    top = divider_top_ohm(4700.0, board, 41.2)
    assert 41.2 * 4700.0 / (top + 4700.0) <= 5.0
