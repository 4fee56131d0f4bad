"""The bits in which the link speaks of contacts, switches, analog channels and what the sequence sees."""

from __future__ import annotations

from timing.sequence.core.columns import TIME_NAMES
from timing.sequence.core.table import Output

RAW_CONTACTS = (
    "trigger",
    "purge",
    "inch",
    "interlock",
    "arc",
    "four_step",
    *(f"{name}_switch" for name in TIME_NAMES),
)
"""Contacts as the pins show them, 1 closed; bit 0 first. The interlock is closed when all is well."""

RAW_BIT = {name: 1 << position for position, name in enumerate(RAW_CONTACTS)}
RAW_ALL = (1 << len(RAW_CONTACTS)) - 1

ANALOG_CHANNELS = (*TIME_NAMES, "supply")
"""Analog channels by their number on the link: the five dials, then the supply sense."""

SEEN = ("trigger", "purge", "inch", "arc", "interlock_open", "supply_low", "dial_fault")
"""What the sequence sees after filters; in the edge trace they stand above the three output bits."""

OUTPUT_BIT = {"gas_valve": Output.GAS.value, "wire_drive": Output.WIRE.value, "contactor": Output.CONTACTOR.value}
LEVEL_BIT = OUTPUT_BIT | {name: 8 << position for position, name in enumerate(SEEN)}
"""Bits of the levels word of a trace record: outputs as read back from the pins, then what the sequence sees."""
OUTPUTS_MASK = 7
