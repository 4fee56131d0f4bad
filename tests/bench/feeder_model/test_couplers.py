"""A coupler on ac is lit while the voltage is above its threshold, and says when that changes."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.feeder_model.couplers import Sine

SINES = st.builds(Sine, st.sampled_from([50.0, 60.0]), st.floats(0.0, 2 * math.pi), st.booleans())


@given(SINES, st.integers(0, 3_600_000_000), st.floats(0.001, 0.999))
def test_it_stays_as_it_is_until_the_instant_that_it_names(sine, at_us, share):
    lit, turn_us = sine.look(at_us, share)
    assert lit is sine.lit(at_us, share)
    assert turn_us > at_us
    within_us = {at_us + 1, (at_us + turn_us) // 2, turn_us - 1} - {turn_us}
    assert all(sine.lit(each, share) is lit for each in within_us if each >= at_us)
    assert sine.lit(turn_us, share) is not lit


@given(SINES, st.floats(0.01, 0.99))
def test_it_is_dark_as_long_as_the_sine_is_below(sine, share):
    """Twice the arc sine of threshold over peak round each zero; one way, a half-wave more."""
    lit, at_us = sine.look(0, share)
    while lit is False:
        lit, at_us = not lit, sine.look(at_us, share)[1]
    dark_us = sine.look(at_us, share)[1] - at_us
    expected_us = (2 * math.asin(share) + math.pi * (not sine.both_ways)) / sine.rad_per_us
    assert dark_us == pytest.approx(expected_us, abs=2)


def test_a_voltage_that_never_reaches_the_threshold_leaves_it_dark():
    assert Sine(50.0, 1.0).look(5, 1.0) == (False, None)
