"""The commands of the serial link: ONE table a board, from which the C parser, the bench and the reference are made.

Lines end with a line feed; a carriage return before it is ignored. Commands on one line are parted by semicolons.
Headers are those of IEEE 488.2 (with the star) and of SCPI: the capital letters are the short form, the whole word the
long one, and nothing in between will do; a word in brackets may be left out. A header begins where the one before it on
the line did: after `SEQuence:STATe?` comes `CLOCk?`, and `:INPut:STATe?` with a colon for another branch. What has a
star stands anywhere and changes nothing (SCPI-99, volume 1, 6.2.4).

Parameters are numbers parted by commas: decimal ones with or without point and exponent (`32`, `32.0`, `3.2e1`),
rounded to whole numbers, halves away from zero; or `#H20`, `#Q40`, `#B100000` (IEEE 488.2, 7.7.2 and 7.7.4). Answers
are whole decimal numbers, or text, parted by commas; the answers to one line are parted by semicolons and end with a
line feed.

Reading a line:

- Small and capital letters are the same. White space (every code up to the blank, but for the line feed) parts the
  header from its parameters; around commands and parameters it does not count. An empty command is passed over.
- The whole line is dropped, with one "Too much data", when it has more than `LONGEST_LINE` characters, line end not
  counted.
- A hardware port keeps `RECEIVE_ROOM` characters that the board has not come to yet. One more is lost, and the line
  that it was part of is dropped to its end, with one "Input buffer overrun"; one that arrives without its stop bit
  does the same with "Framing error in program message". No part of such a line is carried out, and the lines before
  and after it are. Over USB nothing is lost: the host waits.
- The first character of a command is a letter, a star or a colon; anything else is a syntax error. A header that is
  in no entry of the table is an undefined header.
- Parameters are counted by their commas first (too few, too many). Then each must be a number (else data type error;
  an empty one, too). Then comes the bench link (command protected), last the range: bits 0 to 255, those of STATus 0
  to 65535, contacts 0 to all bits of `target.RAW_CONTACTS`, counts 0 to the full scale of the converter, a channel
  that the design has.
- A command that is wrong does nothing, answers nothing and leaves its error in the queue. After a command error (-1xx)
  nothing more of its line is carried out; after another the rest of it is, in order. What was answered before stands.
  A line without an answer sends nothing back.
- With the error queue full, its newest entry becomes "Queue overflow". The text of an error is answered in double
  quotes: `0,"No error"`.

Identity: `*IDN?` answers maker, design, digest of the design and version of the tool. Where a number of the sketch's
settings.h is not what the design made it, `-edited` follows the digest: the compiler has found out, by a checksum.

Status: the event status register starts with its power-on bit set; every error sets its event bit. The registers of
STATus show what stands (condition) and what has begun since they were last asked (event); the status byte sums up
those events whose bits are enabled. It has no message-available bit on this link: it is always 0 there. `*SRE` ignores
bit 6. `*TST?` answers the number of a fault that stands at this moment, or 0.

Forced states: `BENCh:CONTacts` is in force from the next pass on; `BENCh:CONTacts?` answers the `now` of the pass in
which it was carried out (`0,0,0` while nothing is forced). Forced counts stand in the place of a channel's finished
reading from the next pass on, as they are, unfiltered. `BENCh:PINS` says which contacts come from their pins all the
same, so that something else can work those while the rest is forced; it is in force as long as forced states are. Bits
of contacts that the design does not have are ignored, and read as 0 from the pins. They lapse like `BENCh:RELease`
when no complete line came for `LAPSE_US`. `*RST` with the bench link ends them and starts the sequence as at power-up,
the fault shown cleared, outputs off; trace, error queue and status registers stay. A board in hold-off shows a fault
that stands.

Trace: a pass that leaves levels, phase or fault different from the latest record adds one, stamped with the pass's
`now`; at power-up all zero counts as recorded. While the trace is full, new records are lost and counted.
`TRACe:CLEar` forgets records and count, not what was last recorded. Output bits are read back from the pins after
the pass has written them.

The recorder (`timing.protocol.recorder`) speaks the same language: what is said above of lines, parameters, identity
and status holds for it. What it calls protected needs its press jumper. A record of its trace is stamped with the look
at its lines that found them changed; one of a bridged input that went off is stamped with the look that saw it go, and
so may come after later ones. Presses lapse when no complete line came for `recorder.PRESS_LAPSE_US`; `*RST` with the
jumper ends them, and every bridge.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

SCPI_VERSION = "1999.0"
MAKER = "wirecue"
"""First answer to `*IDN?`."""
EDITED_MARK = "-edited"
"""Follows the digest in `*IDN?` where a number of the sketch's settings.h is not what the design made it."""
BAUD = 115_200
"""Speed of the serial link, 8 data bits, no parity, 1 stop bit (choice)."""
LONGEST_LINE = 50
"""Characters that the board keeps of one command; a longer one is an error and does nothing (choice)."""
RECEIVE_BUFFER = 64
"""Size of the board's receive buffer on a hardware port; a power of two (choice)."""
RECEIVE_ROOM = RECEIVE_BUFFER - 2
"""Characters that may come in at once: one place tells full from empty, one is kept for the mark of an overrun
(derived)."""
LARGEST_EXPONENT = 63
"""Exponents beyond are taken as this: no line has the digits to make up for it (choice)."""
LARGEST_PARAMETER = 0xFFFF
"""Largest number that a command takes: 16 bits (choice)."""
TRACE_RECORDS = 24
"""Records that the edge trace keeps; more are counted as lost (choice)."""
ERROR_QUEUE = 4
"""Errors that the board keeps (choice)."""
LAPSE_US = 1_000_000
"""Forced states lapse when no complete command came for this long (choice)."""


