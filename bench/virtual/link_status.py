"""Errors and status registers of one virtual board: those of IEEE 488.2 and SCPI-99."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

from timing.protocol.commands import ERROR_QUEUE
from timing.protocol.status import (
    NO_ERROR_TEXT,
    REGISTER_MASK,
    STATUS_CONDITIONS,
    EventBit,
    LinkError,
    Register,
    StatusBit,
    error_named,
    shown_in_status,
)


@dataclass
class LinkStatus:
    """One board's errors and status registers."""

    events: int = EventBit.POWER_ON
    event_enable: int = 0
    service_enable: int = 0
    errors: list[LinkError] = field(default_factory=list)
    enables: dict[Register, int] = field(default_factory=lambda: dict.fromkeys(Register, 0))
    """Enable registers of STATus."""

    def report(self, name: str) -> None:
        """Put an error in the queue and set its event."""
        error = error_named(name)
        self.events |= error.event
        if len(self.errors) < ERROR_QUEUE:
            self.errors.append(error)
        else:
            self.errors[-1] = error_named("QUEUE_OVERFLOW")
            self.events |= self.errors[-1].event

    def next_error(self) -> tuple[int, str]:
        """Take out the oldest error."""
        if not self.errors:
            return 0, f'"{NO_ERROR_TEXT}"'
        error = self.errors.pop(0)
        return error.number, f'"{error.text}"'

    def take_events(self) -> int:
        """Return the event status register and empty it."""
        events, self.events = int(self.events), 0
        return events

    def clear(self) -> None:
        """Empty queue and event status register."""
        self.events = 0
        self.errors.clear()

    def set_service_enable(self, bits: int) -> None:
        """Set the service request enable register; the master summary itself is not in it."""
        self.service_enable = bits & ~StatusBit.MASTER_SUMMARY

    def set_enable(self, register: Register, bits: int) -> None:
        """Set an enable register of STATus."""
        self.enables[register] = bits & REGISTER_MASK

    def preset(self) -> None:
        """Empty both enable registers of STATus."""
        self.enables = dict.fromkeys(Register, 0)

    def byte(self, begun: int) -> int:
        """Return the status byte. begun: conditions that are events of STATus, as kept bits."""
        bits = StatusBit.ERROR_QUEUE * bool(self.errors)
        for register, enabled in self.enables.items():
            bits |= register.value * bool(shown_in_status(begun, register) & enabled)
        bits |= StatusBit.EVENT_SUMMARY * bool(self.events & self.event_enable)
        return int(bits | StatusBit.MASTER_SUMMARY * bool(bits & self.service_enable))


@dataclass
class BegunConditions:
    """Conditions of the status registers, as kept bits: what began and was not asked for yet."""

    begun: int = 0
    _seen: int = 0
    """What stood when it was looked at last."""

    def watch(self, standing: int) -> None:
        """Take what stands now; what did not before has begun."""
        self.begun |= standing & ~self._seen
        self._seen = standing

    def take(self, register: Register) -> int:
        """Return the events of a register, and forget them."""
        taken = shown_in_status(self.begun, register)
        self.begun &= ~sum(one.kept_bit for one in STATUS_CONDITIONS if one.register is register)
        return taken


def kept_bits(names: Collection[str]) -> int:
    """Return the kept bits of conditions by their names."""
    return sum(one.kept_bit for one in STATUS_CONDITIONS if one.name in names)
