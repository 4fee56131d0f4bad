from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.support.power_sources import turned_to
from timing.design.design import Design
from timing.process.case import BurnbackCase, burnback_case, run_likely
from timing.process.errors import ProcessError
from timing.process.wire_track import WireTrack, burnback_trace, likely_wire_track, wire_track
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import simulate


@pytest.mark.parametrize("braked", [False, True])
@pytest.mark.parametrize("setting_s", [0.0, 0.05, 0.12, 0.3])
def test_trace_ends_where_the_run_does(case: BurnbackCase, setting_s: float, braked: bool) -> None:
    case = replace(case, braked=braked)
    trace = burnback_trace(case, setting_s)
    assert trace.extension_mm[-1] == pytest.approx(run_likely(case, [setting_s])[0].extension_mm, abs=0.02)
    assert trace.arc_length_mm == pytest.approx([case.distance_mm - mm for mm in trace.extension_mm])
    assert trace.current_a[-1] == 0
    assert trace.wire_speed_mm_s[-1] < 1


def test_track_has_no_jumps_larger_than_the_wire_runs_in_a_step(case: BurnbackCase) -> None:
    trace = burnback_trace(case, 0.12)
    assert np.abs(np.diff(trace.extension_mm)).max() < case.feed_mm_s * 0.001 * 1.5


def test_moments_come_in_the_order_of_a_release(case: BurnbackCase) -> None:
    trace = burnback_trace(replace(case, coast_s=0.08), 0.12)
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
    trace = burnback_trace(turned_to(case, 31.0), 1.0)
    assert trace.outcome == "fused to the tip"
    assert trace.extension_mm[-1] <= case.end.fused_mm
    assert (
        np.diff([mm for time_s, mm in zip(trace.time_s, trace.extension_mm, strict=True) if time_s > 0.3]).max() < 0.01
    )


def test_step_of_nothing_is_refused(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="time step"):
        burnback_trace(case, 0.1, 0.0)


# Without spots, so that the trigger alone ends a weld; buttons for inching.
PLAIN = {r"\[spot\].*?(?=\[supply\])": "[buttons]\ninch = true\n"}


@pytest.fixture
def plain(design_of: Callable[..., Design]) -> Design:
    return design_of(patterns=PLAIN)


def track_of(design: Design, script: str) -> WireTrack:
    return wire_track(design, simulate(design, parse_script(script)))


def at(track: WireTrack, ms: float) -> tuple[float, float]:
    """Extension and arc length at an instant."""
    return (
        float(np.interp(ms * 1000, track.time_us, track.extension_mm)),
        float(np.interp(ms * 1000, track.time_us, track.arc_length_mm)),
    )


def test_a_weld_ends_as_the_burnback_computation_says(plain: Design) -> None:
    track = track_of(plain, "0 s press; 2 s release")
    left = run_likely(burnback_case(plain), [plain.times.burnback.setting_us / 1e6])[0]
    assert [end.extension_mm for end in track.ends] == pytest.approx([left.extension_mm], abs=0.02)
    assert track.extension_mm[-1] == pytest.approx(left.extension_mm, abs=0.1)


def test_while_the_arc_burns_it_and_the_wire_fill_the_distance(plain: Design) -> None:
    track = track_of(plain, "0 s press; 2 s release")
    lengths = zip(track.extension_mm, track.arc_length_mm, strict=True)
    totals = [extension_mm + arc_mm for extension_mm, arc_mm in lengths if arc_mm > 0]
    assert totals == pytest.approx([12.0] * len(totals))
    assert len(totals) > 2
    assert (np.diff(track.time_us) >= 0).all()


def test_the_wire_runs_to_the_work_before_the_arc_starts(plain: Design) -> None:
    track = track_of(plain, "0 s press; 2 s release")
    # Filter 25 ms and preflow 300 ms, then the drive takes 15 ms; what is left to the work at 84.7 mm/s.
    start_mm, _ = at(track, 340)
    touch_ms = 340 + (12 - start_mm) / (200 * 25.4 / 60) * 1000
    assert at(track, touch_ms) == pytest.approx((12.0, 0.0), abs=0.05)
    point = burnback_case(plain).operating_point()
    assert at(track, touch_ms + 100)[0] == pytest.approx(float(point.extension_mm))


@pytest.mark.parametrize("burnback_ms", [0, 20, 60, 130, 300])
def test_each_setting_leaves_what_the_curve_says(design_of: Callable[..., Design], burnback_ms: int) -> None:
    design = design_of({"burnback": f'"{burnback_ms} ms"'}, PLAIN)
    track = track_of(design, "0 s press; 2 s release")
    left = run_likely(burnback_case(design), [burnback_ms / 1000])[0]
    assert track.ends[0].extension_mm == pytest.approx(left.extension_mm, abs=0.05)


def test_a_weld_resumed_in_burnback_goes_on_without_an_end_between(plain: Design) -> None:
    track = track_of(plain, "0 s press; 1 s release; 1.04 s press; 2 s release")
    assert len(track.ends) == 1
    assert at(track, 1500)[1] > 0


def test_stitches_each_leave_an_end(design_of: Callable[..., Design]) -> None:
    track = track_of(design_of(), "0 s press; 4.5 s release")
    assert len(track.ends) >= 2
    assert len({round(end.extension_mm, 3) for end in track.ends[:2]}) == 1


def test_inching_feeds_the_wire_and_strikes_no_arc(plain: Design) -> None:
    track = track_of(plain, "0 s inch press; 500 ms inch release")
    fed = track.extension_mm[-1] - track.extension_mm[0]
    # Button filter alike on and off; pull-in 15 ms, drop-out 8 ms, and the coast's 50 ms come on top.
    assert fed == pytest.approx(200 * 25.4 / 60 * (0.5 - 0.015 + 0.008 + 0.05), rel=0.02)
    assert max(track.arc_length_mm) == 0
    assert track.ends == ()


def test_a_tap_too_short_for_the_wire_to_touch_leaves_no_end(plain: Design) -> None:
    track = track_of(plain, "0 s press; 330 ms release")
    assert max(track.arc_length_mm) == 0
    assert track.ends == ()


def test_an_impossible_arc_has_no_track(design_of: Callable[..., Design]) -> None:
    design = design_of({"open_circuit_voltage": '"14 V"'}, PLAIN)
    timeline = simulate(design, parse_script("0 s press; 1 s release"))
    assert likely_wire_track(design, timeline) is None
    with pytest.raises(ProcessError, match="no arc is possible"):
        wire_track(design, timeline)


def test_a_coil_that_lets_go_later_is_followed(design_of: Callable[..., Design]) -> None:
    slow = {**PLAIN, r'hold = "2.5 A" }': 'hold = "2.5 A" }\ndrive = "mosfet"\nsuppression = "diode"'}
    design = design_of(patterns=slow)
    track = track_of(design, "0 s press; 2 s release")
    left = run_likely(burnback_case(design), [design.times.burnback.setting_us / 1e6])[0]
    assert track.ends[0].extension_mm == pytest.approx(left.extension_mm, abs=0.05)
    assert (
        track.ends[0].extension_mm > track_of(design_of(patterns=PLAIN), "0 s press; 2 s release").ends[0].extension_mm
    )
