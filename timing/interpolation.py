"""Straight lines between points, for single numbers: what computes with few of them does not wait for numpy."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence


def interpolated(at: float, xs: Sequence[float], ys: Sequence[float]) -> float:
    """Return the value at `at` on the straight lines through points of rising `xs`; beyond the ends, the last one."""
    after = bisect_right(xs, at)
    if after in (0, len(xs)):
        return ys[after - 1 if after else 0]
    before = after - 1
    return ys[before] + (ys[after] - ys[before]) / (xs[after] - xs[before]) * (at - xs[before])
