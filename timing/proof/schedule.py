"""Instants for a row of passes, from what must lie how far apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Apart(NamedTuple):
    """Instant `later` lies at least `least_us` after instant `earlier`; negative: at most so much before it.

    Instants are numbered from 1; 0 is the beginning.
    """

    earlier: int
    later: int
    least_us: int


def earliest_us(count: int, apart: Sequence[Apart]) -> list[int] | None:
    """Return the earliest instants 1 ... `count` that keep all distances, or None where none do.

    Longest paths by R. Bellman, On a routing problem, Quart. Appl. Math. 16 (1958).
    """
    at_us = [0] * (count + 1)
    for _ in range(count + 1):
        moved = False
        for earlier, later, least_us in apart:
            if at_us[later] < at_us[earlier] + least_us:
                at_us[later] = at_us[earlier] + least_us
                moved = True
        if not moved:
            return at_us[1:] if at_us[0] == 0 else None
    return None
