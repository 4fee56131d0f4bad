"""Burnback, dynamically: from the wire drive's command off to the wire at rest, for many draws at once.

Time counts from the moment the board switches the wire drive off; the trigger filter lies before it and changes
nothing at the wire, which goes on being fed and melted as in the weld. Two states for each draw, the extension x
and the current I:

    dx/dt = v(t) - (alpha I + beta x I^2)
    L dI/dt = U0 - U_fall - E (D - x) + dip - (s + R_arc + R x) I

with v(t) the wire's speed: full until the drive lets go, then slowing down as timing.process.coast says, by motor and
friction together. When the contactor has dropped out, U0 is 0 and the current dies
through the inductance against the arc; below `arc_out_a` the arc is out, and the wire only coasts.

The whole curve over the burnback setting costs little more than its longest setting: all settings share the path
up to their cut. Along that path each step solves the current exactly for a frozen arc length (the equation is
linear in I), takes the mean of I and I^2 over the step in closed form, and the arc length from a half step before:
second order, and stable for any inductance. After the cut the current itself is the running variable (it only
falls), integrated by Runge-Kutta of fourth order, so that arc-out needs no search; a capacitor bank in the source goes
its own way (timing.process.capacitor_bank).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from timing.elementwise import Codes, Elementwise, Floats, Truths, Values, elementwise
from timing.process.arc import OperatingPoint, Plant, dip_length_mm
from timing.process.ball import CLIP_DIAMETERS, WireMelt
from timing.process.capacitor_bank import ArcLeft, run_down
from timing.process.coast import Coast
from timing.process.melting import melting_rate_mm_s

LONGEST_STEP_S = 2e-3
"""Longest step of the integration (choice: errors stay below 0.05 mm, measured in the tests)."""
QUICK_STEP_S = 7e-3
"""Step for a quick look: a wire end is within 0.1 mm of the one at the usual step (measured: by a test)."""
DECAY_STEPS = 2
"""Steps for each time constant of the current's decay (choice: as above)."""
_SHORTEST_S = 1e-9

FROZEN, GOOD, SHORT, FUSED = 0, 1, 2, 3
"""Codes of what becomes of the wire's end (choice)."""
OUTCOMES = ("frozen in the puddle", "good", "too short", "fused to the tip")
"""The same in words, by code."""


@dataclass(frozen=True)
class Release:
    """How the machine follows the commands, in seconds: one number, or one for each draw."""

    wire_off_s: Values
    """From the command to the wire drive letting go."""
    coast_s: Values
    """Run-on of the wire once the drive has let go, as time at full speed."""
    contactor_off_s: Values
    """From the command to no voltage at the arc."""
    friction: Values
    """How it slows down: even deceleration by friction over the initial one by the motor, as timing.process.coast."""
    start_shift_mm: Values
    """How much longer than its mean the extension is at the release (short-circuit transfer), with its sign."""
    line_phase: Values = 0.0
    """Where in the ripple of its current the source is when the contactor lets go, in radians from the crest."""

    @staticmethod
    def coasting(coast_s: float, friction: float) -> Release:
        """A release in which everything lets go at once and the wire coasts."""
        return Release(0.0, coast_s, 0.0, friction, 0.0)

    @cached_property
    def coast(self) -> Coast:
        """The coast as it is computed with: once for all the steps of a run."""
        return Coast.of(self.coast_s, self.friction)


@dataclass(frozen=True)
class WireEnd:
    """What counts as a good end of wire, in mm, and how its melt hangs. Defaults by common practice, no source."""

    sticking_gap_mm: float
    """A ball at rest whose far side is nearer to the puddle than this is caught by it."""
    short_mm: float
    """Less extension than this, to the end of the solid wire, starts the next weld badly."""
    fused_mm: float
    """The solid wire's end, where the ball's top is, fuses to the contact tip at this extension."""
    melt: WireMelt

    @staticmethod
    def usual(melt: WireMelt) -> WireEnd:
        """Usual limits for a wire: caught or fused within half a diameter, short below 3 mm or 4 diameters.

        The puddle stands above the work, and swings, by about half a diameter. A ball is wider than the contact tip's
        bore and meets its face, and the wire above it is soft for about as far.
        """
        half_mm = 0.5 * melt.diameter_mm
        return WireEnd(half_mm, max(3.0, 4 * melt.diameter_mm), half_mm, melt)


