from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.design.design import Design
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.spot import (
    duty_allowed,
    fill_time_s,
    pause_advice,
    plug_volume_mm3,
    spot_advice,
    spot_dial,
    spot_scatter,
    spot_sheet_mm,
    spot_timing,
    usual_hole_mm,
)


def test_plug_takes_the_wire_that_its_volume_needs(design_of: Callable[..., Design]) -> None:
    design = design_of()
    advice = spot_advice(design)
    laid_mm3 = advice.wire_mm * burnback_case(design).wire.area_mm2 * 0.92
    assert laid_mm3 == pytest.approx(advice.volume_mm3)
    assert advice.volume_mm3 == pytest.approx(plug_volume_mm3(6.0, 1.0))


def test_setting_allows_for_pull_in_drop_out_and_coast(design_of: Callable[..., Design]) -> None:
    design = design_of()
    advice, timing = spot_advice(design), spot_timing(design)
    assert advice.setting_s == pytest.approx(advice.fill_s - 0.008 - 0.05 + 0.03 + 0.03)
    assert timing.shortest_s == pytest.approx(0.045 + 0.03)
    assert advice.low_s < advice.setting_s < advice.high_s


def test_own_hole_counts_at_the_main_sheet_only(design_of: Callable[..., Design]) -> None:
    design = design_of({"plug_hole": '"8 mm"'})
    assert spot_advice(design).hole_mm == 8
    assert spot_advice(design, 0.8).hole_mm == usual_hole_mm(0.8) == 6


def test_spot_without_a_hole_goes_by_what_it_fuses(design_of: Callable[..., Design]) -> None:
    advice = spot_advice(design_of({"spot_diameter": '"5 mm"'}))
    assert advice.hole_mm is None
    assert advice.fused is not None
    assert advice.fused.curve.at(advice.fill_s)[0] == pytest.approx(5, abs=0.01)
    # Burnback of 90 ms and a drop-out of 20 ms come on; pull-in of 30 ms and the arc's start of 30 ms go off.
    assert advice.setting_s == pytest.approx(advice.fill_s - 0.05)
    assert advice.low_s < advice.setting_s <= advice.high_s


def test_wider_spots_and_thicker_sheets_take_longer(design_of: Callable[..., Design]) -> None:
    design = design_of({"spot_diameter": '"4 mm"'})
    times = [spot_advice(design, sheet_mm).setting_s for sheet_mm in (0.8, 1.0, 1.2)]
    assert times == sorted(times)
    assert spot_advice(design).setting_s < spot_advice(design_of({"spot_diameter": '"5 mm"'})).setting_s
    assert (
        spot_advice(design).setting_s
        < spot_advice(design_of({"spot_diameter": '"4 mm"', "back_sheet": '"2 mm"'})).setting_s
    )


def test_sheet_in_which_the_spot_cannot_be_made_is_left_out_of_the_dial(design_of: Callable[..., Design]) -> None:
    dial = spot_dial(design_of({"spot_diameter": '"5 mm"', "plate_thickness_high": '"12 mm"'}))
    assert dial.thick == dial.main
    assert len(dial.out_of_reach) == 1
    assert "does not fuse the back sheet" in dial.out_of_reach[0]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"plate_thickness": '"12 mm"', "plate_thickness_high": ""}, "does not fuse the back sheet"),
        ({"plate_thickness_low": "", "plate_thickness": '"0.5 mm"', "spot_diameter": '"7 mm"'}, "burns through first"),
        ({"plate_thickness_low": "", "plate_thickness": '"0.5 mm"', "spot_diameter": '"1 mm"'}, "to start"),
    ],
)
def test_spot_that_cannot_be_made_gets_a_sentence(
    design_of: Callable[..., Design], changes: dict[str, str], words: str
) -> None:
    with pytest.raises(ProcessError) as caught:
        spot_advice(design_of({"spot_diameter": '"5 mm"'} | changes))
    assert words in f"{caught.value.what} {caught.value.allowed}"
    assert caught.value.remedy


def test_timer_is_steadier_than_the_hand(design_of: Callable[..., Design]) -> None:
    scatter = spot_advice(design_of()).scatter
    assert 0 < scatter.timer_percent < 5
    assert scatter.hand_percent > 2 * scatter.timer_percent


