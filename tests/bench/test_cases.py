"""The cases of a design do what their names say, and only what it has."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from bench.cases import LONGEST_CASE_US, cases_of, left_out
from bench.forcing import rig_as_forced
from timing.sequence.core.columns import Condition
from timing.sequence.core.engine import run_script
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE, Fault, Output, Phase


def played(target, case):
    return run_script(rig_as_forced(target), case.script)


def phases(target, case):
    return [change.phase for change in played(target, case).phases]


P = Phase
SHOWS = {
    "weld": [P.WELD, P.BURNBACK, P.POSTFLOW, P.IDLE],
    "two-welds": [P.WELD, P.BURNBACK, P.POSTFLOW, P.IDLE, P.PREFLOW, P.WELD, P.BURNBACK, P.POSTFLOW, P.IDLE],
    "tap": [P.IDLE],
    "release-in-preflow": [P.IDLE, P.PREFLOW, P.IDLE],
    "press-in-burnback": [P.WELD, P.BURNBACK, P.WELD, P.BURNBACK],
    "press-in-postflow": [P.POSTFLOW, P.WELD],
    "four-step": [P.WELD, P.BURNBACK],
    "four-step-held": [P.WELD, P.BURNBACK, P.POSTFLOW, P.AWAIT_RELEASE],
    "four-step-again": [P.WELD, P.BURNBACK, P.WELD, P.BURNBACK],
    "spot": [P.WELD, P.BURNBACK, P.POSTFLOW, P.AWAIT_RELEASE],
    "stitch": [P.WELD, P.BURNBACK, P.PAUSE, P.WELD, P.BURNBACK, P.PAUSE, P.WELD, P.BURNBACK, P.POSTFLOW],
    "stitch-pause": [P.PAUSE, P.POSTFLOW],
    "purge": [P.IDLE, P.PURGE, P.IDLE],
    "inch": [P.IDLE, P.INCH, P.IDLE],
    "interlock-in-weld": [P.WELD, P.HOLD_OFF, P.IDLE],
    "interlock-in-burnback": [P.BURNBACK, P.HOLD_OFF],
    "supply-in-preflow": [P.PREFLOW, P.HOLD_OFF],
    "supply-in-postflow": [P.POSTFLOW, P.HOLD_OFF],
    **{
        f"arc-stays-in-{phase.word}": [phase, P.HOLD_OFF, P.IDLE, P.PREFLOW, P.WELD]
        for phase in (P.PREFLOW, P.POSTFLOW, P.PAUSE, P.AWAIT_RELEASE, P.PURGE)
    },
    "arc-stays-in-idle": [P.HOLD_OFF, P.IDLE, P.PREFLOW, P.WELD],
    "supply-between-at-power-up": [P.HOLD_OFF, P.IDLE, P.PREFLOW, P.WELD],
    "supply-between-in-weld": [P.WELD, P.BURNBACK],
    "mode-moved-in-inch": [P.INCH, P.WELD, P.BURNBACK],
    "spot-stopped": [P.WELD, P.BURNBACK, P.POSTFLOW, P.AWAIT_RELEASE],
    "dial-broken": [P.IDLE, P.HOLD_OFF],
    "dial-broken-in-weld": [P.WELD, P.BURNBACK, P.POSTFLOW, P.HOLD_OFF],
    "closed-at-power-up": [P.HOLD_OFF, P.IDLE, P.PREFLOW, P.WELD],
}
ENDS_WITH_FAULT = {
    "purge-limit": Fault.PURGE_LIMIT,
    "inch-limit": Fault.INCH_LIMIT,
    "weld-limit": Fault.WELD_LIMIT,
    "interlock-held": Fault.INTERLOCK,
}


@pytest.fixture(params=["shop", "spots", "gasless"])
def target(request):
    return request.getfixturevalue(request.param)


def test_each_case_shows_what_its_name_says(target):
    for case in cases_of(target):
        wanted = SHOWS.get(case.name, [])
        seen = phases(target, case)
        # The zero times of gasless work pass straight through.
        wanted = [phase for phase in wanted if phase not in (P.PREFLOW, P.POSTFLOW) or _ever_lasts(target, phase)]
        starts = [seen[begin : begin + len(wanted)] for begin in range(len(seen))]
        assert wanted in starts, (case.name, seen)
        fault = played(target, case).phases[-1].fault
        if case.name in ENDS_WITH_FAULT:
            assert fault is ENDS_WITH_FAULT[case.name]


def test_what_is_between_low_and_good_shows_the_supply_after_a_while_and_stops_no_weld(target):
    by_name = {case.name: case for case in cases_of(target)}
    held_off = [change.fault for change in played(target, by_name["supply-between-at-power-up"]).phases]
    assert Fault.SUPPLY in held_off
    went_on = played(target, by_name["supply-between-in-weld"]).phases
    assert {change.fault for change in went_on} == {Fault.NONE}


def test_an_arc_that_stays_is_shown_until_the_next_press(spots):
    for case in cases_of(spots):
        shown = [change.fault for change in played(spots, case).phases]
        assert (Fault.ARC_STAYS in shown) == case.name.startswith("arc-stays"), case.name


def test_a_spot_that_completes_can_be_stopped(spots):
    settings = spots.rig.settings
    fixed = {**settings.fixed, Condition.COMPLETES: True}
    del fixed[Condition.LET_GO]
    completing = replace(settings, completes=True, fixed=fixed)
    target = replace(spots, rig=replace(spots.rig, settings=completing, table=specialise(TABLE, fixed)))
    case = next(case for case in cases_of(target) if case.name == "spot-stopped")
    wanted = SHOWS["spot-stopped"]
    assert phases(target, case)[-len(wanted) - 1 : -1] == wanted


def test_every_case_ends_with_everything_off(target):
    for case in cases_of(target, 10**9):
        timeline = played(target, case)
        assert timeline.phases[-1].phase is Phase.IDLE, case.name
        for output in Output:
            assert not timeline.edges_of(output) or not timeline.edges_of(output)[-1].on, case.name


def test_every_phase_is_entered_by_some_case(target):
    entered = {phase for case in cases_of(target, 10**9) for phase in phases(target, case)}
    lasting = {p for p in target.rig.table if p not in (P.PREFLOW, P.POSTFLOW) or _ever_lasts(target, p)}
    assert entered == lasting


def test_every_exit_of_the_table_that_a_bench_can_reach_is_taken(target):
    moves = set()
    for case in cases_of(target, 10**9):
        seen = phases(target, case)
        moves |= set(pairwise(seen))
    table = target.rig.table
    straight = {phase for phase in (Phase.PREFLOW, Phase.BURNBACK, Phase.POSTFLOW) if not _ever_lasts(target, phase)}
    wanted = {
        (phase, way.to) for phase, row in table.items() for way in row.transitions if not {phase, way.to} & straight
    }
    assert wanted <= moves, sorted(f"{a.word} -> {b.word}" for a, b in wanted - moves)


def _ever_lasts(target, phase):
    name = phase.word
    return target.rig.times_us[name] > 0 or name in target.scales


def test_names_are_unique_and_in_a_fixed_order(target):
    names = [case.name for case in cases_of(target)]
    assert len(set(names)) == len(names)
    assert names == [case.name for case in cases_of(target)]


def test_long_cases_are_left_out_and_named(shop):
    assert [case.name for case in left_out(shop)] == ["purge-limit", "supply-in-await-release", "weld-limit"]
    assert all(case.lasts_us <= LONGEST_CASE_US for case in cases_of(shop))
    assert "weld-limit" in [case.name for case in cases_of(shop, 10**9)]


def test_a_short_weld_limit_is_tested(shop):
    rig = replace(shop.rig, settings=replace(shop.rig.settings, weld_limit_us=4_000_000))
    short = replace(shop, rig=rig)
    case = next(case for case in cases_of(short) if case.name == "weld-limit")
    assert played(short, case).phases[-1].fault is Fault.WELD_LIMIT


@pytest.mark.parametrize(
    ("name", "absent"),
    [
        ("shop", ["spot", "four-step", "stitch", "interlock-in-weld", "arc-start-limit", "mode-moved"]),
        ("spots", ["four-step", "inch", "interlock-in-weld", "dial-preflow-low"]),
        ("gasless", ["spot", "purge", "release-in-preflow"]),
    ],
)
def test_what_a_design_lacks_is_not_tested(name, absent, request):
    names = {case.name for case in cases_of(request.getfixturevalue(name))}
    assert not names & set(absent)


def test_both_ends_of_every_dial_are_tested(target):
    names = {case.name for case in cases_of(target)}
    assert names >= {f"dial-{name}-{end}" for name in target.scales for end in ("low", "high")}
