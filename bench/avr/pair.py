"""Two simulated boards in one true time, the add-on and the recorder, with whatever lies between their pins.

Each runs its own program by its own crystal. What one does reaches the other only through a model of what is between:
its lines change at instants that it names beforehand, and both boards come to that instant before a pin moves.
"""

from __future__ import annotations

import copy
import threading
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal, Protocol

from bench.avr.pair_runner import PairRunner, started_runner
from bench.avr.paired_board import PairedBoard
from bench.avr.simulator import SimulatorError
from bench.port import READ_TIMEOUT_S

PairSide = Literal["board", "recorder"]
"""Which of the two, as the lines of the model between begin."""
PAIR_SIDES: tuple[PairSide, ...] = ("board", "recorder")
"""By their number in the runner."""
AHEAD_US = 4
"""So far one board may be in front of the other, and so late a change may reach it that is ordered without any lag
(choice: a quarter of the recorder's shortest look at its lines)."""
SERVED_AT_ONCE_US = 5_000
"""True time between two looks whether ports are still wanted (choice)."""
_NS_A_US = 1_000
_US_A_S = 1_000_000


class ChangeBetween(Protocol):
    """A line that changes: `line` is 'board.' or 'recorder.' and a key of that board's inputs."""

    @property
    def at_us(self) -> int:
        """True time."""

    @property
    def line(self) -> str:
        """Which."""

    @property
    def on(self) -> bool:
        """Whether it conducts from then on."""


class MachineBetween(Protocol):
    """What lies between the two boards. All in true time; it must allow being copied (`copy.deepcopy`)."""

    def output(self, at_us: int, role: str, on: bool, /) -> None:
        """Be told of an output of the add-on: gas_valve, wire_drive or contactor."""

    def press(self, at_us: int, what: str, on: bool, /) -> None:
        """Be told of an output of the recorder: trigger or purge."""

    def next_us(self) -> int | None:
        """Return when a line changes next, if nothing else happens before."""

    def take(self, until_us: int, /) -> Sequence[ChangeBetween]:
        """Return all changes up to an instant, in order of time, and be done with them."""


@dataclass(frozen=True)
class PairEdge:
    """An output of one of the two that went on or off, at a true time."""

    at_us: int
    side: PairSide
    what: str
    """The add-on's role, or what the recorder presses."""
    on: bool


@dataclass(frozen=True)
class PairCue:
    """Something done to one of the two at a true time: a cue of the runner without its cycle."""

    at_us: int
    side: PairSide
    what: str


def said_to(side: PairSide, data: bytes, at_us: int) -> PairCue:
    """Return the cue that sends bytes to one of the two."""
    return PairCue(at_us, side, f"uart {data.hex()}")


@dataclass(frozen=True)
class PairRun:
    """What came of a script."""

    edges: tuple[PairEdge, ...]
    """In order of time."""
    lines: tuple[ChangeBetween, ...]
    """What changed at the inputs of either, in order of time."""
    said: Mapping[PairSide, bytes]
    machine: MachineBetween
    """As it is then, with what it knows to be true."""