def test_short_spots_scatter_more(design_of: Callable[..., Design]) -> None:
    timing = spot_timing(design_of())
    assert spot_scatter(timing, 0.2).timer_percent > spot_scatter(timing, 1.0).timer_percent


def test_half_waves_of_an_ac_trigger_widen_the_hand_only(design_of: Callable[..., Design]) -> None:
    ac, dc = spot_timing(design_of()), spot_timing(design_of({"sense": '"dc"'}))
    assert (ac.ripple_s, dc.ripple_s) == (pytest.approx(1 / 120), 0.0)
    assert spot_scatter(ac, 0.3).timer_percent == pytest.approx(spot_scatter(dc, 0.3).timer_percent)


def test_dial_reaches_from_thin_to_thick_sheet(design_of: Callable[..., Design]) -> None:
    dial = spot_dial(design_of())
    assert dial.from_s <= dial.thin.low_s
    assert dial.thick.high_s <= dial.to_s
    assert dial.thin.sheet_mm == 0.8
    assert dial.thick.sheet_mm == 2.0


def test_sheet_not_given_is_guessed_from_the_current_of_spots(design_of: Callable[..., Design]) -> None:
    design = design_of({"plate_thickness": "", "plate_thickness_low": "", "plate_thickness_high": ""})
    assert 0.5 < spot_sheet_mm(design) < 1.0


def test_spot_smaller_than_the_run_on_of_the_wire_is_refused(design_of: Callable[..., Design]) -> None:
    design = design_of({"plug_hole": '"2 mm"', "coast": '"400 ms"'})
    with pytest.raises(ProcessError, match="run-on"):
        spot_advice(design)


@pytest.mark.parametrize(
    ("volume", "feed", "efficiency"), [(0.0, 80.0, 0.9), (50.0, 0.0, 0.9), (50.0, 80.0, 0.0), (50.0, 80.0, 1.2)]
)
def test_fill_that_cannot_be_is_refused(volume: float, feed: float, efficiency: float) -> None:
    with pytest.raises(ProcessError):
        fill_time_s(volume, feed, 0.636, efficiency)


def test_pause_holds_the_duty_cycle(design_of: Callable[..., Design]) -> None:
    design = design_of()
    pause = pause_advice(design, burnback_case(design), 1.2, 0.5)
    assert pause.for_duty_s is not None
    assert pause.duty_allowed is not None
    assert 1.2 / (1.2 + pause.for_duty_s) == pytest.approx(pause.duty_allowed)
    assert pause.setting_s == max(pause.for_duty_s, 0.5)


def test_pause_without_duty_cycle_waits_for_the_crater(design_of: Callable[..., Design]) -> None:
    design = design_of({"duty_cycle": "", "duty_cycle_current": ""})
    pause = pause_advice(design, burnback_case(design), 1.2, 0.5)
    assert (pause.for_duty_s, pause.setting_s) == (None, 0.5)


def test_duty_allowed_is_never_more_than_all_the_time() -> None:
    assert duty_allowed(0.6, 180, 50) == 1
    assert duty_allowed(0.6, 180, 180) == pytest.approx(0.6)
    # The copper warms with the square of the current: at 1.25 times the rated one 1 / 1.5625 of the rated time.
    assert duty_allowed(0.6, 180, 225) == pytest.approx(0.384)


def test_arc_sensor_takes_the_start_out_of_the_spot(design_of: Callable[..., Design]) -> None:
    sensor = {r"\[times\]": '[arc_sensor]\nfilter = "4 ms"\n[limits]\narc_start = "2 s"\n[times]'}
    design = design_of(patterns=sensor)
    advice, timing = spot_advice(design), spot_timing(design)
    # The clock starts 4 ms after the arc; drop-out 8 ms and coast 50 ms come on top.
    assert advice.setting_s == pytest.approx(advice.fill_s - 0.008 - 0.05 - 0.004)
    assert timing.shortest_s == pytest.approx(0.03)
    assert advice.scatter.timer_percent < spot_advice(design_of()).scatter.timer_percent
