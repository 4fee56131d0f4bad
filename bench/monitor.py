"""Watches a board: its clock, unwrapped, its state, and its edge trace as it fills."""

from __future__ import annotations

from dataclasses import dataclass, field

from bench.board_clock import WatchedClock
from bench.compare import Record, record_of
from bench.errors import EndlessTraceError, GarbledError
from bench.link import Link
from bench.message import Answer, message
from timing.protocol.commands import TRACE_RECORDS
from timing.protocol.target import OUTPUTS_MASK
from timing.sequence.core.table import Fault, Phase

MOST_RECORDS = 10_000
"""Records of one case; the longest weld limit, all in short stitches, makes fewer."""
MOST_LEFT = 2 * TRACE_RECORDS
"""Records that may be left at the end of a case: at rest the trace does not fill again."""
EARLIER_US = 10_000
"""How far an instant that the board tells may lie before its clock as it was read last."""


@dataclass
class BoardMonitor:
    """One board, watched from now on. Every method that asks the board raises BenchError."""

    link: Link
    records: list[Record] = field(default_factory=list)
    """Records of the trace, oldest first, on the unwrapped clock."""
    clock: WatchedClock = field(init=False)

    def __post_init__(self) -> None:
        self.clock = WatchedClock(self.link, "clock")

    @property
    def latest_us(self) -> int:
        """The board's clock as it was read last."""
        return self.clock.latest_us

    def now_us(self) -> int:
        """Read the board's clock."""
        return self.clock.now_us()

    def read_clock(self, answer: Answer) -> int:
        """Take the clock from the latest answer; return it unwrapped. Raises ClockStandsError, ClockAstrayError."""
        return self.clock.read(answer)

    def forced_us(self, answer: Answer) -> int:
        """Return the instant, unwrapped, at which forced contacts took effect. Raises GarbledError."""
        at_us = self.clock.instant(answer)
        if at_us < self.clock.latest_us - EARLIER_US:
            raise self._garbled("forced_contacts", answer)
        self.clock.told_us = max(self.clock.told_us, at_us)
        return at_us

    def poll(self) -> int:
        """Take over one record of the trace, if there is one; return the board's clock."""
        record, clock = self.link.ask(message("trace"), message("clock"))
        now_us = self.read_clock(clock)
        if record.number("records"):
            self._take(record, now_us)
        return now_us

    def _take(self, answer: Answer, now_us: int) -> None:
        at_us = self.clock.instant(answer)
        if at_us > now_us or (self.records and at_us < self.records[-1].at_us):
            raise self._garbled("trace", answer)
        try:
            self.records.append(record_of(answer, at_us))
        except ValueError:
            raise self._garbled("trace", answer) from None
        if len(self.records) > MOST_RECORDS:
            raise EndlessTraceError(self.link.port)

    def poll_until(self, board_us: int) -> None:
        """Poll until the board's clock is there."""
        while self.poll() < board_us:
            pass

    def drain(self) -> None:
        """Take over what is left of the trace. Raises EndlessTraceError where it does not empty."""
        for _ in range(MOST_LEFT):
            count = len(self.records)
            self.poll()
            if count == len(self.records):
                return
        raise EndlessTraceError(self.link.port)

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
