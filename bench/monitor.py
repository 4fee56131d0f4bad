"""Watches a board: its clock, unwrapped, its state, and its edge trace as it fills."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from bench.compare import Record, record_of
from bench.errors import ClockAstrayError, ClockStandsError, EndlessTraceError, GarbledError
from bench.link import Link
from bench.message import Answer, message
from timing.protocol.commands import TRACE_RECORDS
from timing.protocol.target import OUTPUTS_MASK
from timing.sequence.core.table import Fault, Phase

WRAP_US = 1 << 32


class UnwrappedClock:
    """Follows a clock that wraps. It must be told of a reading at least every half turn, 35 min."""

    def __init__(self, first_us: int) -> None:
        self.now_us = first_us

    def instant(self, reading_us: int) -> int:
        """Return the unwrapped instant of a reading less than half a turn before or after now."""
        ahead_us = (reading_us - self.now_us) % WRAP_US
        return self.now_us + (ahead_us if ahead_us < WRAP_US // 2 else ahead_us - WRAP_US)

    def advance(self, reading_us: int) -> int:
        """Take a reading of the clock as now and return it unwrapped. Raises ValueError for a clock that ran back."""
        instant_us = self.instant(reading_us)
        if instant_us < self.now_us:
            raise ValueError("the clock ran back")
        self.now_us = instant_us
        return instant_us


@dataclass(frozen=True)
class Reading:
    """A board's clock as it was read: at some instant between the question and the end of the answer."""

    asked_s: float
    """On the host's clock, as is `answered_s`."""
    answered_s: float
    board_us: int
    """Unwrapped."""


@dataclass(frozen=True)
class Pace:
    """How far a board's clock may go from the host's before a run is no use."""

    slowest: float
    """Board seconds in a second of the host."""
    fastest: float
    slack_s: float
    """Allowed on top, on either side."""
    window_s: float
    """The latest stretch of this length, at least, is looked at, and of twice this length at most."""


FOLLOWS_HOST = Pace(slowest=0.8, fastest=1.2, slack_s=0.25, window_s=2.0)
"""A real board. A finer difference is a finding of the run; this far off, its oscillator is another, or it hangs."""
RUNS_AS_IT_LIKES = Pace(slowest=0.02, fastest=math.inf, slack_s=1.0, window_s=60.0)
"""A board of software may run ahead of the host, or fall behind where the host is busy, but it has to get on."""


class PaceGuard:
    """Follows both clocks from a first reading on."""

    def __init__(self, pace: Pace, first: Reading) -> None:
        self.pace = pace
        self._since = self._next = first

    def trouble(self, now: Reading) -> tuple[float, float] | None:
        """Take a reading; return seconds on board and host where they went apart, None where all is well.

        Both ends of the stretch lie between a question and its answer, so that answers that were long on their way
        prove nothing against a board.
        """
        pace, board_s = self.pace, (now.board_us - self._since.board_us) / 1e6
        at_least_s, at_most_s = now.asked_s - self._since.answered_s, now.answered_s - self._since.asked_s
        if board_s < at_least_s * pace.slowest - pace.slack_s:
            return board_s, at_least_s
        if board_s > at_most_s * pace.fastest + pace.slack_s:
            return board_s, at_most_s
        if now.asked_s - self._next.answered_s >= pace.window_s:
            self._since, self._next = self._next, now
        return None


STANDING_POLLS = 200
"""A clock that shows one and the same time for so many questions stands still."""
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
    _clock: UnwrappedClock = field(init=False)
    _pace: PaceGuard = field(init=False)
    _standing: int = field(init=False, default=0)
    _told_us: int = field(init=False)
    """The latest instant that the board told of; its clock must be beyond."""

    def __post_init__(self) -> None:
        self._clock = UnwrappedClock(self.link.query("clock").number("time_us"))
        self._pace = PaceGuard(FOLLOWS_HOST if self.link.follows_host else RUNS_AS_IT_LIKES, self._reading())
        self._told_us = self._clock.now_us

    @property
    def latest_us(self) -> int:
        """The board's clock as it was read last."""
        return self._clock.now_us

    def now_us(self) -> int:
        """Read the board's clock."""
        return self.read_clock(self.link.query("clock"))

    def read_clock(self, answer: Answer) -> int:
        """Take the clock from the latest answer; return it unwrapped. Raises ClockStandsError, ClockAstrayError."""
        before_us = self._clock.now_us
        try:
            now_us = self._clock.advance(answer.number("time_us"))
        except ValueError:
            raise ClockStandsError(self.link.port) from None
        self._standing = 0 if now_us > before_us else self._standing + 1
        if self._standing >= STANDING_POLLS or now_us < self._told_us:
            raise ClockStandsError(self.link.port)
        if (apart := self._pace.trouble(self._reading())) is not None:
            raise ClockAstrayError(self.link.port, *apart)
        return now_us

    def forced_us(self, answer: Answer) -> int:
        """Return the instant, unwrapped, at which forced contacts took effect. Raises GarbledError."""
        at_us = self._clock.instant(answer.number("time_us"))
        if at_us < self._clock.now_us - EARLIER_US:
            raise self._garbled("forced_contacts", answer)
        self._told_us = max(self._told_us, at_us)
        return at_us

    def poll(self) -> int:
        """Take over one record of the trace, if there is one; return the board's clock."""
        record, clock = self.link.ask(message("trace"), message("clock"))
        now_us = self.read_clock(clock)
        if record.number("records"):
            self._take(record, now_us)
        return now_us

    def _take(self, answer: Answer, now_us: int) -> None:
        at_us = self._clock.instant(answer.number("time_us"))
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

    def _reading(self) -> Reading:
        return Reading(self.link.asked_s, self.link.answered_s, self._clock.now_us)

    def _state(self, answer: Answer) -> tuple[Phase, Fault]:
        try:
            return Phase(answer.number("phase")), Fault(answer.number("fault"))
        except ValueError:
            raise self._garbled("state", answer) from None

    def _garbled(self, name: str, answer: Answer) -> GarbledError:
        return GarbledError(self.link.port, message(name).text, ",".join(answer.fields.values()))
