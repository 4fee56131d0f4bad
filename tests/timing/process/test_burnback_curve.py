from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.power_sources import turned_to
from timing.process.burnback import FROZEN, FUSED, SHORT
from timing.process.burnback_curve import GIVEN_UP, TIE, burnback_curve, dial_cover, run_scatter, sensitivity
from timing.process.case import BurnbackCase, run_likely, scatter
from timing.process.errors import ProcessError
from timing.process.source import SourceReadings

DRAWS = 2000


def test_chances_of_the_outcomes_sum_to_one_everywhere(case: BurnbackCase) -> None:
    curve = burnback_curve(case, draws=DRAWS)
    assert curve.chances.sum(axis=1) == pytest.approx(np.ones(curve.settings_s.size))


def test_same_seed_same_curve_and_another_seed_nearly_so(case: BurnbackCase) -> None:
    first, other = (burnback_curve(case, draws=DRAWS, seed=seed) for seed in (1, 2))
    longer_s = np.append(first.settings_s, first.settings_s[-1] + 0.01)
    assert np.array_equal(first.chances, burnback_curve(case, longer_s, DRAWS, seed=1).chances[:-1])
    assert not np.array_equal(first.chances, other.chances)
    assert np.abs(first.chances - other.chances).max() < 0.06


def test_a_curve_is_shared_so_nobody_can_write_on_it(case: BurnbackCase) -> None:
    assert burnback_curve(case, draws=DRAWS) is burnback_curve(case, draws=DRAWS)
    with pytest.raises(ValueError, match="read-only"):
        burnback_curve(case, draws=DRAWS).middle_mm[0] = 0.0


def test_recommended_setting_is_as_likely_good_as_any(case: BurnbackCase) -> None:
    curve = burnback_curve(case, draws=DRAWS)
    assert curve.best.chance_good >= curve.chance_good.max() - TIE
    shorter = curve.settings_s < curve.best.setting_s
    assert (curve.chance_good[shorter] < curve.chance_good.max() - TIE).all()


def test_recommended_setting_is_not_merely_the_middle_of_the_likely_window(case: BurnbackCase) -> None:
    """Where the two sides of the window are not alike, the middle is not the safest place."""
    hot = turned_to(case, 27.5)
    curve = burnback_curve(hot, draws=DRAWS)
    assert curve.window is not None
    middle_s = (curve.window.low_s + curve.window.high_s) / 2
    at_middle = float(np.interp(middle_s, curve.settings_s, curve.chance_good))
    assert curve.best.chance_good >= at_middle
    assert abs(curve.best.setting_s - middle_s) > 0.01


def test_band_holds_the_likely_curve_and_failures_lie_on_their_sides(case: BurnbackCase) -> None:
    curve = burnback_curve(case, draws=DRAWS)
    assert (curve.low_mm <= curve.likely_mm).all()
    assert (curve.likely_mm <= curve.high_mm).all()
    assert (np.diff(curve.chances[:, FROZEN]) <= 0).all()
    assert (np.diff(curve.chances[:, SHORT] + curve.chances[:, FUSED]) >= 0).all()


def test_a_measured_machine_has_a_narrower_band(case: BurnbackCase) -> None:
    best = burnback_curve(case, draws=DRAWS).best
    known, all_of_it = best.extension_weld_to_weld_mm, best.extension_mm
    assert known.high - known.low < all_of_it.high - all_of_it.low


def test_unmeasured_voltage_widens_the_band(case: BurnbackCase) -> None:
    load_v = float(case.operating_point().voltage_v)
    known = [SourceReadings(open_v=case.open_v, load_v=load_v), SourceReadings(load_v=load_v), SourceReadings()]
    best = [
        burnback_curve(replace(case, source=replace(case.source, readings=one)), draws=DRAWS).best.extension_mm
        for one in known
    ]
    widths = [one.high - one.low for one in best]
    assert widths == sorted(widths)


def test_longer_coast_wants_more_burnback(case: BurnbackCase) -> None:
    settings = [burnback_curve(replace(case, coast_s=coast), draws=DRAWS).best.setting_s for coast in (0.02, 0.05, 0.1)]
    assert settings == sorted(settings)
    assert settings[0] < settings[-1]


