"""What a board says of itself, as tables: errors (numbers and texts of SCPI-99, volume 2, chapter 21) and the status
registers (chapter 20): what of the board shows in STATus:OPERation and STATus:QUEStionable.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, IntEnum

REGISTER_MASK = 0x7FFF
"""Bit 15 is never used, so that a register reads as a positive number (SCPI-99, volume 2, chapter 20)."""


class Register(Enum):
    """The two registers that SCPI-99 demands, and the bit of the status byte that sums each up."""

    OPERATION = 128
    QUESTIONABLE = 8


@dataclass(frozen=True)
class StatusCondition:
    """One thing that a register shows."""

    name: str
    register: Register
    bit: int
    """Its bit of the register. Bits 8 to 12 of either are the maker's own; 0 and 2 of QUEStionable are the standard's
    VOLTage and TIME."""
    says: str

    @property
    def kept_bit(self) -> int:
        """Its bit in the byte in which the board keeps all of them."""
        return 1 << STATUS_CONDITIONS.index(self)


STATUS_CONDITIONS = (
    StatusCondition("SUPPLY_LOW", Register.QUESTIONABLE, 1, "VOLTage: the supply is low"),
    StatusCondition("DIAL_FAULT", Register.QUESTIONABLE, 4, "TIME: a dial is broken or shorted"),
    StatusCondition("INTERLOCK_OPEN", Register.QUESTIONABLE, 512, "the interlock is open"),
    StatusCondition("HOLD_OFF", Register.OPERATION, 256, "hold-off: nothing starts"),
    StatusCondition("SEQUENCE", Register.OPERATION, 512, "the sequence runs: any phase but hold-off and idle"),
    StatusCondition("FORCED", Register.OPERATION, 1024, "a state is forced over the link"),
)
"""Everything that the two registers show; an event is a condition that begins."""
RECORDER_CONDITIONS = tuple(one for one in STATUS_CONDITIONS if one.name == "FORCED")
"""What of it a recorder shows: that it presses; QUEStionable is always 0 there."""


def shown_in_status(conditions: int, register: Register) -> int:
    """Return what `register` shows of a byte of kept bits."""
    return sum(one.bit for one in STATUS_CONDITIONS if one.register is register and conditions & one.kept_bit)


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
