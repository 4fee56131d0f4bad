from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from timing.process.burnback_curve import run_likely
from timing.process.burnback_trace import burnback_trace
from timing.process.case import BurnbackCase
from timing.process.errors import ProcessError


@pytest.mark.parametrize("braked", [False, True])
@pytest.mark.parametrize("setting_s", [0.0, 0.05, 0.12, 0.3])
def test_trace_ends_where_the_run_does(case: BurnbackCase, setting_s: float, braked: bool) -> None:
    case = replace(case, braked=braked)
    trace = burnback_trace(case, setting_s)
    assert trace.extension_mm[-1] == pytest.approx(run_likely(case, np.array([setting_s])).extension_mm[0, 0], abs=0.02)
    assert trace.arc_length_mm == pytest.approx(case.distance_mm - trace.extension_mm)
    assert trace.current_a[-1] == 0
    assert trace.wire_speed_mm_s[-1] < 1


def test_track_has_no_jumps_larger_than_the_wire_runs_in_a_step(case: BurnbackCase) -> None:
    trace = burnback_trace(case, 0.12)
    assert np.abs(np.diff(trace.extension_mm)).max() < case.feed_mm_s * 0.001 * 1.5


def test_moments_come_in_the_order_of_a_release(case: BurnbackCase) -> None:
    trace = burnback_trace(case, 0.12)
    assert list(trace.events_s) == [
        "release",
        "wire drive commanded off",
        "wire drive lets go",
        "contactor commanded off",
        "contactor lets go",
        "arc out",
        "wire at rest",
    ]
    assert list(trace.events_s.values()) == sorted(trace.events_s.values())
    assert trace.events_s["release"] == -0.025
    assert trace.outcome == "good"


def test_wire_fused_to_the_tip_stays_there(case: BurnbackCase) -> None:
    trace = burnback_trace(replace(case, open_v=31.0), 1.0)
    assert trace.outcome == "fused to the tip"
    assert trace.extension_mm[-1] <= case.end.fused_mm
    assert np.diff(trace.extension_mm[trace.time_s > 0.3]).max() < 0.01


def test_step_of_nothing_is_refused(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="time step"):
        burnback_trace(case, 0.1, 0.0)
