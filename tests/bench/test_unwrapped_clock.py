"""The board's clock, unwrapped."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bench.clock import WRAP_US, UnwrappedClock


@given(st.integers(0, WRAP_US - 1), st.lists(st.integers(0, WRAP_US // 2 - 1), max_size=12))
@example(WRAP_US - 10, [20])
@example(7, [WRAP_US // 2 - 1] * 9)
def test_a_clock_that_wraps_goes_on_counting(first_us: int, steps_us: list[int]) -> None:
    clock, now_us = UnwrappedClock(first_us), first_us
    for step_us in steps_us:
        now_us += step_us
        assert clock.advance(now_us % WRAP_US) == now_us


@example(WRAP_US - 10, 20)
@example(WRAP_US + 10, -20)
@given(st.integers(0, 5 * WRAP_US), st.integers(1 - WRAP_US // 2, WRAP_US // 2 - 1))
def test_a_reading_on_either_side_of_now_is_placed_there(now_us: int, away_us: int) -> None:
    assert UnwrappedClock(now_us).instant((now_us + away_us) % WRAP_US) == now_us + away_us


def test_a_clock_that_ran_back_is_refused() -> None:
    clock = UnwrappedClock(5_000)
    with pytest.raises(ValueError, match="ran back"):
        clock.advance(4_999)
