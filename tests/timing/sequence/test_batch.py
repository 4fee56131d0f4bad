"""Many welds at once have the very same instants as each weld alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from tests.support.batch import LATEST_US, NEVER, Welds, run_welds
from timing.design.loading import load_design
from timing.sequence.core.columns import Condition
from timing.sequence.core.engine import Rig, run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.core.settings import specialise
from timing.sequence.core.table import TABLE
from timing.sequence.simulate import rig_of

SHOP = rig_of(load_design(ROOT / "examples" / "shop_two_step.toml"))
WITHOUT_SENSOR = {Condition.ARC_ESTABLISHED: True, Condition.ARC_SEEN: False}


def rig(*, four_step: bool, spot: bool, stitch: bool, weld_limit_us: int | None, completes: bool) -> Rig:
    settings = replace(SHOP.settings, weld_limit_us=weld_limit_us, completes=completes, fixed=WITHOUT_SENSOR)
    return replace(
        SHOP,
        table=specialise(TABLE, WITHOUT_SENSOR),
        settings=settings,
        filters_us={"trigger": (5_000, 0)},
        times_us={"preflow": 0, "spot": 30_000, "burnback": 20_000, "postflow": 50_000, "pause": 25_000},
        switches={"preflow": True, "spot": spot, "burnback": True, "postflow": True, "pause": stitch},
        four_step=four_step,
    )


rigs = st.builds(
    rig,
    four_step=st.booleans(),
    spot=st.booleans(),
    stitch=st.booleans(),
    weld_limit_us=st.sampled_from([None, 60_000, 110_000]),
    completes=st.booleans(),
)
# Few, round values, so that edges and times coincide often.
gaps_us = st.sampled_from([5_001, 10_000, 20_000, 25_000, 30_000, 50_000, 60_000, 90_000])
times_us = st.sampled_from([0, 5_000, 10_000, 20_000, 30_000, 60_000])


@st.composite
def welds(draw: st.DrawFn) -> Welds:
    count = draw(st.integers(1, 5))
    edges = draw(st.sampled_from([2, 4, 6]))
    steps = [[draw(gaps_us) for _ in range(count)] for _ in range(edges)]
    trigger_us = np.cumsum(np.array(steps), axis=0).astype(np.int32)
    names = {name: [draw(times_us) for _ in range(count)] for name in ("preflow", "burnback", "postflow", "pause")}
    names["spot"] = [max(draw(times_us), 1_000) for _ in range(count)]
    return Welds(trigger_us, {name: np.array(values, np.int32) for name, values in names.items()})


def alone(one: Rig, many: Welds, lane: int) -> list[tuple[int, int]]:
    times = {name: int(values[lane]) for name, values in many.times_us.items()}
    edges = [int(at_us) for at_us in many.trigger_us[:, lane]]
    changes = tuple(Change(at_us, "trigger", 1 - index % 2) for index, at_us in enumerate(edges))
    timeline = run_script(replace(one, times_us=times), Script(changes))
    return [(change.at_us, int(change.phase)) for change in timeline.phases[1:]]


def together(batch, lane: int) -> list[tuple[int, int]]:
    """Phases of one weld as a pass leaves them: of several at one instant the last, and changes only."""
    last: dict[int, int] = {}
    for at_us, phase in zip(batch.at_us[:, lane], batch.phase[:, lane], strict=True):
        if at_us != NEVER:
            last[int(at_us)] = int(phase)
    found, before = [], 1
    for at_us, phase in last.items():
        if phase != before:
            found.append((at_us, phase))
        before = phase
    return found


@given(rigs, welds())
def test_same_instants_as_each_weld_alone(one, many):
    batch = run_welds(one, many)
    for lane in range(many.trigger_us.shape[1]):
        expected = [(at, phase) for at, phase in alone(one, many, lane)]
        # The engine also notes a change of the fault shown; the batch knows phases only.
        phases_only, before = [], 1
        for at_us, phase in expected:
            if phase != before:
                phases_only.append((at_us, phase))
            before = phase
        assert together(batch, lane) == phases_only


def test_chunks_join_without_seams():
    count = 20_000
    generator = np.random.default_rng(7)
    press_us = generator.integers(1_000, 50_000, count)
    release_us = press_us + generator.integers(30_000, 900_000, count)
    one = replace(SHOP, filters_us={"trigger": (5_000, 0)})
    whole = run_welds(one, Welds(np.array([press_us, release_us], np.int32), {}))
    for lane in (0, 8_191, 8_192, 19_999):
        single = Welds(np.array([[press_us[lane]], [release_us[lane]]], np.int32), {})
        assert together(whole, lane) == together(run_welds(one, single), 0)


def test_edges_that_do_not_come_leave_the_weld_at_rest():
    trigger_us = np.array([[LATEST_US], [LATEST_US + 1]], np.int32)
    batch = run_welds(SHOP, Welds(trigger_us, {}))
    assert batch.phase.tolist() == [[1]]
    assert batch.at_us.tolist() == [[NEVER]]


@pytest.mark.parametrize(
    ("edges", "words"),
    [
        ([[10_000], [9_000]], "out of order"),
        ([[10_000], [11_000]], "closer together than the filter time"),
        ([[-1], [90_000]], "before 0"),
    ],
)
def test_unusable_edges_are_refused(edges, words):
    with pytest.raises(ValueError, match=words):
        run_welds(SHOP, Welds(np.array(edges, np.int32), {}))
