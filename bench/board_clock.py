"""A board's clock as a host follows it: unwrapped, held against the host's, refused where it stands or runs back."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from bench.errors import ClockAstrayError, ClockStandsError
from bench.link import Link
from bench.message import Answer, Message, message

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


@dataclass
class WatchedClock:
    """The clock of one board, followed from now on."""

    link: Link
    asks: str
    """The query, by its name in the command table, that answers the clock."""
    told_us: int = field(init=False)
    """The latest instant that the board told of, unwrapped; its clock must be beyond."""
    _unwrapped: UnwrappedClock = field(init=False)
    _pace: PaceGuard = field(init=False)
    _standing: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self._unwrapped = UnwrappedClock(self.link.query(self.asks).number("time_us"))
        self._pace = PaceGuard(FOLLOWS_HOST if self.link.follows_host else RUNS_AS_IT_LIKES, self.reading())
        self.told_us = self.latest_us

    @property
    def latest_us(self) -> int:
        """The clock as it was read last, unwrapped."""
        return self._unwrapped.now_us

    def now_us(self) -> int:
        """Ask for the time. Raises BenchError."""
        return self.read(self.link.query(self.asks))

    def read(self, answer: Answer) -> int:
        """Take the clock from the latest answer; return it unwrapped. Raises ClockStandsError, ClockAstrayError."""
        before_us = self.latest_us
        try:
            now_us = self._unwrapped.advance(answer.number("time_us"))
        except ValueError:
            raise ClockStandsError(self.link.port) from None
        self._standing = 0 if now_us > before_us else self._standing + 1
        if self._standing >= STANDING_POLLS or now_us < self.told_us:
            raise ClockStandsError(self.link.port)
        if (apart := self._pace.trouble(self.reading())) is not None:
            raise ClockAstrayError(self.link.port, *apart)
        return now_us

    def instant(self, answer: Answer, name: str = "time_us") -> int:
        """Return the instant, unwrapped, that an answer tells in one of its numbers."""
        return self._unwrapped.instant(answer.number(name))

    def reading(self) -> Reading:
        """Return the latest reading with what the host's clock said of it."""
        return Reading(self.link.asked_s, self.link.answered_s, self.latest_us)

    @property
    def message(self) -> Message:
        """The query for the clock."""
        return message(self.asks)
