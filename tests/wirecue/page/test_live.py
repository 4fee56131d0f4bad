"""A run by hand is the same run as by script: the engine does not care who holds the trigger."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.conftest import EXAMPLES, ROOT
from timing.design.loading import load_design, parse_design
from timing.sequence.core.script import Change, Script, Switch
from timing.sequence.core.table import Output, Phase
from timing.sequence.simulate import simulate
from wirecue.page.live import SHORTEST_WINDOW_US, LiveRun, panel_switches, selector_moves, window_us

DESIGNS = {path.stem: load_design(path) for path in EXAMPLES}
SHOP = DESIGNS["shop_two_step"]


def test_a_pull_of_the_trigger_runs_through_the_phases():
    run = LiveRun(SHOP)
    assert run.resting
    run.move("trigger", True, 100_000)
    for now_us in range(100_000, 1_000_000, 50_000):
        run.advance(now_us)
    assert run.phase is Phase.WELD
    assert run.on_outputs() == [Output.GAS, Output.WIRE, Output.CONTACTOR]
    run.move("trigger", False, 1_000_000)
    run.advance(1_100_000)
    assert run.phase is Phase.BURNBACK
    run.advance(5_000_000)
    assert run.resting
    assert run.on_outputs() == []


@settings(max_examples=30)
@given(
    st.sampled_from(["shop_two_step", "gasless_four_step"]),
    st.lists(st.integers(1, 900_000), min_size=1, max_size=6),
    st.integers(7_000, 90_000),
)
def test_by_hand_and_by_script_are_one(name, gaps_us, frame_us):
    design, run, at_us, changes = DESIGNS[name], LiveRun(DESIGNS[name]), 0, []
    for number, gap_us in enumerate(gaps_us):
        for now_us in range(at_us, at_us + gap_us, frame_us):
            run.advance(now_us)
        at_us += gap_us
        changes.append(Change(at_us, "trigger", (number + 1) % 2))
        run.move("trigger", bool(changes[-1].value), at_us)
    end_us = at_us + 3_000_000
    run.advance(end_us)
    wanted = simulate(design, Script(tuple(changes), end_us))
    assert tuple(run.engine.edges) == wanted.edges
    assert tuple(run.engine.phases) == wanted.phases


def test_with_an_arc_sensor_the_arc_strikes_by_itself():
    run = LiveRun(DESIGNS["spot_stitch"])
    run.move("trigger", True, 100_000)
    run.advance(3_500_000)
    run.move("trigger", False, 3_500_000)
    run.advance(20_000_000)
    assert run.resting
    phases = [change.phase for change in run.engine.phases]
    assert phases.count(Phase.WELD) >= 2
    assert {change.what for change in run.changes} == {"trigger", "arc"}


def test_a_clock_that_stumbles_does_not_run_back():
    run = LiveRun(SHOP)
    run.advance(500_000)
    run.move("trigger", True, 400_000)
    assert run.changes == [Change(500_000, "trigger", 1)]


@pytest.mark.parametrize("now_us", [200_000, 700_000])
def test_the_phases_end_now_and_the_axis_goes_on(now_us):
    run = LiveRun(SHOP)
    run.move("trigger", True, 100_000)
    run.advance(now_us)
    shown = run.timeline(SHORTEST_WINDOW_US)
    assert shown.end_us == SHORTEST_WINDOW_US
    assert (shown.phases[-1].phase, shown.phases[-1].at_us) == (Phase.IDLE, now_us)
    assert shown.on_spans_us(Output.GAS) == ((125_000, SHORTEST_WINDOW_US),)


def test_the_axis_grows_before_the_run_reaches_its_end():
    windows = [window_us(now_us) for now_us in range(0, 60_000_000, 100_000)]
    assert windows == sorted(windows)
    assert all(window > now_us for window, now_us in zip(windows, range(0, 60_000_000, 100_000), strict=True))
    assert len(set(windows)) < 20


def test_the_panels_switches_are_those_of_the_design():
    assert panel_switches(SHOP) == {}
    assert panel_switches(DESIGNS["spot_stitch"]) == {
        Switch("spot"): ("spot on", True),
        Switch("pause"): ("pause on", True),
    }
    assert panel_switches(DESIGNS["gasless_four_step"])["four_step"] == ("four-step", False)


def test_a_switch_on_the_panel_counts_in_the_run():
    run = LiveRun(DESIGNS["gasless_four_step"])
    run.move("four_step", True, 0)
    run.move("trigger", True, 100_000)
    run.move("trigger", False, 400_000)
    run.advance(3_000_000)
    assert run.phase is Phase.WELD
    plain = LiveRun(DESIGNS["spot_stitch"])
    for what in (Switch("spot"), Switch("pause")):
        plain.move(what, False, 0)
    plain.move("trigger", True, 100_000)
    plain.advance(5_000_000)
    assert plain.phase is Phase.WELD


def test_the_selector_moves_both_of_its_contacts():
    assert selector_moves(DESIGNS["spot_stitch"]) == {}
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    design = parse_design(f'{text}\n[panel]\nselector = "three-position"\n')
    spot, pause = panel_switches(design)
    assert selector_moves(design) == {
        "spot": {spot: True, pause: False},
        "continuous": {spot: False, pause: False},
        "stitch": {spot: True, pause: True},
    }
