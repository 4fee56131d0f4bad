"""The filters between contacts or supply and the sequence. The C core has the same ones.

A contact counts as closed once it was closed for the filter time, and as open once it was open for the filter
time. A dc contact must be closed without a break; through an ac sense the contact appears as pulses, and a gap
shorter than the filter time does not count as a break. The supply counts as low once it was below its lower threshold
for the filter time, and as good whenever it is at or above its upper one.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from .script import Switch, What


@dataclass(slots=True)
class ContactFilter:
    """One contact's filter. Times in microseconds.

    bridge_us: longest gap that does not restart the count towards closed; 0 for dc, the filter time for ac.
    """

    filter_us: int
    bridge_us: int = 0
    closed: bool = False
    """The contact after the filter."""
    counting: bool = False
    """True from the first closed reading until the contact counts as open again."""
    first_closed_us: int = 0
    last_closed_us: int = 0

    def read(self, raw_closed: bool, now_us: int) -> bool:
        """Take one reading of the contact; return it as it counts."""
        if raw_closed:
            if not self.counting:
                self.counting, self.first_closed_us = True, now_us
            self.last_closed_us = now_us
            if now_us - self.first_closed_us >= self.filter_us:
                self.closed = True
        elif self.counting and now_us - self.last_closed_us >= self._patience_us():
            self.counting = self.closed = False
        return self.closed

    def deadline_us(self, raw_closed: bool) -> int | None:
        """Return when the filtered contact will change if the raw one stays as it is, or None if it will not."""
        if raw_closed:
            return None if self.closed else self.first_closed_us + self.filter_us
        return self.last_closed_us + self._patience_us() if self.counting else None

    def _patience_us(self) -> int:
        return self.filter_us if self.closed else self.bridge_us


class SupplyLevel(IntEnum):
    """Where the supply stands against its two thresholds; trigger scripts use the numbers."""

    LOW = 0
    """Below the lower one."""
    GOOD = 1
    """At or above the upper one."""
    BETWEEN = 2
    """Good enough to go on, not to begin."""


@dataclass(slots=True)
class SupplyFilter:
    """The supply sense's filter, from power-up on. Times in microseconds."""

    filter_us: int
    low: bool = False
    """Below the lower threshold for the filter time; a weld ends at once."""
    poor: bool = True
    """Not good, as the latest reading has it; hold-off waits. So it is until the first reading."""
    below_since_us: int | None = None

    def read(self, level: SupplyLevel, now_us: int) -> None:
        """Take one reading of the supply."""
        self.poor = level is not SupplyLevel.GOOD
        if level is not SupplyLevel.LOW:
            self.low, self.below_since_us = False, None
            return
        if self.below_since_us is None:
            self.below_since_us = now_us
        self.low = now_us - self.below_since_us >= self.filter_us

    def deadline_us(self) -> int | None:
        """Return when the supply will count as low if it stays as it is, or None where it stays what it is."""
        return None if self.low or self.below_since_us is None else self.below_since_us + self.filter_us


# Switches of the panel and the interlock count once several looks at them agree. A look is taken every 128 us and the
# fourth on end that differs makes the change, so that a disturbance shorter than three looks does nothing. Four looks:
# common practice, no source; they cost an opening interlock half a millisecond, a tenth of what the contactor behind it
# takes to open. The model of the sequence takes these contacts as they count. Forced contacts count at once: they are
# no pins.
PANEL_LOOK_US = 128
"""From one look to the next (choice)."""
PANEL_LOOKS = 4
"""Looks on end that make a change (choice)."""
PANEL_SHORTEST_US = (PANEL_LOOKS - 1) * PANEL_LOOK_US
"""A change that lasts less does nothing (derived)."""
PANEL_LONGEST_US = PANEL_LOOKS * PANEL_LOOK_US
"""A change that stays is seen by then, and a pass (derived)."""
PANEL_USUAL_US = (PANEL_SHORTEST_US + PANEL_LONGEST_US) // 2
"""What it usually takes (derived)."""


def is_looked_at(what: What) -> bool:
    """Tell whether a change of a script moves a contact of the panel or the interlock."""
    return isinstance(what, Switch) or what in ("interlock", "four_step")