def _floats(values: Any) -> Floats:
    """Tell that values of draws are an array."""
    floats: Floats = values
    return floats


@dataclass(frozen=True)
class BurnbackRun:
    """Result over settings and draws: shape (settings, draws)."""

    settings_s: Floats
    extension_mm: Floats
    """Extension left, at rest, to the end of the solid wire; may exceed the distance where the wire coasted on into the
    puddle."""
    hanging_mm: Floats
    """Wire that melted and hung on, as a length of wire: the ball."""
    melt: WireMelt
    outcome: Codes
    """Index into OUTCOMES."""
    arc_out_s: Floats
    """When the arc went out, from the wire drive's command off."""
    fed_mm: Floats
    """Wire fed from the command off to rest."""
    melted_mm: Floats
    """Wire melted meanwhile."""
    start_mm: Floats
    """Extension at the command off, shape (draws,)."""

    @property
    def ball_mm(self) -> Floats:
        """Diameter of the ball on the wire's end."""
        return _floats(self.melt.ball_mm(self.hanging_mm))

    @property
    def share_to_clip(self) -> Floats:
        """Share of the draws that come free with a ball to be clipped off before the next start, by setting."""
        limit_mm = self.melt.melted_mm(CLIP_DIAMETERS * self.melt.diameter_mm)
        free = (self.outcome == GOOD) | (self.outcome == SHORT)
        share: Floats = (free & (self.hanging_mm > limit_mm)).mean(axis=1)
        return share

    @property
    def to_ball_end_mm(self) -> Floats:
        """Extension to the far side of the ball: what a rule reads."""
        return _floats(self.extension_mm + self.melt.length_mm(self.hanging_mm))


@dataclass(frozen=True)
class WireRest:
    """What one burnback left of one wire, at rest."""

    setting_s: float
    extension_mm: float
    """To the end of the solid wire; may exceed the distance where the wire coasted on into the puddle."""
    ball_mm: float
    """Diameter of the ball on the wire's end."""
    to_ball_end_mm: float
    """Extension to the far side of the ball: what a rule reads."""
    outcome: int
    """Index into OUTCOMES."""
    arc_out_s: float
    """When the arc went out, from the wire drive's command off."""
    start_mm: float
    """Extension at the command off."""


def wire_run_mm(release: Release, feed_mm_s: Values, time_s: Values) -> Values:
    """Wire fed since the wire drive's command off, in mm, at `time_s` after it (infinity for all of it)."""
    fed_s = elementwise(time_s, release.wire_off_s).minimum(time_s, release.wire_off_s)
    run_mm: Values = feed_mm_s * (fed_s + release.coast.run_s(time_s - fed_s))
    return run_mm


def wire_speed_mm_s(release: Release, feed_mm_s: Values, time_s: Values) -> Values:
    """Speed of the wire in mm/s at `time_s` after the wire drive's command off."""
    speed_mm_s: Values = feed_mm_s * release.coast.speed_share(time_s - release.wire_off_s)
    return speed_mm_s


@dataclass
class _Path:
    """Running state of one wire, or of all draws, before the cut."""

    do: Elementwise
    time_s: Values
    extension_mm: Values
    current_a: Values
    melted_mm: Values
    hanging_mm: Values
    """What of it hangs at the wire's end."""
    run_mm: Values
    burning: Truths
    out_s: Values
    """When the arc went out by itself; meaningless while it burns."""
    fused: Truths


def _arc_drive_v(plant: Plant, point: OperatingPoint, extension_mm: Values, open_v: Values, shorting: Values) -> Values:
    """Voltage that drives the current against the loop's resistance, with the wire's end at `extension_mm`."""
    arc_mm = plant.distance_mm - extension_mm
    drive_v: Values = open_v - plant.fall_v - plant.gradient_v_per_mm * arc_mm + point.dip_v * shorting
    return drive_v