_OPTIONAL = re.compile(r"\[(:\w+)\]")


@dataclass(frozen=True)
class Command:
    """One command or query."""

    name: str
    """Name of its handler, in C and in the virtual board."""
    header: str
    """As SCPI writes it: capitals for the short form; brackets around a word that may be left out, with its colon; a
    question mark for a query."""
    takes: tuple[str, ...]
    """Its parameters, in order, by name."""
    answers: tuple[str, ...]
    """What a query answers, in order, by name; empty for a command."""
    does: str
    """One sentence for people."""
    needs_bench_link: bool = False

    @property
    def headers(self) -> tuple[str, ...]:
        """The header without the word that may be left out and, where there is one, with it."""
        short = _OPTIONAL.sub("", self.header)
        return (short,) if short == self.header else (short, _OPTIONAL.sub(r"\1", self.header))

    @property
    def query(self) -> bool:
        """True where it answers."""
        return self.header.endswith("?")


def _command(name: str, header: str, takes: str, answers: str, does: str, bench: bool = False) -> Command:
    return Command(name, header, tuple(takes.split()), tuple(answers.split()), does, bench)


COMMANDS = (
    _command("clear_status", "*CLS", "", "", "Empties the error queue and every event register."),
    _command("set_event_enable", "*ESE", "bits", "", "Sets which events show in the status byte."),
    _command("event_enable", "*ESE?", "", "bits", "Answers which events show in the status byte."),
    _command("event_status", "*ESR?", "", "bits", "Answers the event status register and empties it."),
    _command("identity", "*IDN?", "", "maker design digest version", "Answers who is there."),
    _command("operation_complete", "*OPC", "", "", "Sets the operation-complete event at once: nothing is queued."),
    _command("operation_complete_query", "*OPC?", "", "one", "Answers 1 at once: nothing is queued."),
    _command("reset", "*RST", "", "", "Without bench link: does nothing. With it: forced states end, then hold-off."),
    _command("set_service_enable", "*SRE", "bits", "", "Sets which status bits make the master summary."),
    _command("service_enable", "*SRE?", "", "bits", "Answers which status bits make the master summary."),
    _command("status_byte", "*STB?", "", "bits", "Answers the status byte."),
    _command("self_test", "*TST?", "", "fault", "Answers 0, or the number of the fault that stands now."),
    _command("wait", "*WAI", "", "", "Does nothing: nothing is queued."),
    _command("next_error", "SYSTem:ERRor[:NEXT]?", "", "number text", "Answers the oldest error and takes it out."),
    _command(
        "why_reset", "SYSTem:RESet?", "", "cause", "Answers why the board last started, as a number of the table below."
    ),
    _command("version", "SYSTem:VERSion?", "", "version", "Answers the year of the SCPI standard followed."),
    _command(
        "operation_event",
        "STATus:OPERation[:EVENt]?",
        "",
        "bits",
        "Answers what has begun since it was last asked, and forgets it.",
    ),
    _command("operation_condition", "STATus:OPERation:CONDition?", "", "bits", "Answers what goes on now."),
    _command(
        "set_operation_enable", "STATus:OPERation:ENABle", "bits", "", "Sets which of it the status byte sums up."
    ),
    _command(
        "operation_enable", "STATus:OPERation:ENABle?", "", "bits", "Answers which of it the status byte sums up."
    ),
    _command(
        "questionable_event",
        "STATus:QUEStionable[:EVENt]?",
        "",
        "bits",
        "Answers what has become doubtful since it was last asked, and forgets it.",
    ),
    _command("questionable_condition", "STATus:QUEStionable:CONDition?", "", "bits", "Answers what is doubtful now."),
    _command(
        "set_questionable_enable",
        "STATus:QUEStionable:ENABle",
        "bits",
        "",
        "Sets which of it the status byte sums up.",
    ),
    _command(
        "questionable_enable",
        "STATus:QUEStionable:ENABle?",
        "",
        "bits",
        "Answers which of it the status byte sums up.",
    ),
    _command("preset", "STATus:PRESet", "", "", "Empties both enable registers of STATus."),
    _command("clock", "SEQuence:CLOCk?", "", "time_us", "Answers the board's clock; it wraps at 2^32."),
    _command("state", "SEQuence:STATe?", "", "phase fault", "Answers the phase and the fault shown, as numbers."),
    _command(
        "last_fault",
        "SEQuence:FAULt?",
        "",
        "fault",
        "Answers the latest fault that was shown since power-up, 0 for none; a reset keeps it.",
    ),
    _command("contacts", "INPut:STATe?", "", "contacts", "Answers the contacts as the pins show them now."),
    _command("outputs", "OUTPut:STATe?", "", "outputs", "Answers the outputs as read back from the pins."),
    _command("analog", "INPut:ANALog?", "channel", "counts", "Answers the latest reading of one analog channel."),
    _command("time", "INPut:TIME?", "channel", "time_us", "Answers the time that one dial gives now."),
    _command(
        "trace",
        "TRACe:DATA?",
        "",
        "records time_us levels phase fault",
        "Answers how many records there are, and the oldest, and takes it out; all 0 when there is none.",
    ),
    _command("trace_lost", "TRACe:LOST?", "", "records", "Answers how many records were lost since the last clear."),
    _command("trace_clear", "TRACe:CLEar", "", "", "Empties the edge trace."),
    _command("bench", "BENCh:STATe?", "", "fitted", "Answers 1 where the bench link was fitted at power-up."),
    _command(
        "force_contacts", "BENCh:CONTacts", "contacts", "", "Puts these contacts in the place of the pins.", bench=True
    ),
    _command(
        "forced_contacts",
        "BENCh:CONTacts?",
        "",
        "forced contacts time_us",
        "Answers whether contacts are forced, to what, and since when on the board's clock.",
    ),
    _command(
        "leave_contacts",
        "BENCh:PINS",
        "contacts",
        "",
        "Leaves these contacts to their pins while the others are forced; 0 for none.",
        bench=True,
    ),
    _command(
        "force_analog", "BENCh:ANALog", "channel counts", "", "Puts a reading in the place of a channel's.", bench=True
    ),
    _command("release", "BENCh:RELease", "", "", "Ends all forced states.", bench=True),
    _command("hang", "BENCh:HANG", "", "", "Holds the loop until the watchdog bites.", bench=True),
)
"""Every command of the add-on, once."""

