"""The band of the extension left that test welds leave open, over the machines that they allow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from timing.design.extension_left import LONGEST_EXTENSION_MM
from timing.elementwise import Floats
from timing.process.burnback import FUSED, QUICK_STEP_S, run_burnback
from timing.process.burnback_curve import low_middle_high
from timing.process.case import HAND_SPREAD_MM
from timing.process.evidence import BALL_WELD_SPREAD, WeldEvidence
from timing.process.lattice import Lattice
from timing.process.measured_band import ExtensionBand
from timing.process.settable import Settable
from timing.process.settling import MachinesLeft

BALL_SEED = 20_260_102
"""Makes draws of balls repeatable, others than those of the machines (choice)."""
PLACES = 12
"""Places of the dial at which a band is worked out, about as many (choice)."""


@dataclass(frozen=True)
class MadeWelds:
    """Welds that machines made, one each at every setting; shape (settings, machines)."""

    read_mm: Floats
    """Extension left, to the end of the ball."""
    ball_mm: Floats
    """How far that stands beyond the solid wire."""
    frozen: NDArray[np.bool_]
    short: NDArray[np.bool_]
    fused: NDArray[np.bool_]

    @property
    def good(self) -> NDArray[np.bool_]:
        """Neither of these."""
        return ~(self.frozen | self.short | self.fused)


def made_welds(
    evidence: WeldEvidence,
    places: Floats,
    settings_s: Floats,
    hand_mm: float = HAND_SPREAD_MM,
    *,
    steady: bool = False,
) -> MadeWelds:
    """Return what machines at `places` leave at rising settings, each weld with a scatter of its own.

    steady: with mains and source as they are within an hour.
    """
    end = evidence.case.end
    drawn = evidence.machines.drawn(places, weld=True, hand_mm=hand_mm, steady=steady)
    run = run_burnback(drawn.plant, drawn.point, drawn.release, end, settings_s, QUICK_STEP_S)
    ball_mm = evidence.machines.ball_factor(places) * (run.to_ball_end_mm - run.extension_mm)
    ball_mm = ball_mm * np.exp(BALL_WELD_SPREAD * Lattice(len(places), BALL_SEED).normal())
    read_mm = np.clip(run.extension_mm + ball_mm, 0.0, LONGEST_EXTENSION_MM)
    fused = run.outcome == FUSED
    frozen = ~fused & (drawn.plant.distance_mm - read_mm <= end.sticking_gap_mm)
    return MadeWelds(read_mm, ball_mm, frozen, ~fused & ~frozen & (run.extension_mm < end.short_mm), fused)


def extension_band(left: MachinesLeft, settings_s: Floats) -> ExtensionBand:
    """Return the band at rising settings: each machine that is left makes one weld of its own at each."""
    made = made_welds(left.evidence, left.places, settings_s)
    low, middle, high = low_middle_high(made.read_mm)
    shares = {name: getattr(made, name).mean(axis=1) for name in ("good", "frozen", "short", "fused")}
    ball_mm = float(np.median(made.ball_mm[made.good])) if made.good.any() else float(np.median(made.ball_mm))
    return ExtensionBand(settings_s, low, middle, high, **shares, ball_mm=ball_mm)


def band_settings_s(settable: Settable, setting_s: float) -> Floats:
    """Return the settings to work a band out at, `setting_s` among them: places all over the dial, in whole ms.

    They are closer where it is short, since more changes there. Where burnback is fixed they go from half of it to
    twice as much.
    """
    ends = (settable.times_s[0], settable.times_s[-1]) if settable.dial else (setting_s / 2, 2 * setting_s + 0.02)
    places = ends[0] + (ends[1] - ends[0]) * (np.arange(PLACES) / (PLACES - 1)) ** 2
    # Not np.unique, which loads the whole of numpy.ma.
    return np.array(sorted({round(float(time_s), 3) for time_s in (*places, setting_s)}))
