"""The trigger's input: a resistor in series, a bleed resistor across the optocoupler, and the levels that they make.

The gun's closed trigger puts its circuit's voltage, ac or dc, across both resistors; the coupler's LED lies across
the bleed. Up to the OFF level the bleed takes all of the current and the LED stays dark, so that a damp cable, or an RC
left across the contact, is not read as a press; from the ON level on an aged coupler still pulls the board's pin down.
Both levels hold with every part at the worse end of its tolerance.

Levels of a 24 V dc input, type 1: off up to 5 V, on from 15 V, and a leak of 1 mA (that of an electronic switch that is
off) does not count (published: IEC 61131-2, seen quoted in the data of input modules). A 24 VAC circuit takes the same
figures as RMS: its peaks are 1.41 times as high, and 15 V is still far below the 24 VAC at low line. Circuits of
another voltage take the voltages in proportion (choice).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from timing.circuit.preferred import E24, at_least, at_most, resistor_rating_w
from timing.circuit.senses import (
    CAPACITOR_TOLERANCE,
    COUPLER_LED_V,
    HIGH_SHARE,
    INTERNAL_PULL_UP_OHM,
    LOW_SHARE,
    RESISTOR_TOLERANCE,
)
from timing.design.board import Board
from timing.design.design import Design

LEVELS_OF_V = 24.0
"""Circuit voltage that the levels below belong to (published: IEC 61131-2, seen quoted)."""
OFF_V, ON_V = 5.0, 15.0
"""Off up to the first, on from the second (published: IEC 61131-2, type 1, seen quoted)."""
OFF_A = 0.001
"""Leak that must not count (published: IEC 61131-2, type 1, permitted leak of a two-wire switch, seen quoted)."""
LED_DARK_V = 0.75
"""Below it a new coupler's LED, warm, carries some microamperes, too few for the pin (remembered: couplers' curves)."""
LED_LIT_V = 1.30
"""What a cold LED drops at most at the few milliamperes of the ON level (remembered: couplers' curves)."""
LED_MAX_A = 0.020
"""Continuous, at the peak; the parts list asks for a coupler rated for twice that (choice)."""
CTR_AT_A = 0.005
"""LED current at which couplers are sorted by their current transfer ratio (practice)."""
CTR_NEW, CTR_NEW_MOST = 0.50, 6.0
"""Least and most current transfer ratio at that current that the parts list asks for (choice)."""
CTR_LEFT_AT_END = 0.5
"""What an LED driven for years leaves of it (practice)."""
CTR_LEFT_WARM = 0.8
"""What a warm box leaves of it (practice)."""
CTR_FALL = 0.3
"""Power of the current with which the ratio falls at smaller currents (remembered: couplers' curves)."""
PULL_UP_OHM = 22e3
"""Pulls the trigger pin up (choice)."""
LIGHT_LOAD_RISE = 1.15
"""A trigger circuit may stand this much above its name with nothing else drawn (practice)."""
TRIGGER_CAPACITOR_F = 10e-9
"""From the trigger pin to common (choice)."""
LEAST_PULSE_US = 500.0
"""Pulse in each half-wave that counts as read: several passes of the board's loop, and longer than the pin takes to
fall (choice)."""
BLEED_MOST_OHM, BLEED_LEAST_OHM = 1e3, 47.0
"""Between these a bleed resistor is looked for (choice)."""


@dataclass(frozen=True)
class Levels:
    """What an input must keep to, at its terminals; with ac RMS."""

    off_v: float
    """Never pressed up to this voltage."""
    off_a: float
    """Never pressed with this leak through the open contact."""
    on_v: float
    """Always pressed from this voltage on."""


@dataclass(frozen=True)
class TriggerSense:
    """The sensing circuit with its levels."""

    ac: bool
    ac_input: bool
    resistor_ohm: float
    bleed_ohm: float
    proposed: bool
    """True where the design left one of the two open."""
    dissipation_w: float
    """In the series resistor at high line, trigger held."""
    rating_w: float
    """Size of the series resistor, derated."""
    needed_a: float
    """LED current that pulls the pin down at the end of the coupler's life."""
    low_a: float
    """LED current at low line, at the least; with ac at the peak."""
    high_a: float
    """LED current at high line; with ac at the peak."""
    wetting_a: float
    """Through the closed contact at low line; with ac RMS."""
    wanted: Levels
    kept: Levels
    """What the two resistors make, with every tolerance against them."""
    low_v: float
    """Lowest voltage of the circuit; with ac RMS."""
    leak_a: float
    """What the design says to leak through the open trigger, at high line; with ac RMS."""
    gap_us: float
    """Longest time without a signal while the trigger is held; 0 for dc."""
    rise_us: float
    """Time from the LED's going dark until the pin reads high."""

    @property
    def margin(self) -> float:
        """Current at low line over what is needed."""
        return self.low_a / self.needed_a

    @property
    def holds(self) -> bool:
        """True where levels and LED current are kept."""
        wanted, kept = self.wanted, self.kept
        return (
            kept.off_v >= wanted.off_v
            and kept.off_a >= wanted.off_a
            and kept.on_v <= wanted.on_v
            and self.high_a <= LED_MAX_A
        )


def led_needed_a(collector_a: float, transfer_ratio: float) -> float:
    """LED current for a collector current (both A): Ic / CTR, and more below 5 mA.

    transfer_ratio: at 5 mA.
    """
    share = collector_a / (transfer_ratio * CTR_AT_A)
    return CTR_AT_A * (share if share >= 1.0 else share ** (1.0 / (1.0 + CTR_FALL)))


def leak_a(voltage_v: float, frequency_hz: float, capacitor_f: float | None, leak_ohm: float | None) -> float:
    """Return the RMS current through an open contact with a capacitor and a leak across it (A).

    frequency_hz: 0 for dc. The resistor in series with the capacitor is left out: it is small beside it.
    """
    through_capacitor = 2.0 * math.pi * frequency_hz * (capacitor_f or 0.0)
    return voltage_v * math.hypot(through_capacitor, 1.0 / leak_ohm if leak_ohm else 0.0)


@dataclass(frozen=True)
class _Corners:
    """What the resistors are chosen from. Voltages and currents at the peak."""

    peak: float
    frequency_hz: float
    low_v: float
    high_v: float
    needed_a: float
    wanted: Levels
    """RMS."""

    @classmethod
    def of(cls, design: Design, board: Board) -> _Corners:
        trigger, stray = design.trigger, design.supply.line_tolerance_percent / 100.0
        ac = trigger.sense == "ac"
        peak, frequency_hz = (math.sqrt(2.0), design.supply.line_frequency_hz) if ac else (1.0, 0.0)
        collector_a = board.logic_v * (1.0 - LOW_SHARE) / (PULL_UP_OHM * (1.0 - RESISTOR_TOLERANCE))
        collector_a += board.logic_v * (1.0 - LOW_SHARE) / INTERNAL_PULL_UP_OHM
        low_v = trigger.circuit_voltage_v * (1.0 - stray)
        high_v = trigger.circuit_voltage_v * (1.0 + stray) * LIGHT_LOAD_RISE
        in_proportion = trigger.circuit_voltage_v / LEVELS_OF_V
        stated_a = leak_a(high_v, frequency_hz, trigger.snubber_capacitor_f, trigger.leak_ohm)
        return cls(
            peak,
            frequency_hz,
            low_v * peak,
            high_v * peak,
            led_needed_a(collector_a, CTR_NEW * CTR_LEFT_AT_END * CTR_LEFT_WARM),
            Levels(OFF_V * in_proportion, max(OFF_A, stated_a), ON_V * in_proportion),
        )

    def on_v(self, series: float, bleed: float) -> float:
        """Return the voltage (RMS) from which an aged coupler pulls the pin down, for long enough in each half-wave."""
        bled = LED_LIT_V / (bleed * (1.0 - RESISTOR_TOLERANCE))
        threshold = LED_LIT_V + series * (1.0 + RESISTOR_TOLERANCE) * (bled + self.needed_a)
        return threshold / self._pulse_share / self.peak

    @property
    def _pulse_share(self) -> float:
        """Share of its peak that a half-wave keeps for the least pulse."""
        return math.cos(math.pi * self.frequency_hz * LEAST_PULSE_US / 1e6)

    def off_v(self, series: float, bleed: float) -> float:
        """Return the voltage (RMS) up to which a new coupler's LED stays dark."""
        ratio = series * (1.0 - RESISTOR_TOLERANCE) / (bleed * (1.0 + RESISTOR_TOLERANCE))
        return LED_DARK_V * (1.0 + ratio) / self.peak

    def off_a(self, bleed: float) -> float:
        """Return the leak (RMS) up to which a new coupler's LED stays dark."""
        return LED_DARK_V / (bleed * (1.0 + RESISTOR_TOLERANCE)) / self.peak

    def led_a(self, volts: float, series: float, bleed: float, led_v: float, stray: float) -> float:
        """Return the LED's current at a voltage (both peak); stray: tolerance of the series resistor, signed."""
        return max((volts - led_v) / (series * (1.0 + stray)) - led_v / (bleed * (1.0 - stray)), 0.0)

    def high_a(self, series: float, bleed: float) -> float:
        """Return the LED's current at high line (peak)."""
        return self.led_a(self.high_v, series, bleed, COUPLER_LED_V, -RESISTOR_TOLERANCE)

    def series_for(self, bleed: float) -> float:
        """Return the largest series resistor for the ON level, with this bleed; 0 where there is none."""
        lit_v = self.wanted.on_v * self.peak * self._pulse_share - LED_LIT_V
        bled = LED_LIT_V / (bleed * (1.0 - RESISTOR_TOLERANCE))
        most = lit_v / ((1.0 + RESISTOR_TOLERANCE) * (bled + self.needed_a))
        return at_most(most, E24) if most > 1.0 else 0.0

    def most_bleed(self) -> float:
        """Return the largest bleed resistor that keeps the LED dark with the leak."""
        most = LED_DARK_V / (self.wanted.off_a * self.peak * (1.0 + RESISTOR_TOLERANCE))
        return at_most(min(most, BLEED_MOST_OHM), E24)

    def keeps(self, series: float, bleed: float) -> bool:
        """Tell whether a pair keeps the OFF level and spares the LED."""
        return (
            series > 0.0 and self.off_v(series, bleed) >= self.wanted.off_v and self.high_a(series, bleed) <= LED_MAX_A
        )

    def pair(self, series: float | None, bleed: float | None) -> tuple[float, float]:
        """Return series and bleed resistor, either of them given or not: the largest ones that keep all levels.

        Where none do, the pair stays on the safe side: it reads no usual leak as a press.
        """
        if series and bleed:
            return series, bleed
        tried = bleed or self.most_bleed()
        safe = tried
        while tried >= BLEED_LEAST_OHM:
            found = series or self.series_for(tried)
            if self.keeps(found, tried) and self.on_v(found, tried) <= self.wanted.on_v:
                return found, tried
            if bleed:
                break
            tried = at_most(tried * 0.99, E24)
        if self.wanted.off_a > OFF_A:
            # What leaks here is too much for any pair: the rule says so, of the pair for a usual leak.
            return replace(self, wanted=replace(self.wanted, off_a=OFF_A)).pair(series, bleed)
        # A circuit of a few volts has no OFF level above that of the LED itself: there the leak alone decides.
        dark = max(self.wanted.off_v * self.peak / LED_DARK_V - 1.0, 0.01)
        apart = (1.0 + RESISTOR_TOLERANCE) / (1.0 - RESISTOR_TOLERANCE)
        if series is not None:
            return series, at_most(max(min(safe, series / (dark * apart)), BLEED_LEAST_OHM), E24)
        spared = (self.high_v - COUPLER_LED_V) / LED_MAX_A / (1.0 - RESISTOR_TOLERANCE)
        return at_least(max(dark * safe * apart, spared), E24), safe


def trigger_sense(design: Design, board: Board) -> TriggerSense:
    """Return the trigger's sensing circuit; the resistors are the design's or the proposed ones."""
    trigger, supply, corners = design.trigger, design.supply, _Corners.of(design, board)
    given = supply.trigger_resistor_ohm, supply.trigger_bleed_ohm
    series, bleed = corners.pair(*given)
    ac, ac_input = trigger.sense == "ac", trigger.optocoupler == "ac-input"
    on_v, off_v, off_a = corners.on_v(series, bleed), corners.off_v(series, bleed), corners.off_a(bleed)
    # A single LED has a plain diode across it, so that the resistor conducts in both half-waves with either kind.
    heat = ((corners.high_v - COUPLER_LED_V) / corners.peak) ** 2 / series
    return TriggerSense(
        ac=ac,
        ac_input=ac_input,
        resistor_ohm=series,
        bleed_ohm=bleed,
        proposed=None in given,
        dissipation_w=heat,
        rating_w=resistor_rating_w(heat),
        needed_a=corners.needed_a,
        low_a=corners.led_a(corners.low_v, series, bleed, LED_LIT_V, RESISTOR_TOLERANCE),
        high_a=corners.high_a(series, bleed),
        wetting_a=max(corners.low_v - COUPLER_LED_V, 0.0) / series / corners.peak,
        wanted=corners.wanted,
        kept=Levels(off_v, off_a, on_v),
        low_v=corners.low_v / corners.peak,
        leak_a=leak_a(
            corners.high_v / corners.peak, corners.frequency_hz, trigger.snubber_capacitor_f, trigger.leak_ohm
        ),
        gap_us=gap_us(corners.low_v, on_v * corners.peak, supply.line_frequency_hz, ac_input) if ac else 0.0,
        rise_us=rise_us(),
    )


def rise_us() -> float:
    """Return the longest time in which the pin's capacitor charges from nothing until the pin reads high (us)."""
    slowest_s = PULL_UP_OHM * (1 + RESISTOR_TOLERANCE) * TRIGGER_CAPACITOR_F * (1 + CAPACITOR_TOLERANCE)
    return 1e6 * slowest_s * -math.log(1.0 - HIGH_SHARE)


def gap_us(peak_v: float, threshold_v: float, frequency_hz: float, ac_input: bool) -> float:
    """Longest time (us) that a sine stays below the threshold: round its zeros, and for a single LED a half-wave more.

    A whole period where the peak never reaches the threshold.
    """
    period_us = 1e6 / frequency_hz
    if threshold_v >= peak_v:
        return period_us
    around_zero = 2.0 * math.asin(threshold_v / peak_v) / (2.0 * math.pi) * period_us
    return around_zero if ac_input else around_zero + 0.5 * period_us
