"""IEC 60063 series against a reference library."""

from __future__ import annotations

import eseries
import pytest

from timing.circuit import preferred

SERIES = {"E3": preferred.E3, "E6": preferred.E6, "E12": preferred.E12, "E24": preferred.E24}


@pytest.mark.parametrize("name", SERIES)
def test_the_series_are_those_of_the_reference(name: str) -> None:
    assert tuple(eseries.series(getattr(eseries, name))) == SERIES[name]


@pytest.mark.parametrize("name", SERIES)
def test_picks_are_those_of_the_reference(name: str) -> None:
    key, steps = getattr(eseries, name), SERIES[name]
    for exponent in range(-9, 7):
        # None of them a member: for members the reference depends on the last bit of the float.
        for mantissa in (1.005, 1.13, 2.19, 2.21, 3.65, 4.71, 6.81, 8.3, 9.99):
            value = mantissa * 10.0**exponent
            assert preferred.at_least(value, steps) == pytest.approx(eseries.find_greater_than_or_equal(key, value))
            assert preferred.at_most(value, steps) == pytest.approx(eseries.find_less_than_or_equal(key, value))


@pytest.mark.parametrize("name", SERIES)
def test_a_preferred_value_is_its_own_pick(name: str) -> None:
    for exponent in range(-12, 7):
        for step in SERIES[name]:
            value = float(f"{step}e{exponent}")
            assert preferred.at_least(value, SERIES[name]) == value
            assert preferred.at_most(value, SERIES[name]) == value
            assert preferred.nearest(value * 1.01, SERIES[name]) == value
