from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.power_sources import turned_to
from timing.process.case import BurnbackCase, run_likely
from timing.process.errors import ProcessError
from timing.process.fit import fit_machine
from timing.process.settable import DialMark, Settable
from timing.process.settling import ENOUGH_FREE
from timing.process.welds import TestWeld, WeldOutcome

SPREAD_OUT_S = (0.02, 0.05, 0.08, 0.12, 0.2)
CLOSE = {"rule_mm": 0.1, "hand_mm": 0.0}
"""For welds of the model itself, read without error."""
DIAL, LONGER = (
    Settable(tuple(DialMark(ms / 1000, f"mark {ms} ms") for ms in range(40, high_ms + 1, 10)), dial=True)
    for high_ms in (140, 300)
)


def welds(
    case: BurnbackCase,
    coast_s: float,
    contactor_s: float,
    settings_s: tuple[float, ...],
    error_mm: float = 0.0,
    seed: int = 0,
) -> list[TestWeld]:
    """Test welds of a machine whose coast and drop-out are known, read with an error."""
    machine = replace(case, coast_s=coast_s, contactor_off=case.contactor_off.moved_to(contactor_s))
    random = np.random.default_rng(seed)
    left = np.array([rest.extension_mm for rest in run_likely(machine, np.sort(np.array(settings_s)))])
    return [
        TestWeld(float(setting), float(mm + error_mm * random.standard_normal()), ball=False)
        for setting, mm in zip(np.sort(settings_s), left, strict=True)
    ]


@pytest.mark.parametrize(("coast", "contactor"), [(0.04, 0.015), (0.07, 0.03), (0.09, 0.025)])
def test_limits_hold_the_machine_and_the_design_gets_what_leaves_its_wire_ends(
    case: BurnbackCase, coast: float, contactor: float
) -> None:
    made = welds(case, coast, contactor, SPREAD_OUT_S)
    fit = fit_machine(case, made, LONGER, **CLOSE)
    assert fit.coast_limits_s.low < coast < fit.coast_limits_s.high
    assert fit.contactor_off_limits_s.low < contactor < fit.contactor_off_limits_s.high
    assert fit.fits_well
    assert fit.coast_told
    left_mm = [rest.extension_mm for rest in run_likely(fit.applied(case), SPREAD_OUT_S[2:])]
    assert left_mm == pytest.approx([weld.extension_mm for weld in made[2:]], abs=0.5)


def test_limits_narrow_weld_by_weld(case: BurnbackCase) -> None:
    made = welds(case, 0.06, 0.02, SPREAD_OUT_S)
    widths = [
        fit.coast_limits_s.high / fit.coast_limits_s.low
        for fit in (fit_machine(case, made[:count], LONGER) for count in (0, 1, 3))
    ]
    assert widths[0] > 2 * widths[1] > 2 * widths[2]


def test_undecided_fit_leaves_the_contactor_as_it_was(case: BurnbackCase) -> None:
    fit = fit_machine(case, welds(case, 0.06, 0.02, (0.1, 0.12)), DIAL)
    assert not fit.told_apart
    assert "hardly tell one from the other" in fit.sentence
    assert fit.applied(case).contactor_off == case.contactor_off
    assert {key for key in fit.design_values(case) if key.startswith("feeder.")} == {
        "feeder.wire_drive.coast",
        "feeder.wire_drive.coast_measured",
    }


def test_decided_fit_writes_both_figures_with_units(case: BurnbackCase) -> None:
    fit = replace(fit_machine(case, welds(case, 0.07, 0.03, SPREAD_OUT_S), LONGER, **CLOSE), told_apart=True)
    values = fit.design_values(case)
    assert str(values["feeder.wire_drive.coast"]).endswith(" ms")
    delay = values["feeder.contactor.off_delay"]
    assert isinstance(delay, dict)
    assert list(delay) == ["min", "typical", "max"]
    slow = replace(case, contactor_later_s=0.01)
    stated = fit.design_values(slow)["feeder.contactor.off_delay"]
    assert isinstance(stated, dict)
    assert int(delay["typical"].split()[0]) - int(stated["typical"].split()[0]) == 10


def test_one_frozen_weld_tells_too_little_of_the_coast_to_be_written(case: BurnbackCase) -> None:
    fit = fit_machine(case, [frozen(0.09)], LONGER)
    assert not fit.coast_told
    assert fit.design_values(case) == {}


def test_fit_predicts_its_own_welds_in_the_order_given(case: BurnbackCase) -> None:
    turned = list(reversed(welds(case, 0.07, 0.03, SPREAD_OUT_S)))
    fit = fit_machine(case, turned, LONGER, **CLOSE)
    assert fit.predicted_mm == pytest.approx([weld.extension_mm for weld in turned], abs=0.4)


