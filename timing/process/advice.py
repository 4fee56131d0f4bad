"""Advice on all the times of a design: setting, range, reasons, as data for whoever prints or draws it.

Every figure comes from the computations beside this module; here they are only weighed against each other and put
into sentences that a welder would say.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from timing.design.design import Design
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.times import LONGEST_BURNBACK_US
from timing.design.units import as_typed, speed_text
from timing.formatting import in_ms, percent_text
from timing.process.arc import MOST_DIP_V, REGIME_NOTES
from timing.process.burnback import FROZEN, FUSED, SHORT
from timing.process.burnback_curve import (
    BurnbackCurve,
    DialCover,
    Sensitivity,
    burnback_curve,
    curve_settings_s,
    dial_cover,
    sensitivity,
)
from timing.process.case import DRAWS, SEED, BurnbackCase, burnback_case, wire_speeds_mm_s
from timing.process.cooling import (
    METALS,
    Solidification,
    heat_input_j_per_mm,
    seam_solidification,
    spot_solidification_s,
    wire_end_dull_s,
)
from timing.process.gas import AIR_LEFT, GasPath, GasUse, Purge, gas_path, gas_use, purge
from timing.process.spot import (
    PauseAdvice,
    SpotDial,
    SpotTiming,
    default_sheet_mm,
    pause_advice,
    spot_dial,
    spot_power_w,
    spot_sheet_mm,
    spot_timing,
)

STARTING_POINT = "Starting point: prove it on scrap of the same thickness, and change one dial at a time."
DIAL_MARKS = 10
"""A dial step is a tenth of the dial's travel, the distance of its marks (choice)."""
HEAT_SPREAD = 0.2
"""Half width of the range of the heat in a weld: voltage, current and speed as they are in a shop (practice)."""
LEAST_POSTFLOW_S = 0.5
"""Less postflow than this is not worth the valve's wear (practice)."""
SHORTEST_PAUSE_US = 50_000
"""Less than this a contactor does not drop out for (practice)."""
USUAL_WELD_S = 3.0
"""Weld for which gas is counted where there is no spot time (practice: a tack or a short run)."""


@dataclass(frozen=True)
class TimeAdvice:
    """Advice on one time, in whole microseconds as in the design file."""

    name: str
    """As in columns.TIME_NAMES."""
    setting_us: int
    low_us: int
    high_us: int
    """Range that does: from the least that serves to the most that is of use."""
    dial_from_us: int
    dial_to_us: int
    """Dial that serves the whole of the design's work."""
    reasons: tuple[str, ...]
    """Why, one sentence each, most important first."""


@dataclass(frozen=True)
class BurnbackAdvice:
    """Burnback, with what it was found from."""

    time: TimeAdvice
    curve: BurnbackCurve
    cover: DialCover
    sensitivity: Sensitivity


@dataclass(frozen=True)
class PreflowAdvice:
    """Preflow, with what it was found from."""

    time: TimeAdvice
    path: GasPath
    after_standing: Purge


@dataclass(frozen=True)
class PostflowAdvice:
    """Postflow, with what it was found from; all in seconds."""

    time: TimeAdvice
    crater: Solidification | None
    """None for spots, which are calculated as spots."""
    crater_s: float
    wire_end_s: float


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
    closing: str = STARTING_POINT


def _us(seconds: float, round_s: float = 0.005, way: Callable[[float], float] = round) -> int:
    """Seconds to whole microseconds, in round steps; `way` is round, math.floor or math.ceil."""
    return int(way(round(seconds / round_s, 6)) * round(round_s * 1e6))


def _dial_step_s(design: Design, cover: DialCover) -> float:
    setting = design.times.burnback
    low_s, high_s = (setting.low_us / 1e6, setting.high_us / 1e6) if setting.dial else (cover.from_s, cover.to_s)
    return (high_s - low_s) / DIAL_MARKS