_ANY_BOARD = ("*", "SYSTem:", "STATus:", "TRACe:LOST", "TRACe:CLEar")
"""How headers begin that mean the same on every board of ours."""

RECORDER_COMMANDS = (
    *(command for command in COMMANDS if command.header.startswith(_ANY_BOARD)),
    _command("recorder_clock", "INPut:CLOCk?", "", "time_us", "Answers the recorder's clock; it wraps at 2^32."),
    _command("lines", "INPut:LINes?", "", "lines", "Answers how inputs and presses stand now."),
    _command(
        "set_bridge",
        "INPut:BRIDge",
        "input time_us",
        "",
        "Lets an input count as on through openings shorter than this, such as those of ac; 0 for none.",
    ),
    _command("bridge", "INPut:BRIDge?", "input", "time_us", "Answers what an input bridges."),
    _command("gap", "INPut:GAP?", "input", "time_us", "Answers the longest opening that was bridged, and forgets it."),
    _command(
        "disc",
        "INPut:DISC?",
        "",
        "slots first_us last_us",
        "Answers how many slots of the disc began since the last clear, and when the first and the latest did.",
    ),
    _command("disc_clear", "INPut:DISC:CLEar", "", "", "Counts the disc's slots from 0 again."),
    _command(
        "recorded",
        "TRACe:DATA?",
        "",
        "records time_us lines",
        "Answers how many records there are, and the oldest, and takes it out; all 0 when there is none.",
    ),
    _command("press", "OUTPut:PRESs", "presses", "", "Closes these outputs and opens the others.", bench=True),
    _command("pressed", "OUTPut:PRESs?", "", "presses", "Answers the outputs as read back from the pins."),
    _command(
        "press_jumper", "OUTPut:JUMPer?", "", "fitted", "Answers 1 where the press jumper was fitted at power-up."
    ),
)
"""Every command of the recorder, once; a handler's name means the same on both boards, or it is another name."""

