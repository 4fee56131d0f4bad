"""A supply between its thresholds, an arc that stays, spots that complete, and when the mode counts: by hand."""

from __future__ import annotations

import pytest

from tests.timing.sequence.test_simulate import DC, FOUR_STEP, SENSOR, SPOT, STITCH, faults, phases, with_
from timing.design.loading import parse_design
from timing.sequence.script_text import parse_script, write_script
from timing.sequence.simulate import simulate

# Supply: low after 20 ms below 18 V, good from 22 V on. Trigger filter 10 ms, preflow 300 ms, burnback 90 ms.


def course(script: str, text: str, settled: bool = True) -> list[tuple[float, str, str]]:
    timeline = simulate(parse_design(text), parse_script(script), settled=settled)
    return [(change.at_us / 1000, change.phase.word, change.fault.word) for change in timeline.phases]


WELD = [(0, "idle"), (10, "preflow"), (310, "weld")]
WELDED = [*WELD, (1010, "burnback"), (1100, "postflow"), (2300, "idle")]


class TestSupply:
    def test_between_low_and_good_a_weld_goes_on_and_even_begins(self):
        assert phases("0 s press; 500 ms supply between; 1 s release; 3 s end") == WELDED
        assert phases("0 s supply between; 0 s press; 1 s release; 3 s end") == WELDED

    def test_between_low_and_good_hold_off_is_not_left_after_a_dip(self):
        found = course("0 s supply low; 100 ms supply between; 5 s supply good; 6 s end", DC)
        assert found == [(0, "idle", "none"), (20, "hold-off", "supply"), (5550, "idle", "supply")]

    def test_nor_at_power_up_and_a_press_does_nothing(self):
        script = "0 s supply between; 2 s press; 3 s release; 5 s supply good; 6 s end"
        assert course(script, DC, settled=False) == [
            (0, "hold-off", "none"),
            (500, "hold-off", "supply"),
            (5550, "idle", "supply"),
        ]

    def test_a_supply_that_rises_at_power_up_is_no_fault(self):
        script = "0 s supply low; 60 ms supply between; 90 ms supply good; 2 s end"
        assert course(script, DC, settled=False) == [(0, "hold-off", "none"), (640, "idle", "none")]

    def test_a_dip_in_hold_off_is_shown_at_once_and_counts_anew(self):
        script = "200 ms supply between; 250 ms supply good; 2 s end"
        found = course(script, DC, settled=False)
        assert found == [(0, "hold-off", "none"), (200, "hold-off", "supply"), (800, "idle", "supply")]

    def test_low_said_twice_is_low_since_the_first_time(self):
        once, twice = (phases(f"0 s supply low; {more} 2 s end") for more in ("", "15 ms supply low;"))
        assert once == twice == [(0, "idle"), (20, "hold-off")]

    def test_low_before_a_reset_is_low_after_it(self):
        found = course("0 s supply low; 1 s reset; 4 s end", DC)
        assert found[2:] == [(1000, "hold-off", "none"), (1500, "hold-off", "supply")]

    @pytest.mark.parametrize("level", ["low", "between", "good"])
    def test_each_level_is_written_as_it_is_read(self, level):
        script = parse_script(f"5 us supply {level}")
        assert parse_script(write_script(script)) == script


LATCHING = with_('mode = "two-step"', 'mode = "switch"')


class TestLatching:
    @pytest.mark.parametrize("button", ["purge", "inch"])
    def test_a_mode_switch_moved_during_a_purge_or_an_inch_counts(self, button):
        script = f"0 s mode four-step; 0 s {button} press; 500 ms mode two-step; 1 s press; 2 s release; 5 s end"
        assert phases(script, LATCHING)[1:5] == [(20, button), (1010, "preflow"), (1310, "weld"), (2010, "burnback")]

    def test_it_counts_with_a_press_in_postflow_but_not_in_burnback(self):
        again = "0 s press; 1 s release; {}; 1.5 s press; 1.7 s release; 2.5 s press; 2.6 s release"
        assert phases(again.format("1.2 s mode four-step"), LATCHING)[5:7] == [(1510, "weld"), (2510, "burnback")]
        burnback = "0 s press; 1 s release; 1.02 s mode four-step; 1.03 s press; 2 s release; 9 s end"
        assert phases(burnback, LATCHING)[4:6] == [(1100, "weld"), (2010, "burnback")]

    def test_it_does_not_count_in_preflow(self):
        assert phases("0 s press; 100 ms mode four-step; 1 s release; 5 s end", LATCHING) == WELDED


COMPLETES = with_('time = "500 ms"', 'time = "500 ms"\non_release = "complete"', SPOT)
COMPLETES_STITCHING = with_('time = "500 ms"', 'time = "500 ms"\non_release = "complete"', STITCH)


