"""The burnback curve: what each setting leaves of the wire, how surely, and which setting to start with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from timing.elementwise import Codes, Floats, percentiles
from timing.process.arc import Regime, regime
from timing.process.burnback import (
    FUSED,
    GOOD,
    LONGEST_STEP_S,
    OUTCOMES,
    QUICK_STEP_S,
    BurnbackRun,
    run_burnback,
    run_one,
)
from timing.process.case import DRAWS, SEED, BurnbackCase, Scatter, run_likely, scatter, together
from timing.process.errors import ProcessError
from timing.process.variance_shares import first_order_share

SETTINGS = 60
"""Settings of a curve (choice)."""
BAND_PERCENT = (5.0, 95.0)
"""The band holds nine welds of ten: from this percentile to that (choice)."""
NINE_OF_TEN = 1.645
"""Standard deviations on either side that hold nine of ten (exact: normal distribution, to the digits given)."""
SELF_OUT = 0.95
"""An arc is said to go out by itself where at least this share of the draws does (choice)."""
COVER_STEP = 2
"""For a dial's ends, which are round and generous, every second setting of a curve will do (choice)."""
COVER_MACHINES = 4
"""A dial's ends take one machine for so many draws (choice)."""
NO_SHORTER_MM = 0.1
"""Closer to what the longest setting leaves, a wire end counts as no longer than that (choice)."""
GIVEN_UP = 0.02
"""Share of good welds at the usual wire feed speed that a setting may give up for the other speeds (choice)."""
LIKELY = 0.9
"""A setting is likely good when at least this share of the draws ends good (choice)."""
TIE = 0.01
"""Shares closer than this are alike: the draws tell no more (measured: by a test)."""
_STEPS_S = (0.002, 0.005, 0.010, 0.020)


@dataclass(frozen=True)
class Band:
    """A figure with the range that holds nine of ten."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Window:
    """Burnback settings from `low_s` to `high_s`; `open_above` where longer ones, up to the end of the curve, do."""

    low_s: float
    high_s: float
    open_above: bool


@dataclass(frozen=True)
class Recommendation:
    """The burnback setting to start with."""

    setting_s: float
    chance_good: float
    extension_mm: Band
    """To the end of the solid wire."""
    ball_mm: Band
    """Diameter of the ball on it."""
    to_ball_end_mm: Band
    """Extension to the far side of the ball: what a rule reads."""
    share_to_clip: float
    """Share of welds that leave a ball to be clipped off before the next start."""
    extension_weld_to_weld_mm: Band
    """The same for a machine that is known: only what differs from weld to weld."""
    causes: tuple[tuple[str, float], ...]
    """What widens the band at this setting, largest share of the variance first."""
    chance_good_at_speeds: float | None = None
    """Mean share over the wire feed speeds that it is to serve as well, the setting left alone; None: there is one."""
    given_up: float = 0.0
    """Share of good ends less than the best there is at the case's own speed."""


@dataclass(frozen=True)
class BurnbackCurve:
    """Extension left and outcome over the burnback setting; arrays of shape (settings,) unless they say otherwise."""

    case: BurnbackCase
    settings_s: Floats
    likely_mm: Floats
    """Extension left with every input at its likely value."""
    likely_outcome: Codes
    low_mm: Floats
    middle_mm: Floats
    high_mm: Floats
    ball_mm: Floats
    """Diameter of the ball on the wire's end, the middle of all draws."""
    share_to_clip: Floats
    """Share of the draws that come free with a ball to be clipped off."""
    chances: Floats
    """Share of the draws in each outcome, shape (settings, outcomes), in the order of OUTCOMES."""
    window: Window | None
    """Where the likely values end good; None where no setting does."""
    sure_window: Window | None
    """Where at least LIKELY of the draws end good; None where no setting is that sure."""
    self_out: Floats
    """Share of the draws whose arc goes out by itself, clear of the contact tip, before the contactor lets go."""
    best: Recommendation
    current_a: float
    arc_length_mm: float
    load_voltage_v: float
    regime: Regime

    @property
    def goes_out_by_itself(self) -> bool:
        """Whether that may be said of the arc: at the longest setting nearly all of the draws do it."""
        return bool(self.self_out[-1] >= SELF_OUT)

    @property
    def chance_good(self) -> Floats:
        """Share of draws that end good, for each setting."""
        return self.chances[:, GOOD]


def run_scatter(
    case: BurnbackCase, drawn: Scatter, settings_s: Floats, longest_step_s: float = LONGEST_STEP_S
) -> BurnbackRun:
    """Burn back every draw; arrays of shape (settings, draws)."""
    return run_burnback(drawn.plant, drawn.point, drawn.release, case.end, settings_s, longest_step_s)


