"""Advice on all the times of a design: setting, range, reasons, as data for whoever prints or draws it.

Every figure comes from the computations beside this module; here they are only weighed against each other and put
into sentences that a welder would say.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from timing.design.design import Design
from timing.design.times import LONGEST_BURNBACK_US
from timing.design.units import as_typed, speed_text
from timing.formatting import in_ms, percent_text, tenths_s
from timing.process.arc import MOST_DIP_V, REGIME_NOTES
from timing.process.ball import clip_words
from timing.process.braking import BrakeFirst, brake_first
from timing.process.burnback import FROZEN, FUSED, SHORT
from timing.process.burnback_curve import (
    BurnbackCurve,
    DialCover,
    Sensitivity,
    burnback_curve,
    curve_cover,
    curve_settings_s,
    sensitivity,
)
from timing.process.case import DRAWS, SEED, BurnbackCase, burnback_case, wire_speeds_mm_s
from timing.process.cooling import METALS, spot_solidification_s
from timing.process.corners import STITCH_US, burnback_ends_us, corner_designs, wide_dials, with_spot_time
from timing.process.errors import ProcessError
from timing.process.footing import footing_words
from timing.process.fused_spot import fused_reasons
from timing.process.gas import GasUse, gas_use
from timing.process.gas_times import PostflowAdvice, PreflowAdvice, postflow_advice, preflow_advice
from timing.process.ranging import DIAL_MARKS, TimeAdvice, as_allowed, dial_mark_us, round_us
from timing.process.source_words import source_notes
from timing.process.spot import (
    PauseAdvice,
    SpotAdvice,
    SpotDial,
    SpotTiming,
    pause_advice,
    spot_dial,
    spot_power_w,
    spot_sheet_mm,
    spot_timing,
)
from timing.process.worth_measuring import WorthMeasuring, worth_measuring
from timing.sequence.core.columns import TIME_NAMES

STARTING_POINT = "Starting point: prove it on scrap of the same thickness, and change one dial at a time."
USUAL_WELD_S = 3.0
"""Weld for which gas is counted where there is no spot time (practice: a tack or a short run)."""


@dataclass(frozen=True)
class BurnbackAdvice:
    """Burnback, with what it was found from."""

    time: TimeAdvice | None
    """None where no burnback serves before the drive is braked."""
    curve: BurnbackCurve
    cover: DialCover
    sensitivity: Sensitivity
    brake: BrakeFirst | None
    """Why not, and what to do first."""
    design: Design
    draws: int
    seed: int

    @cached_property
    def worth(self) -> WorthMeasuring | None:
        """What to measure next; None where the drive is to be braked first. As dear as the rest: for who shows it."""
        return None if self.time is None else worth_measuring(self.design, self.curve, self.draws, self.seed)


@dataclass(frozen=True)
class Advice:
    """All advice on a design."""

    burnback: BurnbackAdvice
    preflow: PreflowAdvice | None
    """None for gasless wire."""
    postflow: PostflowAdvice | None
    spot: SpotDial | None
    """None where the design has no spot time."""
    pause: PauseAdvice | None
    """None where the design has no stitch."""
    gas: GasUse | None
    gas_weld_s: float
    """Weld that the gas is counted for."""
    times: tuple[TimeAdvice, ...]
    """All of the above that the design has, in the order of the panel."""
    notes: tuple[str, ...]
    """What holds for all of it."""
    footing: tuple[str, ...]
    """How to read the figures, what they hold for, what they stand on."""
    closing: str = STARTING_POINT


def _dial_step_s(design: Design, cover: DialCover) -> float:
    setting = design.times.burnback
    return dial_mark_us(setting) / 1e6 if setting.dial else (cover.to_s - cover.from_s) / DIAL_MARKS


def design_curve(design: Design, draws: int = DRAWS, seed: int = SEED) -> BurnbackCurve:
    """Return the burnback curve of a design over the whole of its dial. Raises ProcessError."""
    case = burnback_case(design)
    settings_s = curve_settings_s(case, design.times.burnback.high_us / 1e6)
    return burnback_curve(case, settings_s, draws, seed, wire_speeds_mm_s(design))


def burnback_advice(design: Design, draws: int = DRAWS, seed: int = SEED) -> BurnbackAdvice:
    """Return the advice on burnback at the design's wire feed speeds. Raises ProcessError."""
    case = burnback_case(design)
    curve = design_curve(design, draws, seed)
    brake = brake_first(curve)
    cover = curve_cover(case, wire_speeds_mm_s(design), draws, seed)
    felt = sensitivity(case, curve.best.setting_s, _dial_step_s(design, cover))
    window = curve.sure_window or curve.window
    low_s, high_s = (window.low_s, window.high_s) if window else (curve.best.setting_s, curve.best.setting_s)
    if window is not None and window.open_above:
        # More does no harm, and no good either: the dial ends somewhere.
        high_s = min(high_s, cover.to_s)

    def allowed_us(seconds: float) -> int:
        return min(round_us(seconds), LONGEST_BURNBACK_US)

    longest_s = max(curve.best.setting_s, float(cover.best_s.max()))
    from_us, to_us = burnback_ends_us(1e6 * curve.best.setting_s, 1e6 * cover.from_s, 1e6 * cover.to_s, 1e6 * longest_s)
    time = TimeAdvice(
        name="burnback",
        setting_us=allowed_us(curve.best.setting_s),
        low_us=allowed_us(min(low_s, curve.best.setting_s)),
        high_us=allowed_us(max(high_s, curve.best.setting_s)),
        dial_from_us=from_us,
        dial_to_us=to_us,
        reasons=_burnback_reasons(case, curve, cover, felt),
        work_us=(allowed_us(float(cover.best_s.min())), allowed_us(float(cover.best_s.max()))),
    )
    return BurnbackAdvice(time if brake is None else None, curve, cover, felt, brake, design, draws, seed)


