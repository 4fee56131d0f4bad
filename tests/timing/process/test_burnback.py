from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.support.power_sources import turned_to
from timing.process.arc import settle
from timing.process.burnback import (
    FROZEN,
    FUSED,
    GOOD,
    SHORT,
    Release,
    _relaxed,
    judge,
    run_burnback,
    run_one,
    wire_run_mm,
    wire_speed_mm_s,
)
from timing.process.case import BurnbackCase, run_likely, scatter, together
from timing.process.melting import melting_rate_mm_s

SETTINGS_S = np.arange(0, 0.3, 0.01)


FRICTIONS = st.one_of(st.just(0.0), st.floats(-12, 12).map(lambda power: 10.0**power), st.just(np.inf))


def release_of(off_s: float, coast_s: float, friction: float) -> Release:
    return Release(np.full(1, off_s), np.full(1, coast_s), np.full(1, 0.02), np.full(1, friction), np.zeros(1))


@pytest.mark.parametrize("braked", [False, True])
def test_wire_fed_minus_wire_melted_is_the_change_of_extension(case: BurnbackCase, braked: bool) -> None:
    drawn = scatter(replace(case, braked=braked), 2000)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, SETTINGS_S)
    change_mm = run.extension_mm - run.start_mm
    assert np.abs(run.fed_mm - run.melted_mm - change_mm).max() < 1e-6


@settings(max_examples=50)
@given(friction=FRICTIONS, off=st.floats(0, 0.05), coast=st.floats(0.001, 0.3), until=st.floats(0, 1))
def test_run_of_the_wire_is_the_integral_of_its_speed(friction: float, off: float, coast: float, until: float) -> None:
    release, feed = release_of(off, coast, friction), np.full(1, 80.0)
    times = np.linspace(0, until, 20001)
    speeds = np.concatenate([wire_speed_mm_s(release, feed, t) for t in times[::10]])
    summed = float(np.trapezoid(speeds, times[::10]))
    assert float(wire_run_mm(release, feed, until)[0]) == pytest.approx(summed, abs=2e-3)


@given(friction=FRICTIONS, off=st.floats(0, 0.05), coast=st.floats(0, 0.3))
def test_wire_runs_on_by_its_coast_however_it_slows_down(friction: float, off: float, coast: float) -> None:
    far_mm = float(wire_run_mm(release_of(off, coast, friction), np.full(1, 80.0), np.inf)[0])
    assert far_mm == pytest.approx(80 * (off + coast), abs=1e-6)
    one = Release(off, coast, 0.02, friction, 0.0)
    assert wire_run_mm(one, 80.0, float("inf")) == pytest.approx(far_mm, abs=1e-9)


@given(friction=FRICTIONS, coast=st.floats(0.001, 0.3))
def test_wire_only_ever_slows_down_from_full_speed_to_standstill(friction: float, coast: float) -> None:
    release = Release.coasting(coast, friction)
    speeds = [wire_speed_mm_s(release, 1.0, share * release.coast.stop_s) for share in np.linspace(0, 1, 40)]
    assert speeds[0] == pytest.approx(1.0)
    assert speeds[-1] == pytest.approx(0.0, abs=1e-6)
    assert (np.diff(speeds) <= 1e-12).all()
    rest_s = release.coast.rest_s(1e-4)
    assert coast - release.coast.run_s(rest_s) == pytest.approx(1e-4, abs=1e-8)


@pytest.mark.parametrize("share", [0.1, 0.5, 1.0, 1.9])
def test_purely_exponential_and_purely_even_coasts_are_the_limits(share: float) -> None:
    """exp(-t/T) for a motor alone; an even stop within twice the coast for friction alone."""
    motor, dry = Release.coasting(0.05, 0.0), Release.coasting(0.05, np.inf)
    assert wire_speed_mm_s(motor, 1.0, share * 0.05) == pytest.approx(np.exp(-share), abs=1e-7)
    assert wire_speed_mm_s(dry, 1.0, share * 0.05) == pytest.approx(1 - share / 2, abs=1e-4)


def test_longer_burnback_never_leaves_more_wire(case: BurnbackCase) -> None:
    drawn = scatter(case, 1000)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, SETTINGS_S)
    assert np.diff(run.extension_mm, axis=0).max() < 0.01


def test_no_burnback_freezes_the_wire_and_a_moderate_one_does_not(case: BurnbackCase) -> None:
    none, moderate = run_likely(case, [0.0, 0.12])
    assert none.extension_mm > case.distance_mm
    assert (none.outcome, moderate.outcome) == (FROZEN, GOOD)


def test_hot_arc_and_long_burnback_fuse_the_wire_to_the_tip(case: BurnbackCase) -> None:
    _, late = run_likely(turned_to(case, 31.0), [0.05, 1.0])
    assert late.outcome == FUSED
    assert late.extension_mm <= case.end.fused_mm


def test_curve_has_the_shape_of_an_independent_trial(case: BurnbackCase) -> None:
    """0 ms left 13 mm, 60 ms 9 mm, 100 ms 7 mm, 150 ms 5 mm, in a mean-arc trial with other constants (shape only)."""
    rests = run_likely(turned_to(case, 27.0), [0.0, 0.06, 0.1, 0.15])
    assert np.abs(np.array([rest.extension_mm for rest in rests]) - np.array([13.0, 9.0, 7.0, 5.0])).max() < 2.0


