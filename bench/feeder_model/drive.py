"""The wire: it comes up to speed with a time constant, and coasts as timing.process.coast has it.

Under voltage a permanent-magnet motor is of the first order, v -> v0 with the time constant of the motor (MIT 2.004,
Dynamics and Control II, fall 2007, lecture 2). A wire that is let go below full speed enters the coast's curve where
that has the same speed: the equation of motion knows no history.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass, field

from bench.feeder_model.agenda import Agenda, Appointment, OnOff
from bench.feeder_model.hidden import HiddenDrive
from timing.process.coast import Coast

US_PER_S_OF_WIRE = 1e6
"""Microseconds in a second (exact)."""
_HALVINGS = 60


@dataclass(frozen=True)
class Motion:
    """The wire's motion from an instant on, as long as nothing is switched."""

    since_us: int
    from_mm: float
    share: float
    """Speed at its beginning, over full speed."""
    powered: bool
    hidden: HiddenDrive
    coast: Coast

    def speed_share(self, at_us: int) -> float:
        """Return the speed at an instant of this motion, over full speed."""
        if self.powered:
            return 1.0 - (1.0 - self.share) * math.exp(-(at_us - self.since_us) / max(self.hidden.run_up_us, 1))
        return float(self.coast.speed_share(self._coasting_s(at_us)))

    def run_mm(self, at_us: int) -> float:
        """Return the wire's run since power-up at an instant of this motion."""
        after_us = at_us - self.since_us
        if self.powered:
            tau_us = max(self.hidden.run_up_us, 1)
            run_us = after_us + (1.0 - self.share) * tau_us * math.expm1(-after_us / tau_us)
            return self.from_mm + self.hidden.speed_mm_s * run_us / US_PER_S_OF_WIRE
        run_s = float(self.coast.run_s(self._coasting_s(at_us)) - self.coast.run_s(self._coasting_s(self.since_us)))
        return self.from_mm + self.hidden.speed_mm_s * run_s

    def stands_us(self) -> int | None:
        """Return when the wire stands still; None under power."""
        if self.powered:
            return None
        left_s = float(self.coast.stop_s) - self._coasting_s(self.since_us)
        return self.since_us + max(1, math.ceil(left_s * US_PER_S_OF_WIRE))

    def reaches_us(self, run_mm: float, after_us: int) -> int | None:
        """Return the first whole microsecond after `after_us` at which the run is that long; None where it never is."""
        low_us, high_us = after_us, self.stands_us()
        if high_us is None:
            # At full speed it would be there after this; it never is faster, and lags by the run-up at the most.
            missing_mm = max(run_mm - self.run_mm(low_us), 0.0)
            high_us = low_us + math.ceil(missing_mm / self.hidden.speed_mm_s * US_PER_S_OF_WIRE)
            high_us += 2 * self.hidden.run_up_us + 2
        if high_us <= low_us or self.run_mm(high_us) < run_mm:
            return None
        while high_us - low_us > 1:
            middle_us = (low_us + high_us) // 2
            low_us, high_us = (low_us, middle_us) if self.run_mm(middle_us) >= run_mm else (middle_us, high_us)
        return high_us

    def falls_us(self, share: float) -> int:
        """Return when a coast has fallen to a share of full speed, the first whole microsecond after its beginning."""
        low_us, high_us = self.since_us, self.stands_us() or self.since_us
        while high_us - low_us > 1:
            middle_us = (low_us + high_us) // 2
            low_us, high_us = (low_us, middle_us) if self.speed_share(middle_us) <= share else (middle_us, high_us)
        return max(high_us, self.since_us + 1)

    def _coasting_s(self, at_us: int) -> float:
        """Return how long a coast from full speed would have lasted at an instant."""
        friction = float(self.coast.friction)
        entered_s = math.log((1.0 + friction) / (self.share + friction)) / -float(self.coast.minus_rate_hz)
        return entered_s + (at_us - self.since_us) / US_PER_S_OF_WIRE


@dataclass
class WireRun:
    """The wire motor and the wire that it drives."""

    agenda: Agenda
    hidden: HiddenDrive
    threshold_v: float
    """Of the coupler across the motor: what its own voltage lights while it coasts."""
    volts_on: OnOff = field(default_factory=OnOff)
    """Voltage at the motor's terminals that a coupler sees."""
    turning: OnOff = field(default_factory=OnOff)
    motions: list[Motion] = field(default_factory=list)
    """Every one since power-up, oldest first."""
    moved: list[Callable[[int], None]] = field(default_factory=list)
    """Are told whenever the motion becomes another."""
    _coming: list[Appointment] = field(default_factory=list)

    def __post_init__(self) -> None:
        coast = Coast.of(self.hidden.coast_us / US_PER_S_OF_WIRE, self.hidden.friction)
        self.motions.append(Motion(0, 0.0, 0.0, False, self.hidden, coast))

    @property
    def motion(self) -> Motion:
        """The motion of now."""
        return self.motions[-1]

    def at(self, at_us: int) -> Motion:
        """Return the motion at an instant, past or present."""
        return self.motions[max(bisect_right(self.motions, at_us, key=lambda one: one.since_us) - 1, 0)]

    def power(self, at_us: int, on: bool) -> None:
        """Be fed, or let go, from an instant on."""
        for appointment in self._coming:
            appointment.cancel()
        before = self.motion
        after = Motion(at_us, before.run_mm(at_us), before.speed_share(at_us), on, self.hidden, before.coast)
        self.motions.append(after)
        self._coming = []
        if on:
            self.volts_on.set(at_us, True)
            self.turning.set(at_us, True)
        else:
            self._let_go(at_us, after)
        for tell in self.moved:
            tell(at_us)

    def _let_go(self, at_us: int, coasts: Motion) -> None:
        stands_us = coasts.stands_us()
        if stands_us is not None:
            self._coming.append(self.agenda.at(stands_us, self._stands_still))
        # A turning motor makes a voltage in proportion to its speed; one that is shorted shows none.
        dark_share = min(self.threshold_v / self.hidden.volts, 1.0)
        if self.hidden.braked or coasts.share <= dark_share:
            self.volts_on.set(at_us, False)
        else:
            dark_us = coasts.falls_us(dark_share)
            self._coming.append(self.agenda.at(dark_us, self._goes_dark))

    def _stands_still(self, at_us: int) -> None:
        self.turning.set(at_us, False)

    def _goes_dark(self, at_us: int) -> None:
        self.volts_on.set(at_us, False)
