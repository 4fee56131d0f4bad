"""A virtual board: bytes of commands in, bytes of answers out."""

from __future__ import annotations

import threading
from dataclasses import dataclass, field
from typing import Protocol

from bench.virtual.commands import HANDLERS, LinkStatus, Order, OutOfRangeError, read_line
from bench.virtual.machine import NO_FAULTS, Faults, Machine
from timing.protocol.commands import EDITED_MARK, LONGEST_LINE
from timing.protocol.target import Target


class Clock(Protocol):
    """What a virtual board asks for the time."""

    def line_came(self) -> None:
        """Be told that a line came."""

    def now_us(self) -> int:
        """Return the time since it was switched on."""


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
    machine: Machine = field(init=False)
    status: LinkStatus = field(init=False, default_factory=LinkStatus)
    _line: bytearray = field(init=False, default_factory=bytearray)
    _dropping: bool = field(init=False, default=False)
    _restarts: int = field(init=False, default=0)
    _lock: threading.Lock = field(init=False, default_factory=threading.Lock)

    def __post_init__(self) -> None:
        self.machine = Machine(self.target, self.faults)

    @property
    def digest(self) -> str:
        """The digest that it claims, marked where its settings were edited."""
        return (self.faults.digest or self.target.digest) + EDITED_MARK * self.faults.edited

    def now_us(self) -> int:
        """Return the board's clock."""
        return 0 if self.faults.clock_stands else self.clock.now_us()

    def receive(self, data: bytes) -> bytes:
        """Take bytes from the port; return what the board sends back."""
        with self._lock:
            came, lost = data[: self.faults.keeps], data[len(data[: self.faults.keeps]) :]
            *ended, rest = self._undropped(came).split(b"\n")
            answers = [self._line_came(self._kept(piece)) for piece in ended]
            self._keep(rest)
            if lost:
                self.lose("OVERRUN")
                self._dropping = not lost.endswith(b"\n")
        return b"".join(answers)

    def lose(self, error: str) -> None:
        """Give the present line up, as after a character that was lost or mutilated: it is dropped to its end.

        error: name of the error that stands for it, OVERRUN or FRAMING.
        """
        self._line.clear()
        self._dropping = True
        self.status.report(error)

    def _undropped(self, data: bytes) -> bytes:
        """Return what follows the end of a line that was given up."""
        if self._dropping:
            _, ended, data = data.partition(b"\n")
            self._dropping = not ended
        return data

    def move_contact(self, contact: str, closed: bool, after_us: int = 0) -> None:
        """Move a real contact of the board, as a hand would."""
        with self._lock:
            self.machine.run_to(self.now_us())
            self.machine.move_pin(contact, closed, after_us)

    def _keep(self, piece: bytes) -> None:
        self._line += piece
        # One more than a line may have, so that a longer one is known as such; a carriage return comes on top.
        del self._line[LONGEST_LINE + 2 :]

    def _kept(self, piece: bytes) -> bytes:
        """Return the line that `piece` ends."""
        self._keep(piece)
        line = bytes(self._line).removesuffix(b"\r")
        self._line.clear()
        return line

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
        if len(line) > LONGEST_LINE:
            self.status.report("TOO_MUCH_DATA")
            return b""
        # Bytes beyond ASCII are no part of any command and read as such.
        answers = [answer for order in read_line(line.decode("latin-1")) if (answer := self._carry_out(order))]
        return ";".join(answers).encode() + b"\n" if answers else b""

    def _carry_out(self, order: Order) -> str:
        command = order.command
        if command is None or order.error:
            self.status.report(order.error)
            return ""
        if command.needs_bench_link and not self.bench_link:
            self.status.report("PROTECTED")
            return ""
        try:
            answer = HANDLERS[command.name](self, *order.parameters)
        except OutOfRangeError:
            self.status.report("OUT_OF_RANGE")
            return ""
        return "" if answer is None else ",".join(map(str, answer))