def curve_settings_s(case: BurnbackCase, up_to_s: float = 0.0, count: int = SETTINGS) -> Floats:
    """Return `count` round settings from 0 s that cover what happens, and `up_to_s` at least.

    What happens ends where the likely wire end changes no more, or is no longer good.
    """
    probe_s = np.linspace(0.0, 1.0, 101)
    rests = run_likely(case, probe_s)
    moving = np.flatnonzero(np.abs(np.diff([rest.extension_mm for rest in rests])) > 0.02)
    good = np.flatnonzero([rest.outcome == GOOD for rest in rests])
    last = max(int(moving[-1]) + 1 if moving.size else 0, int(good[0]) if good.size else 0)
    span_s = max(1.2 * probe_s[last], up_to_s, 0.15)
    fine = [step for step in _STEPS_S if step * (count - 1) >= span_s]
    return np.arange(count) * (fine[0] if fine else np.ceil(span_s / (count - 1) * 100) / 100)


def _window(settings_s: Floats, holds: np.ndarray, around: int) -> Window | None:
    """Return the run of settings that hold, around one of them; the nearest run if that one does not."""
    where = np.flatnonzero(holds)
    if where.size == 0:
        return None
    middle = int(where[np.argmin(np.abs(where - around))])
    first = last = middle
    while first > 0 and holds[first - 1]:
        first -= 1
    while last + 1 < holds.size and holds[last + 1]:
        last += 1
    return Window(float(settings_s[first]), float(settings_s[last]), last == holds.size - 1)


def _as_good_as(best: float, less: float = TIE) -> float:
    """Share of good ends that counts as the best: no more than `less` below, but likely good wherever the best is."""
    return max(best - less, min(best, LIKELY))


def _chances(run: BurnbackRun) -> Floats:
    """Share of the draws that end each way, by setting."""
    return np.stack([(run.outcome == code).mean(axis=1) for code in range(len(OUTCOMES))], axis=1)


def _self_out(drawn: Scatter, run: BurnbackRun) -> Floats:
    """Share of the draws whose arc goes out by itself, clear of the contact tip, by setting."""
    cut_s = run.settings_s[:, None] + drawn.release.contactor_off_s
    share: Floats = ((run.arc_out_s < cut_s) & (run.outcome != FUSED)).mean(axis=1)
    return share


def best_setting(good: Floats) -> int:
    """The shortest setting that counts as the best, from the shares of good ends."""
    return int(np.flatnonzero(good >= _as_good_as(float(good.max())))[0])


def low_middle_high(values: Floats) -> Floats:
    """Return the ends of the band that holds nine of ten, and its middle, over the last axis; shape (3, ...)."""
    return percentiles(values, (BAND_PERCENT[0], 50.0, BAND_PERCENT[1]))


def _band(values: Floats) -> Band:
    return Band(*map(float, low_middle_high(values)))


# A ball grows with the wire in it, so percentiles of the one are those of the other: no cubic for every draw.
def _middle_ball_mm(run: BurnbackRun) -> Floats:
    return np.asarray(run.melt.ball_mm(percentiles(run.hanging_mm, (50.0,))[0]))


def _ball_band(run: BurnbackRun, row: int) -> Band:
    hanging = _band(run.hanging_mm[row])
    return Band(*(float(run.melt.ball_mm(mm)) for mm in (hanging.low, hanging.middle, hanging.high)))


def _causes(drawn: Scatter, extension_mm: Floats) -> tuple[tuple[str, float], ...]:
    """Share of the variance of the wire end that goes with each cause, largest first."""
    shares = [(name, first_order_share(np.asarray(cause), extension_mm)) for name, cause in drawn.causes.items()]
    return tuple(sorted(((name, share) for name, share in shares if share > 0), key=lambda item: -item[1]))


