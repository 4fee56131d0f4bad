"""From a dial's position to a time: the mapping that the firmware computes in whole numbers.

A dial is a potentiometer across the board's reference with a resistor at either end, and a large resistor from
wiper to board common. The end resistors keep a sound dial away from both rails, so that a reading at a rail is a
broken or shorted wire; the pull makes an open wiper read as a rail.
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.design.board import Board
from timing.design.times import TimeSetting

END_RESISTOR_SHARE = 0.047
"""Resistance of each end resistor over that of the potentiometer: 470 ohm at 10 kohm."""
POT_TOLERANCE = 0.20
"""Common practice, no source: panel potentiometers are sold at plus or minus 20 %."""
TIME_FRACTION_BITS = 4
"""The step per count is kept in sixteenths of a microsecond, so that 60 s over 900 counts fit 32 bits."""


def _end_share(pot_ratio: float) -> float:
    return END_RESISTOR_SHARE / (pot_ratio + 2 * END_RESISTOR_SHARE)


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


def dial_scale(setting: TimeSetting, board: Board) -> DialScale:
    """Return the mapping of a dial on `board`. Raises ValueError for a setting without a dial."""
    if setting.from_us is None or setting.to_us is None:
        raise ValueError("a fixed time has no dial")
    full = board.adc_full_scale
    nearest_to_rail = _end_share(1 + POT_TOLERANCE)
    furthest_from_rail = _end_share(1 - POT_TOLERANCE)
    low_counts = round(full * furthest_from_rail) + 1
    high_counts = full - low_counts
    fault_below = round(full * nearest_to_rail / 2)
    return DialScale(
        fault_below=fault_below,
        fault_above=full - fault_below,
        low_counts=low_counts,
        high_counts=high_counts,
        low_us=setting.from_us,
        high_us=setting.to_us,
        step_q4_us=((setting.to_us - setting.from_us) << TIME_FRACTION_BITS) // (high_counts - low_counts),
    )
