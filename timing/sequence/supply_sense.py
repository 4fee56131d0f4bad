"""From the supply's voltage to readings of the converter: where low begins and where good begins."""

from __future__ import annotations

from dataclasses import dataclass

from timing.design.board import Board
from timing.design.supply import SupplySense


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
