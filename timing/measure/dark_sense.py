"""Lags counted from a trigger that the add-on senses on ac: the press falls into the dark of its coupler, or not.

What is seen is mu + e + n for a press and mu - e + n for a let-go: n is normal, from one operation to the next; e is 0
for a press while the coupler is lit, and evenly spread from 0 to the dark time g for one in the dark, which has the
chance g over the period. How long g is hangs on the age of the coupler and on the line; papers bound it. mu, the
spread and g are found together: each is looked at on a grid, and weighed by how likely what was seen is with it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from timing.elementwise import Floats
from timing.measure.small_sample import LIMITS_HOLD, Estimate, t_quantile

LAG_SPREADS_US = np.geomspace(60.0, 3_000.0, 12)
"""Standard deviations of a lag that are looked at (choice)."""
DARK_TIMES = 16
"""Dark times that are looked at, up to the longest (choice)."""
LAG_STEP_US = 40.0
"""Steps in which the lag is looked for (choice)."""
NORMAL_95 = 1.96
"""Standard deviations to either side that hold 95 % of a normal distribution (exact: to three digits)."""
LAG_ASIDE_US = 4_000.0
"""It is looked for so far beyond what was seen (choice)."""


@dataclass(frozen=True)
class DarkSense:
    """An ac sense: the longest that its coupler is dark, and how often it is."""

    longest_us: float
    period_us: float


def estimate_behind(values: Sequence[float], sense: DarkSense, *, late: bool, bound: float, shift: float) -> Estimate:
    """Return a lag from repeats, in us. `late`: the dark makes it look longer, as of a press; else shorter.

    bound, shift: as small_sample.estimate_of has them. Raises ValueError for fewer than two values.
    """
    if len(values) < 2:
        raise ValueError("one repeat has no spread")
    seen = np.asarray(values) if late else -np.asarray(values)
    places = np.arange(seen.min() - sense.longest_us - LAG_ASIDE_US, seen.max() + LAG_ASIDE_US, LAG_STEP_US)
    weights = _posterior(seen, places, sense)
    share = np.cumsum(weights.sum(axis=1))
    low, middle, high = (
        float(np.interp(one, share, places)) for one in ((1 - LIMITS_HOLD) / 2, 0.5, (1 + LIMITS_HOLD) / 2)
    )
    spread = float(weights.sum(axis=0) @ LAG_SPREADS_US)
    # The bound is spread evenly: it goes in as a variance, as everywhere.
    fixed = NORMAL_95 * bound / math.sqrt(3)
    low, high = middle - math.hypot(middle - low, fixed), middle + math.hypot(high - middle, fixed)
    if not late:
        low, middle, high = -high, -middle, -low
    next_half = t_quantile(float(len(values) - 1)) * spread * math.sqrt(1 + 1 / len(values)) + bound
    low, middle, high = low + shift, middle + shift, high + shift
    return Estimate(
        len(values),
        middle,
        statistics.median(values) + shift,
        spread,
        low,
        high,
        min(middle - next_half, low),
        max(middle + next_half, high),
    )


def _posterior(seen: Floats, places: Floats, sense: DarkSense) -> Floats:
    """Return how likely each place and each spread is, over all dark times."""
    gaps_us = np.linspace(0.0, sense.longest_us, DARK_TIMES + 1)[1:]
    logs = np.empty((len(places), len(LAG_SPREADS_US), len(gaps_us)))
    for row, spread_us in enumerate(LAG_SPREADS_US):
        apart = (seen[None, :] - places[:, None]) / spread_us
        lit = np.exp(-0.5 * apart**2) / (spread_us * math.sqrt(2 * math.pi))
        begun = _below(apart)
        for column, gap_us in enumerate(gaps_us):
            dark = (begun - _below(apart - gap_us / spread_us)) / sense.period_us
            logs[:, row, column] = np.log((1 - gap_us / sense.period_us) * lit + dark + 1e-12).sum(axis=1)
    whole = np.exp(logs - logs.max()).sum(axis=2)
    found: Floats = whole / whole.sum()
    return found


def _below(place: Floats) -> Floats:
    """The normal distribution's share below a place, within 0.0003: the hyperbolic tangent of a cubic."""
    share: Floats = 0.5 * (1 + np.tanh(math.sqrt(2 / math.pi) * (place + 0.044715 * place**3)))
    return share
