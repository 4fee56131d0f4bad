"""Dials that serve the whole of a job: every corner's advice lies on them, and their ends are round figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from timing.design.design import Design
from timing.design.times import LONGEST_US
from timing.process.advice import advise
from timing.process.corners import (
    ROUND_FIGURES,
    STITCH_US,
    burnback_ends_us,
    corner_designs,
    round_above_us,
    round_below_us,
    with_spot_time,
)
from timing.process.errors import ProcessError
from timing.process.ranging import ENOUGH_BURNBACK_US

QUICK = 80
"""Draws: the dials are compared with advice of as many."""

speeds = st.tuples(st.integers(100, 300), st.floats(0.5, 1), st.floats(1, 1.6)).map(
    lambda one: (round(one[0] * one[1]), one[0], round(one[0] * one[2]))
)
plates = st.tuples(st.floats(1, 4), st.floats(0.6, 1), st.floats(1, 2)).map(
    lambda one: (round(one[0] * one[1], 2), round(one[0], 2), round(one[0] * one[2], 2))
)
wires = st.sampled_from([("mild-steel", "M21"), ("mild-steel", "C1"), ("stainless-steel", "M13"), ("aluminium", "I1")])


def job(design_of: Callable[..., Design], speed: tuple[int, ...], plate: tuple[float, ...], wire: tuple[str, str]):
    keys = ("wire_feed_speed_low", "wire_feed_speed", "wire_feed_speed_high")
    changes = {key: f'"{value} in/min"' for key, value in zip(keys, speed, strict=True)}
    keys = ("plate_thickness_low", "plate_thickness", "plate_thickness_high")
    changes |= {key: f'"{value} mm"' for key, value in zip(keys, plate, strict=True)}
    changes |= {"wire": f'"{wire[0]}"', "gas": f'"{wire[1]}"'}
    # The voltage is assumed for the current, as a welder turns it: each corner by itself has its own.
    return design_of({**changes, "open_circuit_voltage": ""})


def corners(design_of: Callable[..., Design], speed, plate, wire) -> Iterator[Design]:
    """The job with one speed and one plate only, written down as a design of its own."""
    for one in {speed[0], speed[2]}:
        for thickness in {plate[0], plate[2]}:
            yield job(design_of, (one,) * 3, (thickness,) * 3, wire)


@settings(max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(speed=speeds, plate=plates, wire=wires)
def test_the_dials_of_a_job_cover_what_is_advised_at_each_of_its_corners(design_of, speed, plate, wire):
    design = job(design_of, speed, plate, wire)
    try:
        times = {one.name: one for one in advise(design, QUICK).times}
    except ProcessError:
        return
    for corner in corners(design_of, speed, plate, wire):
        try:
            # Twice, as the command does: postflow and pause depend on the spot time that the first round gives.
            spot = next(one for one in advise(corner, QUICK).times if one.name == "spot")
            asked = advise(with_spot_time(corner, spot.setting_us), QUICK).times
        except ProcessError:
            continue
        for one in asked:
            dial = times[one.name]
            assert dial.dial_from_us <= one.setting_us, (one.name, corner.process)
            assert one.setting_us <= min(dial.dial_to_us, LONGEST_US) or dial.dial_to_us == LONGEST_US
    for time in times.values():
        assert {round_below_us(time.dial_from_us), round_above_us(time.dial_to_us)} <= {
            time.dial_from_us,
            time.dial_to_us,
            LONGEST_US,
        }


def test_stitches_can_be_set_from_a_fifth_of_a_second_on_and_off(design_of):
    times = {one.name: one for one in advise(design_of(), QUICK).times}
    assert times["spot"].dial_from_us <= STITCH_US
    assert times["pause"].dial_from_us <= STITCH_US


def test_a_contactor_too_slow_for_such_stitches_keeps_its_time(design_of):
    slow = {"off_delay": '{ min = "100 ms", typical = "200 ms", max = "300 ms" }'}
    pause = next(one for one in advise(design_of(slow), QUICK).times if one.name == "pause")
    assert pause.dial_from_us > 300_000


def test_a_burnback_dial_reaches_what_machines_ask_for_and_test_welds_round_the_setting():
    assert burnback_ends_us(100e3, 90e3, 120e3, 100e3) == (50_000, 200_000)
    assert burnback_ends_us(100e3, 20e3, 450e3, 120e3) == (20_000, ENOUGH_BURNBACK_US)
    assert burnback_ends_us(300e3, 280e3, 500e3, 450e3)[1] == 500_000


def test_a_job_of_one_speed_and_one_plate_has_no_corners(design_of):
    only = {r"(?m)^(wire_feed_speed|plate_thickness)_(low|high) = [^\n]*$": ""}
    assert list(corner_designs(design_of(patterns=only))) == []


def test_seams_in_thin_plate_are_run_with_the_slowest_wire(design_of):
    plate = {"plate_thickness_low": '"0.9 mm"', "plate_thickness": '"3 mm"', "plate_thickness_high": '"12 mm"'}
    design = design_of(plate, {r"\[spot\].*(?=\[circuits\])": ""})
    assert design.spot is None
    seen = {(one.process.wire_feed_speed_mm_s, one.process.plate_thickness_mm) for one in corner_designs(design)}
    slow, fast = design.process.wire_feed_speed_low_mm_s, design.process.wire_feed_speed_high_mm_s
    assert [speed for speed, plate_mm in seen if plate_mm == 0.9] == [slow]
    assert {(slow, 3), (slow, 12), (fast, 3), (fast, 12)} <= seen
    # A dial that went on to where such a seam would freeze could not be set by hand.
    postflow = next(one for one in advise(design, QUICK).times if one.name == "postflow")
    assert postflow.dial_to_us < 30_000_000


@given(st.integers(1_000, 50_000_000))
def test_round_ends_begin_with_round_figures_and_lie_on_their_sides(wanted_us):
    below, above = round_below_us(wanted_us), round_above_us(wanted_us)
    assert below <= wanted_us <= above <= below * 2
    for end in (below, above):
        assert float(f"{end:.3e}".split("e")[0]) in (*ROUND_FIGURES, 10.0)
    assert round_below_us(below) == below
    assert round_above_us(above) == above


@pytest.mark.parametrize("wanted_us", [0, 1, 999])
def test_a_dial_may_begin_at_nothing(wanted_us):
    assert round_below_us(wanted_us) == 0