def _shorting(do: Elementwise, plant: Plant, extension_mm: Values) -> Values:
    """How much the wire shorts, against the mean of the weld: nothing where the arc is two dip lengths or longer."""
    shorting: Values = do.maximum(2.0 - (plant.distance_mm - extension_mm) / dip_length_mm(plant), 0.0)
    return shorting


def _arc_alpha(do: Elementwise, plant: Plant, point: OperatingPoint, shorting: Values) -> Values:
    """Arc term of the melting rate, for the share of the time that an arc burns."""
    arcing: Values = do.maximum(1.0 - point.short_share * shorting, 0.0)
    return plant.alpha_mm_per_a_s * arcing


def _loop_ohm(plant: Plant, extension_mm: Values) -> Values:
    return plant.slope_ohm + plant.arc_ohm + plant.wire_ohm_per_mm * extension_mm


def _relaxed(
    plant: Plant, point: OperatingPoint, extension_mm: Values, current_a: Values, step_s: Values
) -> tuple[Values, Values]:
    """Current after a step at a frozen extension, and the wire melted in it."""
    do = elementwise(current_a)
    loop_ohm = _loop_ohm(plant, extension_mm)
    shorting = _shorting(do, plant, extension_mm)
    settled_a = _arc_drive_v(plant, point, extension_mm, plant.open_v, shorting) / loop_ohm
    ratio = do.maximum(step_s * loop_ohm / plant.inductance_h, 1e-12)
    lost = -do.expm1(-ratio)
    mean_1 = lost / ratio
    mean_2 = mean_1 * (1 - lost / 2)
    off_a = current_a - settled_a
    current_after = current_a - off_a * lost
    mean_current = settled_a + off_a * mean_1
    mean_square = settled_a * (settled_a + 2 * off_a * mean_1) + off_a * off_a * mean_2
    alpha, beta = _arc_alpha(do, plant, point, shorting), plant.beta_per_a2_s
    return current_after, step_s * (alpha * mean_current + beta * extension_mm * mean_square)


def _advance(plant: Plant, point: OperatingPoint, release: Release, end: WireEnd, path: _Path, step_s: Values) -> None:
    """Move every draw on by its own `step_s`, contactor on."""
    do, x, current, burning = path.do, path.extension_mm, path.current_a, path.burning
    half_s = step_s / 2
    run_half = wire_run_mm(release, plant.feed_mm_s, path.time_s + half_s)
    run_full = wire_run_mm(release, plant.feed_mm_s, path.time_s + step_s)
    _, melted_half = _relaxed(plant, point, x, current, half_s)
    middle = x + (run_half - path.run_mm) - do.where(burning, melted_half, 0.0)
    after, melted = _relaxed(plant, point, middle, current, step_s)
    # An arc that goes out within the step melts for its share of it only.
    dies = burning & (after <= plant.arc_out_a)
    share = do.where(dies, (current - plant.arc_out_a) / do.maximum(current - after, _SHORTEST_S), 1.0)
    melted = do.where(burning, do.maximum(melted, 0.0) * share, 0.0)
    free = do.logical_not(path.fused)
    path.melted_mm = path.melted_mm + do.where(free, melted, run_full - path.run_mm)
    path.extension_mm = do.where(free, x + (run_full - path.run_mm) - melted, x)
    gap_mm = plant.distance_mm - path.extension_mm
    hanging_mm = end.melt.next_hanging_mm(path.hanging_mm, melted, gap_mm, current)
    path.hanging_mm = do.where(burning, hanging_mm, path.hanging_mm)
    path.run_mm = run_full
    path.time_s = path.time_s + step_s
    path.fused = path.fused | (path.extension_mm <= end.fused_mm)
    still = burning & do.logical_not(dies | path.fused)
    path.out_s = do.where(burning & do.logical_not(still), path.time_s - (1 - share) * step_s, path.out_s)
    path.burning = still
    path.current_a = do.where(still, after, 0.0)


