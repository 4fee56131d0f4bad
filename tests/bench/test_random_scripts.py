"""Random scripts: a sound board passes them, save where two things fall together."""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from bench.cases import Case
from bench.forcing import rig_as_forced
from bench.random_course import SLACK_US, too_close
from bench.random_scripts import random_scripts
from bench.run import Bench
from bench.script_draws import LONGEST_SCRIPT_US
from bench.virtual.board import AheadClock, VirtualBoard
from tests.conftest import gate_share
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Phase


@pytest.mark.parametrize("name", gate_share(["shop", "spots", "gasless"], 3, first=2))
def test_a_sound_board_passes_random_scripts(name, request, linked):
    target = request.getfixturevalue(name)

    @settings(max_examples=25, suppress_health_check=list(HealthCheck))
    @given(random_scripts(target), st.integers(900, 6_000))
    def run(script, step_us):
        bench = Bench(linked(VirtualBoard(target, clock=AheadClock(step_us))), target)
        with bench.held():
            result = bench.run_case(Case("random", "random", script, 0))
        if not result.passed:
            event("too close to call")
            seen = Script(result.predicted.changes, result.predicted.end_us)
            assert too_close(rig_as_forced(target), seen, result.predicted.phases[0].fault), result.troubles

    run()


@pytest.mark.parametrize("name", ["shop", "spots", "gasless"])
def test_every_random_script_comes_to_rest(name, request):
    target = request.getfixturevalue(name)
    rig = rig_as_forced(target)

    @given(random_scripts(target))
    def run(script):
        timeline = run_script(rig, script)
        assert timeline.phases[-1].phase is Phase.IDLE
        assert timeline.end_us <= LONGEST_SCRIPT_US

    run()


def test_a_release_as_preflow_ends_is_too_close_to_call(shop):
    rig = rig_as_forced(shop)
    filter_us = rig.filters_us["trigger"][0]
    ends_us = 100_000 + filter_us + rig.times_us["preflow"]

    def released(at_us):
        return Script((Change(100_000, "trigger", 1), Change(at_us - filter_us, "trigger", 0)))

    assert too_close(rig, released(ends_us))
    assert too_close(rig, released(ends_us + SLACK_US // 2))
    assert not too_close(rig, released(ends_us - 2 * SLACK_US))
    assert not too_close(rig, released(ends_us + 2 * SLACK_US))


def test_an_edge_just_after_and_just_before_what_decides_it_are_both_too_close(shop):
    """A change that matters only if it came earlier, and one that matters only if it came later."""
    rig = rig_as_forced(shop)
    filter_us = rig.filters_us["trigger"][0]
    ends_us = 100_000 + filter_us + rig.times_us["preflow"]
    # Released half a slack after preflow ended: an earlier release would have prevented the weld.
    late = Script((Change(100_000, "trigger", 1), Change(ends_us - filter_us + SLACK_US // 2, "trigger", 0)))
    early = Script((Change(100_000, "trigger", 1), Change(ends_us - filter_us - SLACK_US // 2, "trigger", 0)))
    welds = [any(phase.phase is Phase.WELD for phase in run_script(rig, script).phases) for script in (late, early)]
    assert welds == [True, False]
    assert too_close(rig, late)
    assert too_close(rig, early)
