"""Preferred values and ratings."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.circuit.preferred import E6, E12, RESISTOR_RATINGS_W, at_least, at_most, nearest, resistor_rating_w

values = st.floats(1e-12, 1e8)


@given(values)
def test_picks_enclose_the_value_within_a_step(value: float) -> None:
    low, high = at_most(value), at_least(value)
    assert low <= value * (1 + 1e-9)
    assert high >= value * (1 - 1e-9)
    assert high / low < 1.26
    assert nearest(value) in (low, high)


@given(values)
def test_a_coarser_series_never_lies_closer(value: float) -> None:
    assert at_least(value, E6) >= at_least(value, E12)
    assert at_most(value, E6) <= at_most(value, E12)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_there_is_no_preferred_value_beside_nothing(value: float) -> None:
    with pytest.raises(ValueError, match="must be above zero"):
        at_least(value)


def test_resistors_are_loaded_to_half_their_rating() -> None:
    assert resistor_rating_w(0.0) == 0.25
    assert resistor_rating_w(0.125) == 0.25
    assert resistor_rating_w(0.126) == 0.5
    assert resistor_rating_w(100.0) == RESISTOR_RATINGS_W[-1]
