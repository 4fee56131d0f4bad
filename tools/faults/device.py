"""What the trials run on: a design that has everything, its firmware, and the ways into each phase."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from bench.avr.simulator import UART_DEFINES, Cue, Simulator, Wiring, build_runner, symbols
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.project import Project
from timing.protocol.target import Target
from timing.protocol.target_of_design import target_of
from timing.sequence.core.script import Change, Switch, What
from timing.sequence.core.table import Phase
from wirecue import __version__
from wirecue.projects import load_board

ROOT = Path(__file__).parents[2]
CACHE = ROOT / "out" / "compiled"
EXAMPLE = ROOT / "examples" / "spot_stitch.toml"
# The example with all that it leaves out, and limits short enough to wait for.
CHANGES = (
    ('mode = "two-step"', 'mode = "switch"'),
    ("purge = true", "purge = true\ninch = true\n\n[interlock]\nfitted = true"),
    ('preflow = "250 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "150 ms" }'),
    ('postflow = "1.1 s"', 'postflow = { from = "0 ms", to = "5 s", setting = "400 ms" }'),
    ('weld = "90 s"\narc_start = "2 s"', 'weld = "2 s"\narc_start = "500 ms"\npurge = "1 s"\ninch = "1 s"'),
)
BOOT_US = 700_000
"""Past hold-off: 500 ms for the supply, 50 ms for open contacts."""
DIALS_US = {"preflow": 150_000, "spot": 300_000, "burnback": 100_000, "pause": 300_000, "postflow": 400_000}
PASS_US = 80
"""Longest pass that the firmware may take."""


@dataclass(frozen=True)
class Way:
    """How a phase is reached from idle, and an instant in its middle. Times in microseconds."""

    phase: Phase
    changes: tuple[Change, ...]
    there_us: int


def _way(phase: Phase, there_ms: int, *changes: tuple[int, What, int]) -> Way:
    return Way(phase, tuple(Change(at_ms * 1000, what, value) for at_ms, what, value in changes), there_ms * 1000)


# Trigger filter 12 ms, buttons 20 ms, arc 4 ms; the dials as in DIALS_US.
_HELD = ((0, Switch("spot"), 0), (10, "trigger", 1), (200, "arc", 1))
_SPOT = ((10, "trigger", 1), (190, "arc", 1), (500, "arc", 0))
WAYS = (
    _way(Phase.HOLD_OFF, 200, (10, "reset", 1)),
    _way(Phase.IDLE, 50),
    _way(Phase.PREFLOW, 100, (0, Switch("spot"), 0), (10, "trigger", 1)),
    _way(Phase.WELD, 400, *_HELD),
    _way(Phase.BURNBACK, 460, *_HELD, (400, "trigger", 0)),
    _way(Phase.POSTFLOW, 700, *_HELD, (400, "trigger", 0), (500, "arc", 0)),
    _way(Phase.PAUSE, 750, *_SPOT),
    _way(Phase.AWAIT_RELEASE, 1_100, (0, Switch("pause"), 0), *_SPOT),
    _way(Phase.PURGE, 200, (10, "purge", 1)),
    _way(Phase.INCH, 200, (10, "inch", 1)),
)


@dataclass(frozen=True)
class DeviceUnderTest:
    """The firmware, ready to run."""

    design: Design
    board: Board
    target: Target
    wiring: Wiring
    simulator: Simulator

    def counts(self) -> dict[str, int]:
        """Return the readings of the panel at rest, by channel."""
        assert self.target.supply is not None
        dials = {name: scale.counts_for(DIALS_US[name]) for name, scale in self.target.scales.items()}
        return dials | {"supply": self.target.supply.good}

    def boot(self) -> list[Cue]:
        """Return the cues up to idle, with the bench link fitted."""
        return [*self.wiring.quiet(self.counts(), bench_link=True), self.contact("trigger", False, 0)]

    def contact(self, role: str, closed: bool, at_us: int) -> Cue:
        """Return the cue that moves a contact, timed from idle."""
        return self.wiring.contact(role, closed, BOOT_US + at_us)

    def counts_at(self, channel: str, counts: int, at_us: int) -> Cue:
        """Return the cue that puts a reading, timed from idle."""
        return self.wiring.counts(channel, counts, BOOT_US + at_us)

    def say(self, text: str, at_us: int) -> Cue:
        """Return the cue that sends a line, timed from idle."""
        return self.wiring.serial(text.encode("latin-1"), BOOT_US + at_us)

    def reset(self, at_us: int) -> Cue:
        """Return the cue that resets the board, timed from idle."""
        return Cue(self.wiring.cycle(BOOT_US + at_us), "reset")

    def end(self, at_us: int) -> Cue:
        """Return the cue that ends the run, timed from idle."""
        return Cue(self.wiring.cycle(BOOT_US + at_us), "end")

    def along(self, way: Way) -> list[Cue]:
        """Return the cues of the way into a phase."""
        return [self.wiring.change(change, {}, BOOT_US) for change in way.changes]

    def open_all(self, at_us: int) -> list[Cue]:
        """Return the cues that open trigger, buttons and arc sensor."""
        return [self.contact(role, False, at_us) for role in ("trigger", "purge", "inch", "arc")]

    def clock_cues(self, clock_us: int, at_us: int) -> list[Cue]:
        """Return the cues that set the core's two clocks: micros() to `clock_us`, millis() to wrap with it.

        The core counts overflows of a timer that ticks every 4 us and overflows after 256 ticks.
        """
        places: Mapping[str, int] = symbols(self.simulator.program)
        overflows = (clock_us // 1_024).to_bytes(4, "little")
        millis = ((clock_us - (1 << 32)) // 1_000 % (1 << 32)).to_bytes(4, "little")
        return [
            self.wiring.memory(places["timer0_overflow_count"], overflows, at_us),
            self.wiring.memory(places["timer0_millis"], millis, at_us),
        ]


def in_order(cues: Iterable[Cue]) -> list[Cue]:
    """Return cues in order of their cycles; those of one cycle stay as they are."""
    return sorted(cues, key=lambda cue: cue.cycle)


def load_device() -> DeviceUnderTest:
    """Compile the firmware and the simulator's runner. Raises ToolchainError and SimulatorError."""
    text = EXAMPLE.read_text(encoding="utf-8")
    for old, new in CHANGES:
        assert old in text, old
        text = text.replace(old, new)
    design = parse_design(text)
    board = load_board(design.board.type)
    program = compile_sketch(
        sketch_files(Project(design, board), __version__), board, CACHE, UART_DEFINES[board.native_usb]
    )
    simulator = Simulator(build_runner(CACHE), program, board)
    return DeviceUnderTest(design, board, target_of(Project(design, board)), Wiring(design, board), simulator)
