"""An add-on and a recorder of software with one machine between them: no compiler, no hardware, one true time.

Each board's own clock runs off true time by its error. True time advances by a step with every line that comes to
either board, or follows this computer's clock; what happens by then happens in its order: passes of the add-on,
events of the machine, presses that lapse.
"""

from __future__ import annotations

import contextlib
import math
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from bench.feeder_model.hidden import HiddenMachine
from bench.feeder_model.model import FeederModel, LineChange
from bench.virtual.board import DirectPort, VirtualBoard
from bench.virtual.looks import SOUND, RecorderFaults
from bench.virtual.machine import NO_FAULTS, Faults
from bench.virtual.recorder import VirtualRecorder
from bench.virtual.serving import behind_port
from timing.protocol.target import Target

PAIR_STEP_US = 4_003
"""True time that a line takes: as long as a computer takes over a question or two, so that a bench run is over soon;
no round number, so that lines fall on changing places between passes and looks (choice)."""
PPM = 1_000_000
_BOARD, _RECORDER = "board.", "recorder."


@dataclass
class TrueTime:
    """What both boards' clocks are held against.

    step_us: what a line takes; 0 to follow `host_s`, in seconds, instead.
    """

    step_us: int = PAIR_STEP_US
    host_s: Callable[[], float] = time.monotonic
    now_us: int = 0
    _began_s: float | None = None

    def line_came(self) -> int:
        """Advance as a line comes; return the time."""
        if self.step_us:
            self.now_us += self.step_us
        else:
            now_s = self.host_s()
            self._began_s = now_s if self._began_s is None else self._began_s
            self.now_us = max(self.now_us, round((now_s - self._began_s) * 1e6))
        return self.now_us


@dataclass
class OwnClock:
    """One board's clock: off true time by so many millionths, from a start of its own."""

    true: TrueTime
    advance: Callable[[], None]
    """Lets true time, and all that happens meanwhile, go on as a line comes."""
    error_ppm: float = 0.0
    start_us: int = 0
    _asked: tuple[int, int] = (-1, 0)
    """What was asked for last, and what came of it: mostly the same is asked for again."""

    def line_came(self) -> None:
        """Go on."""
        self.advance()

    def now_us(self) -> int:
        """Return what it shows now."""
        return self.at(self.true.now_us)

    def at(self, true_us: int) -> int:
        """Return what it shows at a true instant."""
        return self.start_us + true_us + round(true_us * self.error_ppm / PPM)

    def true_us(self, own_us: int) -> int:
        """Return the first true instant at which it shows that much."""
        if own_us != self._asked[0]:
            found_us = round((own_us - self.start_us) / (1.0 + self.error_ppm / PPM)) - 2
            while self.at(found_us) < own_us:
                found_us += 1
            self._asked = own_us, found_us
        return self._asked[1]


