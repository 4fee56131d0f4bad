"""What an isolated input makes of a voltage: dc lights it, ac leaves it dark round each zero crossing.

An optocoupler with a diode either way conducts while |v| is above what its diode and resistor need. Of a sine of peak V
it is dark for asin(V_threshold / V) of a quarter turn before and after each zero: the lower the peak, the longer.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from bench.feeder_model.agenda import Agenda, Appointment, OnOff

PEAK_OVER_RMS = math.sqrt(2.0)
"""Of a sine (exact)."""


@dataclass(frozen=True)
class Sine:
    """The line, as a phase that goes on for ever."""

    frequency_hz: float
    phase_rad: float

    @property
    def rad_per_us(self) -> float:
        """How fast the phase goes."""
        return 2e-6 * math.pi * self.frequency_hz

    def in_half_wave(self, at_us: int) -> float:
        """Return how far the phase is into its half wave, 0 to pi."""
        return (at_us * self.rad_per_us + self.phase_rad) % math.pi

    def lit(self, at_us: int, share: float) -> bool:
        """Tell whether |sin| is above `share`, the threshold over the peak."""
        return share < 1.0 and math.sin(self.in_half_wave(at_us)) > share

    def turns_us(self, at_us: int, share: float) -> int | None:
        """Return when that changes next, the first whole microsecond after it; None where it is dark throughout."""
        if share >= 1.0:
            return None
        edge, into = math.asin(max(share, 0.0)), self.in_half_wave(at_us)
        lit, goal = self.lit(at_us, share), edge
        if lit:
            goal = math.pi - edge
        elif into > edge:
            goal = math.pi + edge
        after_us = at_us + max(1, math.ceil((goal - into) / self.rad_per_us))
        # Rounding may leave the instant a hair short of the edge.
        return after_us if self.lit(after_us, share) is not lit else after_us + 1


class Voltage(Protocol):
    """What lies across a coupler."""

    def __call__(self) -> float:
        """Return volts while it is on: the mean of dc, the RMS of ac."""


@dataclass
class LitCoupler:
    """One coupler across something that is on or off; with ac on it, it turns at the line's pace."""

    agenda: Agenda
    threshold_v: float
    lit: Callable[[int, bool], None]
    """Is told of every change of its light."""
    source: OnOff | None = None
    volts: Voltage = float
    sine: Sine | None = None
    """None with dc."""
    _shown: bool = False
    _turn: Appointment | None = field(default=None)

    def hang(self, at_us: int, source: OnOff | None, volts: Voltage, sine: Sine | None) -> None:
        """Lie across this from now on, None for nothing; the source's followers are the caller's."""
        self.source, self.volts, self.sine = source, volts, sine
        self.look(at_us)

    def look(self, at_us: int) -> None:
        """Take the voltage as it is now; from here on as long as it stays."""
        if self._turn is not None:
            self._turn.cancel()
            self._turn = None
        lit = False
        if self.source is not None and self.source.on and (volts := self.volts()) > 0.0:
            lit = volts > self.threshold_v
            if self.sine is not None:
                share = self.threshold_v / (volts * PEAK_OVER_RMS)
                lit = self.sine.lit(at_us, share)
                turn_us = self.sine.turns_us(at_us, share)
                self._turn = None if turn_us is None else self.agenda.at(turn_us, self.look)
        if lit is not self._shown:
            self._shown = lit
            self.lit(at_us, lit)
