"""Round values along a scale, as a slide rule has them: each stretch divided as finely as there is room for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise

# How a stretch may be divided, by its width's leading digit, the finest way first.
_PARTS = {1: (10, 5, 2), 2: (4, 2), 5: (5,)}

Room = Callable[[int, int], bool]
"""(lower, upper) -> True where marks at both have room beside each other."""


@dataclass(frozen=True)
class Stretch:
    """A piece of a scale; its width is 1, 2 or 5 times a power of ten."""

    start: int
    width: int

    @property
    def end(self) -> int:
        """Its upper end."""
        return self.start + self.width


def whole(high: int) -> tuple[Stretch, ...]:
    """Return the one stretch from 0 to the power of ten that is not below `high`."""
    return (Stretch(0, 10 ** len(str(max(high - 1, 1)))),)


def divided(stretches: Iterable[Stretch], low: int, high: int, room: Room) -> tuple[Stretch, ...]:
    """Return the stretches divided, each for itself, until their marks from `low` to `high` leave no more room."""
    found: list[Stretch] = []
    for stretch in _inside(stretches, low, high):
        parts = next((parts for parts in _ways(stretch) if _fit(parts, low, high, room)), None)
        found += [stretch] if parts is None else divided(parts, low, high, room)
    return tuple(found)


def divided_alike(stretches: Iterable[Stretch], low: int, high: int, room: Room) -> tuple[Stretch, ...]:
    """Return stretches of one width divided all in the same way, for scales that are even."""
    inside = _inside(stretches, low, high)
    for ways in zip(*map(_ways, inside), strict=True):
        if all(_fit(parts, low, high, room) for parts in ways):
            return divided_alike((part for parts in ways for part in parts), low, high, room)
    return tuple(inside)


def marks(stretches: Iterable[Stretch], low: int, high: int) -> list[int]:
    """Return the ends of the stretches between `low` and `high`, rising."""
    ends = {end for stretch in stretches for end in (stretch.start, stretch.end)}
    return sorted(end for end in ends if low <= end <= high)


def _inside(stretches: Iterable[Stretch], low: int, high: int) -> list[Stretch]:
    return [stretch for stretch in stretches if stretch.end > low and stretch.start < high]


def _ways(stretch: Stretch) -> list[list[Stretch]]:
    """The ways to divide a stretch, the finest first."""
    counts = [count for count in _PARTS[int(str(stretch.width)[0])] if stretch.width % count == 0]
    steps = [stretch.width // count for count in counts]
    return [
        [Stretch(stretch.start + step * number, step) for number in range(count)]
        for count, step in zip(counts, steps, strict=True)
    ]


def _fit(parts: list[Stretch], low: int, high: int, room: Room) -> bool:
    shown = marks(parts, low, high)
    return all(room(lower, upper) for lower, upper in pairwise(shown))
