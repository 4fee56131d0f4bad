"""Dips of the 24 VAC, from how long its coupler is dark round each zero: the lower the peak, the longer."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from itertools import pairwise

from timing.measure.cycle import MeasuringCycle
from timing.measure.lag import BadRepeatError, ends_us
from timing.measure.repeats import SeenRepeat

FEWEST_GAPS = 4
"""Dark times that make a mean at rest (choice)."""
LOOK_US = 16.0
"""A dark time is known to a look of the recorder (derived: SAMPLE_US)."""


def dip_shares(repeat: SeenRepeat, cycle: MeasuringCycle, line_hz: float) -> tuple[float, float]:
    """Return the voltage over that at rest, at its lowest while coils pull in, and in the middle while they hold.

    v_threshold = v_peak sin(w g / 2), so the peaks are as sin(w g_rest / 2) over sin(w g / 2) (exact for a sine).
    Raises BadRepeatError.
    """
    pressed_us, ended_us = ends_us(repeat, cycle)
    gaps = _gaps_us(repeat)
    # Before the press, and long after the end, the winding carries the board alone.
    rest = [gap_us for at_us, gap_us in gaps if at_us < pressed_us or at_us > ended_us + cycle.rests_us]
    loaded = [gap_us for at_us, gap_us in gaps if pressed_us < at_us < ended_us]
    if len(rest) < FEWEST_GAPS or len(loaded) < FEWEST_GAPS:
        raise BadRepeatError("showed too few dark times of the supply: is its adapter on the 24 VAC, behind its fuse?")
    at_rest = _sine(statistics.fmean(rest), line_hz)
    # One long gap may be a look that was late; the dip of a coil that pulls in lasts several half-waves.
    longest = sorted(loaded)[-2]
    holding = statistics.median(loaded[len(loaded) // 2 :])
    return at_rest / _sine(longest, line_hz), at_rest / _sine(holding, line_hz)


def _gaps_us(repeat: SeenRepeat) -> Sequence[tuple[int, int]]:
    edges = repeat.of("supply")
    return [(off.at_us, on.at_us - off.at_us) for off, on in pairwise(edges) if not off.on and on.on]


def _sine(gap_us: float, line_hz: float) -> float:
    return math.sin(min(math.pi * line_hz * max(gap_us, LOOK_US) / 1e6, math.pi / 2))
