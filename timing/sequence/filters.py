"""The filter between a contact and the sequence. The C core has the same one.

A contact counts as closed once it was closed for the filter time, and as open once it was open for the filter
time. A dc contact must be closed without a break; through an ac sense the contact appears as pulses, and a gap
shorter than the filter time does not count as a break.
"""

from __future__ import annotations

from dataclasses import dataclass


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