def burnback_advice(design: Design, draws: int = DRAWS, seed: int = SEED) -> BurnbackAdvice:
    """Return the advice on burnback at the design's wire feed speeds. Raises ProcessError."""
    case = burnback_case(design)
    curve = burnback_curve(case, curve_settings_s(case, design.times.burnback.high_us / 1e6), draws, seed)
    cover = dial_cover(case, wire_speeds_mm_s(design), max(draws // 8, 10), seed)
    felt = sensitivity(case, curve.best.setting_s, _dial_step_s(design, cover))
    window = curve.sure_window or curve.window
    low_s, high_s = (window.low_s, window.high_s) if window else (curve.best.setting_s, curve.best.setting_s)
    if window is not None and window.open_above:
        # More does no harm, and no good either: the dial ends somewhere.
        high_s = min(high_s, cover.to_s)

    def allowed_us(seconds: float) -> int:
        return min(_us(seconds), LONGEST_BURNBACK_US)

    time = TimeAdvice(
        name="burnback",
        setting_us=allowed_us(curve.best.setting_s),
        low_us=allowed_us(min(low_s, curve.best.setting_s)),
        high_us=allowed_us(max(high_s, curve.best.setting_s)),
        dial_from_us=allowed_us(min(cover.from_s, curve.best.setting_s)),
        dial_to_us=allowed_us(max(cover.to_s, curve.best.setting_s)),
        reasons=_burnback_reasons(case, curve, cover, felt),
    )
    return BurnbackAdvice(time, curve, cover, felt)


def _burnback_reasons(case: BurnbackCase, curve: BurnbackCurve, cover: DialCover, felt: Sensitivity) -> tuple[str, ...]:
    best, row = curve.best, int((curve.settings_s == curve.best.setting_s).argmax())
    longest_s = LONGEST_BURNBACK_US / 1e6
    leaves, weld = best.extension_mm, best.extension_weld_to_weld_mm
    reasons = [
        f"At {in_ms(best.setting_s)} the extension left should be {leaves.middle:.0f} mm (nine times in ten "
        f"{leaves.low:.0f} mm to {leaves.high:.0f} mm, with the gun held at {case.distance_mm:.0f} mm); "
        f"{percent_text(best.chance_good)} end good.",
        f"Once your machine is measured, weld-to-weld scatter leaves {weld.low:.0f} mm to {weld.high:.0f} mm.",
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
    if max(best.setting_s, cover.to_s) > longest_s:
        reasons.append(
            f"More than {longest_s:g} s is not allowed: once begun, no pull of the trigger shortens a burnback. A wire "
            "that coasts for so long needs a brake on its motor."
        )
    if len(cover.best_s) > 1 and abs(cover.best_s[0] - cover.best_s[-1]) < 0.01:
        reasons.append("Slow and fast wire need nearly the same, with the voltage turned to suit.")
    elif len(cover.best_s) > 1:
        reasons.append(
            f"The slowest wire needs {in_ms(float(cover.best_s[0]))}, the fastest {in_ms(float(cover.best_s[-1]))}, "
            "with the voltage turned to suit: hence the dial."
        )
    return tuple(reasons)


def preflow_advice(design: Design) -> PreflowAdvice:
    """Return the advice on preflow. Raises ProcessError for gasless wire."""
    path = gas_path(design.process)
    between, standing = purge(path, gun=False), purge(path)
    valve = design.feeder.gas_valve
    opens_s = 0.0 if valve is None else on_delay_of(valve).max_us / 1e6
    # Gas goes on flowing while contactor and wire drive pull in, before any arc: that much is given.
    given_s = min(on_delay_of(one).min_us for one in (design.feeder.contactor, design.feeder.wire_drive)) / 1e6
    setting_s = max(opens_s + standing.likely_s - given_s, 0.05)
    low_s = max(opens_s + between.likely_s - given_s, 0.0)
    high_s = opens_s + standing.mixed_s
    reasons = [
        f"Pushing the air out of {path.gun_l * 1000:.0f} cm3 of gun and {path.nozzle_l * 1000:.0f} cm3 of nozzle takes "
        f"{in_ms(standing.plug_s)} to {in_ms(standing.mixed_s)} at {as_typed(path.flow_l_min, 'L/min')}, likely "
        f"{in_ms(standing.likely_s)} until {percent_text(AIR_LEFT)} of air is left.",
        f"The valve opens within {in_ms(opens_s)} of the command, and that comes on top.",
        f"Between welds that follow each other the gun stays full and {in_ms(low_s)} is enough; after a long stand "
        "press purge, or allow the long end of the range.",
    ]
    if path.surge_settles_s > 0:
        reasons.append(
            f"The hose lets {path.surge_l:.2f} L go at the start, up to {path.surge_peak:.1f} times the set flow, over "
            f"after {path.surge_settles_s:.1f} s: it helps the purge, but a hard surge stirs air in. A regulator with "
            "less pressure, a shorter hose or a restrictor at the feeder tames it."
        )
    time = TimeAdvice(
        name="preflow",
        setting_us=_us(setting_s, 0.05, math.ceil),
        low_us=_us(low_s, 0.01, math.ceil),
        high_us=_us(high_s, 0.05, math.ceil),
        dial_from_us=0,
        dial_to_us=_us(max(1.5 * high_s, 0.5), 0.5, math.ceil),
        reasons=tuple(reasons),
    )
    return PreflowAdvice(time, path, standing)


def postflow_advice(design: Design, extension_mm: float) -> PostflowAdvice:
    """Return the advice on postflow; `extension_mm` is what burnback leaves. Raises ProcessError."""
    process, case = design.process, burnback_case(design)
    metal = METALS[process.wire]
    point = case.operating_point()
    current, volts = float(point.current_a), float(point.voltage_v)
    crater = None
    if design.spot is not None:
        burning_s = design.spot.time.setting_us / 1e6
        plate_mm = spot_sheet_mm(design)
        crater_s = spot_solidification_s(spot_power_w(case), burning_s, 2 * plate_mm, metal)
        least_s, most_s = crater_s * (1 - HEAT_SPREAD), crater_s * (1 + HEAT_SPREAD)
        reason = (
            f"A spot of {burning_s:.1f} s through two sheets of {plate_mm:.1f} mm takes about {crater_s:.1f} s to "
            f"freeze, {least_s:.1f} s to {most_s:.1f} s as heat and sheet vary."
        )
    else:
        plate_mm = process.plate_thickness_mm or default_sheet_mm(case)
        heat = heat_input_j_per_mm(volts, current, process.travel_speed_mm_s)
        crater = seam_solidification(heat, plate_mm, metal)
        crater_s = crater.likely_s
        least_s, most_s = (
            seam_solidification(heat * factor, plate_mm, metal).likely_s
            for factor in (1 - HEAT_SPREAD, 1 + HEAT_SPREAD)
        )
        reason = (
            f"The crater takes about {crater_s:.1f} s to freeze, {least_s:.1f} s to {most_s:.1f} s as the heat varies: "
            f"{volts:.0f} V and {current:.0f} A at {process.travel_speed_mm_s:.0f} mm/s along {plate_mm:.1f} mm plate."
        )
    wire_end_s = wire_end_dull_s(case.wire.diameter_mm, extension_mm, metal)
    valve = design.feeder.gas_valve
    closes_s = 0.0 if valve is None else off_delay_of(design, valve).min_us / 1e6
    # Postflow counts from the command that ends burnback; the arc burns on until the contactor has let go.
    late_s = case.contactor_off.max_s
    low_s = max(least_s + late_s - closes_s, LEAST_POSTFLOW_S)
    setting_s = max(crater_s + late_s - closes_s, LEAST_POSTFLOW_S)
    high_s = max(wire_end_s, most_s) + late_s
    reasons = [
        reason,
        f"The wire's end is dull after about {wire_end_s:.1f} s; gas until then keeps it clean for the next start.",
        "Hold the gun still over the crater until the gas stops.",
    ]
    time = TimeAdvice(
        name="postflow",
        setting_us=_us(setting_s, 0.1, math.ceil),
        low_us=_us(low_s, 0.1, math.ceil),
        high_us=_us(max(high_s, setting_s), 0.1, math.ceil),
        dial_from_us=_us(LEAST_POSTFLOW_S / 2, 0.05),
        dial_to_us=_us(max(2 * max(high_s, setting_s), 2.0), 0.5, math.ceil),
        reasons=tuple(reasons),
    )
    return PostflowAdvice(time, crater, crater_s, wire_end_s)


def _spot_lags(timing: SpotTiming) -> str:
    run_on_s = timing.wire_off.typical_s + timing.coast_s
    if timing.arc_seen_s is None:
        return f"Pull-in and arc start take {in_ms(timing.start_s)} off, drop-out and coast put {in_ms(run_on_s)} on."
    return (
        f"The clock starts when the arc is seen, so a slow start takes nothing off; drop-out, coast and the sensor's "
        f"filter put {in_ms(run_on_s + timing.arc_seen_s)} on."
    )


def _spot_time(design: Design, dial: SpotDial) -> TimeAdvice:
    main, timing = dial.main, spot_timing(design)
    what = f"a hole of {main.hole_mm:.0f} mm" if main.hole_mm is not None else "a spot"
    reasons = [
        f"Filling {what} in {main.sheet_mm:.1f} mm sheet takes {main.volume_mm3:.0f} mm3, {main.wire_mm:.0f} mm of "
        f"wire: {main.fill_s:.2f} s at this wire feed speed.",
        _spot_lags(timing),
        f"With the timer the metal of a spot scatters by {main.scatter.timer_percent:.0f} %, with the trigger held by "
        f"hand by {main.scatter.hand_percent:.0f} % (one standard deviation).",
        f"Less than {in_ms(timing.shortest_s)} is not a spot: the arc needs that long to start.",
    ]
    if dial.thin.sheet_mm != dial.thick.sheet_mm:
        reasons.append(
            f"From {dial.thin.sheet_mm:.1f} mm sheet ({dial.thin.setting_s:.2f} s) to {dial.thick.sheet_mm:.1f} mm "
            f"with the wire turned up ({dial.thick.setting_s:.2f} s): hence the dial."
        )
    return TimeAdvice(
        name="spot",
        setting_us=_us(main.setting_s, 0.05),
        low_us=_us(main.low_s, 0.05, math.floor),
        high_us=_us(main.high_s, 0.05, math.ceil),
        dial_from_us=_us(dial.from_s, 0.05),
        dial_to_us=_us(dial.to_s, 0.1),
        reasons=tuple(reasons),
    )


def _pause_time(pause: PauseAdvice) -> TimeAdvice:
    reasons = [
        f"The crater needs {pause.for_crater_s:.1f} s to freeze before the next spot; along a seam half of that may do."
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
    setting_us = _us(max(pause.setting_s, 0.1), 0.1, math.ceil)
    dial_from_us = max(_us(setting_us / 2e6, 0.1, math.floor), SHORTEST_PAUSE_US)
    dial_to_us = _us(setting_us * 3 / 1e6, 0.5, math.ceil)
    low_us = min(_us(pause.low_s, 0.1, math.ceil), setting_us)
    return TimeAdvice("pause", setting_us, low_us, 2 * setting_us, dial_from_us, dial_to_us, tuple(reasons))


def case_notes(curve: BurnbackCurve, case: BurnbackCase) -> tuple[str, ...]:
    """What holds for all of a case: what it was calculated for, what the model leaves out, what is not yet measured."""
    notes = [
        f"Calculated for {curve.current_a:.0f} A and {curve.load_voltage_v:.1f} V at the terminals, "
        f"{speed_text(case.feed_mm_s)} of wire."
    ]
    if not case.open_v_measured:
        notes.append(
            f"The open-circuit voltage is not in the design; {case.open_v:.1f} V is assumed, as usual for this "
            "current. Measure it: the band narrows."
        )
    notes.append(REGIME_NOTES[curve.regime])
    if float(case.operating_point().dip_v) > MOST_DIP_V / 2:
        notes.append("The voltage is on the low side for this wire feed speed: the wire may stub.")
    if case.wire.material.mark == "derived":
        notes.append("The melting constants of this wire are derived, not published: trust test welds first.")
    if not case.coast_measured:
        notes.append(
            "The coast is not marked as measured: two or more test welds, fitted, are worth more than all this."
        )
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
    spot = spot_dial(design) if design.spot is not None else None
    times = [preflow.time] if preflow else []
    burning_s = USUAL_WELD_S
    pause = None
    if spot is not None:
        spot_time = _spot_time(design, spot)
        times.append(spot_time)
        burning_s = spot_time.setting_us / 1e6
    times.append(burnback.time)
    if postflow is not None:
        times.append(postflow.time)
    if design.stitch is not None and spot is not None:
        plate_mm = spot_sheet_mm(design)
        metal = METALS[design.process.wire]
        crater_s = spot_solidification_s(spot_power_w(case), burning_s, 2 * plate_mm, metal)
        pause = pause_advice(design, case, burning_s + burnback.curve.best.setting_s, crater_s)
        times.append(_pause_time(pause))
    gas = None
    if preflow and postflow:
        open_s = burning_s + (preflow.time.setting_us + burnback.time.setting_us + postflow.time.setting_us) / 1e6
        gas = gas_use(preflow.path, open_s, design.process.gas_cylinder_l)
    return Advice(
        burnback, preflow, postflow, spot, pause, gas, burning_s, tuple(times), case_notes(burnback.curve, case)
    )
