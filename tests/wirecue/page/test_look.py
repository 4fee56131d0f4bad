"""Which stretch of a timeline is looked at."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from wirecue.page.look import CLOSEST_US, Look

WHOLE = Look.at_all(0, 4_000_000)


def test_what_lies_under_the_pointer_stays_there():
    look = WHOLE.closer(2, 0.25)
    assert look.seen_us == (500_000, 2_500_000)
    assert look.closer(2, 0.25).seen_us == (750_000, 1_750_000)
    assert look.closer(0.5, 0.25).is_whole


@pytest.mark.parametrize(("share", "seen_us"), [(0.5, (1_500_000, 2_500_000)), (9, (3_000_000, 4_000_000))])
def test_it_goes_along_and_stops_at_the_end(share, seen_us):
    assert WHOLE.closer(4, 0).along(1).along(share - 0.5 if share > 1 else share).seen_us == seen_us


def test_it_keeps_its_place_on_a_timeline_that_is_a_little_longer_and_shows_one_that_is_shorter():
    look = WHOLE.closer(4, 1)
    assert look.on(0, 4_100_000).seen_us == look.seen_us
    assert look.on(0, 900_000).is_whole
    assert WHOLE.on(0, 9_000_000).is_whole


steps = some.one_of(
    some.tuples(some.just("closer"), some.floats(0, 1e6), some.floats(0, 1)),
    some.tuples(some.just("along"), some.floats(-1e6, 1e6)),
)


@given(some.lists(steps, max_size=6), some.integers(1, 10_000_000))
def test_whatever_is_asked_the_stretch_lies_within_and_is_never_empty(asked, end_us):
    look = Look.at_all(0, end_us)
    for name, *values in asked:
        look = getattr(look, name)(*values)
        assert 0 <= look.from_us < look.to_us <= end_us
        assert look.to_us - look.from_us >= min(CLOSEST_US, end_us) - 1
