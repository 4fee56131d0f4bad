"""Many feeders at once."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import budget
from timing.power.montecarlo import monte_carlo

Changed = Callable[..., Design]


def test_the_same_seed_draws_the_same_feeders(changed: Changed, board: Board) -> None:
    design = changed()
    assert monte_carlo(design, board, 500) == monte_carlo(design, board, 500)
    assert monte_carlo(design, board, 500) != monte_carlo(design, board, 500, seed=25)


def test_the_spread_lies_about_the_corners(changed: Changed, board: Board) -> None:
    design = changed()
    found, drawn = budget(design, board), monte_carlo(design, board, 4_000)
    highest = drawn.spread("highest reservoir voltage")
    assert highest.low < highest.middle < highest.high < found.highest_v * 1.03
    lowest = drawn.spread("lowest reservoir voltage")
    assert float(found.corner("low-aged").state.dc_min_v) - 1.5 < lowest.low < lowest.high
    # The shop's winding rectifies over 40 V on a high line: part of all feeders would kill a 40 V module.
    assert 0.02 < highest.beyond < 0.3
    assert lowest.beyond == 0.0


def test_a_starved_design_shows_as_the_share_that_fails(changed: Changed, board: Board) -> None:
    design = changed(('reservoir = "1000 uF"', 'reservoir = "68 uF"\nregulator = "linear"\nrectifier = "half-wave"'))
    assert monte_carlo(design, board, 500).spread("lowest reservoir voltage").beyond > 0.9


def test_the_draws_can_be_told_apart_by_name(changed: Changed, board: Board) -> None:
    drawn = monte_carlo(changed(), board, 100)
    assert len({spread.name for spread in drawn.spreads}) == len(drawn.spreads)
    with pytest.raises(StopIteration):
        drawn.spread("no such thing")
