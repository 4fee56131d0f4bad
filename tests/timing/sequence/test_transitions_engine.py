"""Two readings of one table: the plain interpreter and the `transitions` machine never differ."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from timing.sequence.core.scan import Inputs, start, step
from timing.sequence.core.settings import Settings
from timing.sequence.core.table import TABLE
from timing.sequence.transitions_engine import ReferenceMachine

times = st.sampled_from([0, 1_000, 5_000, 40_000])
inputs = st.builds(
    Inputs,
    **dict.fromkeys(
        ("trigger", "purge", "inch", "arc", "four_step", "spot", "stitch"),
        st.booleans(),
    ),
    **dict.fromkeys(
        ("interlock_open", "supply_low", "supply_poor", "dial_fault"), st.sampled_from([False] * 9 + [True])
    ),
    **dict.fromkeys(("preflow_us", "burnback_us", "postflow_us", "pause_us"), times),
    spot_us=st.sampled_from([1_000, 5_000, 40_000]),
)


def constants_with(arc_us: tuple[int | None, int | None], **others: object) -> Settings:
    return Settings(arc_limit_us=arc_us[0], arc_end_us=arc_us[1], **others)


constants = st.builds(
    constants_with,
    open_us=st.just(5_000),
    settle_us=st.just(10_000),
    purge_limit_us=st.just(50_000),
    inch_limit_us=st.just(50_000),
    weld_limit_us=st.sampled_from([None, 60_000]),
    arc_us=st.sampled_from([(None, None), (20_000, 8_000), (20_000, 0)]),
    completes=st.booleans(),
    fixed=st.just({}),
)
passes = st.lists(st.tuples(inputs, st.sampled_from([50, 500, 5_000, 30_000])), max_size=60)


@given(constants, passes)
@settings(max_examples=100, deadline=None)
def test_both_interpreters_agree_on_every_pass(constants, passes):
    plain = start(constants)
    # A settled board with open contacts, so that most sequences get somewhere.
    plain.phase, plain.trigger_was, plain.purge_was, plain.inch_was = 1, False, False, False
    reference = ReferenceMachine(TABLE, constants, plain.copy())
    now_us = 0
    for seen, ahead_us in passes:
        now_us += ahead_us
        assert step(TABLE, constants, plain, seen, now_us) == reference.step(seen, now_us)
        assert plain.as_tuple() == reference.state.as_tuple()
