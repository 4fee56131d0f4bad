"""The band of wire that test welds leave open: what to expect at every place of the burnback dial on this machine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from timing.elementwise import Floats, percentiles
from timing.process.burnback import FUSED, QUICK_STEP_S, run_burnback
from timing.process.burnback_curve import BAND_PERCENT
from timing.process.settable import Settable
from timing.process.settling import MachinesLeft

PLACES = 12
"""Places of the dial at which a band is worked out, about as many (choice)."""
LONGEST_READ_MM = 60.0
"""No more wire than this is told of (choice)."""


@dataclass(frozen=True)
class WireLeft:
    """Wire left at each of some burnback settings, to the end of the ball, as a rule reads it; shape (settings,).

    Nine welds of ten lie from low to high: on any machine that the test welds allow, made by hand.
    """

    settings_s: Floats
    low_mm: Floats
    middle_mm: Floats
    high_mm: Floats
    """Beyond the distance where the wire runs into the puddle."""
    good: Floats
    """Share of welds that end good; the others are frozen in the puddle, too short, or fused to the tip."""
    frozen: Floats
    short: Floats
    fused: Floats
    ball_mm: float
    """How far the ball stands beyond the end of the solid wire, counted in what is left."""

    def expected_at(self, setting_s: float) -> str:
        """Return what to expect at a setting, in words: the middle, and where nine welds of ten lie."""
        low, middle, high = (
            np.interp(setting_s, self.settings_s, mm) for mm in (self.low_mm, self.middle_mm, self.high_mm)
        )
        return f"{middle:.1f} mm of wire to the end of the ball (nine times in ten {low:.1f} mm to {high:.1f} mm)"


def wire_left(left: MachinesLeft, settings_s: Floats) -> WireLeft:
    """Return the band at rising settings: each machine that is left makes one weld of its own at each."""
    case = left.evidence.case
    drawn = left.evidence.machines.drawn(left.places, weld=True)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, case.end, settings_s, QUICK_STEP_S)
    balls_mm = left.evidence.balls_mm(left.places)
    read_mm = np.clip(run.extension_mm + balls_mm, 0.0, LONGEST_READ_MM)
    low, middle, high = percentiles(read_mm, (BAND_PERCENT[0], 50.0, BAND_PERCENT[1]))
    fused = run.outcome == FUSED
    frozen = ~fused & (drawn.plant.distance_mm - run.extension_mm - balls_mm <= case.end.sticking_gap_mm)
    short = ~fused & ~frozen & (run.extension_mm < case.end.short_mm)
    return WireLeft(
        settings_s,
        low,
        middle,
        high,
        good=(~fused & ~frozen & ~short).mean(axis=1),
        frozen=frozen.mean(axis=1),
        short=short.mean(axis=1),
        fused=fused.mean(axis=1),
        ball_mm=float(np.median(balls_mm)),
    )


def band_settings_s(settable: Settable, setting_s: float) -> Floats:
    """Return the settings to work a band out at: places all over the dial, `setting_s` among them.

    Where burnback is fixed, from half of it to twice as much.
    """
    times_s = settable.times_s
    if not settable.dial:
        times_s = [time_s for time_s in times_s if setting_s / 2 <= time_s <= 2 * setting_s + 0.02]
    step = max(-(-len(times_s) // PLACES), 1)
    # Not np.unique, which loads the whole of numpy.ma.
    return np.array(sorted({*times_s[::step], times_s[-1], setting_s}))
