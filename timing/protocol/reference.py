"""The reference page of the serial link, made from the tables, and what SCPI-99 demands of every instrument."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from timing.protocol import commands
from timing.protocol.recorder import (
    PRESS_LAPSE_US,
    RECORDER_INPUTS,
    RECORDER_PRESSES,
    RECORDER_RECORDS,
    SAMPLE_US,
)
from timing.protocol.resets import RESET_ROWS, Reset
from timing.protocol.status import ERRORS, STATUS_CONDITIONS, EventBit, Register, StatusBit, StatusCondition
from timing.protocol.target import ANALOG_CHANNELS, CAUTIONS, LEVEL_BIT, RAW_ALL, RAW_BIT
from timing.sequence.core.table import Fault, Phase
from timing.sequence.faults import EXPLANATIONS


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
"""Every command that must be there, and where it stands.

The lists of commands are those of IEEE 488.2-1992, chapter 10, and SCPI-99, volume 1, 4.2.1; the sections of the
commands themselves were looked up in the documentation of the open-source libraries that quote them
(https://docs.rs/scpi, modules ieee488::commands and scpi1999::commands), the texts of errors in that of
https://github.com/j123b567/scpi-parser. 4.2.1 and 6.2.4 of volume 1 are cited from memory.
"""

DEVIATIONS = (
    "`*RST` without the bench link does nothing: no line may move an output of a board that is at work.",
    "There is no message-available bit: a serial line has no output queue that a host could ask for.",
    "`*OPC`, `*OPC?` and `*WAI` have nothing to wait for: every command is done before the next one is read.",
    "The transition filters of STATus, which SCPI-99 leaves open, are not there: what begins is the event.",
)
"""What is as it must be only in its own way."""


_MADE = "<!-- Made by `make docs` from the code; changes here are lost. -->\n\n"

_EXAMPLES = (
    ("*IDN?", "wirecue,shop_two_step,0123456789abcdef,0.1.0"),
    ("SEQ:STAT?", "1,0"),
    ("SEQ:CLOC?;:BENC:CONT 9;CONT?", "48120936;1,9,48121380"),
    ("TRAC:DATA?", "4,48146412,9,2,0"),
    ("NO:SUCH", ""),
    ("SYST:ERR?", '-113,"Undefined header"'),
)


def serial_page() -> str:
    """Return docs/serial.md: how to talk to a board."""
    return (
        _MADE
        + "\n".join(
            [
                "# The serial link",
                "",
                f"{commands.BAUD} baud, 8 data bits, no parity, one stop bit; over USB any setting will do.",
                f"IEEE 488.2 common commands, SCPI-style headers (SCPI {commands.SCPI_VERSION}).",
                "Reading is always allowed. What could move an output needs the bench link, a jumper that is read at",
                "power-up, and is refused without it.",
                "",
                "Before anything is forced:",
                "",
                *(f"- {caution}" for caution in CAUTIONS),
                "",
                "For example (sent, then answered):",
                "",
                "```",
                *(f"{sent:<40}{answered}".rstrip() for sent, answered in _EXAMPLES),
                "```",
                "",
                *_rules(),
                "## Commands",
                "",
                "Capitals are the short form. A star marks what needs the bench link.",
                "",
                *_table(("command", "takes", "answers", "does"), map(_command_row, commands.COMMANDS)),
                *_recorder(),
                f"## What SCPI {commands.SCPI_VERSION} demands",
                "",
                "Every instrument that answers this version has these commands, and so has this board:",
                "",
                *_table(("command", "demanded by"), ((f"`{one.header}`", one.where) for one in REQUIRED)),
                "In its own way:",
                "",
                *(f"- {deviation}" for deviation in DEVIATIONS),
                "",
                "## Errors",
                "",
                f"The queue keeps {commands.ERROR_QUEUE}; numbers and texts: SCPI-99, volume 2, chapter 21.",
                "",
                *_table(("number", "text", "when"), ((str(e.number), e.text, e.when) for e in ERRORS)),
                "## Numbers",
                "",
                "Phases and faults, in `SEQuence:STATe?` and the trace:",
                "",
                *_table(("phase", "word"), ((str(int(phase)), phase.word) for phase in Phase)),
                *_table(("fault", "word", "what to do"), _faults()),
                "Why the board last started, in `SYSTem:RESet?`. One with a star is kept until power-up, so that",
                "a reset by the opening of the port does not hide it. The lamp tells it, too, until the first press.",
                "",
                *_table(("number", "word", "what happened", "what to do"), map(_reset, Reset)),
                "Bits of contacts, 1 closed:",
                "",
                *_table(("bit", "contact"), _bits(RAW_BIT)),
                "Bits of levels in the trace: outputs as read back from their pins, then contacts after their filters.",
                "The outputs alone are the answer to `OUTPut:STATe?`.",
                "",
                *_table(("bit", "level"), _bits(LEVEL_BIT)),
                "Analog channels:",
                "",
                *_table(("channel", "what"), ((str(n), _channel(name)) for n, name in enumerate(ANALOG_CHANNELS))),
                "Status byte and event status register (IEEE 488.2, sections 11.2 and 11.5):",
                "",
                *_table(("status bit", "meaning"), _bits({bit.name: bit.value for bit in StatusBit})),
                *_table(("event bit", "meaning"), _bits({bit.name: bit.value for bit in EventBit})),
                "Registers of STATus (SCPI-99, volume 2, chapter 20); an event is a condition that begins:",
                "",
                *_table(
                    ("register", "bit", "shows"),
                    ((f"STATus:{_register(one.register)}", str(one.bit), one.says) for one in _by_register()),
                )[:-1],
            ]
        )
        + "\n"
    )


def _recorder() -> list[str]:
    """Return what only a recorder does, and how it numbers its lines."""
    own = (command for command in commands.RECORDER_COMMANDS if command not in commands.COMMANDS)
    return [
        "## The recorder's commands",
        "",
        "A recorder, the second board, has those that begin with a star, `SYSTem`, `STATus`, `TRACe:LOST?` and",
        "`TRACe:CLEar` as above, and its own. Here a star marks what needs the press jumper.",
        "",
        *_table(("command", "takes", "answers", "does"), map(_command_row, own)),
        f"It keeps {RECORDER_RECORDS} records, looks every {SAMPLE_US} us, and lets go of what it presses "
        f"{PRESS_LAPSE_US / 1e6:g} s after the latest line.",
        "Each record differs from the one before it in the lines that changed; take what changed in the order in which",
        "records come, then sort by time. Openings that are bridged still count as on in `INPut:LINes?`, too.",
        "",
        "Inputs by number, 1 where there is voltage or a closed contact, and bits of the lines:",
        "",
        *_table(("input", "bit", "put across"), ((str(i.number), str(i.bit), i.sees) for i in RECORDER_INPUTS)),
        "Presses, in the parameter and in the lines:",
        "",
        *_table(
            ("bit", "bit of the lines", "lies across"),
            ((str(press.bit), str(press.line_bit), press.presses) for press in RECORDER_PRESSES),
        ),
        "`STATus:OPERation` shows 1024 while something is pressed; `STATus:QUEStionable` and `*TST?` are always 0.",
        "",
    ]


def _rules() -> list[str]:
    """Return what the command table's own module says of reading a line, forcing and the trace."""
    text = (commands.__doc__ or "").partition("\n\n")[2].strip()
    values = {
        "`LONGEST_LINE`": str(commands.LONGEST_LINE),
        "`RECEIVE_ROOM`": str(commands.RECEIVE_ROOM),
        "`recorder.PRESS_LAPSE_US`": f"{PRESS_LAPSE_US / 1e6:g} s",
        "`LAPSE_US`": f"{commands.LAPSE_US / 1e6:g} s",
        "all bits of `target.RAW_CONTACTS`": str(RAW_ALL),
    }
    for name, value in values.items():
        text = text.replace(name, value)
    return ["## Rules", "", *text.splitlines(), ""]


def _by_register() -> list[StatusCondition]:
    return sorted(STATUS_CONDITIONS, key=lambda one: (one.register.name, one.bit))


def _register(register: Register) -> str:
    return {Register.OPERATION: "OPERation", Register.QUESTIONABLE: "QUEStionable"}[register]


def _command_row(command: commands.Command) -> tuple[str, ...]:
    star = " *" if command.needs_bench_link else ""
    return f"`{command.header}`{star}", ", ".join(command.takes), ", ".join(command.answers), command.does


def _bits(bits: dict[str, int]) -> list[tuple[str, str]]:
    return [(str(bit), name.replace("_", " ").lower()) for name, bit in bits.items()]


def _faults() -> list[tuple[str, ...]]:
    told = {fault: explanation.remedy for fault, explanation in EXPLANATIONS.items()}
    return [(str(int(fault)), fault.word, told.get(fault, "")) for fault in Fault]


def _reset(cause: Reset) -> tuple[str, ...]:
    row = RESET_ROWS[cause]
    return f"{int(cause)}{' *' if cause.on_lamp else ''}", row.word, row.means, row.remedy


def _channel(name: str) -> str:
    return "supply sense" if name == "supply" else f"{name} dial"


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> list[str]:
    lines = [f"| {' | '.join(row)} |" for row in rows]
    return [f"| {' | '.join(head)} |", "|" + "---|" * len(head), *lines, ""]
