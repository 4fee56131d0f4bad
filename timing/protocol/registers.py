"""The status registers of SCPI-99: what of the board shows in STATus:OPERation and STATus:QUEStionable."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

REGISTER_MASK = 0x7FFF
"""Bit 15 is never used, so that a register reads as a positive number (SCPI-99, volume 2, chapter 20)."""


class Register(Enum):
    """The two registers that SCPI-99 demands, and the bit of the status byte that sums each up."""

    OPERATION = 128
    QUESTIONABLE = 8


@dataclass(frozen=True)
class Condition:
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
        return 1 << CONDITIONS.index(self)


CONDITIONS = (
    Condition("SUPPLY_LOW", Register.QUESTIONABLE, 1, "VOLTage: the supply is low"),
    Condition("DIAL_FAULT", Register.QUESTIONABLE, 4, "TIME: a dial is broken or shorted"),
    Condition("INTERLOCK_OPEN", Register.QUESTIONABLE, 512, "the interlock is open"),
    Condition("HOLD_OFF", Register.OPERATION, 256, "hold-off: nothing starts"),
    Condition("SEQUENCE", Register.OPERATION, 512, "the sequence runs: any phase but hold-off and idle"),
    Condition("FORCED", Register.OPERATION, 1024, "a state is forced over the link"),
)
"""Everything that the two registers show; an event is a condition that begins."""


def shown(conditions: int, register: Register) -> int:
    """Return what `register` shows of a byte of kept bits."""
    return sum(one.bit for one in CONDITIONS if one.register is register and conditions & one.kept_bit)