def _burnback_reasons(case: BurnbackCase, curve: BurnbackCurve, cover: DialCover, felt: Sensitivity) -> tuple[str, ...]:
    best, row = curve.best, int((curve.settings_s == curve.best.setting_s).argmax())
    leaves = best.extension_mm
    reasons = [
        f"At {in_ms(best.setting_s)} the extension left should be {leaves.middle:.0f} mm of solid wire (nine times in "
        f"ten {leaves.low:.0f} mm to {leaves.high:.0f} mm, with the gun held at {as_typed(case.distance_mm, 'mm')}) "
        f"and a ball of {best.ball_mm.middle:.1f} mm: a rule reads about {best.to_ball_end_mm.middle:.1f} mm, to the "
        f"ball's end. {percent_text(best.chance_good)} end good.",
        clip_words(best.ball_mm.middle, case.wire.diameter_mm, best.share_to_clip),
    ]
    chances = curve.chances[row]
    failures = [
        (chances[FROZEN], "the wire freezing in the puddle: turn burnback up"),
        (chances[SHORT], "too little extension left: turn burnback down"),
        (chances[FUSED], "the wire fusing to the contact tip: turn burnback down"),
    ]
    chance, trouble = max(failures, key=lambda item: item[0])
    if chance >= 0.01:
        reasons.append(f"The likeliest trouble is {trouble}.")
    if curve.sure_window is None:
        reasons.append("No setting is sure to nine in ten: make test welds and fit the machine before trusting it.")
    elif curve.sure_window.open_above and not curve.goes_out_by_itself:
        reasons.append(
            f"Below {in_ms(curve.sure_window.low_s)} the wire freezes too often; above, all that was computed does. "
            "Turn it no higher than it must be: with what is known of the power source it is not sure that the arc "
            "goes out by itself before it reaches the contact tip."
        )
    elif curve.sure_window.open_above:
        reasons.append(
            f"Below {in_ms(curve.sure_window.low_s)} the wire freezes too often; above, more burnback only grows the "
            "ball on the wire's end, since the arc goes out by itself before it reaches the contact tip."
        )
    else:
        reasons.append(
            f"Below {in_ms(curve.sure_window.low_s)} the wire freezes too often, above "
            f"{in_ms(curve.sure_window.high_s)} it is left too short too often."
        )
    reasons.append(
        f"10 ms more burnback, or a contactor 10 ms slower, takes {abs(felt.per_10_ms_setting_mm):.1f} mm off the "
        f"wire; a wire drive 10 ms slower leaves {abs(felt.per_10_ms_wire_drive_mm):.1f} mm more. One dial mark "
        f"({in_ms(felt.dial_step_s)}) is {abs(felt.per_dial_step_mm):.1f} mm."
    )
    if best.causes:
        reasons.append(f"What widens the band most: {' and '.join(name for name, _ in best.causes[:2])}.")
    if len(cover.best_s) > 1 and abs(cover.best_s[0] - cover.best_s[-1]) < 0.01:
        reasons.append("Slow and fast wire need nearly the same, with the voltage turned to suit.")
    elif len(cover.best_s) > 1:
        if best.chance_good_at_speeds is not None:
            reasons.append(
                f"Of settings as good at {speed_text(case.feed_mm_s)}, or nearly, it serves your other wire feed "
                f"speeds best: left alone, {percent_text(best.chance_good_at_speeds)} end good over all of them."
            )
        reasons.append(
            f"The slowest wire needs {in_ms(float(cover.best_s[0]))}, the fastest {in_ms(float(cover.best_s[-1]))}, "
            "with the voltage turned to suit: hence the dial."
        )
    return tuple(reasons)


