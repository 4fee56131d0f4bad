"""Which stretch of a timeline is looked at: closer, further, along. No screen."""

from __future__ import annotations

from dataclasses import dataclass

CLOSEST_US = 20_000
"""No stretch that is looked at is shorter (choice: the axis then has ticks of 2 ms)."""
NEAR_WHOLE = 0.98
"""A stretch that is as much of the whole is the whole (choice)."""


@dataclass(frozen=True)
class Look:
    """A stretch of a timeline, never beyond its ends; all times in microseconds."""

    start_us: int
    end_us: int
    """Of the whole timeline."""
    from_us: int
    to_us: int

    @classmethod
    def at_all(cls, start_us: int, end_us: int) -> Look:
        """Return a look at the whole of it."""
        return cls(start_us, end_us, start_us, end_us)

    @property
    def is_whole(self) -> bool:
        """True where all of it is in sight."""
        return (self.from_us, self.to_us) == (self.start_us, self.end_us)

    @property
    def seen_us(self) -> tuple[int, int] | None:
        """What is in sight; None: all of it."""
        return None if self.is_whole else (self.from_us, self.to_us)

    def closer(self, times: float, at_share: float = 0.5) -> Look:
        """Look closer by a factor, below 1 from further away; what lies at `at_share` of the stretch stays there."""
        span_us = self.to_us - self.from_us
        whole_us = self.end_us - self.start_us
        wanted_us = max(span_us / max(times, 1e-3), min(CLOSEST_US, whole_us))
        if wanted_us >= NEAR_WHOLE * whole_us:
            return Look.at_all(self.start_us, self.end_us)
        kept_us = self.from_us + span_us * at_share
        return self._placed(kept_us - wanted_us * at_share, wanted_us)

    def along(self, share: float) -> Look:
        """Look further along by a share of the stretch, back where it is below 0."""
        span_us = self.to_us - self.from_us
        return self._placed(self.from_us + share * span_us, span_us)

    def on(self, start_us: int, end_us: int) -> Look:
        """Return the same look at another timeline, as far as that goes."""
        if self.is_whole or self.to_us - self.from_us >= NEAR_WHOLE * (end_us - start_us):
            return Look.at_all(start_us, end_us)
        return Look.at_all(start_us, end_us)._placed(self.from_us, self.to_us - self.from_us)

    def _placed(self, from_us: float, span_us: float) -> Look:
        first_us = round(min(max(from_us, self.start_us), self.end_us - span_us))
        return Look(self.start_us, self.end_us, first_us, round(first_us + span_us))
