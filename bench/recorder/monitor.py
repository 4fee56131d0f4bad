"""Watches a recorder: its clock, unwrapped, the edges of its lines in order of time; presses, and lets go again."""

from __future__ import annotations

import contextlib
from bisect import insort
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bench.board_clock import WatchedClock
from bench.errors import BenchError, GarbledError, NotFittedError
from bench.link import Link
from bench.message import Answer, Identity, Message, message
from bench.recorder.errors import NotARecorderError, PressJumperError, RestlessLinesError
from timing.protocol.recorder import (
    LINE_BIT,
    LONGEST_BRIDGE_US,
    RECORDER,
    RECORDER_PRESSES,
    RECORDER_RECORDS,
    recorder_input,
)

RECORDS_A_LINE = 7
"""Records that are asked for on one line, which a board must keep whole (derived: bench.message.answer_line refuses
more)."""
MOST_LINE_EDGES = 200_000
"""Edges that are kept of one watch: some ten minutes of two coils on ac with nothing bridged (choice)."""
MOST_DRAINS = 4
"""How often a trace that is full is emptied before it counts as endless (choice)."""
PRESS_LINE = {press.key: f"press_{press.key}" for press in RECORDER_PRESSES}
"""The line that reads an output back, by what it presses."""
EARLIEST_STAMP_US = LONGEST_BRIDGE_US + 1_000
"""A record may be stamped this much before one that came earlier: what a bridge waits, and a look (derived)."""


@dataclass(frozen=True, order=True)
class LineEdge:
    """One line of the recorder changes. Its instant is on the recorder's clock, unwrapped."""

    at_us: int
    line: str
    """Key of an input ('gas_valve'), or 'press_trigger', 'press_purge': as LINE_BIT of timing.protocol.recorder."""
    on: bool


@dataclass(frozen=True)
class DiscCount:
    """What the recorder counted of the slotted disc since it was last cleared."""

    slots: int
    """Slots that began; the first and the latest lie slots - 1 apart."""
    first_us: int
    """On the recorder's clock, unwrapped; of none, that it was asked."""
    latest_us: int


def is_recorder(identity: Identity) -> bool:
    """Tell whether a board says that it is a recorder."""
    return identity.design == RECORDER


def require_recorder(identity: Identity, port: str) -> None:
    """Raise NotARecorderError for any other board of ours."""
    if not is_recorder(identity):
        raise NotARecorderError(port, identity.carries)


