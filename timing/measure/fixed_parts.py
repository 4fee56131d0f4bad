"""What is the same at every repeat and that nobody knows: a coupler's own lag, a clock's error, a relay that presses.

Repeats do not average it out, and it is seldom spread evenly: most photo-relays let go soon, a few late, so that a
figure is off to one side rarely and far. The distributions are propagated, each by its quantiles in an order of its own
(JCGM 101:2008, 7; draws stratified as in Latin hypercube sampling, M. D. McKay and others, 1979; both seen quoted).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from timing.elementwise import Floats

EQUAL_DRAWS = 4_000
"""Draws of each distribution (choice: limits are within a hundredth of their width)."""
LEAST_LAG_US = 1.0
"""A lag that may be nothing is taken as this, whose logarithm exists (choice: far below every look)."""


@dataclass(frozen=True)
class FixedPart:
    """One part, between two ends."""

    least: float
    most: float
    by_ratio: bool = False
    """True: each share of its logarithm is alike, as of a lag whose ends are an order of magnitude apart; else evenly
    spread."""
    weight: float = 1.0
    """What it adds to a figure; below 0 it is taken off."""

    @property
    def mean(self) -> float:
        """Return its mean: (a + b) / 2, or (b - a) / ln(b / a) (exact)."""
        if not self.by_ratio or self.most <= self.least:
            return (self.least + self.most) / 2
        return (self.most - self.least) / math.log(self.most / self.least)

    @property
    def variance(self) -> float:
        """Return the variance of what it adds (exact)."""
        if not self.by_ratio or self.most <= self.least:
            return self.weight**2 * (self.most - self.least) ** 2 / 12
        square = (self.most**2 - self.least**2) / (2 * math.log(self.most / self.least))
        return self.weight**2 * max(square - self.mean**2, 0.0)

    def off(self) -> FixedPart:
        """Return the same, taken off."""
        return replace(self, weight=-self.weight)

    def errors(self) -> Floats:
        """Return by how much what it adds lies off its mean: equally likely values, in order."""
        shares = draw_shares()
        if self.by_ratio and self.most > self.least:
            values = self.least * (self.most / self.least) ** shares
        else:
            values = self.least + (self.most - self.least) * shares
        errors: Floats = self.weight * (values - self.mean)
        return errors


def evenly(bound: float) -> FixedPart:
    """Return a part that is off by up to a bound to either side."""
    return FixedPart(-abs(bound), abs(bound))


def lag_part(ends_us: tuple[float, float]) -> FixedPart:
    """Return a lag that lies between two ends, an order of magnitude apart or more."""
    least_us, most_us = (max(end_us, LEAST_LAG_US) for end_us in ends_us)
    return FixedPart(least_us, max(least_us, most_us), by_ratio=True)


def on_top(chance: Floats, parts: Sequence[FixedPart]) -> Floats:
    """Return equally likely values of a sum: `chance`, EQUAL_DRAWS of it, and what each part is off its mean."""
    whole = np.array(chance, dtype=np.float64)
    for place, part in enumerate(parts):
        whole += part.errors()[_order(place)]
    return whole


def draw_shares() -> Floats:
    """Return the shares of a distribution at which it is drawn: the middles of EQUAL_DRAWS equal parts."""
    shares: Floats = (np.arange(EQUAL_DRAWS) + 0.5) / EQUAL_DRAWS
    return shares


@cache
def _order(place: int) -> NDArray[np.int64]:
    """Return the order of one part's draws: mixed, the same each time."""
    return np.random.default_rng(place).permutation(EQUAL_DRAWS)
