"""What an isolated input makes of a voltage: dc lights it, ac leaves it dark round each zero crossing.

An optocoupler with a diode either way conducts while |v| is above what its diode and resistor need, one with a single
diode only in every second half-wave. Of a sine of peak V it is dark for a phase of asin(V_threshold / V) before and
after each zero: the lower the peak, the longer.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Protocol

from bench.feeder_model.agenda import Agenda, Appointment, OnOff

PEAK_OVER_RMS = math.sqrt(2.0)
"""Of a sine (exact)."""


@dataclass(frozen=True)
class Sine:
    """The line, as a phase that goes on for ever, seen by a coupler that conducts both ways or one way."""

    frequency_hz: float
    phase_rad: float
    both_ways: bool = True

    @cached_property
    def rad_per_us(self) -> float:
        """How fast the phase goes."""
        return 2e-6 * math.pi * self.frequency_hz

    @cached_property
    def period_rad(self) -> float:
        """After this phase the same comes again: a half-wave, or a whole one."""
        return math.pi if self.both_ways else 2 * math.pi

    def lit(self, at_us: int, share: float) -> bool:
        """Tell whether the voltage is above `share`, the threshold over the peak."""
        return share < 1.0 and math.sin(self._into(at_us)) > share

    def look(self, at_us: int, share: float) -> tuple[bool, int | None]:
        """Return the same, and the first whole microsecond at which it is otherwise; None where it stays dark."""
        if share >= 1.0:
            return False, None
        edge, into = math.asin(max(share, 0.0)), self._into(at_us)
        lit = math.sin(into) > share
        rises = edge if into <= edge else self.period_rad + edge
        goal = math.pi - edge if lit else rises
        turn_us = at_us + max(1, math.ceil((goal - into) / self.rad_per_us))
        # Rounding may leave the instant a hair short of the edge.
        return lit, turn_us if self.lit(turn_us, share) is not lit else turn_us + 1

    def _into(self, at_us: int) -> float:
        """Return how far the phase is into its period."""
        return (at_us * self.rad_per_us + self.phase_rad) % self.period_rad


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
                lit, turn_us = self.sine.look(at_us, self.threshold_v / (volts * PEAK_OVER_RMS))
                self._turn = None if turn_us is None else self.agenda.at(turn_us, self.look)
        if lit is not self._shown:
            self._shown = lit
            self.lit(at_us, lit)