@dataclass
class RecorderMonitor:
    """One recorder, watched from now on. Every method that asks it raises BenchError.

    While something is pressed it must be polled, or asked anything else, well within PRESS_LAPSE_US of
    timing.protocol.recorder: every line keeps the press.
    """

    link: Link
    clock: WatchedClock = field(init=False)
    edges: list[LineEdge] = field(init=False, default_factory=list)
    """Every edge since the watch began, in order of time. One that a bridge held back comes late and stands where it
    happened, so that the end of the list may still change for as long as the longest bridge."""
    at_start: frozenset[str] = field(init=False, default=frozenset())
    """Lines that were on when the watch began."""
    pressed: frozenset[str] = field(init=False, default=frozenset())
    """What is pressed by order: 'trigger', 'purge'."""
    lapsed: bool = field(init=False, default=False)
    """True once a press has ended without an order since the watch began: this computer was away for too long."""
    _due_offs: dict[str, int] = field(init=False, default_factory=dict)
    """By line, how often its press was let go of by order and the edge of that has not come yet."""
    _lines: int = field(init=False, default=0)
    _newest_us: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        self.clock = WatchedClock(self.link, "recorder_clock")
        self.start()

    @property
    def latest_us(self) -> int:
        """The recorder's clock as it was read last."""
        return self.clock.latest_us

    def now_us(self) -> int:
        """Read the recorder's clock."""
        return self.clock.now_us()

    def start(self) -> int:
        """Begin a watch: forget every edge; return the recorder's clock."""
        # An edge between the two looks leaves a record, or was cleared with what went before: then look again.
        for _ in range(RECORDER_RECORDS):
            before = self._ask_lines()
            (after,) = self.link.ask(message("trace_clear"), message("lines"))
            if after.number("lines") == before:
                break
        self._lines = before
        self.at_start = frozenset(_names(before))
        self.edges.clear()
        self._due_offs.clear()
        self.lapsed = False
        now_us = self.now_us()
        self._newest_us = now_us - EARLIEST_STAMP_US
        return now_us

    def poll(self) -> int:
        """Take over what the trace holds, up to all that it can; return the recorder's clock."""
        record, clock = self.link.ask(message("recorded"), self.clock.message)
        now_us = self.clock.read(clock)
        left = self._take(record) - 1
        if left > 0:
            while left > 0:
                for answer in self.link.ask(*[message("recorded")] * min(left, RECORDS_A_LINE)):
                    self._take(answer)
                left -= RECORDS_A_LINE
            now_us = self.now_us()
        if self._newest_us > now_us:
            raise GarbledError(self.link.port, message("recorded").text, f"a record of {self._newest_us} us")
        return now_us

    def poll_until(self, recorder_us: int) -> None:
        """Poll until the recorder's clock is there."""
        while self.poll() < recorder_us:
            pass

    def drain(self) -> None:
        """Take over all that happened up to now, a bridge's late records with it. Raises RestlessLinesError.

        Only where the lines have come to rest: a storm of edges has no end.
        """
        self.poll_until(self.now_us() + LONGEST_BRIDGE_US)
        for _ in range(MOST_DRAINS):
            count = len(self.edges)
            self.poll()
            if count == len(self.edges):
                return
        raise self._restless()

    def lost(self) -> int:
        """Return how many records were lost since the watch began."""
        return self.link.query("trace_lost").number("records")

    def lines(self) -> frozenset[str]:
        """Return the lines that are on now: keys of inputs, and 'press_trigger', 'press_purge'."""
        return frozenset(_names(self._ask_lines()))

    def edges_of(self, line: str) -> tuple[LineEdge, ...]:
        """Return the edges of one line, in order of time."""
        return tuple(edge for edge in self.edges if edge.line == line)

    def set_bridge(self, key: str, bridge_us: int) -> None:
        """Let an input count as on through openings shorter than that; 0 for none. Raises ValueError, KeyError."""
        if not 0 <= bridge_us <= LONGEST_BRIDGE_US:
            raise ValueError(f"a bridge is 0 to {LONGEST_BRIDGE_US} us, not {bridge_us}")
        self.link.command("set_bridge", recorder_input(key).number, bridge_us)

    def gap_us(self, key: str) -> int:
        """Return the longest opening of an input that was bridged since it was last asked. Raises KeyError."""
        return self.link.query("gap", recorder_input(key).number).number("time_us")

    def disc(self) -> DiscCount:
        """Return what was counted of the disc since it was cleared."""
        answer, clock = self.link.ask(message("disc"), self.clock.message)
        now_us = self.clock.read(clock)
        if not (slots := answer.number("slots")):
            return DiscCount(0, now_us, now_us)
        first_us, latest_us = self.clock.instant(answer, "first_us"), self.clock.instant(answer, "last_us")
        if not first_us <= latest_us <= now_us:
            raise self._garbled("disc", answer)
        return DiscCount(slots, first_us, latest_us)

    def clear_disc(self) -> None:
        """Count the disc's slots from 0 again."""
        self.link.command("disc_clear")

    def has_press_jumper(self) -> bool:
        """Tell whether the press jumper was fitted when the recorder started."""
        return bool(self.link.query("press_jumper").number("fitted"))

    def press(self, *keys: str) -> None:
        """Press these, 'trigger' and 'purge', and let go of the other. Raises PressJumperError, KeyError.

        When it did so stands in the edges, as that of 'press_trigger' or 'press_purge'.
        """
        bits = {one.key: one.bit for one in RECORDER_PRESSES}
        wanted = sum(bits[key] for key in set(keys))
        try:
            self.link.command("press", wanted)
        except NotFittedError:
            raise PressJumperError(self.link.port) from None
        self._now_pressed(frozenset(keys))

    def press_in_turn(self, steps: Sequence[frozenset[str]]) -> None:
        """Press one after the other in a single write, so that hardly any time passes between them."""
        bits = {one.key: one.bit for one in RECORDER_PRESSES}
        lines: list[tuple[Message, ...]] = [
            (message("press", sum(bits[key] for key in keys)), message("pressed")) for keys in steps
        ]
        self.link.ask_lines(lines)
        for keys in steps:
            self._now_pressed(keys)

    @contextlib.contextmanager
    def pressing(self) -> Iterator[None]:
        """Let presses be made in here; let go at the end, whatever happens. Raises PressJumperError."""
        if not self.has_press_jumper():
            raise PressJumperError(self.link.port)
        try:
            yield
        except BaseException:
            with contextlib.suppress(BenchError):
                self.press()
            raise
        self.press()

    def _now_pressed(self, keys: frozenset[str]) -> None:
        for key in self.pressed - keys:
            self._due_offs[PRESS_LINE[key]] = self._due_offs.get(PRESS_LINE[key], 0) + 1
        self.pressed = keys

    def _ask_lines(self) -> int:
        return self.link.query("lines").number("lines")

    def _take(self, answer: Answer) -> int:
        """Take over one record; return how many there were with it."""
        if not (count := answer.number("records")):
            return 0
        at_us, lines = self.clock.instant(answer), answer.number("lines")
        if at_us < self._newest_us - EARLIEST_STAMP_US:
            raise self._garbled("recorded", answer)
        self._newest_us = max(self._newest_us, at_us)
        for line in _names(lines ^ self._lines):
            edge = LineEdge(at_us, line, bool(lines & LINE_BIT[line]))
            insort(self.edges, edge, key=lambda one: one.at_us)
            if not edge.on:
                self._let_go(line)
        self._lines = lines
        if len(self.edges) > MOST_LINE_EDGES:
            raise self._restless()
        return count

    def _restless(self) -> RestlessLinesError:
        latest = Counter(edge.line for edge in self.edges[-RECORDER_RECORDS:])
        return RestlessLinesError(self.link.port, latest.most_common(1)[0][0])

    def _let_go(self, line: str) -> None:
        """Take note that a line went off: of an output, by order or by itself."""
        if self._due_offs.get(line):
            self._due_offs[line] -= 1
        elif line in {PRESS_LINE[key] for key in self.pressed}:
            self.lapsed = True
            self.pressed = frozenset(key for key in self.pressed if PRESS_LINE[key] != line)

    def _garbled(self, name: str, answer: Answer) -> GarbledError:
        return GarbledError(self.link.port, message(name).text, ",".join(answer.fields.values()))


def _names(lines: int) -> tuple[str, ...]:
    return tuple(name for name, bit in LINE_BIT.items() if lines & bit)
