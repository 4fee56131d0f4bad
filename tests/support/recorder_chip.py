"""The recorder's firmware on its simulated chip: lines moved at known cycles, questions sent, answers read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from bench.avr.simulator import UART_DEFINES, ChipEvent, Cue, Simulator, build_runner, said
from codegen.recorder_sketch import recorder_files, recorder_pins
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, VERSION
from timing.design.board import Board
from timing.protocol.recorder import RECORDER_INPUTS, RECORDER_PRESSES

STARTED_US = 20_000
"""Past the core's start and the first look."""


@dataclass(frozen=True)
class Record:
    """One record of the trace, as it is answered."""

    time_us: int
    lines: int


@dataclass(frozen=True)
class RecorderChip:
    """One recorder on its chip."""

    board: Board
    simulator: Simulator

    def cycle(self, at_us: float) -> int:
        return round(at_us * self.board.clock_hz / 1_000_000)

    def pin(self, key: str) -> tuple[str, int]:
        """Port and bit of a job's pin."""
        return next((use.port, use.bit) for use in recorder_pins(self.board) if use.role.key == key)

    def line(self, number: int, on: bool, at_us: float) -> Cue:
        """Let an input go on, which pulls its pin low, or off."""
        return self.low(f"input_{number}", on, at_us)

    def low(self, key: str, on: bool, at_us: float) -> Cue:
        port, bit = self.pin(key)
        return Cue(self.cycle(at_us), f"pin {port} {bit} {int(not on)}")

    def serial(self, text: str, at_us: float) -> Cue:
        return Cue(self.cycle(at_us), f"uart {text.encode('latin-1').hex()}")

    def rest(self, *, jumper: bool) -> list[Cue]:
        """All inputs off, the presses held off by their resistors, the jumper fitted or not."""
        inputs = [self.line(one.number, False, 0) for one in RECORDER_INPUTS]
        held_off = [self.low(f"press_{one.key}", True, 0) for one in RECORDER_PRESSES]
        return [*inputs, *held_off, self.low("press_jumper", jumper, 0)]

    def run(self, cues: Iterable[Cue], end_us: float, *, jumper: bool = True) -> list[ChipEvent]:
        """Run from power-up, at rest, through cues in any order."""
        played = sorted([*self.rest(jumper=jumper), *cues], key=lambda cue: cue.cycle)
        return self.simulator.run([*played, Cue(self.cycle(end_us), "end")])

    def presses(self, events: Iterable[ChipEvent]) -> list[tuple[int, str, bool]]:
        """When, in microseconds, a press was closed or opened; a pin that is let go is off, by its resistor."""
        pins = {self.pin(f"press_{one.key}"): one.key for one in RECORDER_PRESSES}
        moves, closed = [], dict.fromkeys(pins.values(), False)
        for event in events:
            if event.pin in pins and (event.level == "1") != closed[key := pins[event.pin]]:
                closed[key] = event.level == "1"
                moves.append((round(event.cycle * 1_000_000 / self.board.clock_hz), key, closed[key]))
        return moves


def recorder_chip(board: Board, edited: Sequence[tuple[str, str, str]] = ()) -> RecorderChip:
    """Return a board's recorder. edited: file, what is in it once, what is put in its place."""
    files = recorder_files(board, VERSION)
    for name, old, new in edited:
        assert files[name].count(old) == 1, (name, old)
        files[name] = files[name].replace(old, new)
    program: Path = compile_sketch(files, board, CACHE, UART_DEFINES[board.native_usb])
    return RecorderChip(board, Simulator(build_runner(CACHE), program, board))


def answers(events: Iterable[ChipEvent]) -> list[str]:
    """Return the lines that it sent."""
    return said(events).splitlines()


def records(lines: Iterable[str]) -> list[Record]:
    """Return the records among answers to `TRACe:DATA?`, several of which may stand on one line."""
    found = [tuple(map(int, text.split(","))) for line in lines for text in line.split(";")]
    return [Record(time_us, bits) for count, time_us, bits in found if count]