def burnback_curve(
    case: BurnbackCase,
    settings_s: Floats | None = None,
    draws: int = DRAWS,
    seed: int = SEED,
    speeds_mm_s: Floats | None = None,
) -> BurnbackCurve:
    """Return the curve of a case over `settings_s` (rising, in seconds; chosen to fit if left out).

    The recommended setting is the one most likely to end good; of settings that are alike in that (within TIE) the
    shortest, because a longer burnback grows a larger ball on the wire's end and a hotter contact tip. Where it is to
    serve other wire feed speeds as well, each weighs the same, and the case's own comes first: no more than GIVEN_UP
    of its good ends is given up for them. The distance that the gun is held at is drawn with all the rest. The same
    is not computed twice in a row; the arrays are read only. Raises ProcessError when no steady arc is possible.
    """
    if draws < 10:
        raise ProcessError(f"{draws} draws", "10 draws or more", "leave the number of draws at its default")
    settings = curve_settings_s(case) if settings_s is None else np.asarray(settings_s, dtype=np.float64)
    if settings.size == 0 or settings.min() < 0 or not np.isfinite(settings).all() or (np.diff(settings) < 0).any():
        raise ProcessError("burnback settings out of order", "settings from 0 s upwards, rising", "sort the settings")
    speeds = () if speeds_mm_s is None or len(speeds_mm_s) < 2 else tuple(map(float, speeds_mm_s))
    return _computed(case, tuple(settings.tolist()), draws, seed, speeds)


def _robust(good: Floats, at_speeds: Floats) -> int:
    """The shortest setting that does best over all speeds, of those that are as good as the best at the usual one."""
    fit = good >= _as_good_as(float(good.max()), TIE + GIVEN_UP)
    return int(np.flatnonzero(fit & (at_speeds >= at_speeds[fit].max() - TIE))[0])


# As large as a run is, it is kept for whoever looks into the draws of the curve that was made last.
@lru_cache(maxsize=1)
def drawn_and_run(
    case: BurnbackCase, settings_s: tuple[float, ...], draws: int, seed: int
) -> tuple[Scatter, BurnbackRun]:
    """Return the draws of a curve, and what each setting leaves of them."""
    drawn = scatter(case, draws, seed)
    return drawn, run_scatter(case, drawn, np.array(settings_s))


