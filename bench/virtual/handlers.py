"""What each command does on a virtual board: one function by the name in the command table."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from timing.protocol.commands import LARGEST_PARAMETER, MAKER, SCPI_VERSION
from timing.protocol.errors import EventBit
from timing.protocol.levels import ANALOG_CHANNELS, RAW_ALL
from timing.protocol.registers import Register, shown

if TYPE_CHECKING:
    from bench.virtual.board import VirtualBoard

Answer = tuple[int | str, ...] | None
Handler = Callable[..., Answer]
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


def _set_event_enable(board: VirtualBoard, bits: int) -> Answer:
    board.status.event_enable = _within(bits, BITS)
    return None


def _operation_complete(board: VirtualBoard) -> Answer:
    board.status.events |= EventBit.OPERATION_COMPLETE
    return None


def _reset(board: VirtualBoard) -> Answer:
    if board.bench_link:
        board.machine.restart()
    return None


def _time(board: VirtualBoard, channel: int) -> Answer:
    if not 0 <= channel < len(ANALOG_CHANNELS) or ANALOG_CHANNELS[channel] not in board.target.scales:
        raise OutOfRangeError
    return (board.machine.time_us(ANALOG_CHANNELS[channel]),)


def _trace(board: VirtualBoard) -> Answer:
    trace = board.machine.trace
    if not trace:
        return 0, 0, 0, 0, 0
    count, record = len(trace), trace.pop(0)
    return count, record.time_us & CLOCK_MASK, record.levels, record.phase, record.fault


def _trace_clear(board: VirtualBoard) -> Answer:
    board.machine.trace.clear()
    board.machine.lost = 0
    return None


def _forced_contacts(board: VirtualBoard) -> Answer:
    machine = board.machine
    if machine.forced_contacts is None:
        return 0, 0, 0
    return 1, machine.forced_contacts, machine.forced_since_us & CLOCK_MASK


def _force_analog(board: VirtualBoard, channel: int, counts: int) -> Answer:
    board.machine.force_analog(_channel(board, channel), _within(counts, board.target.full_scale_counts))
    return None


def _clear_status(board: VirtualBoard) -> Answer:
    board.status.clear()
    board.machine.begun = 0
    return None


def _register_handlers(register: Register) -> dict[str, Handler]:
    name = register.name.lower()
    return {
        f"{name}_event": lambda board: (board.machine.take_begun(register),),
        f"{name}_condition": lambda board: (shown(board.machine.conditions(), register),),
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
