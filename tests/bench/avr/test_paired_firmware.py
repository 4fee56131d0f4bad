"""The add-on's and the recorder's firmware in one true time, with the model of a machine between them."""

from __future__ import annotations

import random
from collections import defaultdict

import pytest

from bench.avr.pair import Pair
from bench.avr.paired_board import MOST_PPM
from bench.feeder_model.machines import lamps
from bench.feeder_model.model import FeederModel
from bench.link import Link
from bench.recorder.monitor import PRESS_LINE, RecorderMonitor
from tests.conftest import ROOT, SOAK
from timing.protocol.target_of_design import target_of
from wirecue.firmware import simulated_pair
from wirecue.projects import load_project

pytestmark = pytest.mark.debian("gcc", "avr-gcc", "arduino-core", "simavr")

SCRIPTS = 200 if SOAK else 20
SCRIPT_US = 400_000
STAMP_US = 60
"""What a stamp of the recorder may be off, beside its clock."""
START_US = 1_000
"""What its program takes until its clock runs."""


def started(recorder_ppm: int, board_ppm: int = 0):
    project = load_project(ROOT / "examples" / "shop_two_step.toml")
    target = target_of(project)
    machine = FeederModel(lamps(), fitted=target.fitted, seed=5)
    return simulated_pair(project, target, machine, print, board_ppm=board_ppm, recorder_ppm=recorder_ppm)


def link_to(pair: Pair, side: str) -> Link:
    return Link(pair.transport(side), side, host_s=pair.time_s, follows_host=False)


def truth_of(pair: Pair, until_us: int) -> dict[str, list[tuple[int, bool]]]:
    """Return what really happened at the recorder's pins up to an instant, by line."""
    truth = defaultdict(list)
    for change in pair.lines:
        if change.at_us <= until_us and change.line.startswith("recorder."):
            truth[change.line.removeprefix("recorder.")].append((change.at_us, change.on))
    for edge in pair.edges:
        if edge.at_us <= until_us and edge.side == "recorder":
            truth[PRESS_LINE[edge.what]].append((edge.at_us, edge.on))
    return truth


def play_some_presses(pair: Pair, rng: random.Random) -> tuple[RecorderMonitor, int]:
    """Return the watch, and the true time up to which it has all that happened."""
    monitor = RecorderMonitor(link_to(pair, "recorder"))
    pair.edges.clear()
    pair.lines.clear()
    end_us = pair.at_us + SCRIPT_US
    with monitor.pressing():
        while pair.at_us < end_us:
            monitor.press(*rng.choice([(), ("trigger",), ("purge",), ("trigger", "purge")]))
            monitor.poll_until(monitor.latest_us + rng.randrange(1_000, 120_000))
    until_us = pair.at_us
    monitor.drain()
    assert monitor.lost() == 0
    return monitor, until_us


def errors_us(pair: Pair, monitor: RecorderMonitor, until_us: int, ppm: int) -> list[float]:
    """Return by how much each stamp is off, on a clock that is as fast as this one and began with true time."""
    truth, off_us = truth_of(pair, until_us), []
    until_us = round(until_us * (1 + ppm / 1e6)) - START_US
    assert {edge.line for edge in monitor.edges if edge.at_us <= until_us} <= set(truth)
    for line, moves in truth.items():
        seen = monitor.edges_of(line)[: len(moves)]
        assert [edge.on for edge in seen] == [on for _, on in moves]
        off_us += [edge.at_us - at_us * (1 + ppm / 1e6) for edge, (at_us, _) in zip(seen, moves, strict=True)]
    return off_us


@pytest.mark.parametrize("recorder_ppm", [-MOST_PPM, MOST_PPM])
def test_the_recorders_stamps_are_those_of_what_happened_at_its_pins(recorder_ppm):
    rng = random.Random(11)
    off_us = []
    with started(recorder_ppm=recorder_ppm, board_ppm=-recorder_ppm) as pair:
        for _ in range(SCRIPTS // 2):
            with pair.copied() as one:
                off_us += errors_us(one, *play_some_presses(one, rng), recorder_ppm)
    print(f"{len(off_us)} edges, {min(off_us):.1f} to {max(off_us):.1f} us off")
    assert len(off_us) > 2 * SCRIPTS
    # Its clock begins with its program, a little after the power.
    assert -START_US <= min(off_us) <= max(off_us) <= 0
    assert max(off_us) - min(off_us) <= STAMP_US