def _spot_lags(timing: SpotTiming) -> str:
    run_on_s = timing.wire_off.typical_s + timing.coast_s
    if timing.arc_seen_s is None:
        return f"Pull-in and arc start take {in_ms(timing.start_s)} off, drop-out and coast put {in_ms(run_on_s)} on."
    return (
        f"The clock starts when the arc is seen, so a slow start takes nothing off; drop-out, coast and the sensor's "
        f"filter put {in_ms(run_on_s + timing.arc_seen_s)} on."
    )


def _spot_why(main: SpotAdvice, timing: SpotTiming) -> Iterator[str]:
    """Yield where the time of a spot comes from."""
    if main.fused is not None:
        yield from fused_reasons(main.fused)
        return
    yield (
        f"Filling a hole of {main.hole_mm or 0:.0f} mm in {main.sheet_mm:.1f} mm sheet takes {main.volume_mm3:.0f} "
        f"mm3, {main.wire_mm:.0f} mm of wire: {main.fill_s:.2f} s at this wire feed speed."
    )
    yield _spot_lags(timing)


def _spot_time(design: Design, dial: SpotDial) -> TimeAdvice:
    main, timing = dial.main, spot_timing(design)
    reasons = [
        *_spot_why(main, timing),
        f"With the timer the metal of a spot scatters by {main.scatter.timer_percent:.0f} %, with the trigger held by "
        f"hand by {main.scatter.hand_percent:.0f} % (one standard deviation).",
        f"Less than {in_ms(timing.shortest_s)} is not a spot: the arc needs that long to start.",
    ]
    if dial.thin.sheet_mm != dial.thick.sheet_mm:
        reasons.append(
            f"From {dial.thin.sheet_mm:.1f} mm sheet ({dial.thin.setting_s:.2f} s) to {dial.thick.sheet_mm:.1f} mm "
            f"with the wire turned up ({dial.thick.setting_s:.2f} s): hence the dial."
        )
    reasons += [f"Left out of the dial: {what}." for what in dial.out_of_reach]
    return TimeAdvice(
        name="spot",
        setting_us=round_us(main.setting_s, 0.05),
        low_us=round_us(main.low_s, 0.05, math.floor),
        high_us=round_us(main.high_s, 0.05, math.ceil),
        dial_from_us=round_us(dial.from_s, 0.05),
        dial_to_us=round_us(dial.to_s, 0.1),
        reasons=tuple(reasons),
        work_us=(round_us(dial.thin.setting_s, 0.05), round_us(dial.thick.setting_s, 0.05)),
    )


def _pause_time(pause: PauseAdvice) -> TimeAdvice:
    reasons = [
        f"The crater needs {tenths_s(pause.for_crater_s)} to freeze before the next spot; along a seam half of "
        "that may do."
    ]
    if pause.duty_allowed is None:
        reasons.append("The duty cycle of the power source is not given, so the pause is not held to it.")
    elif pause.duty_allowed >= 1:
        reasons.append("At this current the power source may weld continuously.")
    else:
        reasons.append(
            f"The power source may weld {percent_text(pause.duty_allowed)} of the time at this current: "
            f"{pause.for_duty_s or 0:.1f} s after each spot."
        )
    setting_us = round_us(max(pause.setting_s, STITCH_US / 1e6), 0.1, math.ceil)
    dial_from_us = max(round_us(setting_us / 2e6, 0.1, math.floor), STITCH_US)
    dial_to_us = round_us(setting_us * 3 / 1e6, 0.5, math.ceil)
    low_us = min(round_us(pause.low_s, 0.1, math.ceil), setting_us)
    return TimeAdvice("pause", setting_us, low_us, 2 * setting_us, dial_from_us, dial_to_us, tuple(reasons))


