"""From some ten repeats to a middle, its limits, and what the next operation may do.

Student's t for what so few repeats cannot know; a bound that does not shrink with repeats (a clock's tolerance, a
coupler's dark time) is taken as a rectangular distribution and added to the variance, the degrees of freedom by the
Welch-Satterthwaite formula (JCGM 100:2008, 4.3.7, G.4.1 and G.6.4, seen quoted). What the next operation does lies
within m +- t s sqrt(1 + 1/n) (seen quoted in several courses of statistics).
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

LIMITS_HOLD = 0.95
"""Share of cases in which stated limits hold (choice)."""
FEWEST_GOOD = 5
"""Fewer good repeats are no sample: t limits of four are more than three standard deviations wide (choice)."""
OUTLIER_SCORE = 5.0
"""A repeat counts as thrown out when its modified z-score, 0.6745 of its distance from the median over the median of
all such distances, is above this. 3.5 is usual (B. Iglewicz, D. C. Hoaglin, How to Detect and Handle Outliers, 1993,
seen quoted), for large samples; of ten sound repeats it throws one out too often, and limits hold less than they say
(measured: 5.0 costs ten sound repeats less than 1 % of coverage, by a test)."""
OUTLIER_LEAST = 1_500.0
"""Nor is one thrown out that lies nearer to the median than this, in us: machines differ by so much from one operation
to the next (practice)."""
MOST_RATIO = 3.0
"""A bound that outweighs chance by more than this leaves so many degrees of freedom that no more would show
(choice)."""
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


def estimate_of(values: Sequence[float], bound: float = 0.0, shift: float = 0.0) -> Estimate:
    """Return what repeats tell. Raises ValueError for fewer than two.

    bound: the middle may be off by this to either side whatever the number of repeats, evenly likely. shift: is added
    to every value, for a bias that is known.
    """
    if len(values) < 2:
        raise ValueError("one repeat has no spread")
    count = len(values)
    mean = statistics.fmean(values) + shift
    deviation = statistics.stdev(values)
    by_chance, fixed = deviation / math.sqrt(count), bound / math.sqrt(3)
    whole = math.hypot(by_chance, fixed)
    # With nothing by chance the bound alone is left, which holds all there is.
    half = t_quantile(_degrees(count, by_chance, whole)) * whole if by_chance > 0 else bound
    next_half = t_quantile(float(count - 1)) * deviation * math.sqrt(1 + 1 / count) + bound
    return Estimate(
        count,
        mean,
        statistics.median(values) + shift,
        deviation,
        mean - half,
        mean + half,
        min(mean - next_half, min(values) + shift),
        max(mean + next_half, max(values) + shift),
    )


def _degrees(count: int, by_chance: float, whole: float) -> float:
    """Welch-Satterthwaite, the bound being known: rounded down, so that few quantiles are worked out."""
    ratio = min(whole / by_chance, MOST_RATIO)
    return float(math.floor((count - 1) * ratio**4))


def thrown_out(values: Sequence[float], least: float = OUTLIER_LEAST) -> tuple[int, ...]:
    """Return the places of values that lie too far off to be of the same kind, by the rule of OUTLIER_SCORE."""
    if len(values) < 3:
        return ()
    median = statistics.median(values)
    apart = statistics.median(abs(value - median) for value in values)
    farthest = max(OUTLIER_SCORE * apart / MEDIAN_SHARE, least)
    return tuple(place for place, value in enumerate(values) if abs(value - median) > farthest)
