"""Captured edges beside the model's: what passes, what is named, and what cannot be told."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.capture.capture import Capture, CaptureError
from bench.capture.check import AnalyserPace, paced_rig
from timing.sequence.core.script import Change, Script
from timing.sequence.script_text import parse_script


def shifted(index, by_us):
    def change(changes):
        at_ns, level = changes[index]
        changes[index] = (at_ns + by_us * 1_000, level)
        return changes

    return change


def test_the_models_own_run_passes_to_the_microsecond(desk):
    check = desk.check(desk.capture())
    assert check.passed
    assert check.edges
    assert {edge.error_us for edge in check.edges} == {0}


def test_levels_are_found_whichever_way_up_contacts_are(desk):
    capture = desk.capture(inverted=("trigger", "arc", "interlock"))
    assert desk.check(capture).passed


def test_a_late_edge_is_named_with_its_error_and_what_is_allowed(shop_desk, alter):
    check = shop_desk.check(alter(shop_desk.capture(), "contactor", shifted(1, 15_000)))
    (trouble,) = check.troubles
    assert trouble.startswith("contactor goes off at 2.095000 s, expected at 2.080000 s: 15.000 ms late (allowed ")
    late = [edge for edge in check.edges if not edge.passed]
    assert [(edge.what, edge.error_us, edge.brief) for edge in late] == [
        ("contactor goes off", 15_000, "15.000 ms late")
    ]


def test_a_missing_edge_is_named_and_leaves_the_others_as_they_are(spot_desk, alter):
    # Of two stitches the wire drive makes the second only.
    check = spot_desk.check(alter(spot_desk.capture(), "wire_drive", lambda changes: changes[2:]))
    assert [trouble.split(":")[0] for trouble in check.troubles] == ["wire drive comes on", "wire drive goes off"]
    assert all("did not happen" in trouble for trouble in check.troubles)
    assert sum(edge.passed for edge in check.edges) == len(check.edges) - 2


def test_an_edge_too_many_is_named(shop_desk, alter):
    twitch = [(500_000_000, 0), (500_100_000, 1)]
    check = shop_desk.check(alter(shop_desk.capture(), "gas_valve", lambda changes: [changes[0], *twitch, changes[1]]))
    assert [edge.brief for edge in check.edges if not edge.passed] == ["unexpected", "unexpected"]
    assert check.troubles[0] == "gas valve goes off at 500.000 ms, which is not expected."


def test_an_output_that_is_on_at_rest_fails_even_if_it_never_moves(shop_desk):
    check = shop_desk.check(shop_desk.capture(inverted=("contactor",)))
    assert check.troubles[0].startswith("The contactor is on as the capture begins (channel 'contactor', on when high)")
    assert shop_desk.check(shop_desk.capture(inverted=("contactor",)), "contactor=contactor:low").passed


@pytest.mark.parametrize("share", [-1, -0.4, 0.4, 1])
def test_a_board_whose_clock_is_within_its_tolerance_passes(desk, share):
    stray = 1 + share * desk.target.clock_tolerance_ppm / 1e6
    check = desk.check(desk.paced(stray))
    assert check.passed, check.troubles


def test_a_board_whose_clock_is_out_of_its_tolerance_fails(shop_desk):
    # Its longest time, 2 s of postflow, then lies further off than half a count of its dial and the tolerance.
    stray = 1 + 4 * shop_desk.target.clock_tolerance_ppm / 1e6
    assert [edge.what for edge in shop_desk.check(shop_desk.paced(stray)).edges if not edge.passed]


@given(by_us=st.integers(-20_000, 20_000))
def test_an_edge_passes_exactly_within_its_tolerance(gasless_desk, alter, by_us):
    desk = gasless_desk
    capture = alter(desk.capture(), "wire_drive", shifted(0, by_us))
    edge = next(edge for edge in desk.check(capture).edges if edge.what == "wire drive comes on")
    assert edge.error_us == by_us
    assert edge.passed == (-edge.early_us <= by_us <= edge.late_us)
    assert desk.check(capture).passed == edge.passed


def test_coarse_samples_allow_as_much_more(shop_desk):
    fine, coarse = (shop_desk.check(shop_desk.capture(step_ns=step_ns)).edges[0] for step_ns in (1_000, 501_000))
    assert (coarse.early_us - fine.early_us, coarse.late_us - fine.late_us) == (1_000, 1_000)


def test_dials_that_stand_elsewhere_fail_unless_told_or_taken_as_found(shop_desk):
    turned = "0 s dial preflow 412 ms; 0 s dial burnback 95 ms; 0 s dial postflow 700 ms; "
    script = "+100 ms press; +1 s release"
    capture = shop_desk.capture(parse_script(turned + script))
    assert not shop_desk.check(capture).passed
    assert shop_desk.check(capture, told=parse_script(turned)).passed
    found = shop_desk.check(capture, as_found=True)
    assert found.passed
    assert found.dials_us == {"preflow": 412_000, "burnback": 95_000, "postflow": 700_000}
    assert found.as_found == {"preflow", "burnback", "postflow"}


def test_dials_as_found_must_lie_in_their_range(shop_desk, alter):
    check = shop_desk.check(alter(shop_desk.capture(), "contactor", shifted(1, 300_000)), as_found=True)
    assert "The burnback time comes out as 430.000 ms; its dial covers 20.000 ms to 300.000 ms." in check.troubles


def test_dials_as_found_must_be_the_same_in_every_weld(shop_desk, alter):
    capture = shop_desk.capture(parse_script("0.1 s press; +1 s release; +5 s press; +1 s release"))
    assert shop_desk.check(capture, as_found=True).passed
    check = shop_desk.check(alter(capture, "contactor", shifted(3, 20_000)), as_found=True)
    assert "20.000 ms late" in check.troubles[0]


def test_an_audio_spot_dial_is_found_too(spot_desk):
    script = "0 s dial spot 450 ms; 0 s switch pause off; 0.1 s press; 0.45 s arc on; 0.95 s arc off; 1.2 s release"
    capture = spot_desk.capture(parse_script(script))
    told = parse_script("0 s dial burnback 90 ms; 0 s switch pause off")
    found = spot_desk.check(capture, told=told, as_found=True)
    assert found.passed, found.troubles
    assert found.dials_us["spot"] == 450_000
    assert "burnback" not in found.as_found


def test_a_trigger_that_is_not_captured_comes_from_the_script_moved_to_the_first_edge(shop_desk):
    capture = shop_desk.capture()
    bare = Capture("capture", {name: capture.channels[name] for name in ("gas_valve", "contactor")}, *timing(capture))
    told = parse_script("0 s press; 1.825 s release")
    assert shop_desk.check(bare, told=told).passed
    assert not shop_desk.check(bare, told=parse_script("0 s press; 1.7 s release")).passed


def timing(capture):
    return capture.end_ns, capture.step_ns, capture.step_from


def test_what_comes_after_the_end_of_the_capture_is_not_asked_for(shop_desk):
    check = shop_desk.check(shop_desk.capture(until_us=2_500_000))
    assert check.passed
    assert [edge.what for edge in check.edges][-1] == "contactor goes off"


def test_a_chopped_trigger_counts_as_the_filter_sees_it(shop_desk, alter):
    # At the board's pin an ac trigger is a pulse every half-wave.
    chopped = [(at * 1_000_000, int(at % 8 < 6)) for at in range(100, 1_926) if at % 8 in (0, 6)]
    capture = alter(shop_desk.capture(), "trigger", lambda _: chopped if not chopped[-1][1] else chopped[:-1])
    press_us = next(at_ns for at_ns, level in chopped if level) // 1_000
    gas = next(edge for edge in shop_desk.check(capture).edges if edge.what == "gas valve comes on")
    assert gas.expected_us == press_us + 25_000


@pytest.mark.parametrize(
    ("kept", "told", "says"),
    [
        (("trigger",), "", "no channel for any output; allowed: channels named after what they show, or --map trigger"),
        (("contactor",), "", "nothing that starts a sequence: neither trigger nor button moves"),
        (("trigger", "contactor"), "1 s press", "'trigger' in the capture and in the script; allowed: one of the two"),
    ],
)
def test_a_capture_that_can_tell_nothing_is_refused(shop_desk, kept, told, says):
    capture = shop_desk.capture()
    bare = Capture("capture", {name: capture.channels[name] for name in kept}, *timing(capture))
    with pytest.raises(CaptureError, match=says):
        shop_desk.check(bare, told=parse_script(told))


def test_a_button_press_too_short_for_any_edge_is_no_test(shop_desk):
    with pytest.raises(CaptureError, match="no edge, neither expected nor measured"):
        shop_desk.check(shop_desk.capture(Script((Change(1_000, "trigger", 1), Change(2_000, "trigger", 0)), 100_000)))


@pytest.mark.parametrize("share", [0.99, 1.02])
def test_a_slow_board_takes_everything_longer_limits_included(desk, share):
    """Every time that the sequence counts on its own clock follows that clock; what is no time stays."""
    rig, paced = desk.target.rig, paced_rig(desk.target, AnalyserPace(share, 0.0), {})
    settings = vars(rig.settings) | dict(rig.settings.longest_us)
    paced_settings = vars(paced.settings) | dict(paced.settings.longest_us)
    timed = {name for name in settings if name.endswith("_us") and name != "stall_us"} | set(rig.settings.longest_us)
    for name in settings.keys() - {"longest_us"}:
        value = settings[name]
        expected = round(value * share) if name in timed and value is not None else value
        assert paced_settings[name] == expected, name
    assert paced.times_us == {name: round(time_us * share) for name, time_us in rig.times_us.items()}
    assert paced.supply_filter_us == round(rig.supply_filter_us * share)
