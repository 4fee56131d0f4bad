"""The dial: from the angle of a knob to the converter's reading and the time, and back.

A dial is a potentiometer across the board's reference with a resistor at either end, and a large resistor from wiper to
board common. The end resistors keep a sound dial away from both rails, so that a reading at a rail is a broken or
shorted wire; the pull makes an open wiper read as a rail. From reading to time is whole numbers, as the firmware
computes it: see `DialScale`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from timing.circuit.preferred import at_most, nearest
from timing.design.board import Board
from timing.design.design import Design
from timing.design.features import features_of
from timing.design.times import TimeSetting
from timing.sequence.core.dial_scale import TIME_FRACTION_BITS, DialScale

END_RESISTOR_SHARE = 0.047
"""Resistance of each end resistor over that of the potentiometer: 470 ohm at 10 kohm (choice)."""
POT_TOLERANCE = 0.20
"""Panel potentiometers are sold at plus or minus 20 % (practice)."""
AUDIO_SHARE_AT_HALF = 0.15
"""Share of the track at half travel of an audio taper, made of two straight pieces (practice)."""
PIN_LEAKAGE_A = 1e-6
"""Most that an analog pin may leak (published: ATmega328P data sheet, DC characteristics, input leakage 1 uA, seen)."""
WIPER_CAPACITOR_F = 100e-9
"""From wiper to common at the board, against noise from the arc (practice)."""
PANEL_WIRE_M = 0.3
"""From panel to board (choice)."""
COUPLING_F_PER_M = 100e-12
"""Between two wires side by side in a bundle (practice: 50 pF to 100 pF for each metre)."""
_HALVINGS = 48
"""Bisection steps: more than a double's 53 bits are not worth having."""
_SAG_STEPS = 20


@dataclass(frozen=True)
class PanelDial:
    """One dial on one board, with nominal parts. Angles in degrees, from the anticlockwise stop clockwise."""

    name: str
    setting: TimeSetting
    scale: DialScale
    """From reading to time."""
    end_ohm: float
    """At either end of the potentiometer."""
    wiper_pull_ohm: float
    """From wiper to board common."""
    full_counts: int
    """Highest reading of the converter."""

    @cached_property
    def sag_share(self) -> float:
        """Most that the pull takes off the reading, as a share of full scale, near the middle of the dial."""
        pot_ohm = self.setting.resistance_ohm
        total = pot_ohm + 2.0 * self.end_ohm
        return max(
            (self.end_ohm + step / _SAG_STEPS * pot_ohm) / total - self._fraction(step / _SAG_STEPS)
            for step in range(_SAG_STEPS + 1)
        )

    def _fraction(self, track: float) -> float:
        return wiper_fraction(track, self.setting.resistance_ohm, self.end_ohm, self.wiper_pull_ohm)

    @property
    def source_ohm(self) -> float:
        """Most that the converter sees: the two halves of the track side by side, the wiper in its middle."""
        return (self.setting.resistance_ohm + 2.0 * self.end_ohm) / 4.0

    def fraction_at(self, angle_deg: float) -> float:
        """Return the pin's voltage over the reference, wiper pull and end resistors included."""
        return self._fraction(track_share(angle_deg / self.setting.rotation_deg, self.setting.taper))

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

    @property
    def plate_unit(self) -> tuple[int, str]:
        """Unit of the numbers on its plate: its microseconds, and its name."""
        return (1_000_000, "s") if self.setting.high_us >= 1_000_000 else (1_000, "ms")

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

    @property
    def count_us(self) -> float:
        """Time of one count of the converter."""
        return self.scale.step_q4_us / (1 << TIME_FRACTION_BITS)

    @property
    def degree_us(self) -> tuple[float, float]:
        """Time of one degree of the knob, at the low end and at the high end, by the taper alone."""
        span_us, half_deg = self.scale.high_us - self.scale.low_us, self.setting.rotation_deg / 2
        if self.setting.taper == "linear":
            slope = 1 / self.setting.rotation_deg
            return slope * span_us, slope * span_us
        return AUDIO_SHARE_AT_HALF / half_deg * span_us, (1 - AUDIO_SHARE_AT_HALF) / half_deg * span_us


def mains_pick_up_v(source_ohm: float, beside_v: float, frequency_hz: float) -> float:
    """Return the peak (V) that a wire of `beside_v` (V RMS) puts on that of a dial's wiper, all the way beside it.

    The capacitance between the two drives its current through the dial; no screen and no capacitor takes any of it.
    """
    admittance_s = 2.0 * math.pi * frequency_hz * COUPLING_F_PER_M * PANEL_WIRE_M
    return math.sqrt(2.0) * beside_v * admittance_s * source_ohm


def track_share(turned: float, taper: str) -> float:
    """Return the share of the track below the wiper, for a share of the rotation, both 0 to 1."""
    if taper == "linear":
        return turned
    if turned <= 0.5:
        return turned * 2 * AUDIO_SHARE_AT_HALF
    return AUDIO_SHARE_AT_HALF + (turned - 0.5) * 2 * (1 - AUDIO_SHARE_AT_HALF)


def wiper_fraction(track: float, pot_ohm: float, end_ohm: float, pull_ohm: float) -> float:
    """Return the pin's voltage over the reference, with a share `track` (0 to 1) of the track below the wiper.

    The pull loads the divider; the wiper sees the two parts of the track, ends included, in parallel.
    """
    below = end_ohm + track * pot_ohm
    above = end_ohm + (1.0 - track) * pot_ohm
    loaded = below * pull_ohm / (below + pull_ohm)
    return loaded / (loaded + above)


def dial_of(name: str, setting: TimeSetting, board: Board) -> PanelDial:
    """Return a dial on `board`. Raises ValueError for a setting without a dial."""
    scale = _scale(setting, board)
    # An open wiper must read as broken even when the pin leaks all it may.
    broken_v = scale.fault_below / board.adc_full_scale * board.adc_reference_v
    return PanelDial(
        name=name,
        setting=setting,
        scale=scale,
        end_ohm=nearest(END_RESISTOR_SHARE * setting.resistance_ohm),
        wiper_pull_ohm=at_most(broken_v / PIN_LEAKAGE_A),
        full_counts=board.adc_full_scale,
    )


def dials_of(design: Design, board: Board) -> Mapping[str, PanelDial]:
    """Return every dial of the design by the name of its time, in the order of the panel."""
    return {name: dial_of(name, setting, board) for name, setting in features_of(design).times.items() if setting.dial}


def _end_share(pot_ratio: float) -> float:
    return END_RESISTOR_SHARE / (pot_ratio + 2 * END_RESISTOR_SHARE)


def _scale(setting: TimeSetting, board: Board) -> DialScale:
    """Readings for every potentiometer within tolerance."""
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