def test_welds_that_contradict_each_other_are_named_so(case: BurnbackCase) -> None:
    fit = fit_machine(case, [TestWeld(0.1, 2.0), TestWeld(0.1, 11.0), TestWeld(0.12, 10.0)], DIAL)
    assert fit.contradicts
    assert not fit.fits_well
    assert "do not agree" in fit.sentence
    assert "'100 ms: 2 mm': make it again, or leave it out" in fit.sentence
    assert fit.design_values(case) == {}
    assert "of welds come free" not in fit.sentence


@pytest.mark.parametrize(
    ("made", "words"),
    [
        ([TestWeld(0.1, 8.0), TestWeld(-0.1, 8.0)], "test weld 2: burnback"),
        ([TestWeld(0.1, 8.0), TestWeld(0.1, 40.0)], "test weld 2: 40 mm"),
        ([TestWeld(0.1, 8.0), TestWeld(0.1, 24.0, distance_mm=13.0)], "24 mm extension left at a distance of 13 mm"),
        ([TestWeld(0.1, float("nan")), TestWeld(0.1, 4.0)], "test weld 1: nan mm"),
        ([TestWeld(0.1)], "test weld 1: 0 mm"),
    ],
)
def test_welds_that_cannot_be_are_refused_by_number(case: BurnbackCase, made: list[TestWeld], words: str) -> None:
    with pytest.raises(ProcessError) as caught:
        fit_machine(case, made)
    assert words in caught.value.what


def test_a_rule_without_error_is_refused(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="rule"):
        fit_machine(case, welds(case, 0.05, 0.02, (0.1, 0.12)), rule_mm=0.0)


def frozen(burnback_s: float) -> TestWeld:
    return TestWeld(burnback_s, outcome=WeldOutcome.FROZEN)


def test_a_weld_that_froze_rules_short_coasts_out_and_asks_for_more_burnback(case: BurnbackCase) -> None:
    before, after = (fit_machine(case, made, LONGER) for made in ([], [frozen(0.115)]))
    assert after.coast_limits_s.low > before.coast_limits_s.low + 0.01
    assert after.next_weld is not None
    assert after.next_weld.mark.time_s > 0.115
    assert not after.settled.enough


def test_a_weld_that_fused_rules_long_coasts_out_where_the_arc_can_reach_the_tip(case: BurnbackCase) -> None:
    hot = turned_to(case, 32.0)
    fused = TestWeld(0.115, outcome=WeldOutcome.FUSED)
    before, after = (fit_machine(hot, made, LONGER) for made in ([], [fused]))
    assert after.coast_limits_s.high < before.coast_limits_s.high
    assert after.next_weld is not None
    assert after.next_weld.mark.time_s < 0.115


def test_no_setting_beyond_one_that_fused_or_short_of_one_that_froze_whatever_the_model_says(
    case: BurnbackCase,
) -> None:
    fused = TestWeld(0.2, outcome=WeldOutcome.FUSED)
    for made in ([fused], [fused] * 3, [frozen(0.07), fused]):
        fit = fit_machine(case, made, LONGER)
        assert fit.next_weld is not None
        assert 0.07 * (len(made) == 2) < fit.next_weld.mark.time_s < 0.2
        assert fit.settled.mark.time_s < 0.2


def test_one_weld_says_something_and_an_exact_one_at_the_setting_may_be_enough(case: BurnbackCase) -> None:
    first = fit_machine(case, [], LONGER)
    assert first.next_weld is not None
    assert "No test weld yet" in first.sentence
    at_s = first.next_weld.mark.time_s
    second = fit_machine(case, welds(case, 0.05, 0.02, (at_s,)), LONGER)
    assert second.coast_held_s == pytest.approx(0.05, abs=0.02)


def test_a_reading_to_the_balls_end_is_the_same_as_one_without_it(case: BurnbackCase) -> None:
    """1.2 mm of ball on 0.9 mm wire stand 1.0 mm beyond it: radius, and the root of radius and half a wire squared."""
    solid = welds(case, 0.06, 0.02, (0.09, 0.14))
    beyond_mm = 0.6 + (0.6**2 - 0.45**2) ** 0.5
    balls = [replace(weld, extension_mm=(weld.extension_mm or 0) + beyond_mm, ball=True, ball_mm=1.2) for weld in solid]
    plain, told = (fit_machine(case, made, DIAL) for made in (solid, balls))
    # A ball smaller than computed speaks for a little less wire melted.
    assert told.coast_held_s == pytest.approx(plain.coast_held_s, abs=0.015)
    assert told.predicted_mm == pytest.approx([weld.extension_mm for weld in balls], abs=0.4)


def test_where_nothing_was_said_of_a_ball_the_limits_hold_whether_the_reading_has_it_or_not(case: BurnbackCase) -> None:
    solid = welds(case, 0.06, 0.02, (0.09, 0.14))
    for beyond_mm in (0.0, 1.25):
        made = [replace(weld, extension_mm=(weld.extension_mm or 0) + beyond_mm, ball=None) for weld in solid]
        limits_s = fit_machine(case, made, DIAL).coast_limits_s
        assert limits_s.low < 0.06 < limits_s.high


