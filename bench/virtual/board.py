"""A virtual board: bytes of commands in, bytes of answers out."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field
from typing import Protocol

from bench.virtual.carrying_out import answer_to
from bench.virtual.commands import HANDLERS
from bench.virtual.incoming import IncomingLines
from bench.virtual.link_status import BegunConditions, LinkStatus
from bench.virtual.machine import NO_FAULTS, Faults, Machine
from bench.virtual.reading import ADD_ON_TABLE
from timing.protocol.commands import EDITED_MARK
from timing.protocol.resets import Reset
from timing.protocol.target import Target


class Clock(Protocol):
    """What a virtual board asks for the time."""

    def line_came(self) -> None:
        """Be told that a line came."""

    def now_us(self) -> int:
        """Return the time since it was switched on."""


class Served(Protocol):
    """What is put behind a port."""

    def receive(self, data: bytes, /) -> bytes:
        """Take bytes from the port; return what is sent back."""


@dataclass
class AheadClock:
    """Advances by a step with every line that comes, whatever the host's clock says: tests take no time."""

    step_us: int = 1_009
    """Not a round number, so that lines fall on changing places between passes."""
    time_us: int = 0

    def line_came(self) -> None:
        """Advance."""
        self.time_us += self.step_us

    def now_us(self) -> int:
        """Return the time since it was switched on."""
        return self.time_us


@dataclass
class DirectPort:
    """A board straight behind a link: a transport without a port (bench.port.Transport). Reading never waits."""

    receive: Callable[[bytes], bytes]
    _answers: bytearray = field(default_factory=bytearray)

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read."""
        return len(self._answers)

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes."""
        taken = bytes(self._answers[:size])
        del self._answers[:size]
        return taken

    def write(self, data: bytes, /) -> int:
        """Send to the board."""
        self._answers += self.receive(data)
        return len(data)

    def close(self) -> None:
        """Nothing to let go of."""


NOISE = b"\xff\x00~}\x1f\x80\xfe\n"


@dataclass
class VirtualBoard:
    """One virtual board. Safe to be used from several threads."""

    target: Target
    version: str = "0"
    """Version that its sketch claims to be made with."""
    clock: Clock = field(default_factory=AheadClock)
    bench_link: bool = True
    faults: Faults = NO_FAULTS
    lock: AbstractContextManager[object] = field(default_factory=threading.Lock)
    """Held while it works; boards that share a machine share one."""
    machine: Machine = field(init=False)
    status: LinkStatus = field(init=False, default_factory=LinkStatus)
    _incoming: IncomingLines = field(init=False)
    _restarts: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self.machine = Machine(self.target, self.faults)
        self._incoming = IncomingLines(self._report, self.faults.keeps)

    @property
    def digest(self) -> str:
        """The digest that it claims, marked where its settings were edited."""
        return (self.faults.digest or self.target.digest) + EDITED_MARK * self.faults.edited

    @property
    def identity(self) -> tuple[str, str, str]:
        """Name of the design, digest, version."""
        return self.target.design, self.digest, self.version

    @property
    def conditions(self) -> BegunConditions:
        """Conditions of the status registers that have begun."""
        return self.machine.conditions

    @property
    def reset_cause(self) -> Reset:
        """Why it last started."""
        return self.machine.reset

    def standing(self) -> int:
        """Return what stands at this moment, as kept bits of the status registers."""
        return self.machine.standing()

    def now_us(self) -> int:
        """Return the board's clock."""
        return 0 if self.faults.clock_stands else self.clock.now_us()

    def receive(self, data: bytes) -> bytes:
        """Take bytes from the port; return what the board sends back."""
        with self.lock:
            return b"".join(map(self._line_came, self._incoming.take(data)))

    def lose(self, error: str) -> None:
        """Give the present line up, as after a character that was lost or mutilated: it is dropped to its end.

        error: name of the error that stands for it, OVERRUN or FRAMING.
        """
        self._incoming.lose(error)

    def move_contact(self, contact: str, closed: bool, after_us: int = 0) -> None:
        """Move a real contact of the board, as a hand would."""
        with self.lock:
            self.machine.run_to(self.now_us())
            self.machine.move_pin(contact, closed, after_us)

    def _report(self, error: str) -> None:
        self.status.report(error)

    def _line_came(self, line: bytes) -> bytes:
        self.clock.line_came()
        now_us = self.now_us()
        self.machine.run_to(now_us)
        if self.machine.restarts != self._restarts:
            # A watchdog's reset takes the status registers and the error queue with it.
            self._restarts, self.status = self.machine.restarts, LinkStatus()
        if self.faults.mute or self.machine.hung_until_us is not None:
            return b""
        self.machine.last_line_us = now_us
        if self.faults.noisy:
            return NOISE
        return answer_to(line, self, ADD_ON_TABLE, HANDLERS, allowed=self.bench_link)
