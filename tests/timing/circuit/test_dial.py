"""How a dial is wired."""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable

import pytest

from timing.circuit.dial import (
    COUPLING_F_PER_M,
    PANEL_WIRE_M,
    PIN_LEAKAGE_A,
    WIPER_CAPACITOR_F,
    dial_of,
    dials_of,
    mains_pick_up_v,
    wiper_fraction,
)
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


@pytest.mark.parametrize("pot_ohm", [1e3, 10e3, 100e3])
@pytest.mark.parametrize("frequency_hz", [50.0, 60.0])
def test_what_a_dial_picks_up_from_the_mains_is_that_of_the_whole_network(pot_ohm: float, frequency_hz: float) -> None:
    """Solved as complex numbers: wire beside, wiper, track from its middle, with the capacitor and without."""
    omega, source_ohm = 2.0 * math.pi * frequency_hz, pot_ohm / 4.0
    coupling_s = 1j * omega * COUPLING_F_PER_M * PANEL_WIRE_M
    wiper_v = cmath.sqrt(2.0) * 30.0 * coupling_s / (coupling_s + 1.0 / source_ohm)
    assert mains_pick_up_v(source_ohm, 30.0, frequency_hz) == pytest.approx(abs(wiper_v), rel=1e-3)
    # At a usual potentiometer the capacitor takes a fiftieth off at most: it is there for higher frequencies.
    if pot_ohm <= 10e3:
        filtered_v = cmath.sqrt(2.0) * 30.0 * coupling_s / (
            coupling_s + 1.0 / source_ohm + 1j * omega * WIPER_CAPACITOR_F
        )  # fmt: skip
        assert abs(filtered_v) > 0.98 * abs(wiper_v)


def test_the_converter_sees_most_from_the_middle_of_the_track(changed: Changed, board: Board) -> None:
    for dial in dials_of(changed(), board).values():
        pot_ohm, ends_ohm = dial.setting.resistance_ohm, dial.end_ohm
        parallel = [
            1.0 / (1.0 / (ends_ohm + share * pot_ohm) + 1.0 / (ends_ohm + (1.0 - share) * pot_ohm))
            for share in (step / 50.0 for step in range(51))
        ]
        assert dial.source_ohm == pytest.approx(max(parallel))
