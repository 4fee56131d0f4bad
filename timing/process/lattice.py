"""Evenly spread draws: the points of a lattice in place of random numbers.

A rank-1 lattice in Korobov's form: of n points, the i-th has the rank i a^k mod n in dimension k. Each quantity alone
then takes n evenly spaced quantiles, each once, and any few together are spread about as evenly, so that percentiles
settle with a fraction of the draws that random numbers need (a test compares them). A shift of the ranks, drawn for
each dimension, makes every seed another sample, as random numbers would be.

N. M. Korobov's lattices of 1959 and the shift of R. Cranley and T. N. L. Patterson (SIAM J. Numer. Anal. 13, 1976, 904)
are named from memory.
"""

from __future__ import annotations

import math
import random
from functools import cache, lru_cache

import numpy as np

from timing.elementwise import Floats

MULTIPLIERS = {250: 211, 500: 289, 512: 179, 4096: 957}
"""By the number of points, the multiplier with the least error of wire ends in the examples (measured: of a dozen)."""
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0
"""Share of the number of points near which a multiplier is looked for elsewhere (choice)."""
GRID_SD = 5.0
"""Beyond that many standard deviations no quantile is told apart (choice)."""
TABLED_PLACES = 2001
"""Places at which the normal distribution is tabulated: its quantiles are right to 1e-4 standard deviations within 3
of them (measured: by a test)."""


QUANTITIES = 24
"""At most as many are drawn together (choice)."""


class Lattice:
    """Draws of as many quantities as are asked for, one dimension after the other, each of shape (draws,)."""

    def __init__(self, draws: int, seed: int) -> None:
        self._draws, self._multiplier, self._power = draws, multiplier(draws), 1
        # Python's own random numbers: numpy's take longer to load than a rule takes to compute.
        self._shifts = random.Random(seed)

    def _share(self) -> Floats:
        """Return the next quantity's share below each draw, in the middle of each of n equal parts of 0 to 1."""
        shift = self._shifts.randrange(self._draws)
        ranks = (np.arange(self._draws) * self._power + shift) % self._draws
        self._power = self._power * self._multiplier % self._draws
        return (ranks + 0.5) / self._draws

    def uniform(self, low: float, high: float) -> Floats:
        """Return draws that are alike likely anywhere between `low` and `high`."""
        return low + (high - low) * self._share()

    def normal(self) -> Floats:
        """Return draws with mean 0 and standard deviation 1."""
        return np.interp(self._share(), *_normal_table())

    def triangular(self, low: float, mode: float, high: float) -> Floats:
        """Return draws between `low` and `high`, likeliest at `mode`. Raises ValueError unless low < high."""
        if not low < high:
            raise ValueError(f"no triangle from {low:g} to {high:g}")
        share, peak = self._share(), (mode - low) / (high - low)
        rising = low + np.sqrt(share * (high - low) * (mode - low))
        falling = high - np.sqrt((1.0 - share) * (high - low) * (high - mode))
        return np.where(share < peak, rising, falling)


class GivenDraws(Lattice):
    """Draws that are given: each quantity asked for takes the next column of `places`, in standard deviations.

    So what is drawn can be told again, and drawn anew round places that test welds make likely.
    """

    def __init__(self, places: Floats) -> None:
        self._places, self.taken = places, 0

    def _place(self) -> Floats:
        self.taken += 1
        place: Floats = self._places[:, self.taken - 1]
        return place

    def _share(self) -> Floats:
        return normal_share(self._place())

    def normal(self) -> Floats:
        """Return the next column as it is."""
        return self._place()


def normal_places(draws: int, seed: int) -> Floats:
    """Return draws with mean 0 and standard deviation 1, in an order that no lattice has, of shape (draws,)."""
    order = random.Random(seed).sample(range(draws), draws)
    return np.interp((np.array(order) + 0.5) / draws, *_normal_table())


@cache
def _normal_table() -> tuple[Floats, Floats]:
    """Return the normal distribution: the share below each place, and the places."""
    places = np.linspace(-GRID_SD, GRID_SD, TABLED_PLACES)
    return np.array([0.5 * (1.0 + math.erf(place / math.sqrt(2.0))) for place in places]), places


def normal_share(places: Floats) -> Floats:
    """Return the share of a normal distribution that lies below each of `places`, in standard deviations."""
    shares, tabled = _normal_table()
    return np.interp(places, tabled, shares)


@lru_cache(maxsize=64)
def multiplier(points: int) -> int:
    """Return the lattice's multiplier for a number of points.

    It shares no divisor with that number, so that each rank comes once, and none of its first powers is another, or
    another's mirror, so that no two quantities move together; very few points allow no such number.
    """
    if points in MULTIPLIERS:
        return MULTIPLIERS[points]
    start = max(round(GOLDEN * points), 1)
    prime = [number for number in range(start, start + points) if math.gcd(number, points) == 1]
    return next((number for number in prime if _keeps_apart(number, points)), prime[0])


def _keeps_apart(number: int, points: int) -> bool:
    powers = [pow(number, power, points) for power in range(QUANTITIES)]
    return len({min(power, points - power) for power in powers}) == QUANTITIES
