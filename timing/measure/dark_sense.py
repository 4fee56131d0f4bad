"""Lags counted from a trigger that the add-on senses on ac: the press falls into the dark of its coupler, or not.

What is seen of a press is mu + e + n: n is normal, from one operation to the next; e is what the dark adds. A press in
the dark is seen as the coupler lights; and where the filter is over in the dark, it is over as the coupler lights the
next time. A let-go in the dark was seen as the coupler went dark: there e is taken off. How long the dark is hangs on
the age of the coupler and on the line; papers bound it. mu, the spread and the dark are found together: each is looked
at on a grid, with a press at any phase of the line, and weighed by how likely what was seen is with it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from timing.elementwise import Floats
from timing.measure.fixed_parts import FixedPart, draw_shares, on_top
from timing.measure.small_sample import Estimate, limits, t_draws

LAG_SPREADS_US = np.geomspace(80.0, 2_500.0, 8)
"""Standard deviations of a lag that are looked at (choice)."""
DARK_TIMES = 8
"""Dark times that are looked at, up to the longest (choice)."""
PRESS_PHASES = 40
"""Phases of the line at which a press may fall that are looked at (choice)."""
LAG_STEP_US = 60.0
"""Steps in which the lag is looked for (choice)."""
LAG_ASIDE_US = 4_000.0
"""It is looked for so far beyond what was seen (choice)."""


@dataclass(frozen=True)
class DarkSense:
    """An ac sense: the shortest and the longest that its coupler is dark, and how often it is."""

    least_us: float
    longest_us: float
    period_us: float
    filter_us: float
    """For so long the trigger must have been closed, or open, until it counts."""

    def late_us(self, dark_us: float, closes: bool) -> Floats:
        """Return what the dark adds, or takes off, at a press, or a let-go, at each phase."""
        lit_us = self.period_us - dark_us
        into_us = (np.arange(PRESS_PHASES) + 0.5) / PRESS_PHASES * self.period_us
        if not closes:
            return np.maximum(into_us - lit_us, 0.0)
        waits_us = np.where(into_us < lit_us, 0.0, self.period_us - into_us)
        over_us = (into_us + waits_us + self.filter_us) % self.period_us
        late: Floats = waits_us + np.where(over_us < lit_us, 0.0, self.period_us - over_us)
        return late


def estimate_behind(
    values: Sequence[float], sense: DarkSense, *, late: bool, parts: Sequence[FixedPart], shift: float
) -> Estimate:
    """Return a lag from repeats, in us. `late`: the dark makes it look longer, as of a press; else shorter.

    parts, shift: as small_sample.estimate_of has them. Raises ValueError for fewer than two values.
    """
    if len(values) < 2:
        raise ValueError("one repeat has no spread")
    seen = np.asarray(values) if late else -np.asarray(values)
    places = np.arange(seen.min() - 2 * sense.longest_us - LAG_ASIDE_US, seen.max() + LAG_ASIDE_US, LAG_STEP_US)
    weights = _posterior(seen, places, sense, late)
    share = np.cumsum(weights.sum(axis=1))
    draws = np.interp(draw_shares(), share, places)
    if not late:
        draws = -draws[::-1]
    draws += shift
    middle, count = float(np.median(draws)), len(values)
    spread = float(weights.sum(axis=0) @ LAG_SPREADS_US)
    low, high = limits(on_top(draws, parts))
    chance = spread * math.sqrt(1 + 1 / count) * t_draws(count - 1)
    next_low, next_high = limits(middle + on_top(chance, parts))
    return Estimate(
        count,
        middle,
        statistics.median(values) + shift,
        spread,
        min(low, middle),
        max(high, middle),
        min(next_low, low),
        max(next_high, high),
    )


def _posterior(seen: Floats, places: Floats, sense: DarkSense, closes: bool) -> Floats:
    """Return how likely each place and each spread is, over all dark times."""
    darks_us = np.linspace(sense.least_us, sense.longest_us, DARK_TIMES + 1)[1:]
    logs = np.empty((len(places), len(LAG_SPREADS_US), len(darks_us)))
    apart_us = seen[None, :, None] - places[:, None, None]
    for column, dark_us in enumerate(darks_us):
        late_us, counts = np.unique(np.round(sense.late_us(float(dark_us), closes)), return_counts=True)
        square = (apart_us - late_us) ** 2
        for row, spread_us in enumerate(LAG_SPREADS_US):
            # Phases are looked at in steps: what lies between two of them is spread too.
            whole_us = math.hypot(spread_us, sense.period_us / PRESS_PHASES / math.sqrt(12))
            likely = np.exp(-0.5 * square / whole_us**2) @ (counts / PRESS_PHASES) / whole_us
            logs[:, row, column] = np.log(likely + 1e-12).sum(axis=1)
    whole = np.exp(logs - logs.max()).sum(axis=2)
    found: Floats = whole / whole.sum()
    return found
