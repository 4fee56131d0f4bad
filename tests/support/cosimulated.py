"""Both firmwares in one simulation with lamps between: the recorder's adapters on the pins of the add-on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from bench.avr.pair import PAIR_SIDES, Pair, started_pair
from bench.avr.paired_board import addon_board, recorder_board
from bench.avr.simulator import UART_DEFINES, Simulator, Wiring, build_runner
from bench.feeder_model.machines import lamps
from bench.feeder_model.model import FeederModel
from bench.forcing import setting_counts
from bench.link import Link
from bench.recorder.pair import LinkedPair
from codegen.recorder_sketch import recorder_files
from codegen.sketch import sketch_files
from codegen.toolchain import compile_sketch
from tests.conftest import CACHE, VERSION
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

BOTH_BOOTED_US = 900_000
"""Past the add-on's hold-off."""
RECORDER_BOARD = "nano"

Sketch = Mapping[str, str]


@contextmanager
def cosimulated(
    project: Project,
    *,
    board_ppm: int = 0,
    recorder_ppm: int = 0,
    seed: int = 0,
    changed: Callable[[dict[str, str]], Sketch] = lambda sketch: sketch,
) -> Iterator[Pair]:
    """Yield both boards, booted and at rest. changed: what is done to the add-on's sketch before it is compiled."""
    target, runner = target_of(project), build_runner(CACHE)
    sketch = changed(sketch_files(project, VERSION))
    program = compile_sketch(sketch, project.board, CACHE, UART_DEFINES[project.board.native_usb])
    counts = {name: setting_counts(target, name) for name in target.scales}
    if target.supply is not None:
        counts["supply"] = target.supply.good
    wiring = Wiring(project.design, project.board)
    addon = addon_board(Simulator(runner, program, project.board), wiring, counts, bench_link=True, fast_ppm=board_ppm)
    board = load_board(RECORDER_BOARD)
    watches = compile_sketch(recorder_files(board, VERSION), board, CACHE, UART_DEFINES[board.native_usb])
    recorder = recorder_board(Simulator(runner, watches, board), board.recorder_pins, fast_ppm=recorder_ppm)
    with started_pair(addon, recorder, FeederModel(lamps(), target.fitted, seed)) as pair:
        pair.run_until(BOTH_BOOTED_US)
        yield pair


def linked_boards(pair: Pair) -> LinkedPair:
    """Return links to both, which let time pass only while they wait."""
    board, recorder = (Link(pair.transport(side), side, host_s=pair.time_s, follows_host=False) for side in PAIR_SIDES)
    return LinkedPair(board, board.identify(), recorder, recorder.identify())
