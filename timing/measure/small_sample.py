"""From some ten repeats to a middle, its limits, and what the next operation may do.

Student's t for what so few repeats cannot know, scaled and shifted (JCGM 101:2008, 6.4.9, seen quoted); what does not
shrink with repeats (a clock's tolerance, a coupler's own lag) comes on top with its own distribution. What the next
operation does lies within m +- t s sqrt(1 + 1/n) (seen quoted in several courses of statistics), and the same on top.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from timing.elementwise import Floats
from timing.measure.fixed_parts import FixedPart, draw_shares, on_top

LIMITS_HOLD = 0.95
"""Share of cases in which stated limits hold (choice)."""
FEWEST_GOOD = 5
"""Fewer good repeats are no sample: t limits of four are more than three standard deviations wide (choice)."""
OUTLIER_SCORE = 5.0
"""A repeat counts as thrown out when its modified z-score, 0.6745 of its distance from the median over the median of
all such distances, is above this. 3.5 is usual (B. Iglewicz, D. C. Hoaglin, How to Detect and Handle Outliers, 1993,
seen quoted), for large samples; of ten sound repeats it throws one out too often, and limits hold less than they say
(measured: at 5.0 limits of ten sound repeats hold in 0.8 % fewer cases than without the rule; a test compares)."""
OUTLIER_LEAST = 1_500.0
"""Nor is one thrown out that lies nearer to the median than this, in us: machines differ by so much from one operation
to the next (practice)."""
T_STEPS = 4_001
"""Angles at which the area under Student's density is summed up (choice: quantiles to four digits)."""
MEDIAN_SHARE = 0.6745
"""Of a normal distribution's standard deviation: half of it lies nearer to the middle (exact: to four digits)."""
_NEAR = 1e-9


def t_share(t: float, degrees: float) -> float:
    """Return the share of Student's t within -t and t.

    By Simpson's rule over the angle u with t = sqrt(degrees) tan(u), where the density is cos(u) to the power of
    degrees - 1 (the substitution of M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 26.7, exact).
    """
    end = math.atan2(t, math.sqrt(degrees))
    return _cosine_area(end, degrees - 1) / _cosine_area(math.pi / 2, degrees - 1)


def _cosine_area(end: float, power: float) -> float:
    steps = 400
    values = [math.pow(max(math.cos(end * place / steps), 0.0), power) for place in range(steps + 1)]
    return (values[0] + values[-1] + 4 * sum(values[1:-1:2]) + 2 * sum(values[2:-1:2])) * end / steps / 3


@cache
def t_quantile(degrees: float, holds: float = LIMITS_HOLD) -> float:
    """Return the t within whose two signs Student's distribution has the share `holds`. `degrees`: 1 or more."""
    # The share is concave over t: Newton's steps from below 1.96 never pass the root. Its slope is twice the density.
    log_peak = math.lgamma((degrees + 1) / 2) - math.lgamma(degrees / 2) - 0.5 * math.log(degrees * math.pi)
    t, step = 1.0, 1.0
    while step > _NEAR * t:
        slope = 2 * math.exp(log_peak - (degrees + 1) / 2 * math.log1p(t * t / degrees))
        step = (holds - t_share(t, degrees)) / slope
        t += step
    return t


@dataclass(frozen=True)
class Estimate:
    """A figure from repeats, in the unit of the values."""

    count: int
    mean: float
    median: float
    deviation: float
    """Standard deviation from one repeat to the next."""
    low: float
    """With `high`: the true middle lies between in 95 of 100 cases."""
    high: float
    next_low: float
    """With `next_high`: so does what the next operation takes, and everything that was seen."""
    next_high: float

    @property
    def half_width(self) -> float:
        """Half of what lies between the limits of the middle."""
        return (self.high - self.low) / 2

    def scaled(self, by: float) -> Estimate:
        """Return the same in another unit; `by` is above 0."""
        return Estimate(self.count, *(by * getattr(self, name) for name in _FIGURES))


_FIGURES = ("mean", "median", "deviation", "low", "high", "next_low", "next_high")


def estimate_of(values: Sequence[float], parts: Sequence[FixedPart] = (), shift: float = 0.0) -> Estimate:
    """Return what repeats tell. Raises ValueError for fewer than two.

    parts: what they are off by whatever their number, beside its mean. shift: is added to every value, for a bias that
    is known.
    """
    if len(values) < 2:
        raise ValueError("one repeat has no spread")
    count = len(values)
    mean = statistics.fmean(values) + shift
    deviation = statistics.stdev(values)
    chance = deviation / math.sqrt(count) * t_draws(count - 1)
    low, high = limits(mean + on_top(chance, parts))
    next_low, next_high = limits(mean + on_top(chance * math.sqrt(count + 1), parts))
    return Estimate(
        count,
        mean,
        statistics.median(values) + shift,
        deviation,
        min(low, mean),
        max(high, mean),
        min(next_low, min(values) + shift),
        max(next_high, max(values) + shift),
    )


def limits(draws: Floats) -> tuple[float, float]:
    """Return what holds the share LIMITS_HOLD of equally likely values, with as much left out at either end."""
    low, high = np.quantile(draws, [(1 - LIMITS_HOLD) / 2, (1 + LIMITS_HOLD) / 2])
    return float(low), float(high)


@cache
def t_draws(degrees: int) -> Floats:
    """Return equally likely values of Student's t, in order; the density as in `t_share`."""
    angles = np.linspace(-math.pi / 2, math.pi / 2, T_STEPS)
    density = np.maximum(np.cos(angles), 0.0) ** (degrees - 1)
    area = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    draws: Floats = math.sqrt(degrees) * np.tan(np.interp(draw_shares(), area / area[-1], angles))
    return draws


def thrown_out(values: Sequence[float], least: float = OUTLIER_LEAST) -> tuple[int, ...]:
    """Return the places of values that lie too far off to be of the same kind, by the rule of OUTLIER_SCORE."""
    if len(values) < 3:
        return ()
    median = statistics.median(values)
    apart = statistics.median(abs(value - median) for value in values)
    farthest = max(OUTLIER_SCORE * apart / MEDIAN_SHARE, least)
    return tuple(place for place, value in enumerate(values) if abs(value - median) > farthest)
