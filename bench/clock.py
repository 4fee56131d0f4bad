"""The board's clock, unwrapped: a count of microseconds that does not start again at 2^32."""

from __future__ import annotations

WRAP_US = 1 << 32


class UnwrappedClock:
    """Follows a clock that wraps. It must be told of a reading at least every half turn, 35 min."""

    def __init__(self, first_us: int) -> None:
        self.now_us = first_us

    def instant(self, reading_us: int) -> int:
        """Return the unwrapped instant of a reading less than half a turn before or after now."""
        ahead_us = (reading_us - self.now_us) % WRAP_US
        return self.now_us + (ahead_us if ahead_us < WRAP_US // 2 else ahead_us - WRAP_US)

    def advance(self, reading_us: int) -> int:
        """Take a reading of the clock as now and return it unwrapped. Raises ValueError for a clock that ran back."""
        instant_us = self.instant(reading_us)
        if instant_us < self.now_us:
            raise ValueError("the clock ran back")
        self.now_us = instant_us
        return instant_us