def _decay(plant: Plant, point: OperatingPoint, release: Release, path: _Path) -> tuple[Values, Values]:
    """Return (time of arc-out, wire melted since the cut) for a cut at the path's present state.

    The running variable is the current, from its value at the cut to `arc_out_a`.
    """
    do = path.do
    if not do.any(path.burning):
        return path.out_s, 0.0 * path.out_s
    if do.any(plant.capacitance_f):
        return _run_down(plant, point, release, path)
    start_a = path.current_a
    drop_a = do.where(path.burning, do.maximum(start_a - plant.arc_out_a, 0.0), 0.0)
    base_mm = path.extension_mm - path.run_mm

    def slopes(share: float, time_s: Values, melted_mm: Values) -> tuple[Values, Values]:
        current = start_a - share * drop_a
        x = do.maximum(base_mm + wire_run_mm(release, plant.feed_mm_s, time_s) - melted_mm, 0.0)
        shorting = _shorting(do, plant, x)
        against_v = -_arc_drive_v(plant, point, x, 0.0, shorting) + _loop_ohm(plant, x) * current
        # A wire pushed far into the puddle has no arc left to kill the current: the loop's own volts do it then.
        seconds = plant.inductance_h * drop_a / do.maximum(against_v, 1.0)
        return seconds, seconds * melting_rate_mm_s(
            current, x, _arc_alpha(do, plant, point, shorting), plant.beta_per_a2_s
        )

    time_s, melted_mm, step = path.time_s, 0.0 * start_a, 1.0 / DECAY_STEPS
    for number in range(DECAY_STEPS):
        at = number * step
        t1, m1 = slopes(at, time_s, melted_mm)
        t2, m2 = slopes(at + step / 2, time_s + step / 2 * t1, melted_mm + step / 2 * m1)
        t3, m3 = slopes(at + step / 2, time_s + step / 2 * t2, melted_mm + step / 2 * m2)
        t4, m4 = slopes(at + step, time_s + step * t3, melted_mm + step * m3)
        time_s = time_s + step / 6 * (t1 + 2 * t2 + 2 * t3 + t4)
        melted_mm = melted_mm + step / 6 * (m1 + 2 * m2 + 2 * m3 + m4)
    return do.where(path.burning, time_s, path.out_s), melted_mm


def _run_down(plant: Plant, point: OperatingPoint, release: Release, path: _Path) -> tuple[Values, Values]:
    """As `_decay`, with a bank that feeds the arc on."""
    do, base_mm = path.do, path.extension_mm - path.run_mm

    def extension_mm(time_s: Values, melted_mm: Values) -> Values:
        standing: Values = do.maximum(base_mm + wire_run_mm(release, plant.feed_mm_s, time_s) - melted_mm, 0.0)
        return standing

    def back_v(extension_mm: Values) -> Values:
        return -_arc_drive_v(plant, point, extension_mm, 0.0, _shorting(do, plant, extension_mm))

    def alpha(extension_mm: Values) -> Values:
        return _arc_alpha(do, plant, point, _shorting(do, plant, extension_mm))

    at_cut = ArcLeft(path.time_s, path.current_a, path.burning, extension_mm, back_v, alpha)
    time_s, melted_mm = run_down(plant, at_cut)
    return do.where(path.burning, time_s, path.out_s), melted_mm


def _ripple_melts_mm(plant: Plant, point: OperatingPoint, release: Release, path: _Path) -> Values:
    """What the source's ripple melts more of a wire that is cut now, in mm; first order in the ripple.

    The ripple of the current follows from that of the volts by resistance and inductance of the loop. It moves the
    wire's end in quarter-phase behind it, and leaves more or less current to die away at the cut.
    """
    do, x, current = path.do, path.extension_mm, path.current_a
    ohm, turning = _loop_ohm(plant, x), 2 * math.pi * plant.ripple_hz
    swing_a = plant.ripple_v / (ohm**2 + (turning * plant.inductance_h) ** 2) ** 0.5
    # An arc that went out in each trough would be no arc to weld with.
    swing_a = do.minimum(swing_a, do.maximum(current - plant.arc_out_a, 0.0))
    shorting = _shorting(do, plant, x)
    alpha = _arc_alpha(do, plant, point, shorting)
    for_each_a = alpha + 2 * plant.beta_per_a2_s * x * current
    rate = melting_rate_mm_s(current, x, alpha, plant.beta_per_a2_s)
    against_v = do.maximum(ohm * current - _arc_drive_v(plant, point, x, 0.0, shorting), 1.0)
    by_then = for_each_a / turning * do.sin(release.line_phase)
    dying = rate * plant.inductance_h / against_v * do.sin(release.line_phase + math.pi / 2)
    melted_mm: Values = do.where(path.burning, swing_a * (by_then + dying), 0.0)
    return melted_mm