# Advice on a design asks for the same few curves several times over: for the dial, and again once a spot time is set.
@lru_cache(maxsize=16)
def _computed(
    case: BurnbackCase, settings_s: tuple[float, ...], draws: int, seed: int, speeds_mm_s: tuple[float, ...]
) -> BurnbackCurve:
    settings = np.array(settings_s)
    point = case.operating_point()
    likely = run_likely(case, settings)
    drawn, run = drawn_and_run(case, settings_s, draws, seed)
    chances = _chances(run)
    low, middle, high = low_middle_high(run.extension_mm)
    good = chances[:, GOOD]
    ball_mm = _middle_ball_mm(run)
    share_to_clip = run.share_to_clip
    best, at_speeds = best_setting(good), None
    if speeds_mm_s:
        cover = curve_cover(case, np.array(speeds_mm_s), draws, seed)
        shares = np.mean([np.interp(settings, cover.settings_s, row) for row in cover.good], axis=0)
        best = _robust(good, shares)
        at_speeds = float(shares[best])
    weld = scatter(case, max(draws // 8, 10), seed, machine=False)
    weld_run = run_scatter(case, weld, settings[best : best + 1])
    likely_mm = np.array([rest.extension_mm for rest in likely])
    likely_outcome = np.array([rest.outcome for rest in likely], dtype=np.int8)
    self_out = _self_out(drawn, run)
    for shared in (settings, likely_mm, likely_outcome, low, middle, high, ball_mm, share_to_clip, chances, self_out):
        shared.flags.writeable = False
    return BurnbackCurve(
        case=case,
        settings_s=settings,
        likely_mm=likely_mm,
        likely_outcome=likely_outcome,
        low_mm=low,
        middle_mm=middle,
        high_mm=high,
        ball_mm=ball_mm,
        share_to_clip=share_to_clip,
        chances=chances,
        window=_window(settings, likely_outcome == GOOD, best),
        sure_window=_window(settings, good >= LIKELY, best),
        self_out=self_out,
        best=Recommendation(
            setting_s=float(settings[best]),
            chance_good=float(good[best]),
            extension_mm=_band(run.extension_mm[best]),
            ball_mm=_ball_band(run, best),
            to_ball_end_mm=_band(run.extension_mm[best] + run.melt.length_mm(run.hanging_mm[best])),
            share_to_clip=float(share_to_clip[best]),
            extension_weld_to_weld_mm=_band(weld_run.extension_mm[0]),
            causes=_causes(drawn, run.extension_mm[best]),
            chance_good_at_speeds=at_speeds,
            given_up=float(good[best_setting(good)] - good[best]),
        ),
        current_a=float(point.current_a),
        arc_length_mm=float(point.arc_length_mm(case.plant())),
        load_voltage_v=float(point.voltage_v),
        regime=regime(point),
    )


@dataclass(frozen=True)
class Sensitivity:
    """What small changes do to the wire end, in mm (more extension is positive)."""

    setting_s: float
    per_10_ms_setting_mm: float
    """Burnback set, or contactor dropping out, 10 ms later."""
    per_10_ms_wire_drive_mm: float
    """Wire drive dropping out 10 ms later."""
    per_10_ms_coast_mm: float
    """Coast 10 ms longer."""
    per_dial_step_mm: float
    dial_step_s: float


def sensitivity(case: BurnbackCase, setting_s: float, dial_step_s: float) -> Sensitivity:
    """Return what 10 ms here or there, and one step of the dial, do at a burnback setting. Raises ProcessError."""
    change_s = 0.010

    def left_mm(at_s: float, **changes: float) -> float:
        release = case.release()
        moved = replace(release, **{name: getattr(release, name) + by for name, by in changes.items()})
        return run_one(case.plant(), case.operating_point(), moved, case.end, [at_s])[0].extension_mm

    now_mm = left_mm(setting_s)
    return Sensitivity(
        setting_s=setting_s,
        per_10_ms_setting_mm=left_mm(setting_s, contactor_off_s=change_s) - now_mm,
        per_10_ms_wire_drive_mm=left_mm(setting_s, wire_off_s=change_s) - now_mm,
        per_10_ms_coast_mm=left_mm(setting_s, coast_s=change_s) - now_mm,
        per_dial_step_mm=left_mm(setting_s, contactor_off_s=dial_step_s) - now_mm,
        dial_step_s=dial_step_s,
    )


@dataclass(frozen=True)
class DialCover:
    """What a burnback dial must span to serve a range of wire feed speeds."""

    speeds_mm_s: Floats
    best_s: Floats
    """Recommended setting for each speed."""
    chance_good: Floats
    settings_s: Floats
    good: Floats
    """Share that ends good, shape (speeds, settings)."""
    from_s: float
    to_s: float
    """What the middle nine machines of ten ask for, over all speeds, in round 10 ms."""


def dial_cover(case: BurnbackCase, speeds_mm_s: Floats, draws: int = DRAWS // 8, seed: int = SEED) -> DialCover:
    """Return the dial for a range of wire feed speeds, the voltage turned to suit each. Raises ProcessError.

    A machine asks for the setting that leaves it the wire end which the setting recommended for its speed leaves in
    the middle; one whose arc goes out before, for the shortest that leaves it as good as no longer wire. From the
    shortest to the longest of those: machine by machine, without what differs from weld to weld.
    """
    return _covered(case, tuple(map(float, speeds_mm_s)), draws, seed)


def curve_cover(case: BurnbackCase, speeds_mm_s: Floats, draws: int, seed: int) -> DialCover:
    """Return the dial beside a curve of as many draws: an eighth of them will do. Raises ProcessError."""
    return dial_cover(case, speeds_mm_s, max(draws // 8, 10), seed)


@lru_cache(maxsize=16)
def _covered(case: BurnbackCase, speeds_mm_s: tuple[float, ...], draws: int, seed: int) -> DialCover:
    cases = [case.at_speed(speed) for speed in speeds_mm_s]
    settings = max((curve_settings_s(one)[::COVER_STEP] for one in cases), key=lambda grid: float(grid[-1]))
    shape = (settings.size, len(cases), -1)

    def run(weld: bool, count: int) -> BurnbackRun:
        # All speeds at once: a run costs by its steps more than by its draws.
        drawn = together([scatter(one, count, seed, weld=weld) for one in cases])
        return run_scatter(case, drawn, settings, QUICK_STEP_S)

    welds, machines = run(True, draws), run(False, max(draws // COVER_MACHINES, 10))
    good = (welds.outcome == GOOD).reshape(shape).mean(axis=2).T
    best = np.array([best_setting(shares) for shares in good])
    ends_mm, left_mm = welds.extension_mm.reshape(shape), machines.extension_mm.reshape(shape)
    asked_mm = np.array([np.median(ends_mm[row, number]) for number, row in enumerate(best)])
    reached = left_mm <= np.maximum(asked_mm[:, None], left_mm[-1] + NO_SHORTER_MM)
    asked_s = settings[reached.argmax(axis=0)]
    low, high = percentiles(asked_s, BAND_PERCENT)
    best_s = settings[best]
    return DialCover(
        speeds_mm_s=np.array(speeds_mm_s),
        best_s=best_s,
        chance_good=good[np.arange(len(cases)), best],
        settings_s=settings,
        good=good,
        from_s=float(np.floor(min(low.min(), best_s.min()) * 100) / 100),
        to_s=float(np.ceil(max(high.max(), best_s.max()) * 100) / 100),
    )
