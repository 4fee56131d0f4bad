"""Clocks for a virtual board: one that follows the host, one that runs ahead of it."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol


class Clock(Protocol):
    """What a virtual board asks for the time."""

    def line_came(self) -> None:
        """Be told that a line came."""

    def now_us(self) -> int:
        """Return the time since it was switched on."""


@dataclass
class HostClock:
    """Follows the host's clock, at `rate` (1 is right)."""

    rate: float = 1.0
    host_s: Callable[[], float] = time.monotonic
    _started_s: float = field(init=False)

    def __post_init__(self) -> None:
        self._started_s = self.host_s()

    def line_came(self) -> None:
        """Nothing depends on lines here."""

    def now_us(self) -> int:
        """Return the time since it was switched on."""
        return round((self.host_s() - self._started_s) * self.rate * 1e6)


@dataclass
class AheadClock:
    """Advances by a step with every line that comes, whatever the host's clock says: tests take no time."""

    step_us: int = 1_009
    """Not a round number, so that lines fall on changing places between passes."""
    time_us: int = 0

    def line_came(self) -> None:
        """Advance."""
        self.time_us += self.step_us

    def now_us(self) -> int:
        """Return the time since it was switched on."""
        return self.time_us
