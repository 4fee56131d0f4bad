"""From a reading of a dial to its time, in whole numbers, exactly as the firmware computes it."""

from __future__ import annotations

from dataclasses import dataclass

TIME_FRACTION_BITS = 4
"""The step per count is kept in sixteenths of a microsecond, so that 60 s over 900 counts fit 32 bits (choice)."""


@dataclass(frozen=True)
class DialScale:
    """One dial's mapping. Counts are readings of the board's converter; times in microseconds."""

    fault_below: int
    """A reading below this is a broken or shorted wire."""
    fault_above: int
    low_counts: int
    """At and below this reading the time is `low_us`: every potentiometer within tolerance gets there."""
    high_counts: int
    low_us: int
    high_us: int
    step_q4_us: int
    """Time per count, in sixteenths of a microsecond."""

    def time_us(self, counts: int) -> int:
        """Return the time at a reading, exactly as the firmware computes it."""
        if counts <= self.low_counts:
            return self.low_us
        if counts >= self.high_counts:
            return self.high_us
        return self.low_us + ((counts - self.low_counts) * self.step_q4_us >> TIME_FRACTION_BITS)

    def counts_for(self, time_us: int) -> int:
        """Return the reading whose time is nearest to `time_us`."""
        if time_us <= self.low_us:
            return self.low_counts
        if time_us >= self.high_us:
            return self.high_counts
        near = self.low_counts + ((time_us - self.low_us) << TIME_FRACTION_BITS) // self.step_q4_us
        candidates = range(max(near - 1, self.low_counts), min(near + 2, self.high_counts) + 1)
        return min(candidates, key=lambda counts: abs(self.time_us(counts) - time_us))

    def is_fault(self, counts: int) -> bool:
        """Tell whether a reading can only come from a broken or shorted wire."""
        return counts < self.fault_below or counts > self.fault_above