def judge(extension_mm: Values, hanging_mm: Values, fused: Truths, distance_mm: Values, end: WireEnd) -> Any:
    """Return the outcome code, or codes, for wire ends at rest with the wire that hangs on them as a ball."""
    do = elementwise(extension_mm)
    frozen = hanging_mm >= end.melt.filling_mm(distance_mm - extension_mm - end.sticking_gap_mm)
    return do.where(fused, FUSED, do.where(frozen, FROZEN, do.where(extension_mm < end.short_mm, SHORT, GOOD)))


def _first_hanging_mm(plant: Plant, point: OperatingPoint, release: Release, melt: WireMelt) -> Values:
    """Wire that hangs on at the command off: half of a drop, or as far as the short-circuit cycle has come.

    A drop goes when it fills the mean arc length, or when it falls. The nearer the wire is to the puddle, the longer
    the drop has grown.
    """
    arc_mm = point.arc_length_mm(plant)
    do = elementwise(arc_mm)
    full_mm = do.minimum(do.maximum(melt.filling_mm(arc_mm), 0.0), melt.longest_hanging_mm(point.current_a))
    grown = 0.5 + 0.5 * release.start_shift_mm / do.maximum(arc_mm, _SHORTEST_S)
    hanging_mm: Values = full_mm * do.minimum(do.maximum(grown, 0.0), 1.0)
    return hanging_mm


def _start(plant: Plant, point: OperatingPoint, release: Release, end: WireEnd) -> _Path:
    do = elementwise(plant.feed_mm_s)
    # The shift of a dip cycle stays between a wire that touches and twice the mean arc length.
    extension = point.extension_mm + release.start_shift_mm
    extension = do.maximum(extension, 2 * point.extension_mm - plant.distance_mm)
    extension = do.minimum(extension, plant.distance_mm)
    zero = 0.0 * extension
    return _Path(
        do=do,
        time_s=zero,
        extension_mm=extension,
        current_a=point.current_a,
        melted_mm=zero,
        hanging_mm=zero + _first_hanging_mm(plant, point, release, end.melt),
        run_mm=zero,
        burning=zero == 0.0,
        out_s=zero,
        fused=zero != 0.0,
    )


def _run_to(
    plant: Plant,
    point: OperatingPoint,
    release: Release,
    end: WireEnd,
    path: _Path,
    until_s: Values,
    longest_step_s: float,
) -> None:
    """Run every draw that has not come so far on to `until_s`, with the contactor on."""
    leg_s = path.do.maximum(until_s - path.time_s, 0.0)
    longest_s = float(path.do.largest(leg_s))
    left = max(math.ceil(longest_s / longest_step_s), 1) if longest_s > 0 else 0
    step_s = leg_s / max(left, 1)
    while left:
        # Once every arc is out the wire only coasts on, and one step of any length is exact.
        taken = 1 if path.do.any(path.burning) else left
        _advance(plant, point, release, end, path, taken * step_s)
        left -= taken


def run_uncut(
    plant: Plant, point: OperatingPoint, release: Release, end: WireEnd, times_s: Iterable[float]
) -> Iterator[tuple[Values, Values]]:
    """Yield extension in mm and current in A at each of the times, while the contactor stays on.

    `times_s` counts from the wire drive's command off, rising, in seconds.
    """
    path = _start(plant, point, release, end)
    for time_s in times_s:
        _run_to(plant, point, release, end, path, time_s, LONGEST_STEP_S)
        yield path.extension_mm, path.current_a


