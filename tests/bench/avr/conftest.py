"""The firmware of each example, on its simulated microcontroller."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from bench.avr.simulator import UART_DEFINES, Cue, Simulator, Wiring, build_runner, symbols
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, ROOT, VERSION
from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target import Target
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

BOOT_US = 700_000
"""Past hold-off: 500 ms for the supply and at most 100 ms for open contacts."""


@dataclass(frozen=True)
class Rig:
    """One example's firmware, ready to run."""

    design: Design
    board: Board
    target: Target
    wiring: Wiring
    simulator: Simulator

    def counts(self) -> dict[str, int]:
        """Return the readings of a panel at rest, by channel."""
        scales, times_us = self.target.scales, self.target.rig.times_us
        dials = {name: scale.counts_for(times_us[name]) for name, scale in scales.items()}
        return dials | ({} if self.target.supply is None else {"supply": self.target.supply.good})

    def boot(self, *, bench_link: bool = False, until_us: int = BOOT_US) -> list[Cue]:
        """Return the cues of a board at rest up to `until_us`; nothing happens then."""
        cues = self.wiring.quiet(self.counts(), bench_link=bench_link)
        return [*cues, self.wiring.contact("trigger", False, until_us)]

    def end(self, at_us: int) -> Cue:
        return Cue(self.wiring.cycle(at_us), "end")

    def passes(self, at_us: int) -> Cue:
        return self.wiring.passes(at_us)

    def symbols(self) -> dict[str, int]:
        return dict(symbols(self.simulator.program))


def load_rig(path: Path) -> Rig:
    design = load_design(path)
    return rig_of_design(design, load_board(design.board.type))


def rig_of_design(design: Design, board: Board) -> Rig:
    defines = UART_DEFINES[board.native_usb]
    program = compile_sketch(sketch_files(Project(design, board), VERSION), board, CACHE, defines)
    simulator = Simulator(build_runner(CACHE), program, board)
    return Rig(design, board, target_of(Project(design, board)), Wiring(design, board), simulator)


@pytest.fixture
def rig(example):
    """The firmware of each example in turn."""
    return load_rig(example)


@pytest.fixture
def shop():
    """The firmware of the shop feeder."""
    return load_rig(ROOT / "examples" / "shop_two_step.toml")


@pytest.fixture
def gasless():
    """The firmware of the feeder with an interlock."""
    return load_rig(ROOT / "examples" / "gasless_four_step.toml")


AC_SENSED = [path for path in sorted((ROOT / "examples").glob("*.toml")) if 'sense = "ac"' in path.read_text()]


@pytest.fixture(params=AC_SENSED, ids=[path.stem for path in AC_SENSED])
def ac_rig(request):
    """The firmware of each example whose trigger circuit carries ac."""
    return load_rig(request.param)
