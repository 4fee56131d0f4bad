"""What the board's converter reads: from a dial's position to a time, and from the supply's voltage to counts.

A dial is a potentiometer across the board's reference with a resistor at either end, and a large resistor from
wiper to board common. The end resistors keep a sound dial away from both rails, so that a reading at a rail is a
broken or shorted wire; the pull makes an open wiper read as a rail.
"""

from __future__ import annotations

from dataclasses import dataclass

from timing.design.board import Board
from timing.design.supply import SupplySense
from timing.design.times import TimeSetting
from timing.sequence.core.dial_scale import TIME_FRACTION_BITS, DialScale

END_RESISTOR_SHARE = 0.047
"""Resistance of each end resistor over that of the potentiometer: 470 ohm at 10 kohm (choice)."""
POT_TOLERANCE = 0.20
"""Panel potentiometers are sold at plus or minus 20 % (practice)."""


def _end_share(pot_ratio: float) -> float:
    return END_RESISTOR_SHARE / (pot_ratio + 2 * END_RESISTOR_SHARE)


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


@dataclass(frozen=True)
class SupplyThresholds:
    """Counts of the converter. Between the two, the supply stays what it was."""

    low_counts: int
    """Below this reading the supply is low."""
    good_counts: int
    """At and above this reading it is good again."""


def supply_thresholds(sense: SupplySense, board: Board) -> SupplyThresholds:
    """Return the thresholds of `sense` as `board` reads them, rounded to the nearest count."""
    per_v = counts_per_v(sense, board)
    return SupplyThresholds(round(sense.low_v * per_v), round(sense.good_v * per_v))


def counts_per_v(sense: SupplySense, board: Board) -> float:
    """Return by how many counts the reading of `sense` on `board` rises with each volt of the supply."""
    share = sense.divider_bottom_ohm / (sense.divider_top_ohm + sense.divider_bottom_ohm)
    return share / board.adc_reference_v * board.adc_full_scale