def test_a_weld_held_further_away_tells_the_same_machine(case: BurnbackCase) -> None:
    far = replace(case, distance_mm=16.0)
    made = [replace(weld, distance_mm=16.0) for weld in welds(far, 0.06, 0.02, SPREAD_OUT_S)]
    assert fit_machine(case, made, LONGER, **CLOSE).coast_held_s == pytest.approx(0.06, abs=0.008)


def test_a_weld_at_another_wire_feed_speed_tells_the_same_machine_but_proves_nothing(case: BurnbackCase) -> None:
    made = [replace(weld, feed_mm_s=120.0) for weld in welds(case.at_speed(120.0), 0.06, 0.02, SPREAD_OUT_S)]
    fit = fit_machine(case, made, LONGER, **CLOSE)
    assert fit.coast_held_s == pytest.approx(0.06, abs=0.008)
    assert not fit.settled.proved


@pytest.mark.parametrize("coast_s", [0.02, 0.05, 0.08, 0.16])
def test_settings_and_next_welds_are_marks_of_the_dial(case: BurnbackCase, coast_s: float) -> None:
    made: list[TestWeld] = []
    for _ in range(3):
        fit = fit_machine(case, made, DIAL)
        assert fit.settled.mark in DIAL.marks
        if fit.next_weld is None:
            break
        assert fit.next_weld.mark in DIAL.marks
        assert fit.next_weld.mark.words in fit.sentence
        made += welds(case, coast_s, 0.02, (fit.next_weld.mark.time_s,))
        if (made[-1].extension_mm or 0) > case.distance_mm - 1:
            made[-1] = frozen(made[-1].burnback_s)


def test_enough_is_said_where_the_figures_are_sure_and_a_weld_came_free_there(case: BurnbackCase) -> None:
    fit = fit_machine(case, welds(case, 0.05, 0.02, (0.09, 0.11, 0.14)), LONGER)
    assert fit.settled.worst_free >= ENOUGH_FREE
    assert fit.settled.enough
    assert fit.next_weld is None
    assert "Enough test welds" in fit.sentence
    assert fit.design_values(case)["times.burnback.setting"] == f"{fit.settled.mark.time_s * 1000:.0f} ms"
    elsewhere = fit_machine(case, welds(case, 0.05, 0.02, (0.04, 0.05)), LONGER)
    assert not elsewhere.settled.enough
    assert elsewhere.next_weld is not None


def test_a_share_on_the_worst_machine_is_told_as_people_say_it(case: BurnbackCase) -> None:
    assert "but it may be as few as none" in fit_machine(case, [], DIAL).sentence


def test_an_arc_too_short_to_let_go_asks_for_more_voltage(case: BurnbackCase) -> None:
    low = turned_to(case, 20.0)
    fit = fit_machine(low, [frozen(0.1), frozen(0.2), frozen(0.3)], LONGER)
    assert fit.more_voltage_v is not None
    assert "Turn the voltage up" in fit.sentence
    assert fit_machine(case, [frozen(0.1)], LONGER).more_voltage_v is None


def test_a_dial_that_no_longer_serves_is_told_and_never_left(case: BurnbackCase) -> None:
    fit = fit_machine(case, [frozen(0.14), frozen(0.135), *welds(case, 0.15, 0.02, (0.3,))], DIAL)
    assert fit.settled.beyond is not None
    assert fit.settled.beyond.time_s > 0.14
    assert "range no longer serves" in fit.sentence
    assert fit.settled.mark in DIAL.marks
    served = fit_machine(case, welds(case, 0.05, 0.02, (0.1,)), DIAL)
    assert served.settled.beyond is None


def test_misfits_that_no_machine_explains_leave_its_figures_alone(case: BurnbackCase) -> None:
    """Wire ends that go up and down with the burnback."""
    made = [TestWeld(0.2, 3.0), TestWeld(0.14, 6.5), TestWeld(0.1, 4.0), TestWeld(0.07, 7.5), TestWeld(0.25, 6.5)]
    fit = fit_machine(case, made, LONGER)
    assert not fit.fits_well
    assert not fit.contradicts
    assert set(fit.design_values(case)) <= {"times.burnback.setting"}
    assert "no figure of it is written" in fit.sentence


def test_two_readings_at_one_setting_that_are_far_apart_are_a_mistake_whatever_else_was_welded(
    case: BurnbackCase,
) -> None:
    good = welds(case, 0.05, 0.02, (0.1, 0.12, 0.14))
    assert not fit_machine(case, good, LONGER).contradicts
    fit = fit_machine(case, [*good, replace(good[2], extension_mm=(good[2].extension_mm or 0) - 5)], LONGER)
    assert fit.contradicts
    other_distance = replace(good[2], extension_mm=(good[2].extension_mm or 0) + 5, distance_mm=17.0)
    assert not fit_machine(case, [*good, other_distance], LONGER).contradicts
