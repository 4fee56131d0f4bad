"""Burnback, dynamically: from the wire drive's command off to the wire at rest, for many draws at once.

Time counts from the moment the board switches the wire drive off; the trigger filter lies before it and changes
nothing at the wire, which goes on being fed and melted as in the weld. Two states for each draw, the extension x
and the current I:

    dx/dt = v(t) - (alpha I + beta x I^2)
    L dI/dt = U0 - U_fall - E (D - x) + dip - (s + R_arc + R x) I

with v(t) the wire's speed: full until the drive lets go, then coasting (exponential) or braked (even, in twice the
coast time, so that the wire coasts on equally far). When the contactor has dropped out, U0 is 0 and the current dies
through the inductance against the arc; below `arc_out_a` the arc is out, and the wire only coasts.

The whole curve over the burnback setting costs little more than its longest setting: all settings share the path
up to their cut. Along that path each step solves the current exactly for a frozen arc length (the equation is
linear in I), takes the mean of I and I^2 over the step in closed form, and the arc length from a half step before:
second order, and stable for any inductance. After the cut the current itself is the running variable (it only
falls), integrated by Runge-Kutta of fourth order, so that arc-out needs no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.process.arc import Codes, Flags, Floats, OperatingPoint, Plant, dip_length_mm, melting_rate_mm_s

LONGEST_STEP_S = 2e-3
"""Longest step of the integration (choice: errors stay below 0.05 mm, measured in the tests)."""
DECAY_STEPS = 2
"""Steps for each time constant of the current's decay (choice: as above)."""
_SHORTEST_S = 1e-9

FROZEN, GOOD, SHORT, FUSED = 0, 1, 2, 3
"""Codes of what becomes of the wire's end (choice)."""
OUTCOMES = ("frozen in the puddle", "good", "too short", "fused to the tip")
"""The same in words, by code."""


@dataclass(frozen=True)
class Release:
    """How the machine follows the commands, for each draw: shape (draws,), in seconds."""

    wire_off_s: Floats
    """From the command to the wire drive letting go."""
    coast_s: Floats
    """Time constant of the coast; with a brake, half the time to a stop."""
    contactor_off_s: Floats
    """From the command to no voltage at the arc."""
    braked: bool
    start_shift_mm: Floats
    """How much longer than its mean the extension is at the release (short-circuit transfer), with its sign."""

    @staticmethod
    def coasting(coast_s: float, braked: bool) -> Release:
        """A release of one draw in which everything lets go at once and the wire coasts."""
        return Release(np.zeros(1), np.full(1, coast_s), np.zeros(1), braked, np.zeros(1))


@dataclass(frozen=True)
class WireEnd:
    """What counts as a good end of wire, in mm. Defaults by common practice, no source."""

    sticking_gap_mm: float
    """A wire end at rest nearer to the puddle than this is caught by it."""
    short_mm: float
    """Less extension than this starts the next weld badly."""
    fused_mm: float
    """The molten ball at the wire's end touches the contact tip at this extension."""

    @staticmethod
    def usual(diameter_mm: float) -> WireEnd:
        """Usual limits for a wire: caught within 1 diameter, short below 3 mm or 4 diameters, ball of 1.2."""
        return WireEnd(diameter_mm, max(3.0, 4 * diameter_mm), 1.2 * diameter_mm)


@dataclass(frozen=True)
class BurnbackRun:
    """Result over settings and draws: shape (settings, draws)."""

    settings_s: Floats
    extension_mm: Floats
    """Extension left, at rest; may exceed the distance where the wire coasted on into the puddle."""
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


def wire_run_mm(release: Release, feed_mm_s: Floats, time_s: Floats | float) -> Floats:
    """Wire fed since the wire drive's command off, in mm, at `time_s` after it (infinity for all of it)."""
    time = np.asarray(time_s, dtype=np.float64)
    fed_s = np.minimum(time, release.wire_off_s)
    coasting_s = time - fed_s
    coast_s = np.maximum(release.coast_s, _SHORTEST_S)
    if release.braked:
        braking_s = np.minimum(coasting_s, 2 * coast_s)
        run_s = braking_s * (1 - braking_s / (4 * coast_s))
    else:
        run_s = -coast_s * np.expm1(-coasting_s / coast_s)
    run_mm: Floats = feed_mm_s * (fed_s + run_s)
    return run_mm


def wire_speed_mm_s(release: Release, feed_mm_s: Floats, time_s: Floats | float) -> Floats:
    """Speed of the wire in mm/s at `time_s` after the wire drive's command off."""
    coasting_s = np.maximum(np.asarray(time_s, dtype=np.float64) - release.wire_off_s, 0.0)
    coast_s = np.maximum(release.coast_s, _SHORTEST_S)
    left = np.maximum(1 - coasting_s / (2 * coast_s), 0.0) if release.braked else np.exp(-coasting_s / coast_s)
    speed_mm_s: Floats = feed_mm_s * left
    return speed_mm_s


