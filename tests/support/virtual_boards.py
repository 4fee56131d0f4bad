"""Virtual boards without a port, and with a clock that runs as this computer's does."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from bench.virtual.board import DirectPort, VirtualBoard


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


class Loopback(DirectPort):
    """A virtual board straight behind a link."""

    def __init__(self, board: VirtualBoard) -> None:
        super().__init__(board.receive)