def test_settings_together_give_what_each_gives_alone(case: BurnbackCase) -> None:
    together = np.array([rest.extension_mm for rest in run_likely(case, SETTINGS_S)])
    alone = [run_likely(case, [s])[0].extension_mm for s in SETTINGS_S]
    assert np.abs(together - alone).max() < 0.02


def test_equal_settings_give_equal_results(case: BurnbackCase) -> None:
    assert len(set(run_likely(case, [0.1, 0.1, 0.1]))) == 1


@pytest.mark.parametrize("braked", [False, True])
@pytest.mark.parametrize("open_v", [20.0, 23.0, 31.0])
def test_one_wire_and_an_array_of_it_end_alike(case: BurnbackCase, open_v: float, braked: bool) -> None:
    case = replace(turned_to(case, open_v), braked=braked)
    plant, release = case.plant().repeated(1), case.release()
    many = Release(*(np.full(1, getattr(release, field.name)) for field in fields(release)))
    run = run_burnback(plant, settle(plant), many, case.end, SETTINGS_S)
    one = run_one(case.plant(), settle(case.plant()), release, case.end, SETTINGS_S)
    assert run.extension_mm[:, 0] == pytest.approx([rest.extension_mm for rest in one], abs=1e-9)
    assert run.ball_mm[:, 0] == pytest.approx([rest.ball_mm for rest in one], abs=1e-9)
    assert run.to_ball_end_mm[:, 0] == pytest.approx([rest.to_ball_end_mm for rest in one], abs=1e-9)
    assert run.arc_out_s[:, 0] == pytest.approx([rest.arc_out_s for rest in one], abs=1e-9)
    assert list(run.outcome[:, 0]) == [rest.outcome for rest in one]
    assert {type(rest.extension_mm) for rest in one} == {float}


def test_arc_goes_out_after_the_cut_within_the_decay_of_the_current(case: BurnbackCase) -> None:
    late_s = run_likely(case, [0.05])[0].arc_out_s - 0.05 - case.contactor_off.typical_s
    # L I / U bounds it: 300 uH, at most 115 A, at least 15 V against it.
    assert 0 < late_s < 300e-6 * 115 / 15


def test_halving_the_step_changes_nothing_that_a_rule_could_read(case: BurnbackCase) -> None:
    drawn = scatter(case, 500)
    runs = [
        run_burnback(drawn.plant, drawn.point, drawn.release, case.end, SETTINGS_S, step).extension_mm
        for step in (2e-3, 1e-4)
    ]
    assert np.abs(runs[0] - runs[1]).max() < 0.05


def test_outcomes_by_where_the_balls_far_side_rests(case: BurnbackCase) -> None:
    """Wire of 0.9 mm at 12 mm: 5 mm of it melted stand 1.7 mm beyond the solid wire."""
    left = np.array([12.5, 9.9, 9.8, 9.9, 3.2, 0.4])
    hanging = np.array([0.0, 5.0, 5.0, 3.0, 5.0, 5.0])
    fused = np.array([False, False, False, False, False, True])
    found = judge(left, hanging, fused, np.full(6, 12.0), case.end)
    assert list(found) == [FROZEN, FROZEN, GOOD, GOOD, SHORT, FUSED]


@pytest.mark.parametrize("step_s", [1e-4, 2e-3, 2e-2])
def test_current_at_a_frozen_extension_is_exact_however_long_the_step(case: BurnbackCase, step_s: float) -> None:
    """I falls exponentially to its settled value: end and wire melted against a sum over thousands of slices."""
    plant, point = case.plant(), case.operating_point()
    start = point.current_a + 60.0
    after, melted = _relaxed(plant, point, point.extension_mm, start, step_s)
    loop = plant.slope_ohm + plant.arc_ohm + plant.wire_ohm_per_mm * point.extension_mm
    times = (np.arange(20_000) + 0.5) / 20_000 * step_s
    currents = point.current_a + 60.0 * np.exp(-times * loop / plant.inductance_h)
    left = 60.0 * np.exp(-step_s * loop / plant.inductance_h)
    assert after == pytest.approx(point.current_a + left)
    alpha = plant.alpha_mm_per_a_s * (1 - point.short_share)
    rates = melting_rate_mm_s(currents, point.extension_mm, alpha, plant.beta_per_a2_s)
    assert float(melted) == pytest.approx(step_s * float(rates.mean()), rel=1e-6)


def test_cases_run_together_end_as_they_do_apart(case):
    cases, settings_s = [case, case.at_speed(case.feed_mm_s * 1.5)], np.array([0.02, 0.09, 0.2])
    apart = [scatter(one, 200) for one in cases]
    joined = together(apart)
    at_once = run_burnback(joined.plant, joined.point, joined.release, case.end, settings_s)
    for place, drawn in enumerate(apart):
        alone = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, settings_s)
        mine = slice(200 * place, 200 * (place + 1))
        # They share their steps: each is as near the truth as the step is fine.
        assert at_once.extension_mm[:, mine] == pytest.approx(alone.extension_mm, abs=0.05)