@dataclass(frozen=True)
class _Rest:
    """What one setting left of one wire, or of all draws; fields as in BurnbackRun."""

    extension_mm: Values
    hanging_mm: Values
    arc_out_s: Values
    melted_mm: Values
    fused: Truths


def _rests(
    plant: Plant,
    release: Release,
    point: OperatingPoint,
    end: WireEnd,
    path: _Path,
    settings_s: Iterable[float],
    longest_step_s: float,
) -> Iterator[_Rest]:
    """Yield what each setting leaves, in order; the path goes on from one cut to the next."""
    do, run_all = path.do, wire_run_mm(release, plant.feed_mm_s, math.inf)
    for setting_s in settings_s:
        _run_to(plant, point, release, end, path, setting_s + release.contactor_off_s, longest_step_s)
        arc_out_s, melted_after = _decay(plant, point, release, path)
        if do.any(plant.ripple_hz):
            melted_after = melted_after + _ripple_melts_mm(plant, point, release, path)
        at_arc_out = path.extension_mm + wire_run_mm(release, plant.feed_mm_s, arc_out_s) - path.run_mm
        rest_mm = path.extension_mm + (run_all - path.run_mm) - melted_after
        yield _Rest(
            extension_mm=do.where(path.fused, path.extension_mm, rest_mm),
            hanging_mm=path.hanging_mm + melted_after,
            arc_out_s=arc_out_s,
            melted_mm=path.melted_mm + melted_after + do.where(path.fused, run_all - path.run_mm, 0.0),
            fused=path.fused | (path.burning & (at_arc_out - melted_after <= end.fused_mm)),
        )


def run_one(
    plant: Plant, point: OperatingPoint, release: Release, end: WireEnd, settings_s: Iterable[float]
) -> list[WireRest]:
    """Burn one wire back at every setting; as `run_burnback`, for single numbers in plant, point and release."""
    path = _start(plant, point, release, end)
    start_mm, settings = float(path.extension_mm), [float(setting_s) for setting_s in settings_s]
    rests = _rests(plant, release, point, end, path, settings, LONGEST_STEP_S)
    return [
        WireRest(
            setting_s,
            float(rest.extension_mm),
            float(end.melt.ball_mm(rest.hanging_mm)),
            float(rest.extension_mm + end.melt.length_mm(rest.hanging_mm)),
            judge(rest.extension_mm, rest.hanging_mm, rest.fused, plant.distance_mm, end),
            float(rest.arc_out_s),
            start_mm,
        )
        for setting_s, rest in zip(settings, rests, strict=True)
    ]


def run_burnback(
    plant: Plant,
    point: OperatingPoint,
    release: Release,
    end: WireEnd,
    settings_s: Floats,
    longest_step_s: float = LONGEST_STEP_S,
) -> BurnbackRun:
    """Burn every draw back at every setting.

    `settings_s` is the time from the wire drive's command off to the contactor's, rising, in seconds. Results have
    the shape (settings, draws). Errors of the extension stay below 0.05 mm at the default step.
    """
    # Draws are arrays; what computes with single numbers alone shall not wait for numpy.
    import numpy as np

    settings = np.asarray(settings_s, dtype=np.float64)
    path = _start(plant, point, release, end)
    start_mm = path.extension_mm
    shape = (settings.size, np.size(start_mm))
    extension, hanging, arc_out, melted = (np.empty(shape) for _ in range(4))
    fused = np.empty(shape, dtype=np.bool_)
    rests = _rests(plant, release, point, end, path, settings.tolist(), longest_step_s)
    for row, rest in enumerate(rests):
        extension[row], hanging[row], arc_out[row] = rest.extension_mm, rest.hanging_mm, rest.arc_out_s
        melted[row], fused[row] = rest.melted_mm, rest.fused
    outcome = judge(extension, hanging, fused, plant.distance_mm, end).astype(np.int8)
    fed = np.broadcast_to(wire_run_mm(release, plant.feed_mm_s, np.inf), shape).copy()
    return BurnbackRun(settings, extension, hanging, end.melt, outcome, arc_out, fed, melted, np.asarray(start_mm))
