"""The recorder as witness, with both firmwares: what it tells is what happened, and it finds what is wrong."""

from __future__ import annotations

from collections import Counter

import pytest

from bench.cases import cases_of
from bench.recorder.lags import lags_between
from bench.recorder.session import run_witnessed
from bench.recorder.words import verdict_lines
from bench.run import Bench
from tests.conftest import EXAMPLES, SOAK, gate_share
from tests.support.cosimulated import cosimulated, linked_boards
from tests.support.mutated_sketches import MUTATIONS
from tests.support.witnessed_truth import witnessed_scripts
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.recorder import SAMPLE_US
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

SCRIPTS_A_RUN = 20
RUNS = 10
STAMP_US = 60
"""How late an edge may be told at most: a coupler that lets go, the recorder's look, an interrupt that waits."""
FOUND_IN = ("weld", "tap")


def loaded(path):
    design = load_design(path)
    return Project(design, load_board(design.board.type))


@pytest.mark.parametrize("path", gate_share(EXAMPLES, 3), ids=lambda path: path.stem)
def test_what_the_recorder_tells_of_random_scripts_is_what_happened(path):
    late: list[float] = []
    project = loaded(path)
    most_ppm = target_of(project).clock_tolerance_ppm
    for run in range(RUNS if SOAK else 1):
        scripts, board_ppm = SCRIPTS_A_RUN if SOAK else 2, most_ppm * (RUNS - 2 * run) // RUNS
        told = witnessed_scripts(project, scripts, run, board_ppm, recorder_ppm=1_000 * run - 4_500)
        assert told.report.passed, verdict_lines(told.report)
        assert len(told.report.cases) == scripts
        assert (told.missed, told.invented) == (0, 0)
        late += [error.late_us for error in told.errors]
    late.sort()
    print(f"{path.stem}: {len(late)} edges, {late[0]:.1f} to {late[-1]:.1f} us, median {late[len(late) // 2]:.1f} us")
    assert -SAMPLE_US <= late[0] <= late[-1] <= STAMP_US


FOUND: Counter[str] = Counter()


@pytest.mark.parametrize("mutation", gate_share(MUTATIONS, 10), ids=lambda one: one.name)
def test_a_firmware_that_is_wrong_is_found_whatever_it_says(mutation):
    project = loaded(next(path for path in EXAMPLES if path.stem == "shop_two_step"))
    target = target_of(project)
    cases = [case for case in cases_of(target) if case.name in FOUND_IN]
    with cosimulated(project, changed=mutation.changed, board_ppm=400, recorder_ppm=-900) as pair:
        boards = linked_boards(pair)
        report = run_witnessed(boards, target, cases, lags_between(project, at_pins=True), real=False)
        by_itself = None
        if SOAK:
            bench = Bench(boards.link, target)
            with bench.held():
                by_itself = not all(result.passed for result in bench.run(cases))
    assert not report.passed
    FOUND["recorder"] += 1
    FOUND["own trace"] += bool(by_itself)
    print(f"{mutation.name}: found; by its own trace: {by_itself}; so far {dict(FOUND)}")


def test_every_wrong_firmware_can_still_be_made():
    from codegen.sketch import sketch_files

    project = loaded(next(path for path in EXAMPLES if path.stem == "shop_two_step"))
    sketch = sketch_files(project, "0")
    for mutation in MUTATIONS:
        assert mutation.changed(sketch) != sketch