def test_sensitivity_is_the_slope_of_the_curve(case: BurnbackCase) -> None:
    felt = sensitivity(case, 0.1, 0.02)
    around = np.array([rest.extension_mm for rest in run_likely(case, np.array([0.1, 0.11, 0.12]))])
    assert felt.per_10_ms_setting_mm == pytest.approx(around[1] - around[0], abs=0.01)
    assert felt.per_dial_step_mm == pytest.approx(around[2] - around[0], abs=0.01)
    assert felt.per_10_ms_setting_mm < 0 < felt.per_10_ms_wire_drive_mm < felt.per_10_ms_coast_mm


SPEEDS_MM_S = np.array([60.0, 85.0, 135.0])


def test_a_dial_covers_what_nine_machines_of_ten_ask_for_at_every_speed(case: BurnbackCase) -> None:
    """Machines drawn anew, by another seed: each asks for the setting that leaves what the recommended one leaves."""
    cover = dial_cover(case, SPEEDS_MM_S, draws=500)
    assert (cover.from_s <= cover.best_s).all()
    assert (cover.best_s <= cover.to_s).all()
    assert cover.chance_good.min() > 0.8
    settings = np.arange(0.0, 1.0, 0.005)
    for speed, best_s in zip(cover.speeds_mm_s, cover.best_s, strict=True):
        there = case.at_speed(float(speed))
        row = int(np.searchsorted(settings, best_s))
        asked_mm = np.median(run_scatter(there, scatter(there, 250, seed=7), settings[row : row + 1]).extension_mm)
        left_mm = run_scatter(there, scatter(there, 250, seed=7, weld=False), settings).extension_mm
        asked_s = settings[(left_mm <= np.maximum(asked_mm, left_mm[-1] + 0.1)).argmax(axis=0)]
        assert ((asked_s >= cover.from_s - 0.01) & (asked_s <= cover.to_s + 0.01)).mean() >= 0.88


def test_the_setting_serves_the_other_speeds_and_gives_little_up_for_them(case: BurnbackCase) -> None:
    alone, served = (burnback_curve(case, draws=DRAWS, speeds_mm_s=speeds) for speeds in (None, SPEEDS_MM_S))
    assert served.best.chance_good >= alone.best.chance_good - GIVEN_UP - TIE
    assert served.best.given_up == pytest.approx(alone.best.chance_good - served.best.chance_good, abs=TIE)
    cover = dial_cover(case, SPEEDS_MM_S, DRAWS // 8)
    over_all = [
        np.mean([np.interp(one.best.setting_s, cover.settings_s, row) for row in cover.good]) for one in (alone, served)
    ]
    assert over_all[1] >= over_all[0] - TIE
    assert served.best.chance_good_at_speeds == pytest.approx(over_all[1])
    assert alone.best.chance_good_at_speeds is None


@pytest.mark.parametrize("settings_s", [[], [-0.1, 0.1], [0.2, 0.1], [0.1, float("nan")]])
def test_settings_that_make_no_curve_are_refused(case: BurnbackCase, settings_s: list[float]) -> None:
    with pytest.raises(ProcessError, match="burnback settings"):
        burnback_curve(case, np.array(settings_s))


def test_too_few_draws_are_refused(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="3 draws"):
        burnback_curve(case, draws=3)


def test_impossible_arc_is_refused_before_any_curve(case: BurnbackCase) -> None:
    with pytest.raises(ProcessError, match="no arc is possible"):
        burnback_curve(turned_to(case, 15.0))


def test_the_band_holds_nine_draws_of_ten(case: BurnbackCase) -> None:
    curve = burnback_curve(case, draws=DRAWS)
    ends_mm = run_scatter(case, scatter(case, DRAWS), curve.settings_s).extension_mm
    within = (ends_mm >= curve.low_mm[:, None]) & (ends_mm <= curve.high_mm[:, None])
    assert within.mean(axis=1) == pytest.approx(np.full(curve.settings_s.size, 0.9), abs=0.005)
    assert (ends_mm < curve.low_mm[:, None]).mean(axis=1).max() < 0.055
