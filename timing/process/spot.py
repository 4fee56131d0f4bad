"""Spots and plugs: how long one takes to fill, how evenly they come out, and how fast they may follow."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    from timing.process.fused_spot import FusedSpot

from timing.design.design import Design
from timing.design.suppression import off_delay_of, on_delay_of
from timing.process.case import SEED, BurnbackCase, SpreadS, burnback_case
from timing.process.cooling import ARC_EFFICIENCY
from timing.process.errors import ProcessError, require_positive
from timing.process.melting import circle_mm2

EFFICIENCY = {"open arc": 0.95, "short-circuit": 0.92}
"""Share of the wire that stays in the weld: 90 % to 93 % in short-circuit transfer, 98 % in spray (practice)."""
TUBULAR_EFFICIENCY = 0.85
"""The same for tubular wire, slag and fume taken off (practice)."""
CROWN = 1.2
"""A plug is filled and crowned: a fifth more than the hole (practice)."""
DIG = 0.5
"""Depth that a plug melts into the back sheet, in mm, filled as well (practice)."""
ARC_START_S = 0.03
"""From wire touching the work to a steady arc: a few tens of milliseconds (practice)."""
HAND_SPREAD = 0.12
"""Relative standard deviation of a time kept by hand and eye; people repeat intervals to about a tenth (practice)."""
MOTOR_SPREAD = 0.02
"""Relative standard deviation of the wire feed speed from spot to spot (practice)."""
RUN_ON_SPREAD = 0.05
"""Relative standard deviation of the coast from spot to spot (practice)."""
HAND_LEAST_S = 0.05
"""Standard deviation of a trigger pull below which no hand comes (practice)."""
SHOP_HOLES_MM = ((1.0, 6.0), (1.6, 8.0), (3.0, 10.0))
"""Usual plug holes in sheet up to a thickness, in mm; thicker plate by the rule below (practice)."""
MM_PER_A = 0.0254
"""About 1 A for each 0.001 in of sheet (practice)."""
SPOT_CURRENT_FACTOR = 4.0
"""Spots are run with some four times the current that a seam in their top sheet would take (practice)."""


def usual_hole_mm(sheet_mm: float) -> float:
    """Usual diameter of a plug hole in mm.

    Thin sheet by shop practice; from 3 mm up the smallest hole of the structural rule, thickness + 5/16 in (AWS D1.1,
    second-hand).
    """
    require_positive("the sheet thickness", sheet_mm, "mm", "measure the top sheet")
    for up_to, hole in SHOP_HOLES_MM:
        if sheet_mm <= up_to:
            return hole
    return sheet_mm + 5 / 16 * 25.4


def plug_volume_mm3(hole_mm: float, sheet_mm: float) -> float:
    """Metal that fills a plug hole through the top sheet, the dig into the back sheet and the crown included."""
    require_positive("the plug hole", hole_mm, "mm", "measure the hole")
    require_positive("the sheet thickness", sheet_mm, "mm", "measure the top sheet")
    return circle_mm2(hole_mm) * (sheet_mm + DIG) * CROWN


@dataclass(frozen=True)
class SpotTiming:
    """The lags that make a spot longer or shorter than its setting, in seconds."""

    wire_on: SpreadS
    wire_off: SpreadS
    contactor_on: SpreadS
    contactor_off: SpreadS
    coast_s: float
    filter_s: float
    ripple_s: float
    """Spacing of the half-waves that an ac trigger circuit is seen by; 0 with dc."""
    arc_seen_s: float | None
    """Filter of the arc sensor that starts the spot's clock; None where the clock starts with the contactor."""

    @property
    def gain_s(self) -> float:
        """Wire fed beyond the setting, as time at full speed: what comes on at the end, less what the start takes."""
        late_s = -self.start_s if self.arc_seen_s is None else self.arc_seen_s
        return self.wire_off.typical_s + self.coast_s + late_s

    @property
    def start_s(self) -> float:
        """From the command to a steady arc, typically."""
        return max(self.wire_on.typical_s, self.contactor_on.typical_s) + ARC_START_S

    @property
    def shortest_s(self) -> float:
        """Shortest spot time in which the arc surely starts; wire and contactor pull in before a sensor's clock."""
        pull_in_s = max(self.wire_on.max_s, self.contactor_on.max_s) if self.arc_seen_s is None else 0.0
        return pull_in_s + ARC_START_S


