"""How a contact follows its coil: late, by a lag drawn anew at each operation, and bouncing as it closes."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from bench.feeder_model.agenda import Agenda, Appointment, OnOff
from bench.feeder_model.hidden import Switching

MOST_BOUNCES = 4
"""Times that a closing contact opens again at the most (practice)."""
FIRST_TOUCH_US = 20
"""A contact that touched stays closed for this at the least (choice)."""


@dataclass
class Follower:
    """Follows a signal with a lag. What it follows may change its mind: an operation that has not come about is off."""

    agenda: Agenda
    random: Random
    how: Switching
    signal: OnOff
    """What follows."""
    _coming: list[Appointment] = field(default_factory=list)

    def follow(self, at_us: int, on: bool) -> None:
        """Be told that what it follows changed."""
        for appointment in self._coming:
            appointment.cancel()
        at_us += (self.how.on if on else self.how.off).draw(self.random)
        instants = [at_us, *self._bounces(at_us)] if on and self.how.bounce_us else [at_us]
        # Touch, open, touch ...: an odd number of instants ends as it began.
        self._coming = [
            self.agenda.at(each_us, self._touch if on is (place % 2 == 0) else self._part)
            for place, each_us in enumerate(instants)
        ]

    def _touch(self, at_us: int) -> None:
        self.signal.set(at_us, True)

    def _part(self, at_us: int) -> None:
        self.signal.set(at_us, False)

    def _bounces(self, touch_us: int) -> list[int]:
        """Return when a contact that touched opens and touches again, within its bounce."""
        instants = range(FIRST_TOUCH_US, self.how.bounce_us + 1)
        count = min(self.random.randrange(MOST_BOUNCES + 1), len(instants) // 2)
        return sorted(touch_us + each for each in self.random.sample(instants, 2 * count))
