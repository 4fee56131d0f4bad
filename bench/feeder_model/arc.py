"""The arc: the wire runs to the work, touches, strikes a little later, and burns until its current has gone; and what
the power source's terminals show of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from bench.feeder_model.agenda import Agenda, Appointment, OnOff
from bench.feeder_model.drive import WireRun
from bench.feeder_model.hidden import HiddenArc


@dataclass
class Arc:
    """Between wire and work; the main contact gives it its voltage."""

    agenda: Agenda
    random: Random
    hidden: HiddenArc
    drive: WireRun
    voltage: OnOff
    """The main contact."""
    burning: OnOff = field(default_factory=OnOff)
    shorted: OnOff = field(default_factory=OnOff)
    """The wire has touched, with voltage on it, and no arc has struck yet."""
    clamped: bool = True
    """The work clamp is on, and the gun at the work."""
    _touch_mm: float = field(init=False)
    """The run at which the wire touches next."""
    _start: Appointment | None = None
    _end: Appointment | None = None
    _burn_off: Appointment | None = None

    def __post_init__(self) -> None:
        self._touch_mm = self._gap_mm()
        self.drive.moved.append(self._wire_moved)
        self.voltage.followers.append(self._voltage_moved)

    def clamp(self, at_us: int, on: bool) -> None:
        """Put the work clamp on, with a gap before the wire, or take it off: an arc goes out then, and none strikes."""
        if on is self.clamped:
            return
        self.clamped = on
        if self.burning.on:
            self._goes_out(at_us)
        elif on:
            self._touch_mm = self.drive.motion.run_mm(at_us) + self._gap_mm()
        self._await_touch(at_us)

    def _gap_mm(self) -> float:
        return max(0.0, self.random.gauss(self.hidden.gap_mm, self.hidden.gap_spread_mm))

    def _wire_moved(self, at_us: int) -> None:
        _call_off(self._burn_off)
        if self.burning.on and not self.drive.motion.powered:
            self._burn_off = self.agenda.at(at_us + self.hidden.burn_off.draw(self.random), self._goes_out)
        self._await_touch(at_us)

    def _voltage_moved(self, at_us: int, on: bool) -> None:
        _call_off(self._end)
        if not on and self.burning.on:
            self._end = self.agenda.at(at_us + self.hidden.ends.draw(self.random), self._goes_out)
        self._await_touch(at_us)

    def _await_touch(self, at_us: int) -> None:
        """Look ahead to the touch, if everything stays as it is."""
        _call_off(self._start)
        self.shorted.set(at_us, False)
        if self.burning.on or not (self.voltage.on and self.clamped):
            return
        motion = self.drive.motion
        if motion.run_mm(at_us) >= self._touch_mm:
            self._touch(at_us)
        elif (touch_us := motion.reaches_us(self._touch_mm, at_us)) is not None:
            self._start = self.agenda.at(touch_us, self._touch)

    def _touch(self, at_us: int) -> None:
        self.shorted.set(at_us, True)
        self._start = self.agenda.at(at_us + self.hidden.strikes.draw(self.random), self._strikes)

    def _strikes(self, at_us: int) -> None:
        self.shorted.set(at_us, False)
        self.burning.set(at_us, True)

    def _goes_out(self, at_us: int) -> None:
        _call_off(self._end, self._burn_off)
        self._touch_mm = self.drive.motion.run_mm(at_us) + self._gap_mm()
        self.burning.set(at_us, False)
        self._await_touch(at_us)


@dataclass
class WeldingOutput:
    """The voltage at the power source's terminals, as a coupler across them sees it.

    A wire that touches shorts it; an arc keeps it up after the contact has opened, and so does a capacitor bank that no
    arc drains.
    """

    agenda: Agenda
    holds_us: int
    """How long a capacitor bank keeps it up with nothing drawn; 0: there is none."""
    arc: Arc
    live: OnOff = field(default_factory=OnOff)
    _held: bool = False
    _empties: Appointment | None = None

    def __post_init__(self) -> None:
        self.arc.voltage.followers.append(self._contact_moved)
        self.arc.burning.followers.append(self._arc_moved)
        self.arc.shorted.followers.append(self._looked_at)

    def _contact_moved(self, at_us: int, on: bool) -> None:
        _call_off(self._empties)
        self._held = not on and self.holds_us > 0 and not self.arc.burning.on
        if self._held:
            self._empties = self.agenda.at(at_us + self.holds_us, self._is_empty)
        self._looked_at(at_us, on)

    def _arc_moved(self, at_us: int, on: bool) -> None:
        self._held = False
        self._looked_at(at_us, on)

    def _is_empty(self, at_us: int) -> None:
        self._held = False
        self._looked_at(at_us, False)

    def _looked_at(self, at_us: int, _: bool) -> None:
        fed = self.arc.voltage.on or self.arc.burning.on or self._held
        self.live.set(at_us, fed and not self.arc.shorted.on)


def _call_off(*appointments: Appointment | None) -> None:
    for appointment in appointments:
        if appointment is not None:
            appointment.cancel()
