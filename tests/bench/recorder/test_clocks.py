"""Two clocks held against each other: what is said of their ratio, and of instants, holds."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.recorder.clock_check import HostSpan, check_clocks
from bench.recorder.clocks import DRIFT, ClockRatio, Meeting, map_of, ratio_of

RATES = st.floats(0.97, 1.03)
SPANS = st.lists(
    st.tuples(st.floats(100, 2_000_000), st.floats(1, 20_000), st.floats(0, 1), st.floats(0, 1_000)),
    min_size=2,
    max_size=40,
)


def met(rate: float, offset_us: float, spans: list[tuple[float, float, float, float]]) -> list[Meeting]:
    """The add-on is asked somewhere between two looks at the recorder."""
    meetings, at_us = [], 0.0
    for gap_us, width_us, where, board_us in spans:
        at_us += gap_us
        true_us = offset_us + (at_us + where * width_us) * rate
        meetings.append(Meeting(at_us, at_us + width_us, true_us - board_us, true_us + board_us))
        at_us += width_us
    return meetings


@given(RATES, st.floats(-1e9, 1e9), SPANS)
def test_the_ratio_lies_within_its_uncertainty(rate, offset_us, spans):
    found = ratio_of(met(rate, offset_us, spans))
    if found is not None:
        assert abs(found.ratio - rate) <= found.uncertainty + 1e-9


@given(RATES, st.floats(-1e9, 1e9), SPANS, st.floats(0, 1), st.floats(-1e-4, 1e-4))
def test_an_instant_lies_within_what_the_map_leaves_open(rate, offset_us, spans, where, wrong):
    meetings = met(rate, offset_us, spans)
    near_us = meetings[0].recorder_from_us + where * (meetings[-1].recorder_to_us - meetings[0].recorder_from_us)
    meets = map_of(meetings, ClockRatio(rate + wrong, abs(wrong) + 1e-9, 0), near_us)
    assert abs(meets.to_board(near_us) - (offset_us + near_us * rate)) <= meets.within_us + 1e-3
    assert meets.from_board(meets.to_board(near_us + 777)) == pytest.approx(near_us + 777, abs=1e-3)


def test_a_longer_watch_knows_more():
    short, long = (ratio_of(met(1.001, 0, [(9_000, 1_000, 0.5, 0)] * count)) for count in (20, 2_000))
    assert short.uncertainty > 10 * (long.uncertainty - DRIFT)


def test_one_meeting_says_nothing():
    assert ratio_of([]) is None
    assert ratio_of(met(1.0, 0, [(1, 1, 0, 0)])) is None


def check(rate, tolerance_ppm=5_000, hosts=None, presses=None):
    meetings = met(rate, 0, [(9_000, 2_000, 0.5, 0)] * 2_000)
    return check_clocks(meetings, presses or [], hosts, tolerance_ppm)


@pytest.mark.parametrize("apart", [-0.0098, 0.0, 0.0098])
def test_two_resonators_may_be_apart_by_what_both_may_be_off(apart):
    assert check(1 + apart).result.passed


@pytest.mark.parametrize(
    ("rate", "hosts", "says"),
    [
        (0.97, None, r"counts less than the recorder by 3\.000 % .* may be 1\.000 % apart\. Run more cases"),
        (1.03, (HostSpan(30, 30_900_000), HostSpan(30, 30_000_000)), "counts more .* says that it is the board's"),
        (1.03, (HostSpan(30, 30_000_000), HostSpan(30, 29_100_000)), "says that it is the recorder's"),
        (1.03, (HostSpan(2, 2_060_000), HostSpan(2, 2_000_000)), "Run more cases"),
    ],
)
def test_a_clock_beyond_its_oscillator_is_told_with_whose_it_is(rate, hosts, says):
    (trouble,) = check(rate, hosts=hosts).troubles
    assert re.search(says, trouble)


def test_presses_that_tell_of_another_ratio_are_told():
    presses = met(1.002, 0, [(1_000_000, 16, 0.5, 300)] * 20)
    (trouble,) = check(1.0, presses=presses).troubles
    assert "What it tells of the presses is not what happened." in trouble
    assert check(1.0, presses=met(1.0, 0, [(1_000_000, 16, 0.5, 300)] * 20)).troubles == ()
