"""The recorder: a second board that watches isolated inputs, stamps their edges and presses trigger and purge.

Its inputs and outputs by number, and the bits in which its link speaks of them. Its commands stand beside the add-on's
in `timing.protocol.commands`. Knows nothing of design files, so that a bench harness can carry it along.
"""

from __future__ import annotations

from dataclasses import dataclass

RECORDER = "recorder"
"""What its sketch calls itself in `*IDN?`, in the place of a design's name."""


@dataclass(frozen=True)
class RecorderInput:
    """One isolated input."""

    number: int
    """On the link, on the board's papers and on its terminals; from 1."""
    key: str
    sees: str
    """What its adapter is put across, for people."""

    @property
    def bit(self) -> int:
        """Its bit of the lines; 1 where there is voltage, or a contact is closed."""
        return 1 << (self.number - 1)


RECORDER_INPUTS = (
    RecorderInput(1, "gas_valve", "the gas valve's coil"),
    RecorderInput(2, "wire_drive", "what the add-on's wire output works: the drive relay's coil, or the motor"),
    RecorderInput(3, "contactor", "the contactor's coil"),
    RecorderInput(4, "motor", "the wire motor's terminals"),
    RecorderInput(5, "main_contact", "the contactor's contact, or the welding voltage behind it"),
    RecorderInput(6, "sensor", "the arc sensor, or the flag at the nozzle"),
    RecorderInput(7, "disc", "the slotted disc, or the mark, on the drive roll"),
    RecorderInput(8, "supply", "the 24 VAC"),
)
"""Inputs by what they are for; a sketch that is not asked for more than edges does not care what hangs on them
(choice)."""


@dataclass(frozen=True)
class RecorderPress:
    """One isolated output: a contact that closes across a button of the machine."""

    key: str
    place: int
    """Its place in the parameter of a press; on the lines it stands above the inputs."""
    presses: str
    """What it lies across, for people."""

    @property
    def bit(self) -> int:
        """Its bit in the parameter of a press."""
        return 1 << self.place

    @property
    def line_bit(self) -> int:
        """Its bit of the lines, as read back from its pin."""
        return self.bit << len(RECORDER_INPUTS)


RECORDER_PRESSES = (
    RecorderPress("trigger", 0, "the trigger's contact"),
    RecorderPress("purge", 1, "the purge button's contact"),
)
"""What its outputs press (choice)."""

LINE_BIT = {one.key: one.bit for one in RECORDER_INPUTS} | {
    f"press_{one.key}": one.line_bit for one in RECORDER_PRESSES
}
"""Bits of the lines, as a record and `INPut:LINes?` have them: inputs, then presses (derived)."""
LINES_ALL = sum(LINE_BIT.values())
"""All bits of the lines (derived)."""
PRESS_ALL = sum(one.bit for one in RECORDER_PRESSES)
"""All bits of a press's parameter (derived)."""

RECORDER_RECORDS = 48
"""Records that its trace keeps; more are counted as lost (choice)."""
SAMPLE_US = 16
"""It looks at all lines this often; an edge's stamp is that of the look that found it, and late by no more (choice)."""
PRESS_LAPSE_US = 1_000_000
"""A press ends when no complete command came for this long (choice)."""
LONGEST_BRIDGE_US = 0xFFFF
"""Longest opening of an input that may be bridged (exact: 16 bits)."""


def recorder_input(key: str) -> RecorderInput:
    """Return the input of that key. Raises KeyError."""
    return {one.key: one for one in RECORDER_INPUTS}[key]
