"""How a dial is wired."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.circuit.dial import PIN_LEAKAGE_A, dial_of, dials_of, wiper_fraction
from timing.design.board import Board
from timing.design.design import Design

Changed = Callable[..., Design]


def test_dials_keep_off_the_rails_and_a_broken_wiper_reads_as_one(changed: Changed, board: Board) -> None:
    for dial in dials_of(changed(), board).values():
        scale, pot = dial.scale, dial.setting.resistance_ohm
        full = board.adc_full_scale
        for pot_ratio in (0.8, 1.0, 1.2):
            low = full * wiper_fraction(0.0, pot * pot_ratio, dial.end_ohm, dial.wiper_pull_ohm)
            high = full * wiper_fraction(1.0, pot * pot_ratio, dial.end_ohm, dial.wiper_pull_ohm)
            assert scale.fault_below < low <= scale.low_counts + 1
            # The pull keeps a low-tolerance dial half a percent short of its high end, no more.
            assert scale.high_counts - 0.006 * full <= high < scale.fault_above
        open_wiper = PIN_LEAKAGE_A * dial.wiper_pull_ohm / board.adc_reference_v * full
        assert open_wiper < scale.fault_below
        assert dial.sag_share < 0.05


def test_a_fixed_time_is_no_dial(board: Board, changed: Changed) -> None:
    fixed = changed(('{ from = "20 ms", to = "300 ms", setting = "90 ms" }', '"90 ms"'))
    assert list(dials_of(fixed, board)) == ["preflow", "postflow"]
    with pytest.raises(ValueError, match="no dial"):
        dial_of("burnback", fixed.times.burnback, board)
