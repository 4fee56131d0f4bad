"""The divider through which the board measures its reservoir."""

from __future__ import annotations

from dataclasses import dataclass

from timing.circuit.preferred import E24, at_least
from timing.design.board import Board
from timing.design.supply import SupplySense
from timing.sequence.supply_sense import SupplyThresholds, supply_thresholds

SOURCE_OHM_MAX = 10e3
"""Source resistance up to which the converter reads true (published: ATmega328P data sheet, analog input circuitry:
approximately 10 kohm or less, seen quoted)."""
HEADROOM = 1.1
"""Full scale over the highest voltage met (choice)."""
CAPACITOR_F = 100e-9
"""From the sense pin to common (choice)."""


@dataclass(frozen=True)
class SenseDivider:
    """The divider on a board, at the highest reservoir voltage."""

    ratio: float
    """Pin voltage over reservoir voltage."""
    pin_high_v: float
    source_ohm: float
    v_per_count: float
    """Reservoir voltage of one count of the converter."""
    thresholds: SupplyThresholds


def sense_divider(sense: SupplySense, board: Board, highest_v: float) -> SenseDivider:
    """Return the divider's figures for the highest reservoir voltage (V)."""
    total = sense.divider_top_ohm + sense.divider_bottom_ohm
    ratio = sense.divider_bottom_ohm / total
    count_v = board.adc_reference_v / board.adc_full_scale / ratio
    return SenseDivider(
        ratio=ratio,
        pin_high_v=highest_v * ratio,
        source_ohm=sense.divider_top_ohm * sense.divider_bottom_ohm / total,
        v_per_count=count_v,
        thresholds=supply_thresholds(sense, board),
    )


def divider_top_ohm(bottom_ohm: float, board: Board, highest_v: float) -> float:
    """Return the E24 top resistor with which the highest voltage stays under the converter's reference."""
    reference = min(board.adc_reference_v, board.logic_v)
    return at_least(bottom_ohm * (highest_v * HEADROOM / reference - 1.0), E24)