class TestCompletingSpots:
    def test_a_spot_completes_when_let_go(self):
        assert phases("0 s press; 400 ms release; 3 s end", COMPLETES)[2:4] == [(310, "weld"), (810, "burnback")]

    def test_a_fresh_press_ends_it_and_starts_nothing_however_long_it_is_held(self):
        script = "0 s press; 400 ms release; 500 ms press; 9 s release; 10 s end"
        for text in (COMPLETES, COMPLETES_STITCHING):
            assert phases(script, text)[2:] == [
                (310, "weld"),
                (510, "burnback"),
                (600, "postflow"),
                (1800, "await-release"),
                (9010, "idle"),
            ]

    def test_a_press_after_that_welds_again(self):
        script = "0 s press; 400 ms release; 500 ms press; 700 ms release; 900 ms press; 3 s release; 9 s end"
        assert phases(script, COMPLETES)[4:7] == [(600, "postflow"), (910, "weld"), (1410, "burnback")]

    def test_held_stitches_go_on(self):
        found = phases("0 s press; 3 s release; 9 s end", COMPLETES_STITCHING)
        assert [word for _, word in found].count("pause") == 3

    def test_let_go_before_the_arc_it_ends(self):
        text = SENSOR + '\n[spot]\ntime = "500 ms"\non_release = "complete"\n'
        assert phases("0 s press; 400 ms release; 3 s end", text)[3] == (410, "burnback")
        struck = "0 s press; 380 ms arc on; 400 ms release; 880 ms arc off; 3 s end"
        assert phases(struck, text)[3] == (880, "burnback")


# The contactor lets go within 30 ms, the sensor has no filter: 30 ms after contactor-off an arc stays.
class TestArc:
    def test_an_arc_that_stays_is_a_fault_until_the_sensor_opens(self):
        script = "0 s press; 400 ms arc on; 1 s release; 4 s press; 5 s release; 6 s arc off; 8 s end"
        assert course(script, SENSOR) == [
            (0, "idle", "none"),
            (10, "preflow", "none"),
            (310, "weld", "none"),
            (1010, "burnback", "none"),
            (1100, "postflow", "none"),
            (1130, "hold-off", "arc stays"),
            (6550, "idle", "arc stays"),
        ]

    @pytest.mark.parametrize("off_ms", [1100, 1115, 1129])
    def test_one_that_goes_out_with_the_contactor_is_none(self, off_ms):
        script = f"0 s press; 400 ms arc on; 1 s release; {off_ms} ms arc off; 5 s end"
        assert set(faults(script, SENSOR)) == {"none"}

    @pytest.mark.parametrize(("button", "phase"), [("purge", "purge"), ("inch", "inch"), ("", "idle")])
    def test_wherever_the_contactor_is_off(self, button, phase):
        script = f"{f'0 s {button} press;' if button else ''} 500 ms arc on; 2 s end"
        assert course(script, SENSOR)[-2:] == [
            (20 if button else 0, phase, "none"),
            (500, "hold-off", "arc stays"),
        ]

    def test_at_power_up_as_well(self):
        assert course("0 s arc on; 3 s end", SENSOR, settled=False) == [
            (0, "hold-off", "none"),
            (30, "hold-off", "arc stays"),
        ]

    def test_an_arc_that_was_not_seen_open_since_the_weld_before_establishes_none(self):
        """Pressed in postflow before anything could be amiss: the arc-start limit of 1 s ends it."""
        script = "0 s press; 400 ms arc on; 1 s release; 1.1 s press; 4 s release; 4 s arc off; 6 s end"
        assert course(script, SENSOR)[4:7] == [
            (1100, "postflow", "none"),
            (1110, "weld", "none"),
            (2110, "burnback", "arc start"),
        ]

    def test_one_that_was_seen_open_for_a_moment_does(self):
        flicker = "1.2 s arc off; 1.201 s arc on"
        script = f"0 s press; 400 ms arc on; 1 s release; 1.1 s press; {flicker}; 4 s release; 4 s arc off"
        assert course(script, SENSOR)[5:7] == [(1110, "weld", "none"), (4010, "burnback", "none")]

    def test_one_that_burns_through_a_burnback_into_the_next_weld_does(self):
        """The contactor was never off in between."""
        script = "0 s press; 400 ms arc on; 1 s release; 1.05 s press; 5 s release; 5 s arc off; 9 s end"
        assert course(script, SENSOR)[3:6] == [
            (1010, "burnback", "none"),
            (1100, "weld", "none"),
            (5010, "burnback", "none"),
        ]


def test_the_spot_dial_is_taken_at_the_start_of_the_spot_and_not_with_the_arc():
    text = SENSOR + '\n[spot]\ntime = { from = "200 ms", to = "2 s", setting = "500 ms" }\n'
    script = "0 s press; 350 ms dial spot 2 s; 400 ms arc on; 950 ms arc off; 3 s release; 9 s end"
    assert phases(script, text)[2:4] == [(310, "weld"), (900, "burnback")]


def test_four_step_is_left_as_it_was():
    script = "0 s press; 500 ms release; 2 s press; 2.2 s release"
    assert phases(script, FOUR_STEP)[3] == (2010, "burnback")
