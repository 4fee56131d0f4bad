"""What each command of a virtual board does and answers, by its name in the command table."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Protocol

from bench.virtual.link_status import BegunConditions, LinkStatus
from timing.protocol.commands import LARGEST_PARAMETER, MAKER, SCPI_VERSION
from timing.protocol.resets import Reset
from timing.protocol.status import EventBit, Register, shown_in_status
from timing.protocol.target import ANALOG_CHANNELS, RAW_ALL

if TYPE_CHECKING:
    from bench.virtual.board import VirtualBoard


Reply = tuple[int | str, ...] | None
Handler = Callable[..., Reply]
CLOCK_MASK = 0xFFFFFFFF
BITS = 255


class OutOfRangeError(Exception):
    """A parameter is outside what the command takes."""


class Commanded(Protocol):
    """What the commands that mean the same on every board ask of one."""

    status: LinkStatus

    @property
    def identity(self) -> tuple[str, str, str]:
        """Name of the design, digest, version."""

    @property
    def conditions(self) -> BegunConditions:
        """What has begun."""

    def standing(self) -> int:
        """Return what stands at this moment, as kept bits."""

    @property
    def reset_cause(self) -> Reset:
        """Why it last started."""


def within(value: int, highest: int) -> int:
    """Return a parameter that is in its range. Raises OutOfRangeError."""
    if not 0 <= value <= highest:
        raise OutOfRangeError
    return value


def _channel(board: VirtualBoard, channel: int) -> int:
    if channel not in board.machine.pin_counts:
        raise OutOfRangeError
    return channel


def _set_event_enable(board: Commanded, bits: int) -> Reply:
    board.status.event_enable = within(bits, BITS)
    return None


def _operation_complete(board: Commanded) -> Reply:
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
    board.machine.force_analog(_channel(board, channel), within(counts, board.target.full_scale_counts))
    return None


def _clear_status(board: Commanded) -> Reply:
    board.status.clear()
    board.conditions.begun = 0
    return None


def _register_handlers(register: Register) -> dict[str, Handler]:
    name = register.name.lower()
    return {
        f"{name}_event": lambda board: (board.conditions.take(register),),
        f"{name}_condition": lambda board: (shown_in_status(board.standing(), register),),
        f"set_{name}_enable": lambda board, bits: board.status.set_enable(register, within(bits, LARGEST_PARAMETER)),
        f"{name}_enable": lambda board: (board.status.enables[register],),
    }


COMMON_HANDLERS: dict[str, Handler] = {
    "clear_status": _clear_status,
    "set_event_enable": _set_event_enable,
    "event_enable": lambda board: (board.status.event_enable,),
    "event_status": lambda board: (board.status.take_events(),),
    "identity": lambda board: (MAKER, *board.identity),
    "operation_complete": _operation_complete,
    "operation_complete_query": lambda _: (1,),
    "set_service_enable": lambda board, bits: board.status.set_service_enable(within(bits, BITS)),
    "service_enable": lambda board: (board.status.service_enable,),
    "status_byte": lambda board: (board.status.byte(board.conditions.begun),),
    "wait": lambda _: None,
    "next_error": lambda board: board.status.next_error(),
    "why_reset": lambda board: (int(board.reset_cause),),
    "version": lambda _: (SCPI_VERSION,),
    "preset": lambda board: board.status.preset(),
    **_register_handlers(Register.OPERATION),
    **_register_handlers(Register.QUESTIONABLE),
}
"""What means the same on every board of ours."""
HANDLERS: dict[str, Handler] = COMMON_HANDLERS | {
    "reset": _reset,
    "self_test": lambda board: (int(board.machine.standing_fault()),),
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
    "force_contacts": lambda board, contacts: board.machine.force_contacts(within(contacts, RAW_ALL)),
    "leave_contacts": lambda board, contacts: board.machine.leave_contacts(within(contacts, RAW_ALL)),
    "forced_contacts": _forced_contacts,
    "force_analog": _force_analog,
    "release": lambda board: board.machine.release(),
    "hang": lambda board: board.machine.hang(),
}
"""Of the add-on, by the names of its command table; a test holds the two together."""
