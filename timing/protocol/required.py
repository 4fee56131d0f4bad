"""What SCPI-99 demands of every instrument that answers its year to `SYSTem:VERSion?`, and where it stands there.

The lists of commands are those of IEEE 488.2-1992, chapter 10, and SCPI-99, volume 1, 4.2.1; the sections of the
commands themselves were looked up in the documentation of the open-source libraries that quote them
(https://docs.rs/scpi, modules ieee488::commands and scpi1999::commands), the texts of errors in that of
https://github.com/j123b567/scpi-parser. 4.2.1 and 6.2.4 of volume 1 are cited from memory.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Required:
    """One command that must be there."""

    header: str
    """As the command table has it."""
    where: str


_COMMON = {
    "*CLS": "10.3",
    "*ESE": "10.10",
    "*ESE?": "10.11",
    "*ESR?": "10.12",
    "*IDN?": "10.14",
    "*OPC": "10.18",
    "*OPC?": "10.19",
    "*RST": "10.32",
    "*SRE": "10.34",
    "*SRE?": "10.35",
    "*STB?": "10.36",
    "*TST?": "10.38",
    "*WAI": "10.39",
}
_SCPI = {
    "SYSTem:ERRor[:NEXT]?": "21.8.8",
    "SYSTem:VERSion?": "21.21",
    "STATus:OPERation[:EVENt]?": "20.1.4",
    "STATus:OPERation:CONDition?": "20.1.2",
    "STATus:OPERation:ENABle": "20.1.3",
    "STATus:OPERation:ENABle?": "20.1.3",
    "STATus:QUEStionable[:EVENt]?": "20.3.4",
    "STATus:QUEStionable:CONDition?": "20.3.2",
    "STATus:QUEStionable:ENABle": "20.3.3",
    "STATus:QUEStionable:ENABle?": "20.3.3",
    "STATus:PRESet": "20.2",
}

REQUIRED = (
    *(Required(header, f"IEEE 488.2, {section}") for header, section in _COMMON.items()),
    *(Required(header, f"SCPI-99, volume 2, {section}") for header, section in _SCPI.items()),
)
"""Every command that must be there."""

DEVIATIONS = (
    "`*RST` without the bench link does nothing: no line may move an output of a board that is at work.",
    "There is no message-available bit: a serial line has no output queue that a host could ask for.",
    "`*OPC`, `*OPC?` and `*WAI` have nothing to wait for: every command is done before the next one is read.",
    "The transition filters of STATus, which SCPI-99 leaves open, are not there: what begins is the event.",
)
"""What is as it must be only in its own way."""