@dataclass(frozen=True)
class SpotScatter:
    """How evenly spots come out."""

    timer_percent: float
    """Standard deviation of the volume with the timer, in percent of its mean."""
    hand_percent: float
    """The same with the trigger held by hand for as long."""


@dataclass(frozen=True)
class SpotAdvice:
    """Spot time for one thickness."""

    sheet_mm: float
    hole_mm: float | None
    """None for a spot without a hole."""
    volume_mm3: float
    """Metal that stays in the weld."""
    fill_s: float
    """How long a plug takes to fill at full wire speed, losses included; how long the arc burns for another spot."""
    low_s: float
    setting_s: float
    high_s: float
    """Spot time setting with the range that wire speed and losses leave open."""
    wire_mm: float
    """Wire that one spot takes."""
    scatter: SpotScatter
    fused: FusedSpot | None = None
    """What a spot without a hole was found from."""


FILL_SPREAD = 0.15
"""Half width of the range of a fill time: losses, hole and wire speed as they are in a shop (practice)."""


def spot_timing(design: Design) -> SpotTiming:
    """Return the lags of a design."""
    feeder, trigger = design.feeder, design.trigger
    halves = 2 if trigger.optocoupler == "ac-input" else 1
    return SpotTiming(
        wire_on=SpreadS.of(on_delay_of(feeder.wire_drive)),
        wire_off=SpreadS.of(off_delay_of(design, feeder.wire_drive)),
        contactor_on=SpreadS.of(on_delay_of(feeder.contactor)),
        contactor_off=SpreadS.of(off_delay_of(design, feeder.contactor)),
        coast_s=feeder.wire_drive.likely_coast_us / 1e6,
        filter_s=trigger.filter_us / 1e6,
        ripple_s=0.0 if trigger.sense == "dc" else 1 / (halves * design.supply.line_frequency_hz),
        arc_seen_s=None if design.arc_sensor is None else design.arc_sensor.filter_us / 1e6,
    )


def fill_time_s(volume_mm3: float, feed_mm_s: float, metal_mm2: float, efficiency: float) -> float:
    """Time to lay a volume from wire of a metal cross-section fed at a speed; `efficiency` stays in the weld.

    Raises ProcessError for zero speed and for an efficiency that is no share.
    """
    require_positive("the wire feed speed", feed_mm_s, "mm/s", "measure it: run wire for 6 s")
    require_positive("the volume", volume_mm3, "mm3", "give the hole of the plug")
    if not 0 < efficiency <= 1:
        raise ProcessError(f"{efficiency:g} of the wire in the weld", "a share above 0, at most 1", "0.92 is usual")
    return volume_mm3 / (feed_mm_s * metal_mm2 * efficiency)


def spot_scatter(timing: SpotTiming, setting_s: float, draws: int = 10_000, seed: int = SEED) -> SpotScatter:
    """Return the scatter of the wire a spot takes: with the timer, and by hand for the same time.

    With the timer only relays and motor scatter: it starts to count after the trigger filter, or once the arc is
    seen, and then the pull-in does not scatter either. By hand, the press and the release pass the filter, each late
    by up to one gap between half-waves, and the hand itself errs.
    """
    # Draws are arrays; what computes with single numbers alone shall not wait for numpy at start-up.
    import numpy as np

    random = np.random.default_rng(seed)

    def drawn(spread: SpreadS) -> np.ndarray:
        if spread.max_s <= spread.min_s:
            return np.full(draws, spread.typical_s)
        return random.triangular(spread.min_s, spread.typical_s, spread.max_s, draws)

    start_s = np.maximum(drawn(timing.wire_on), drawn(timing.contactor_on)) + ARC_START_S
    coast_s = timing.coast_s * np.exp(RUN_ON_SPREAD * random.standard_normal(draws))
    run_on_s = drawn(timing.wire_off) + coast_s
    lag_s = run_on_s - start_s
    timer_lag_s = lag_s if timing.arc_seen_s is None else run_on_s + timing.arc_seen_s
    speed = np.exp(MOTOR_SPREAD * random.standard_normal(draws))
    hand_s = random.standard_normal(draws) * math.hypot(HAND_LEAST_S, HAND_SPREAD * setting_s)
    edges_s = random.uniform(0, timing.ripple_s, draws) - random.uniform(0, timing.ripple_s, draws)
    by_timer = speed * np.maximum(setting_s + timer_lag_s, 0.0)
    by_hand = speed * np.maximum(setting_s + lag_s + hand_s + edges_s, 0.0)

    def percent(burning_s: np.ndarray) -> float:
        mean = float(burning_s.mean())
        return 100 * float(burning_s.std()) / mean if mean > 0 else math.inf

    return SpotScatter(percent(by_timer), percent(by_hand))


