"""Limits of few repeats hold what they say; what is no repeat is told apart."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from timing.measure.fixed_parts import FixedPart, evenly, lag_part
from timing.measure.small_sample import estimate_of, t_draws, t_quantile, thrown_out


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


def test_draws_of_t_have_its_quantiles():
    for degrees in (4, 9, 30):
        assert np.quantile(t_draws(degrees), 0.975) == pytest.approx(t_quantile(float(degrees)), rel=5e-3)


def test_the_rule_that_throws_out_costs_sound_repeats_hardly_any_coverage():
    random = np.random.default_rng(11)
    with_rule, without, runs = 0, 0, 8000
    for _ in range(runs):
        seen = random.normal(0.0, 1000.0, 10)
        out = thrown_out(list(seen))
        for values, count in ((np.delete(seen, out), "with"), (seen, "without")):
            half = t_quantile(float(len(values) - 1)) * np.std(values, ddof=1) / np.sqrt(len(values))
            holds = abs(np.mean(values)) <= half
            with_rule, without = with_rule + (count == "with" and holds), without + (count == "without" and holds)
    assert 0.94 <= without / runs <= 0.96
    assert 0 <= (without - with_rule) / runs < 0.0125


@pytest.mark.parametrize("part", [FixedPart(50.0, 1500.0, by_ratio=True), evenly(800.0), lag_part((24.0, 330.0)).off()])
def test_a_part_that_is_the_same_each_time_is_not_averaged_out(part):
    assert np.mean(part.errors()) == pytest.approx(0.0, abs=0.01 * np.std(part.errors()))
    assert np.var(part.errors()) == pytest.approx(part.variance, rel=0.01)
    random = np.random.default_rng(5)
    held, runs = 0, 1500
    for _ in range(runs):
        error = random.choice(part.errors())
        # What is seen has the part in it; its mean is taken off beforehand.
        found = estimate_of(random.normal(-error, 300.0, 10), [part])
        held += found.low <= 0.0 <= found.high
    assert 0.93 <= held / runs <= 0.985


@given(st.lists(st.floats(-1e5, 1e5), min_size=3, max_size=20), st.floats(0, 1e4), st.floats(-1e4, 1e4))
def test_all_that_was_seen_lies_in_what_the_next_operation_may_do(values, bound, shift):
    found = estimate_of(values, [evenly(bound)], shift)
    assert found.low <= found.mean <= found.high
    assert found.next_low <= min(values) + shift + 1e-6
    assert found.next_high >= max(values) + shift - 1e-6
    assert found.half_width >= 0.94 * bound or found.deviation > 0


@given(st.lists(st.floats(20_000, 21_000), min_size=5, max_size=12), st.floats(30_000, 90_000))
def test_a_repeat_of_another_kind_is_thrown_out_and_no_sound_one(values, wild):
    assert thrown_out([*values, wild]) == (len(values),)
    assert thrown_out(values) == ()


def test_one_repeat_has_no_spread():
    with pytest.raises(ValueError, match="no spread"):
        estimate_of([1.0])