@dataclass(frozen=True)
class RhythmAdvice:
    """Spot and pause, with what they were found from."""

    spot: SpotDial | None
    pause: PauseAdvice | None
    times: tuple[TimeAdvice, ...]

    @property
    def burning_s(self) -> float | None:
        """How long a spot burns at its advised setting; None where the design has none."""
        return self.times[0].setting_us / 1e6 if self.times else None


def rhythm_advice(design: Design, case: BurnbackCase, burnback_s: float | None = None) -> RhythmAdvice:
    """Return the advice on spot and pause, as far as the design has them.

    burnback_s: what ends each spot; None: the design's own. Raises ProcessError.
    """
    if design.spot is None:
        return RhythmAdvice(None, None, ())
    spot = spot_dial(design, burnback_s)
    spot_time = as_allowed(_spot_time(design, spot))
    if design.stitch is None:
        return RhythmAdvice(spot, None, (spot_time,))
    burning_s = spot_time.setting_us / 1e6
    crater_s = spot_solidification_s(
        spot_power_w(case), burning_s, 2 * spot_sheet_mm(design), METALS[design.process.wire]
    )
    ending_s = design.times.burnback.setting_us / 1e6 if burnback_s is None else burnback_s
    pause = pause_advice(design, case, burning_s + ending_s, crater_s)
    return RhythmAdvice(spot, pause, (spot_time, as_allowed(_pause_time(pause))))


def _corner_times(design: Design, left_mm: float, burnback_s: float) -> Iterator[TimeAdvice]:
    """Yield what the corners of the job ask of spot, pause and postflow; nothing where no arc burns there.

    Preflow is the same at all of them, and burnback has its own way through the wire feed speeds.
    """
    for corner in corner_designs(design):
        try:
            rhythm = rhythm_advice(corner, burnback_case(corner), burnback_s)
            yield from rhythm.times
            if not design.process.gasless:
                setting_us = rhythm.times[0].setting_us if rhythm.times else 0
                yield postflow_advice(with_spot_time(corner, setting_us), left_mm).time
        except ProcessError:
            continue


def case_notes(curve: BurnbackCurve, case: BurnbackCase) -> tuple[str, ...]:
    """What holds for all of a case: what it was calculated for, what the model leaves out, what is not yet measured."""
    notes = [
        f"Calculated for {curve.current_a:.0f} A and {curve.load_voltage_v:.1f} V at the terminals, "
        f"{speed_text(case.feed_mm_s)} of wire."
    ]
    notes += source_notes(case, curve.best.setting_s)
    notes.append(REGIME_NOTES[curve.regime])
    if float(case.operating_point().dip_v) > MOST_DIP_V / 2:
        notes.append("The voltage is on the low side for this wire feed speed: the wire may stub.")
    if not case.wire.material.fitted:
        notes.append("No melting rates of this wire were at hand to fit its constants to: trust test welds first.")
    return tuple(notes)


def advise(design: Design, draws: int = DRAWS, seed: int = SEED) -> Advice:
    """Return the advice on all times of a design; the same for the same seed.

    Raises ProcessError when the design describes something that cannot burn, flow or fill.
    """
    case = burnback_case(design)
    burnback = burnback_advice(design, draws, seed)
    left_mm = burnback.curve.best.extension_mm.middle
    gasless = design.process.gasless
    preflow = None if gasless else preflow_advice(design)
    postflow = None if gasless else postflow_advice(design, left_mm)
    rhythm = rhythm_advice(design, case, burnback.curve.best.setting_s)
    burning_s = USUAL_WELD_S if rhythm.burning_s is None else rhythm.burning_s
    found = [preflow, burnback, postflow]
    every = [*rhythm.times, *(one.time for one in found if one is not None)]
    by_name = {one.name: one for one in every if one is not None}
    middle = [by_name[name] for name in TIME_NAMES if name in by_name]
    asked = _corner_times(design, left_mm, burnback.curve.best.setting_s)
    times = tuple(wide_dials(design, middle, asked))
    gas = None
    if preflow and postflow:
        burning_back_us = (burnback.time or design.times.burnback).setting_us
        open_s = burning_s + (preflow.time.setting_us + burning_back_us + postflow.time.setting_us) / 1e6
        gas = gas_use(preflow.path, open_s, design.process.gas_cylinder_l)
    return Advice(
        burnback,
        preflow,
        postflow,
        rhythm.spot,
        rhythm.pause,
        gas,
        burning_s,
        times,
        case_notes(burnback.curve, case),
        footing_words(design, burnback.curve),
    )
