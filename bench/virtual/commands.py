"""The commands of a virtual board: a line is read as the command table describes it, each has its handler by the name
there, and the status registers are those of IEEE 488.2 and SCPI-99.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from timing.protocol.commands import (
    COMMANDS,
    ERROR_QUEUE,
    LARGEST_EXPONENT,
    LARGEST_PARAMETER,
    MAKER,
    SCPI_VERSION,
    Command,
)
from timing.protocol.status import (
    NO_ERROR_TEXT,
    REGISTER_MASK,
    EventBit,
    LinkError,
    Register,
    StatusBit,
    error_named,
    shown_in_status,
)
from timing.protocol.target import ANALOG_CHANNELS, RAW_ALL

if TYPE_CHECKING:
    from bench.virtual.board import VirtualBoard


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


WHITE_SPACE = "".join(chr(code) for code in range(33) if chr(code) != "\n")
"""IEEE 488.2, 7.4.1.2."""
_BLANKS = re.compile(f"[{re.escape(WHITE_SPACE)}]+")
_DECIMAL = re.compile(
    rf"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))(?:[{re.escape(WHITE_SPACE)}]*E[{re.escape(WHITE_SPACE)}]*([+-]?[0-9]+))?",
    re.IGNORECASE,
)
_RADIX = re.compile(r"#(?:H(?P<H>[0-9A-F]+)|Q(?P<Q>[0-7]+)|B(?P<B>[01]+))", re.IGNORECASE)
_BASE = {"H": 16, "Q": 8, "B": 2}
_START = re.compile(r"[A-Za-z*:]")
BEYOND = LARGEST_PARAMETER + 1
"""Stands for a number that is negative, or larger than any command takes."""


@dataclass(frozen=True)
class Order:
    """One command with its parameters, or the name of the error that it is."""

    command: Command | None
    parameters: tuple[int, ...] = ()
    error: str = ""


@lru_cache(maxsize=1024)
def read_line(line: str) -> tuple[Order, ...]:
    """Return what a line asks for, in order; after a command error there is nothing more."""
    orders: list[Order] = []
    path = ""
    for text in (part.strip(WHITE_SPACE) for part in line.split(";")):
        if text:
            order, path = _read(text, path)
            orders.append(order)
            if order.error:
                break
    return tuple(orders)


def _read(text: str, path: str) -> tuple[Order, str]:
    """Return the order, and the path from which the next header begins (SCPI-99, volume 1, 6.2.4)."""
    if _START.match(text) is None:
        return Order(None, error="SYNTAX"), path
    header, *rest = _BLANKS.split(text, maxsplit=1)
    header = header.upper()
    whole = header if header.startswith("*") else header[1:] if header.startswith(":") else path + header
    command = _HEADERS.get(whole)
    if command is None or header.startswith(":*"):
        return Order(None, error="UNDEFINED_HEADER"), path
    if not header.startswith("*"):
        path = whole[: whole.rfind(":") + 1]
    texts = [item.strip(WHITE_SPACE) for item in rest[0].split(",")] if rest else []
    if len(texts) != len(command.takes):
        error = "MISSING_PARAMETER" if len(texts) < len(command.takes) else "PARAMETER_NOT_ALLOWED"
        return Order(command, error=error), path
    numbers = [_number(item) for item in texts]
    if None in numbers:
        return Order(command, error="DATA_TYPE"), path
    return Order(command, tuple(number for number in numbers if number is not None)), path


def _number(text: str) -> int | None:
    """Return the whole number that a text rounds to, half away from zero, or BEYOND; None where it is no number."""
    if (radix := _RADIX.fullmatch(text)) is not None:
        found = next(letter for letter in _BASE if radix[letter])
        return min(int(radix[found], _BASE[found]), BEYOND)
    decimal = _DECIMAL.fullmatch(text)
    if decimal is None:
        return None
    # A number of a thousand digits in the exponent is no reason to compute it.
    exponent = max(-LARGEST_EXPONENT, min(int((decimal[2] or "0")[:6]), LARGEST_EXPONENT))
    number = Decimal(decimal[1]).scaleb(exponent).to_integral_value(ROUND_HALF_UP)
    return int(number) if 0 <= number <= LARGEST_PARAMETER else BEYOND


def _spellings(header: str) -> Iterator[str]:
    """Yield each way to write a header: short or long in every part."""
    spellings = [""]
    for index, part in enumerate(header.removesuffix("?").split(":")):
        ways = {re.sub("[a-z]", "", part), part.upper()}
        spellings = [f"{before}{':' if index else ''}{way}" for before in spellings for way in sorted(ways)]
    mark = "?" if header.endswith("?") else ""
    for spelling in spellings:
        yield spelling + mark


_HEADERS = {spelling: command for command in COMMANDS for header in command.headers for spelling in _spellings(header)}


Reply = tuple[int | str, ...] | None
Handler = Callable[..., Reply]
CLOCK_MASK = 0xFFFFFFFF
BITS = 255


class OutOfRangeError(Exception):
    """A parameter is outside what the command takes."""


def _within(value: int, highest: int) -> int:
    if not 0 <= value <= highest:
        raise OutOfRangeError
    return value


def _channel(board: VirtualBoard, channel: int) -> int:
    if channel not in board.machine.pin_counts:
        raise OutOfRangeError
    return channel


def _set_event_enable(board: VirtualBoard, bits: int) -> Reply:
    board.status.event_enable = _within(bits, BITS)
    return None


def _operation_complete(board: VirtualBoard) -> Reply:
    board.status.events |= EventBit.OPERATION_COMPLETE
    return None


def _reset(board: VirtualBoard) -> Reply:
    if board.bench_link:
        board.machine.restart()
    return None


def _time(board: VirtualBoard, channel: int) -> Reply:
    if not 0 <= channel < len(ANALOG_CHANNELS) or ANALOG_CHANNELS[channel] not in board.target.scales:
        raise OutOfRangeError
    return (board.machine.time_us(ANALOG_CHANNELS[channel]),)


def _trace(board: VirtualBoard) -> Reply:
    trace = board.machine.trace
    if not trace:
        return 0, 0, 0, 0, 0
    count, record = len(trace), trace.pop(0)
    return count, record.time_us & CLOCK_MASK, record.levels, record.phase, record.fault


def _trace_clear(board: VirtualBoard) -> Reply:
    board.machine.trace.clear()
    board.machine.lost = 0
    return None


def _forced_contacts(board: VirtualBoard) -> Reply:
    machine = board.machine
    if machine.forced_contacts is None:
        return 0, 0, 0
    return 1, machine.forced_contacts, machine.forced_since_us & CLOCK_MASK


def _force_analog(board: VirtualBoard, channel: int, counts: int) -> Reply:
    board.machine.force_analog(_channel(board, channel), _within(counts, board.target.full_scale_counts))
    return None


def _clear_status(board: VirtualBoard) -> Reply:
    board.status.clear()
    board.machine.begun = 0
    return None


def _register_handlers(register: Register) -> dict[str, Handler]:
    name = register.name.lower()
    return {
        f"{name}_event": lambda board: (board.machine.take_begun(register),),
        f"{name}_condition": lambda board: (shown_in_status(board.machine.conditions(), register),),
        f"set_{name}_enable": lambda board, bits: board.status.set_enable(register, _within(bits, LARGEST_PARAMETER)),
        f"{name}_enable": lambda board: (board.status.enables[register],),
    }


HANDLERS: dict[str, Handler] = {
    "clear_status": _clear_status,
    "set_event_enable": _set_event_enable,
    "event_enable": lambda board: (board.status.event_enable,),
    "event_status": lambda board: (board.status.take_events(),),
    "identity": lambda board: (MAKER, board.target.design, board.digest, board.version),
    "operation_complete": _operation_complete,
    "operation_complete_query": lambda _: (1,),
    "reset": _reset,
    "set_service_enable": lambda board, bits: board.status.set_service_enable(_within(bits, BITS)),
    "service_enable": lambda board: (board.status.service_enable,),
    "status_byte": lambda board: (board.status.byte(board.machine.begun),),
    "self_test": lambda board: (int(board.machine.standing_fault()),),
    "wait": lambda _: None,
    "next_error": lambda board: board.status.next_error(),
    "why_reset": lambda board: (int(board.machine.reset),),
    "version": lambda _: (SCPI_VERSION,),
    "clock": lambda board: (board.now_us() & CLOCK_MASK,),
    "state": lambda board: (int(board.machine.state.phase), int(board.machine.state.fault)),
    "last_fault": lambda board: (int(board.machine.last_fault),),
    "contacts": lambda board: (board.machine.pin_contacts & board.machine.wired_contacts,),
    "outputs": lambda board: (board.machine.pins,),
    "analog": lambda board, channel: (board.machine.counts(_channel(board, channel)),),
    "time": _time,
    "trace": _trace,
    "trace_lost": lambda board: (board.machine.lost,),
    "trace_clear": _trace_clear,
    "bench": lambda board: (int(board.bench_link),),
    "force_contacts": lambda board, contacts: board.machine.force_contacts(_within(contacts, RAW_ALL)),
    "forced_contacts": _forced_contacts,
    "force_analog": _force_analog,
    "release": lambda board: board.machine.release(),
    "hang": lambda board: board.machine.hang(),
    "preset": lambda board: board.status.preset(),
    **_register_handlers(Register.OPERATION),
    **_register_handlers(Register.QUESTIONABLE),
}
"""By the names of the command table; a test holds the two together."""