@dataclass
class VirtualPair:
    """Both boards and the machine. Safe to be used from several threads.

    board_ppm, recorder_ppm: what their clocks are off, in millionths of true time.
    """

    target: Target
    hidden: HiddenMachine
    seed: int = 0
    board_ppm: float = 0.0
    recorder_ppm: float = 0.0
    recorder_start_us: int = 0
    """What the recorder's clock shows as both are switched on."""
    faults: Faults = NO_FAULTS
    recorder_faults: RecorderFaults = SOUND
    bench_link: bool = True
    version: str = "0"
    true: TrueTime = field(default_factory=TrueTime)
    model: FeederModel = field(init=False)
    board: VirtualBoard = field(init=False)
    recorder: VirtualRecorder = field(init=False)
    board_clock: OwnClock = field(init=False)
    recorder_clock: OwnClock = field(init=False)

    def __post_init__(self) -> None:
        lock = threading.RLock()
        self.model = FeederModel(self.hidden, self.target.fitted, self.seed)
        self.board_clock = OwnClock(self.true, self._line_came, self.board_ppm)
        self.recorder_clock = OwnClock(self.true, self._line_came, self.recorder_ppm, self.recorder_start_us)
        self.board = VirtualBoard(self.target, self.version, self.board_clock, self.bench_link, self.faults, lock)
        self.recorder = VirtualRecorder(
            self.version, self.recorder_clock, self.recorder_faults, self._pressed, lock=lock
        )
        self.recorder.last_line_us = self.recorder_start_us
        self.board.machine.told = self._output_changed

    def ports(self) -> tuple[DirectPort, DirectPort]:
        """Return a transport to the add-on and one to the recorder, for tests that want no ports."""
        return DirectPort(self.board.receive), DirectPort(self.recorder.receive)

    def hang(self, **adapters: str) -> None:
        """Hang the recorder's inputs on these things now, as hands would; on those left out hangs nothing."""
        with self.board.lock:
            self.model.hang(max(self.true.now_us, self.model.now_us), adapters)

    def clamp(self, on: bool) -> None:
        """Put the work clamp on or off now, as hands would: without it no arc strikes."""
        with self.board.lock:
            self.model.clamp(max(self.true.now_us, self.model.now_us), on)

    def advance_to(self, true_us: int) -> None:
        """Let all happen up to a true instant, in its order."""
        with self.board.lock:
            self._run_to(true_us)

    def _line_came(self) -> None:
        self._run_to(self.true.line_came())

    def _run_to(self, until_us: int) -> None:
        while True:
            pass_us = self.board.machine.next_due_us()
            due_us = math.inf if pass_us is None else self.board_clock.true_us(pass_us)
            if self._run_model_to(int(min(due_us, until_us))):
                # What the add-on's contacts show may call for an earlier pass.
                continue
            if pass_us is None or due_us > until_us:
                break
            self.board.machine.pass_at(pass_us)
        self.true.now_us = max(self.true.now_us, until_us)
        self.recorder.run_to(self.recorder_clock.at(until_us))

    def _run_model_to(self, until_us: int) -> bool:
        """Let the machine and the recorder run up to an instant, or to the first change at the add-on; tell which."""
        while True:
            lapse_us = self._lapse_us()
            next_us = self.model.next_us()
            at_us = min(each for each in (lapse_us, next_us, until_us) if each is not None)
            if lapse_us is not None and lapse_us <= at_us:
                self.recorder.run_to(self.recorder_clock.at(lapse_us))
                continue
            if self._pass_on(self.model.take(at_us)):
                return True
            if next_us is None or next_us > until_us:
                return False

    def _lapse_us(self) -> int | None:
        lapse_us = self.recorder.lapses_us()
        return None if lapse_us is None else self.recorder_clock.true_us(lapse_us)

    def _pass_on(self, changes: list[LineChange]) -> bool:
        """Tell the boards of changes of their lines; tell whether any was the add-on's."""
        boards = False
        for change in changes:
            if change.line.startswith(_RECORDER):
                at_us = self.recorder_clock.at(change.at_us)
                self.recorder.move(at_us, change.line.removeprefix(_RECORDER), change.on)
            else:
                at_us = self.board_clock.at(change.at_us)
                self.board.machine.move_pin_at(at_us, change.line.removeprefix(_BOARD), change.on)
                boards = True
        return boards

    def _output_changed(self, board_us: int, role: str, on: bool) -> None:
        self.model.output(max(self.board_clock.true_us(board_us), self.model.now_us), role, on)

    def _pressed(self, recorder_us: int, key: str, on: bool) -> None:
        self.model.press(max(self.recorder_clock.true_us(recorder_us), self.model.now_us), key, on)


@contextlib.contextmanager
def virtual_pair(pair: VirtualPair) -> Iterator[tuple[str, str]]:
    """Serve both boards of a pair behind whatever this system has; yield the add-on's address and the recorder's."""
    with behind_port(pair.board) as board, behind_port(pair.recorder) as recorder:
        yield board, recorder