@dataclass
class Pair:
    """Both boards as they stand, and what lies between them. Not to be used from two threads at once."""

    runner: PairRunner
    boards: Mapping[PairSide, PairedBoard]
    machine: MachineBetween
    edges: list[PairEdge] = field(default_factory=list)
    """All edges so far, in order of time."""
    lines: list[ChangeBetween] = field(default_factory=list)
    """All that changed at the inputs of either so far, in order of time."""
    said: dict[PairSide, bytearray] = field(default_factory=lambda: {side: bytearray() for side in PAIR_SIDES})
    """All bytes so far; none while there are ports."""
    _at_ns: int = 0
    _on: set[tuple[PairSide, str]] = field(default_factory=set)
    _ahead: list[tuple[int, int, list[str]]] = field(default_factory=list)
    """What the one in front did already: when, which, and what."""
    _copied: bool = False

    @property
    def at_us(self) -> int:
        """True time to which both have come."""
        return self._at_ns // _NS_A_US

    def time_s(self) -> float:
        """Return the true time, for what waits by a clock."""
        return self._at_ns / (_NS_A_US * _US_A_S)

    def run_until(self, at_us: int, *, or_heard: PairSide | None = None) -> None:
        """Run both up to a true time, or until the end of a line of the board `or_heard`.

        Raises SimulatorError where a program crashes or the process is gone.
        """
        heard = len(self.said[or_heard]) if or_heard is not None else 0
        while True:
            self._move_lines()
            if self.at_us >= at_us or (or_heard is not None and b"\n" in self.said[or_heard][heard:]):
                return
            next_us = self.machine.next_us()
            until_ns = at_us * _NS_A_US if next_us is None else min(at_us, next_us) * _NS_A_US
            self._run(min(until_ns, self._ahead[0][0]) if self._ahead else until_ns)

    def send(self, side: PairSide, data: bytes) -> None:
        """Let bytes come in at one of the two, from now on at the pace of its port."""
        self.cue(side, f"uart {data.hex()}")

    def cue(self, side: PairSide, what: str) -> None:
        """Do something to one of the two, now: a cue of the runner (bench/avr/cues.h) without its cycle."""
        self._order(f"{PAIR_SIDES.index(side)} {what}")

    def play(self, script: Iterable[PairCue], end_us: int) -> PairRun:
        """Carry out a script, in order of its true times, up to an end; return what came of it from now on."""
        edges, lines, said = len(self.edges), len(self.lines), {side: len(self.said[side]) for side in PAIR_SIDES}
        for each in script:
            self.run_until(each.at_us)
            self.cue(each.side, each.what)
        self.run_until(end_us)
        return PairRun(
            tuple(self.edges[edges:]),
            tuple(self.lines[lines:]),
            {side: bytes(self.said[side][said[side] :]) for side in PAIR_SIDES},
            self.machine,
        )

    def transport(self, side: PairSide) -> PairTransport:
        """Return the port of one of the two for a `bench.link.Link`; let its `host_s` be `time_s`."""
        return PairTransport(self, side)

    @contextmanager
    def copied(self) -> Iterator[Pair]:
        """Yield a copy of both as they stand, and of what lies between, which ends with the context.

        Nothing else may be asked of this pair meanwhile.
        """
        self._order("fork")
        self._copied = True
        other = copy.deepcopy(self, {id(self.runner): self.runner, id(self.boards): self.boards})
        other._copied = False
        try:
            yield other
        finally:
            self._copied = False
            other._copied = True
            self._order("end")

    @contextmanager
    def behind_ports(self) -> Iterator[tuple[str, str]]:
        """Serve both behind pseudo terminals, no faster than the wall clock; yield their names, the add-on's first.

        Opening a port resets nothing. Both stand still when the context ends. Raises SimulatorError, where a board
        crashed meanwhile in place of whatever came of that.
        """
        self._order("ports")
        names = (self.runner.line().strip(), self.runner.line().strip())
        stop = threading.Event()
        failures: list[SimulatorError] = []
        thread = threading.Thread(target=self._serve, args=(stop, failures), daemon=True)
        thread.start()
        given_up = False
        try:
            yield names
        except BaseException as error:
            given_up = not isinstance(error, Exception)  # by whoever is at the keyboard: what broke then is no news
            raise
        finally:
            stop.set()
            thread.join()
            if failures and not given_up:
                raise failures[0]

    def _serve(self, stop: threading.Event, failures: list[SimulatorError]) -> None:
        try:
            while not stop.is_set():
                self.run_until(self.at_us + SERVED_AT_ONCE_US)
        except SimulatorError as error:
            failures.append(error)
            self.runner.kill()  # then the ports are gone, and nobody waits for an answer

    def _order(self, *orders: str) -> None:
        if self._copied:
            raise RuntimeError("a copy of this pair is at work, or this copy's work is done")
        self.runner.order(*orders)

    def _move_lines(self) -> None:
        next_us = self.machine.next_us()
        if next_us is None or next_us > self.at_us:
            return
        for change in self.machine.take(self.at_us):
            side, _, key = change.line.partition(".")
            for number, known in enumerate(PAIR_SIDES):
                if side == known and key in self.boards[known].inputs:
                    self.lines.append(change)
                    port, bit = self.boards[known].inputs[key]
                    self._order(f"{number} pin {port} {bit} {0 if change.on else 1}")

    def _run(self, until_ns: int) -> None:
        self._order(f"run {until_ns}")
        while (words := self.runner.line().split())[1] != "stands":
            self._ahead.append((int(words[0]), int(words[1]), words[2:]))
        self._at_ns = int(words[0])
        # Stable: what one of them did stays in its order.
        self._ahead.sort(key=lambda event: event[0])
        while self._ahead and self._ahead[0][0] <= self._at_ns:
            at_ns, number, what = self._ahead.pop(0)
            self._take(at_ns // _NS_A_US, PAIR_SIDES[number], what)

    def _take(self, at_us: int, side: PairSide, what: Sequence[str]) -> None:
        match what:
            case ["pin", port, bit, level]:
                for role, pin in self.boards[side].outputs.items():
                    if (pin.port, pin.bit) == (port, int(bit)):
                        # A pin that is let go is off: its resistor pulls it there.
                        self._turn(at_us, side, role, level == pin.on_level)
            case ["uart", byte]:
                self.said[side].append(int(byte, 16))
            case ["crashed"]:
                raise SimulatorError(f"the program of the {side} crashed at {at_us} us")
            case _:
                pass  # a reset: its pins have told all that matters of it

    def _turn(self, at_us: int, side: PairSide, what: str, on: bool) -> None:
        if on == ((side, what) in self._on):
            return
        (self._on.add if on else self._on.discard)((side, what))
        self.edges.append(PairEdge(at_us, side, what, on))
        (self.machine.output if side == "board" else self.machine.press)(at_us, what, on)


@dataclass(frozen=True)
class PairTransport:
    """The port of one of the two, in a time that passes only while somebody waits for its answer."""

    pair: Pair
    side: PairSide
    _taken: list[int] = field(default_factory=lambda: [0])

    def __post_init__(self) -> None:
        self._taken[0] = len(self.pair.said[self.side])

    @property
    def in_waiting(self) -> int:
        """Bytes that can be read without waiting."""
        return len(self.pair.said[self.side]) - self._taken[0]

    def read(self, size: int, /) -> bytes:
        """Return up to `size` bytes; fewer, or none, after the time-out of the bench's ports in true time."""
        if size > 0 and self.in_waiting == 0:
            self.pair.run_until(self.pair.at_us + round(READ_TIMEOUT_S * _US_A_S), or_heard=self.side)
        begin = self._taken[0]
        self._taken[0] = min(begin + size, len(self.pair.said[self.side]))
        return bytes(self.pair.said[self.side][begin : self._taken[0]])

    def write(self, data: bytes, /) -> int:
        """Send `data`."""
        self.pair.send(self.side, data)
        return len(data)

    def close(self) -> None:
        """Let go; the pair runs on."""


@contextmanager
def started_pair(
    board: PairedBoard, recorder: PairedBoard, machine: MachineBetween, *, ahead_us: int = AHEAD_US
) -> Iterator[Pair]:
    """Yield both at power-up, true time 0.

    ahead_us: one may be in front of the other by that while both run, which is all that it takes longer where nothing
    reaches the other any sooner. Raises SimulatorError.
    """
    boards: Mapping[PairSide, PairedBoard] = {"board": board, "recorder": recorder}
    command = [str(board.simulator.runner), "pair"]
    for each in boards.values():
        _, program, mcu, _, uart = each.simulator.command()
        command += [program, mcu, str(each.real_hz()), uart]
    with started_runner(command) as runner:
        pair = Pair(runner, boards, machine)
        runner.order(f"ahead {ahead_us * _NS_A_US}")
        for number, side in enumerate(PAIR_SIDES):
            each = boards[side]
            runner.order(*(f"{number} {what}" for what in each.panel))
            runner.order(*(f"{number} watch {pin.port} {pin.bit}" for pin in each.outputs.values()))
        pair.run_until(1)  # whether it runs at all
        yield pair
