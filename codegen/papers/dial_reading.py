"""From the angle of a dial's knob to the converter's reading and the time, and back."""

from __future__ import annotations

import math
from dataclasses import dataclass

from timing.checks.dials import AUDIO_SHARE_AT_HALF
from timing.circuit.dial import DialWiring, dial_wiring, wiper_fraction
from timing.design.board import Board
from timing.design.design import Design
from timing.design.times import TimeSetting
from timing.sequence.core.dial_scale import DialScale
from timing.sequence.of_design import time_settings
from timing.sequence.readings import dial_scale

_HALVINGS = 48
"""Bisection steps: more than a double's 53 bits are not worth having."""


def track_share(turned: float, taper: str) -> float:
    """Return the share of the track below the wiper, for a share of the rotation, both 0 to 1.

    An audio taper is made of two straight pieces, as the makers print it (practice): AUDIO_SHARE_AT_HALF at half.
    """
    if taper == "linear":
        return turned
    if turned <= 0.5:
        return turned * 2 * AUDIO_SHARE_AT_HALF
    return AUDIO_SHARE_AT_HALF + (turned - 0.5) * 2 * (1 - AUDIO_SHARE_AT_HALF)


@dataclass(frozen=True)
class DialReading:
    """One dial on one board, with nominal parts. Angles in degrees, from the anticlockwise stop clockwise."""

    name: str
    setting: TimeSetting
    wiring: DialWiring
    scale: DialScale
    full_counts: int
    """Highest reading of the converter."""

    def fraction_at(self, angle_deg: float) -> float:
        """Return the pin's voltage over the reference, wiper pull and end resistors included."""
        share = track_share(angle_deg / self.setting.rotation_deg, self.setting.taper)
        return wiper_fraction(share, self.setting.resistance_ohm, self.wiring.end_ohm, self.wiring.wiper_pull_ohm)

    def counts_at(self, angle_deg: float) -> int:
        """Return the converter's reading: the whole part of fraction times 2^bits (the usual data sheets' formula)."""
        return min(math.floor(self.fraction_at(angle_deg) * (self.full_counts + 1)), self.full_counts)

    def time_at_us(self, angle_deg: float) -> int:
        """Return the time at an angle, as the firmware computes it."""
        return self.scale.time_us(self.counts_at(angle_deg))

    @property
    def reach_us(self) -> tuple[int, int]:
        """Times at the two stops: the dial's own ends, unless the potentiometer is too high for its wiper's pull."""
        return self.time_at_us(0.0), self.time_at_us(self.setting.rotation_deg)

    def angle_deg(self, time_us: int) -> float:
        """Return the angle in the middle of the reading that gives `time_us`; a stop for a time out of reach."""
        scale = self.scale
        per_us = (scale.high_counts - scale.low_counts) / (scale.high_us - scale.low_us)
        counts = scale.low_counts + (time_us - scale.low_us) * per_us
        wanted = (counts + 0.5) / (self.full_counts + 1)
        low_deg, high_deg = 0.0, self.setting.rotation_deg
        for _ in range(_HALVINGS):
            middle_deg = (low_deg + high_deg) / 2
            if self.fraction_at(middle_deg) < wanted:
                low_deg = middle_deg
            else:
                high_deg = middle_deg
        return (low_deg + high_deg) / 2


def dial_reading(name: str, setting: TimeSetting, board: Board) -> DialReading:
    """Return the reading of a dial on `board`. Raises ValueError for a setting without a dial."""
    return DialReading(
        name, setting, dial_wiring(name, setting, board), dial_scale(setting, board), board.adc_full_scale
    )


def dial_readings(design: Design, board: Board) -> tuple[DialReading, ...]:
    """Return the reading of every dial of the design, in the order of the panel."""
    settings = time_settings(design).items()
    return tuple(dial_reading(name, setting, board) for name, setting in settings if setting.dial)
