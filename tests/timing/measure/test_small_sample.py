"""Limits of few repeats hold what they say; what is no repeat is told apart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.measure.small_sample import estimate_of, t_quantile, thrown_out


def test_student_t_is_that_of_every_table():
    for degrees, quantile in {1: 12.7062, 2: 4.30265, 4: 2.77645, 9: 2.26216, 30: 2.04227, 200: 1.97190}.items():
        assert t_quantile(float(degrees)) == pytest.approx(quantile, rel=1e-5)


@pytest.mark.parametrize("shape", ["normal", "triangular", "uniform"])
def test_limits_of_ten_repeats_hold_the_middle_and_the_next_operation(shape):
    random = np.random.default_rng(3)
    draws = {
        "normal": lambda: random.normal(0.0, 1000.0, 11),
        "triangular": lambda: random.triangular(-3000.0, 0.0, 3000.0, 11),
        "uniform": lambda: random.uniform(-2000.0, 2000.0, 11),
    }[shape]
    held, next_held, runs = 0, 0, 600
    for _ in range(runs):
        *seen, following = draws()
        out = thrown_out(seen)
        found = estimate_of([value for place, value in enumerate(seen) if place not in out])
        held += found.low <= 0.0 <= found.high
        next_held += found.next_low <= following <= found.next_high
    assert 0.915 <= held / runs <= 0.975
    assert 0.92 <= next_held / runs <= 0.99


@given(st.lists(st.floats(-1e5, 1e5), min_size=3, max_size=20), st.floats(0, 1e4), st.floats(-1e4, 1e4))
def test_all_that_was_seen_lies_in_what_the_next_operation_may_do(values, bound, shift):
    found = estimate_of(values, bound, shift)
    assert found.low <= found.mean <= found.high
    assert found.next_low <= min(values) + shift + 1e-6
    assert found.next_high >= max(values) + shift - 1e-6
    assert found.half_width >= 0.95 * bound or found.deviation > 0


@given(st.lists(st.floats(20_000, 21_000), min_size=5, max_size=12), st.floats(30_000, 90_000))
def test_a_repeat_of_another_kind_is_thrown_out_and_no_sound_one(values, wild):
    assert thrown_out([*values, wild]) == (len(values),)
    assert thrown_out(values) == ()


def test_one_repeat_has_no_spread():
    with pytest.raises(ValueError, match="no spread"):
        estimate_of([1.0])