@dataclass
class _Path:
    """Running state of all draws before their cut."""

    time_s: Floats
    extension_mm: Floats
    current_a: Floats
    melted_mm: Floats
    run_mm: Floats
    burning: Flags
    out_s: Floats
    """When the arc went out by itself; meaningless while it burns."""
    fused: Flags


def _arc_drive_v(plant: Plant, point: OperatingPoint, extension_mm: Floats, open_v: Floats | float) -> Floats:
    """Voltage that drives the current against the loop's resistance, with the wire's end at `extension_mm`."""
    arc_mm = plant.distance_mm - extension_mm
    dip_v = point.dip_v * np.maximum(2.0 - arc_mm / dip_length_mm(plant), 0.0)
    return open_v - plant.fall_v - plant.gradient_v_per_mm * arc_mm + dip_v


def _loop_ohm(plant: Plant, extension_mm: Floats) -> Floats:
    return plant.slope_ohm + plant.arc_ohm + plant.wire_ohm_per_mm * extension_mm


def _relaxed(
    plant: Plant, point: OperatingPoint, extension_mm: Floats, current_a: Floats, step_s: Floats
) -> tuple[Floats, Floats, Floats]:
    """Current after a step at a frozen extension, and the means of I and I^2 over the step."""
    loop_ohm = _loop_ohm(plant, extension_mm)
    settled_a = _arc_drive_v(plant, point, extension_mm, plant.open_v) / loop_ohm
    ratio = np.maximum(step_s * loop_ohm / plant.inductance_h, 1e-12)
    lost = -np.expm1(-ratio)
    mean_1 = lost / ratio
    mean_2 = mean_1 * (1 - lost / 2)
    off_a = current_a - settled_a
    current_after = current_a - off_a * lost
    mean_current = settled_a + off_a * mean_1
    mean_square = settled_a * (settled_a + 2 * off_a * mean_1) + off_a * off_a * mean_2
    return current_after, mean_current, mean_square


def _advance(plant: Plant, point: OperatingPoint, release: Release, end: WireEnd, path: _Path, step_s: Floats) -> None:
    """Move every draw on by its own `step_s`, contactor on."""
    x, current, burning = path.extension_mm, path.current_a, path.burning
    half_s = step_s / 2
    run_half = wire_run_mm(release, plant.feed_mm_s, path.time_s + half_s)
    run_full = wire_run_mm(release, plant.feed_mm_s, path.time_s + step_s)
    _, mean, square = _relaxed(plant, point, x, current, half_s)
    melted_half = half_s * (plant.alpha_mm_per_a_s * mean + plant.beta_per_a2_s * x * square)
    middle = x + (run_half - path.run_mm) - np.where(burning, melted_half, 0.0)
    after, mean, square = _relaxed(plant, point, middle, current, step_s)
    melted = step_s * (plant.alpha_mm_per_a_s * mean + plant.beta_per_a2_s * middle * square)
    # An arc that goes out within the step melts for its share of it only.
    dies = burning & (after <= plant.arc_out_a)
    share = np.where(dies, (current - plant.arc_out_a) / np.maximum(current - after, _SHORTEST_S), 1.0)
    melted = np.where(burning, np.maximum(melted, 0.0) * share, 0.0)
    free = ~path.fused
    path.melted_mm += np.where(free, melted, run_full - path.run_mm)
    path.extension_mm = np.where(free, x + (run_full - path.run_mm) - melted, x)
    path.run_mm = run_full
    path.time_s = path.time_s + step_s
    path.fused = path.fused | (path.extension_mm <= end.fused_mm)
    still = burning & ~dies & ~path.fused
    path.out_s = np.where(burning & ~still, path.time_s - (1 - share) * step_s, path.out_s)
    path.burning = still
    path.current_a = np.where(still, after, 0.0)


def _decay(plant: Plant, point: OperatingPoint, release: Release, path: _Path) -> tuple[Floats, Floats]:
    """Return (time of arc-out, wire melted since the cut) for a cut at the path's present state.

    The running variable is the current, from its value at the cut to `arc_out_a`.
    """
    if not path.burning.any():
        return path.out_s.copy(), np.zeros(plant.draws)
    start_a = path.current_a
    drop_a = np.where(path.burning, np.maximum(start_a - plant.arc_out_a, 0.0), 0.0)
    base_mm = path.extension_mm - path.run_mm

    def slopes(share: float, time_s: Floats, melted_mm: Floats) -> tuple[Floats, Floats]:
        current = start_a - share * drop_a
        x = np.maximum(base_mm + wire_run_mm(release, plant.feed_mm_s, time_s) - melted_mm, 0.0)
        against_v = -_arc_drive_v(plant, point, x, 0.0) + _loop_ohm(plant, x) * current
        # A wire pushed far into the puddle has no arc left to kill the current: the loop's own volts do it then.
        seconds = plant.inductance_h * drop_a / np.maximum(against_v, 1.0)
        return seconds, seconds * melting_rate_mm_s(current, x, plant.alpha_mm_per_a_s, plant.beta_per_a2_s)

    time_s, melted_mm, step = path.time_s, np.zeros(plant.draws), 1.0 / DECAY_STEPS
    for number in range(DECAY_STEPS):
        at = number * step
        t1, m1 = slopes(at, time_s, melted_mm)
        t2, m2 = slopes(at + step / 2, time_s + step / 2 * t1, melted_mm + step / 2 * m1)
        t3, m3 = slopes(at + step / 2, time_s + step / 2 * t2, melted_mm + step / 2 * m2)
        t4, m4 = slopes(at + step, time_s + step * t3, melted_mm + step * m3)
        time_s = time_s + step / 6 * (t1 + 2 * t2 + 2 * t3 + t4)
        melted_mm = melted_mm + step / 6 * (m1 + 2 * m2 + 2 * m3 + m4)
    return np.where(path.burning, time_s, path.out_s), melted_mm