_BY_NAME = {command.name: command for command in (*COMMANDS, *RECORDER_COMMANDS)}


def command_named(name: str) -> Command:
    """Return the command of that name. Raises KeyError."""
    return _BY_NAME[name]


PARTS = (
    "NUMBER_BAD",
    "NUMBER_START",
    "NUMBER_SIGNED",
    "NUMBER_POINT",
    "NUMBER_WHOLE",
    "NUMBER_FRACTION",
    "NUMBER_GAP",
    "EXPONENT_START",
    "EXPONENT_SIGNED",
    "EXPONENT_DIGITS",
    "NUMBER_END",
)
"""Where in a decimal number a character can stand."""

_NEXT = {
    "blank": {
        "NUMBER_START": "NUMBER_START",
        "NUMBER_WHOLE": "NUMBER_GAP",
        "NUMBER_FRACTION": "NUMBER_GAP",
        "NUMBER_GAP": "NUMBER_GAP",
        "EXPONENT_START": "EXPONENT_START",
        "EXPONENT_DIGITS": "NUMBER_END",
        "NUMBER_END": "NUMBER_END",
    },
    "digit": {
        "NUMBER_START": "NUMBER_WHOLE",
        "NUMBER_SIGNED": "NUMBER_WHOLE",
        "NUMBER_POINT": "NUMBER_FRACTION",
        "NUMBER_WHOLE": "NUMBER_WHOLE",
        "NUMBER_FRACTION": "NUMBER_FRACTION",
        "EXPONENT_START": "EXPONENT_DIGITS",
        "EXPONENT_SIGNED": "EXPONENT_DIGITS",
        "EXPONENT_DIGITS": "EXPONENT_DIGITS",
    },
    "sign": {"NUMBER_START": "NUMBER_SIGNED", "EXPONENT_START": "EXPONENT_SIGNED"},
    "point": {
        "NUMBER_START": "NUMBER_POINT",
        "NUMBER_SIGNED": "NUMBER_POINT",
        "NUMBER_WHOLE": "NUMBER_FRACTION",
    },
    "exponent": {
        "NUMBER_WHOLE": "EXPONENT_START",
        "NUMBER_FRACTION": "EXPONENT_START",
        "NUMBER_GAP": "EXPONENT_START",
    },
    "radix": {"NUMBER_START": "RADIX"},
}

NEXT_PARTS = {kind: tuple(after.get(part, "NUMBER_BAD") for part in PARTS) for kind, after in _NEXT.items()}
"""By what a character is: where the next one stands, for each of PARTS in which this one can."""