def default_sheet_mm(case: BurnbackCase) -> float:
    """Sheet in which a case's current suits a seam: about 1 A for each 0.001 in (practice)."""
    return case.current_a() * MM_PER_A


def spot_sheet_mm(design: Design) -> float:
    """Top sheet that a design's spots are mainly made in, guessed from the current where the design does not say."""
    given_mm = design.process.plate_thickness_mm
    return given_mm or default_sheet_mm(burnback_case(design)) / SPOT_CURRENT_FACTOR


def spot_advice(
    design: Design,
    sheet_mm: float | None = None,
    case: BurnbackCase | None = None,
    burnback_s: float | None = None,
) -> SpotAdvice:
    """Return the spot time for a top sheet of `sheet_mm`, the design's main one if left out.

    `burnback_s`: what ends a spot without a hole; the design's own if left out. Raises ProcessError when no arc is
    possible, when the spot is shorter than wire, contactor and arc take to start, and when a spot without a hole
    cannot be fused.
    """
    case = burnback_case(design) if case is None else case
    main_mm = spot_sheet_mm(design)
    sheet = main_mm if sheet_mm is None else sheet_mm
    if design.process.spot_diameter_mm is None:
        return _plug_advice(design, case, sheet, main_mm)
    return _fused_advice(design, case, sheet, burnback_s)


def _kept_share(case: BurnbackCase) -> float:
    """Share of the wire that stays in the weld."""
    if case.wire.material.metal_share < 1:
        return TUBULAR_EFFICIENCY
    return EFFICIENCY["short-circuit" if float(case.operating_point().dip_v) > 0 else "open arc"]


def _metal_mm2(case: BurnbackCase) -> float:
    return case.wire.grams_per_mm * 1000 / case.wire.material.density_g_cm3


def _fused_advice(design: Design, case: BurnbackCase, sheet: float, burnback_s: float | None) -> SpotAdvice:
    # It computes with arrays; plugs, and whatever only asks for lags, shall not wait for numpy.
    from timing.process.fused_spot import fused_spot

    fused = fused_spot(design, case, sheet, burnback_s)
    timing = spot_timing(design)
    least_s = timing.shortest_s
    burning, beyond_s = fused.burning_s, fused.beyond_s
    setting_s = burning.middle - beyond_s
    if setting_s < least_s:
        raise ProcessError(
            f"a spot of {fused.wanted_mm:g} mm takes {burning.middle:.2f} s of arc, of which burnback and drop-out "
            f"give {beyond_s:.2f} s",
            f"{least_s:.2f} s at least beside it: wire, contactor and arc need that long to start",
            "weld spots with less wire feed speed, or want them wider",
        )
    return SpotAdvice(
        sheet_mm=sheet,
        hole_mm=None,
        volume_mm3=burning.middle * case.feed_mm_s * _metal_mm2(case) * _kept_share(case),
        fill_s=burning.middle,
        low_s=max(burning.low - beyond_s, least_s),
        setting_s=setting_s,
        high_s=fused.last_s - beyond_s,
        wire_mm=burning.middle * case.feed_mm_s,
        scatter=spot_scatter(timing, setting_s),
        fused=fused,
    )


def _plug_advice(design: Design, case: BurnbackCase, sheet: float, main_mm: float) -> SpotAdvice:
    given = design.process.plug_hole_mm if math.isclose(sheet, main_mm) else None
    hole = given or usual_hole_mm(sheet)
    volume = plug_volume_mm3(hole, sheet)
    efficiency, metal_mm2 = _kept_share(case), _metal_mm2(case)
    fill_s = fill_time_s(volume, case.feed_mm_s, metal_mm2, efficiency)
    timing = spot_timing(design)
    setting_s = fill_s - timing.gain_s
    if setting_s < timing.shortest_s:
        raise ProcessError(
            f"a spot of {volume:.0f} mm3 takes {fill_s:.2f} s, of which the wire's run-on gives {timing.gain_s:.2f} s",
            f"{timing.shortest_s:.2f} s at least beside it: wire, contactor and arc need that long to start",
            "weld spots with less wire feed speed, or brake the motor",
        )
    return SpotAdvice(
        sheet_mm=sheet,
        hole_mm=hole,
        volume_mm3=volume,
        fill_s=fill_s,
        low_s=max(fill_s * (1 - FILL_SPREAD) - timing.gain_s, timing.shortest_s),
        setting_s=setting_s,
        high_s=fill_s * (1 + FILL_SPREAD) - timing.gain_s,
        wire_mm=fill_s * case.feed_mm_s,
        scatter=spot_scatter(timing, setting_s),
    )


