"""What is to happen, in order of time; and things that are on or off, with those who follow them."""

from __future__ import annotations

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field

Happening = Callable[[int], None]
"""Is told the instant at which it happens."""
Follow = Callable[[int, bool], None]
"""Is told when something changed, and to what."""


@dataclass(slots=True)
class Appointment:
    """One action to come."""

    action: Happening | None

    def cancel(self) -> None:
        """Let it not happen."""
        self.action = None


@dataclass
class Agenda:
    """Actions to come. Of those of one instant, the one that was entered first comes first."""

    now_us: int = 0
    """The instant up to which all has happened."""
    _due: list[tuple[int, int, Appointment]] = field(default_factory=list)
    _entered: int = 0

    def at(self, at_us: int, action: Happening) -> Appointment:
        """Enter an action. Raises ValueError for an instant that has passed."""
        if at_us < self.now_us:
            raise ValueError(f"{at_us} us lies before {self.now_us} us, up to which all has happened")
        appointment = Appointment(action)
        self._entered += 1
        heapq.heappush(self._due, (at_us, self._entered, appointment))
        return appointment

    def next_us(self) -> int | None:
        """Return the instant of the next action, or None where none is to come."""
        while self._due and self._due[0][2].action is None:
            heapq.heappop(self._due)
        return self._due[0][0] if self._due else None

    def run_to(self, until_us: int) -> None:
        """Let all happen up to an instant, that instant included."""
        while (at_us := self.next_us()) is not None and at_us <= until_us:
            _, _, appointment = heapq.heappop(self._due)
            self.now_us = at_us
            if appointment.action is not None:
                appointment.action(at_us)
        self.now_us = max(self.now_us, until_us)


@dataclass
class OnOff:
    """Something that is on or off: a pin, a contact, voltage at a coil, the arc."""

    on: bool = False
    moves: list[tuple[int, bool]] = field(default_factory=list)
    """Every change, oldest first: when, and to what."""
    keeps: bool = True
    """False for what turns at the line's pace for ever, and is told anyway: its changes are not kept."""
    followers: list[Follow] = field(default_factory=list)

    def set(self, at_us: int, on: bool) -> None:
        """Be on or off from an instant on; tell the followers if that is a change."""
        if on is not self.on:
            self.on = on
            if self.keeps:
                self.moves.append((at_us, on))
            for follow in self.followers:
                follow(at_us, on)
