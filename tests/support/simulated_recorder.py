"""The recorder's firmware in its chip, simulated, as a rig of tests.support.recorder_rigs; the other chip is idle."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from bench.avr.pair import Pair, started_pair
from bench.avr.paired_board import PairedBoard, recorder_board
from bench.avr.simulator import Simulator, build_runner
from bench.feeder_model.model import LineChange
from codegen.recorder_sketch import recorder_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, VERSION
from wirecue.projects import load_board

BOOTED_US = 50_000
ANSWERED_US = 20_000
"""The longest line is read, carried out and answered by then."""
READ_US = 8_000
"""A line without an answer is carried out by then."""
IDLE = "void setup() { noInterrupts(); for (;;) {} } void loop() {}"


@dataclass
class Hands:
    """In the place of a machine: moves inputs of the recorder as it is told to."""

    moves: list[LineChange] = field(default_factory=list)

    def output(self, at_us: int, role: str, on: bool) -> None:
        """Nothing hangs on the add-on."""

    def press(self, at_us: int, what: str, on: bool) -> None:
        """Nothing hangs on the presses."""

    def next_us(self) -> int | None:
        return self.moves[0].at_us if self.moves else None

    def take(self, until_us: int) -> list[LineChange]:
        due = [move for move in self.moves if move.at_us <= until_us]
        del self.moves[: len(due)]
        return due


@dataclass
class SimulatedRig:
    """One copy of a recorder that has booted."""

    pair: Pair
    hands: Hands
    _ahead_us: int = field(init=False)
    """Of its clock before true time."""

    def __post_init__(self) -> None:
        before_us = self.pair.at_us
        self._ahead_us = int(self.ask("INP:CLOC?")) - (before_us + self.pair.at_us) // 2

    def now_us(self) -> int:
        return self.pair.at_us + self._ahead_us

    def ask(self, line: str) -> str:
        heard = len(self.pair.said["recorder"])
        self.pair.send("recorder", line.encode("latin-1") + b"\n")
        if "?" in line:
            self.pair.run_until(self.pair.at_us + ANSWERED_US, or_heard="recorder")
        else:
            self.wait(READ_US)
        return self.pair.said["recorder"][heard:].decode("latin-1").removesuffix("\n")

    def wait(self, time_us: int) -> None:
        self.pair.run_until(self.pair.at_us + time_us)

    def move(self, key: str, on: bool) -> None:
        self.hands.moves.append(LineChange(self.pair.at_us + 10, f"recorder.{key}", on))

    def pressed(self) -> set[str]:
        on: dict[str, bool] = {edge.what: edge.on for edge in self.pair.edges if edge.side == "recorder"}
        return {what for what, is_on in on.items() if is_on}


@contextmanager
def booted_recorder(board_type: str, *, jumper: bool) -> Iterator[Pair]:
    """Yield a pair whose recorder has booted, to be copied."""
    runner, board = build_runner(CACHE), load_board(board_type)
    sketch = compile_sketch(recorder_files(board, VERSION), board, CACHE)
    recorder = recorder_board(Simulator(runner, sketch, board), board.recorder_pins, may_press=jumper)
    idle = PairedBoard(Simulator(runner, compile_sketch({"sketch.ino": IDLE}, board, CACHE), board), {}, {})
    with started_pair(idle, recorder, Hands()) as pair:
        pair.run_until(BOOTED_US)
        yield pair