@dataclass(frozen=True)
class SpotDial:
    """Spot dial that serves the design's sheets, in seconds."""

    main: SpotAdvice
    thin: SpotAdvice
    thick: SpotAdvice
    from_s: float
    to_s: float
    out_of_reach: tuple[str, ...] = ()
    """Why an end of the range of sheets is left out."""


def spot_dial(design: Design, burnback_s: float | None = None) -> SpotDial:
    """Return the spot dial for the thinnest to the thickest sheet, with a fifth of room at either end.

    Thin sheet at the starting wire feed speed, thick sheet at the fastest, as a welder turns up for it. A sheet at an
    end of the range in which the spot cannot be made is left out. `burnback_s` as in `spot_advice`. Raises
    ProcessError where it cannot be made in the main sheet.
    """
    process = design.process
    base = burnback_case(design)
    main_mm = spot_sheet_mm(design)
    main = spot_advice(design, main_mm, base, burnback_s)
    out: list[str] = []

    def at_end(sheet_mm: float, feed_mm_s: float) -> SpotAdvice:
        try:
            return spot_advice(design, sheet_mm, base.at_speed(feed_mm_s), burnback_s)
        except ProcessError as impossible:
            if process.spot_diameter_mm is None or math.isclose(sheet_mm, main_mm):
                raise
            out.append(impossible.what)
            return main

    thin = at_end(process.plate_thickness_low_mm or main_mm, base.feed_mm_s)
    thick = at_end(
        process.plate_thickness_high_mm or main_mm,
        process.wire_feed_speed_high_mm_s or process.wire_feed_speed_mm_s,
    )
    least = spot_timing(design).shortest_s
    from_s = max(math.floor(min(thin.low_s, main.low_s) * 0.8 * 20) / 20, math.ceil(least * 20) / 20)
    to_s = math.ceil(max(thick.high_s, main.high_s) * 1.2 * 10) / 10
    return SpotDial(main, thin, thick, from_s, to_s, tuple(out))


def spot_power_w(case: BurnbackCase) -> float:
    """Heat that a spot puts into the work each second: efficiency times V I, in W. Raises ProcessError."""
    point = case.operating_point()
    return ARC_EFFICIENCY * float(point.voltage_v) * float(point.current_a)


@dataclass(frozen=True)
class PauseAdvice:
    """Pause between stitches, in seconds."""

    for_duty_s: float | None
    """Shortest pause that keeps to the power source's duty cycle at this current; None where that is not known."""
    for_crater_s: float
    """Pause in which the crater freezes, so that the next spot does not land in a puddle."""
    duty_allowed: float | None
    """Share of the time the power source may weld at this current."""

    @property
    def setting_s(self) -> float:
        """The longer of the two."""
        return max(self.for_duty_s or 0.0, self.for_crater_s)

    @property
    def low_s(self) -> float:
        """Least that does: the crater half frozen, as stitches along a seam are often run (practice)."""
        return max(self.for_duty_s or 0.0, self.for_crater_s / 2)


def duty_allowed(rated_share: float, rated_a: float, current_a: float) -> float:
    """Share of time a source may weld at a current: X (Ir/I)^2, at most 1: its copper warms with I^2 (practice)."""
    return min(rated_share * (rated_a / current_a) ** 2, 1.0)


def duty_allowed_of(design: Design, case: BurnbackCase) -> float | None:
    """Share of time the design's power source may weld at a case's current; None where its plate is not given.

    Raises ProcessError when no arc is possible.
    """
    process = design.process
    if process.duty_cycle_percent is None or process.duty_cycle_current_a is None:
        return None
    current_a = float(case.operating_point().current_a)
    return duty_allowed(process.duty_cycle_percent / 100, process.duty_cycle_current_a, current_a)


def pause_advice(design: Design, case: BurnbackCase, burning_s: float, crater_s: float) -> PauseAdvice:
    """Return the pause after spots that burn for `burning_s` each, burnback included."""
    allowed = duty_allowed_of(design, case)
    if allowed is None:
        return PauseAdvice(None, crater_s, None)
    return PauseAdvice(burning_s * (1 / allowed - 1), crater_s, allowed)