def judge(extension_mm: Floats, fused: Flags, distance_mm: Floats, end: WireEnd) -> Codes:
    """Return the outcome codes for wire ends at rest."""
    frozen = distance_mm - extension_mm <= end.sticking_gap_mm
    codes = np.select([fused, frozen, extension_mm < end.short_mm], [FUSED, FROZEN, SHORT], GOOD)
    return codes.astype(np.int8)


def _start(plant: Plant, point: OperatingPoint, release: Release) -> _Path:
    draws = plant.draws
    # The shift of a dip cycle stays between a wire that touches and twice the mean arc length.
    extension = np.clip(
        point.extension_mm + release.start_shift_mm,
        2 * point.extension_mm - plant.distance_mm,
        plant.distance_mm,
    )
    return _Path(
        time_s=np.zeros(draws),
        extension_mm=extension,
        current_a=point.current_a.copy(),
        melted_mm=np.zeros(draws),
        run_mm=np.zeros(draws),
        burning=np.ones(draws, dtype=np.bool_),
        out_s=np.zeros(draws),
        fused=np.zeros(draws, dtype=np.bool_),
    )


def _run_to(
    plant: Plant,
    point: OperatingPoint,
    release: Release,
    end: WireEnd,
    path: _Path,
    until_s: Floats,
    longest_step_s: float,
) -> None:
    """Run every draw that has not come so far on to `until_s`, with the contactor on."""
    leg_s = np.maximum(until_s - path.time_s, 0.0)
    left = max(int(np.ceil(float(leg_s.max()) / longest_step_s)), 1) if leg_s.any() else 0
    step_s = leg_s / max(left, 1)
    while left:
        # Once every arc is out the wire only coasts on, and one step of any length is exact.
        taken = 1 if path.burning.any() else left
        _advance(plant, point, release, end, path, taken * step_s)
        left -= taken


def run_uncut(
    plant: Plant, point: OperatingPoint, release: Release, end: WireEnd, times_s: Floats
) -> tuple[Floats, Floats]:
    """Return extension in mm and current in A while the contactor stays on, of shape (times, draws).

    `times_s` counts from the wire drive's command off, rising, in seconds.
    """
    path = _start(plant, point, release)
    extension, current = np.empty((times_s.size, plant.draws)), np.empty((times_s.size, plant.draws))
    for row, time_s in enumerate(times_s):
        _run_to(plant, point, release, end, path, np.full(plant.draws, time_s), LONGEST_STEP_S)
        extension[row], current[row] = path.extension_mm, path.current_a
    return extension, current


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
    settings = np.asarray(settings_s, dtype=np.float64)
    path = _start(plant, point, release)
    start_mm = path.extension_mm.copy()
    shape = (settings.shape[0], plant.draws)
    extension, arc_out, melted = (np.empty(shape) for _ in range(3))
    fused = np.empty(shape, dtype=np.bool_)
    run_all = wire_run_mm(release, plant.feed_mm_s, np.inf)
    for row, setting in enumerate(settings):
        _run_to(plant, point, release, end, path, setting + release.contactor_off_s, longest_step_s)
        arc_out[row], melted_after = _decay(plant, point, release, path)
        at_arc_out = path.extension_mm + wire_run_mm(release, plant.feed_mm_s, arc_out[row]) - path.run_mm
        fused[row] = path.fused | (path.burning & (at_arc_out - melted_after <= end.fused_mm))
        rest = path.extension_mm + (run_all - path.run_mm) - melted_after
        extension[row] = np.where(path.fused, path.extension_mm, rest)
        melted[row] = path.melted_mm + melted_after + np.where(path.fused, run_all - path.run_mm, 0.0)
    outcome = judge(extension, fused, plant.distance_mm, end)
    fed = np.broadcast_to(run_all, shape).copy()
    return BurnbackRun(settings, extension, outcome, arc_out, fed, melted, start_mm)
