"""Virtual boards without a port, and with a clock that runs as this computer's does."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field

from bench.virtual.board import VirtualBoard


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
class Loopback:
    """A board straight behind a link: a transport without a port. Reading never waits."""

    board: VirtualBoard
    _answers: bytearray = field(default_factory=bytearray)

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read."""
        return len(self._answers)

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes."""
        taken = bytes(self._answers[:size])
        del self._answers[:size]
        return taken

    def write(self, data: bytes, /) -> int:
        """Send to the board."""
        self._answers += self.board.receive(data)
        return len(data)

    def close(self) -> None:
        """Nothing to let go of."""
