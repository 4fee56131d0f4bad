"""What the board listens through beside the trigger."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.circuit.senses import contact_sense, divider_top_ohm, sense_divider
from timing.design.board import Board
from timing.design.design import Design

Changed = Callable[..., Design]


def test_the_divider_keeps_the_pin_in_range(changed: Changed, board: Board) -> None:
    sense = changed().supply.sense
    assert sense is not None
    found = sense_divider(sense, board, 41.2)
    assert found.pin_high_v == pytest.approx(41.2 * 4.7 / 60.7)
    assert found.thresholds.low_counts < found.thresholds.good_counts < board.adc_full_scale
    top = divider_top_ohm(4700.0, board, 41.2)
    assert 41.2 * 4700.0 / (top + 4700.0) <= 5.0


def test_a_contacts_pin_reads_open_with_the_leak_and_closed_with_the_film_that_are_stated(board: Board) -> None:
    """Ohm's law on a 5 V board: pull-up 2.2 kohm of 5 %, high from 3 V on, low up to 1 V, the board's own 20 kohm."""
    found = contact_sense(board)
    assert 5.0 * found.leak_ohm / (found.leak_ohm + 2310.0) == pytest.approx(3.0)
    pulled = 1.0 / (1.0 / 2090.0 + 1.0 / 20e3)
    assert 5.0 * found.closed_ohm / (found.closed_ohm + pulled) == pytest.approx(1.0)
