"""Both firmwares in one simulation with lamps between: the recorder's adapters on the pins of the add-on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

from bench.avr.pair import PAIR_SIDES, Pair
from bench.feeder_model.machines import lamps
from bench.feeder_model.model import FeederModel
from bench.link import Link
from bench.recorder.pair import LinkedPair
from codegen.sketch import sketch_files
from tests.conftest import VERSION
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.firmware import simulated_pair

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
    target = target_of(project)
    with simulated_pair(
        project,
        target,
        FeederModel(lamps(), target.fitted, seed),
        lambda _: None,
        recorder=RECORDER_BOARD,
        sketch=changed(sketch_files(project, VERSION)),
        board_ppm=board_ppm,
        recorder_ppm=recorder_ppm,
    ) as pair:
        yield pair


def linked_boards(pair: Pair) -> LinkedPair:
    """Return links to both, which let time pass only while they wait."""
    board, recorder = (Link(pair.transport(side), side, host_s=pair.time_s, follows_host=False) for side in PAIR_SIDES)
    return LinkedPair(board, board.identify(), recorder, recorder.identify())
