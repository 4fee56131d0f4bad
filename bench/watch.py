"""Watches a board: its clock, unwrapped, its state, and its edge trace as it fills."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.clock import UnwrappedClock
from bench.errors import ClockStandsError, GarbledError
from bench.link import Link
from bench.message import Answer, message
from bench.trace import Record, record_of
from timing.protocol.levels import OUTPUTS_MASK
from timing.sequence.table import Fault, Phase

STANDING_POLLS = 200
"""A clock that shows one and the same time for so many questions stands still."""


@dataclass
class Watch:
    """One board, watched from now on. Every method that asks the board raises BenchError."""

    link: Link
    records: list[Record] = field(default_factory=list)
    """Records of the trace, oldest first, on the unwrapped clock."""
    _clock: UnwrappedClock = field(init=False)
    _standing: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self._clock = UnwrappedClock(self.link.query("clock").number("time_us"))

    @property
    def latest_us(self) -> int:
        """The board's clock as it was read last."""
        return self._clock.now_us

    def now_us(self) -> int:
        """Read the board's clock."""
        return self.read_clock(self.link.query("clock"))

    def read_clock(self, answer: Answer) -> int:
        """Take the clock from an answer; return it unwrapped. Raises ClockStandsError."""
        before_us = self._clock.now_us
        try:
            now_us = self._clock.advance(answer.number("time_us"))
        except ValueError:
            raise ClockStandsError(self.link.port) from None
        self._standing = 0 if now_us > before_us else self._standing + 1
        if self._standing >= STANDING_POLLS:
            raise ClockStandsError(self.link.port)
        return now_us

    def instant_us(self, answer: Answer) -> int:
        """Return the instant in an answer, unwrapped."""
        return self._clock.instant(answer.number("time_us"))

    def poll(self) -> int:
        """Take over one record of the trace, if there is one; return the board's clock."""
        record, clock = self.link.ask(message("trace"), message("clock"))
        if record.number("records"):
            try:
                self.records.append(record_of(record, self.instant_us(record)))
            except ValueError:
                raise self._garbled("trace", record) from None
        return self.read_clock(clock)

    def poll_until(self, board_us: int) -> None:
        """Poll until the board's clock is there."""
        while self.poll() < board_us:
            pass

    def drain(self) -> None:
        """Take over what is left of the trace."""
        count = -1
        while count != len(self.records):
            count = len(self.records)
            self.poll()

    def wait_for(self, phase: Phase, patience_us: int) -> tuple[Phase, Fault]:
        """Ask until the board is in `phase`, or the patience is over; return phase and fault as they are then."""
        give_up_us = self.now_us() + patience_us
        while True:
            state, clock = self.link.ask(message("state"), message("clock"))
            found, fault = self._state(state)
            if self.read_clock(clock) >= give_up_us or found is phase:
                return found, fault

    def start(self) -> Record:
        """Empty the trace and return how things stand."""
        self.records.clear()
        outputs, state, clock = self.link.ask(
            message("trace_clear"), message("outputs"), message("state"), message("clock")
        )
        return Record(self.read_clock(clock), outputs.number("outputs") & OUTPUTS_MASK, *self._state(state))

    def _state(self, answer: Answer) -> tuple[Phase, Fault]:
        try:
            return Phase(answer.number("phase")), Fault(answer.number("fault"))
        except ValueError:
            raise self._garbled("state", answer) from None

    def _garbled(self, name: str, answer: Answer) -> GarbledError:
        return GarbledError(self.link.port, message(name).text, ",".join(answer.fields.values()))
