"""The errors the board can report: numbers and texts of SCPI-99, volume 2, chapter 21."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from timing.protocol.registers import Register


class EventBit(IntEnum):
    """Bits of the standard event status register, IEEE 488.2 section 11.5.1."""

    OPERATION_COMPLETE = 1
    QUERY_ERROR = 4
    DEVICE_ERROR = 8
    EXECUTION_ERROR = 16
    COMMAND_ERROR = 32
    POWER_ON = 128


class StatusBit(IntEnum):
    """Bits of the status byte, IEEE 488.2 section 11.2 and SCPI-99 (error queue)."""

    ERROR_QUEUE = 4
    QUESTIONABLE = Register.QUESTIONABLE.value
    EVENT_SUMMARY = 32
    MASTER_SUMMARY = 64
    OPERATION = Register.OPERATION.value


@dataclass(frozen=True)
class LinkError:
    """One error: its number, the standard's text, and when this board gives it."""

    name: str
    number: int
    text: str
    when: str

    @property
    def event(self) -> EventBit:
        """The event status bit that this error sets, by the hundreds of its number."""
        return {
            1: EventBit.COMMAND_ERROR,
            2: EventBit.EXECUTION_ERROR,
            3: EventBit.DEVICE_ERROR,
            4: EventBit.QUERY_ERROR,
        }[-self.number // 100]


NO_ERROR_TEXT = "No error"

ERRORS = (
    LinkError("SYNTAX", -102, "Syntax error", "a line that is no command"),
    LinkError("DATA_TYPE", -104, "Data type error", "a parameter that is no number"),
    LinkError("PARAMETER_NOT_ALLOWED", -108, "Parameter not allowed", "a parameter too many"),
    LinkError("MISSING_PARAMETER", -109, "Missing parameter", "a parameter too few"),
    LinkError("UNDEFINED_HEADER", -113, "Undefined header", "a command that is not known"),
    LinkError("PROTECTED", -203, "Command protected", "the bench link is not fitted"),
    LinkError("OUT_OF_RANGE", -222, "Data out of range", "a number outside what the command takes"),
    LinkError("TOO_MUCH_DATA", -223, "Too much data", "a line longer than the board keeps"),
    LinkError("QUEUE_OVERFLOW", -350, "Queue overflow", "more errors than the queue keeps"),
    LinkError("FRAMING", -362, "Framing error in program message", "a character without its stop bit"),
    LinkError("OVERRUN", -363, "Input buffer overrun", "characters came faster than the board takes them"),
)
"""Every error, once. The C table, the bench and the reference are made from it."""


def error_named(name: str) -> LinkError:
    """Return the error of that name. Raises KeyError."""
    return {error.name: error for error in ERRORS}[name]
