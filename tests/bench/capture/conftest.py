"""Captures made of what the model says a board does."""

from __future__ import annotations

import pytest

from bench.capture.capture import Capture, Channel
from bench.capture.check import AnalyserPace, check_capture, paced_rig
from bench.capture.mapping import OUTPUTS, SIGNALS, assign, parse_map
from codegen.timeline_files import tracks
from tests.conftest import EXAMPLES, ROOT
from timing.design.design import Design
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target import Target
from timing.protocol.target_of_design import target_of
from timing.sequence.core.engine import run_script
from timing.sequence.core.script import Change, Script
from timing.sequence.simulate import simulate, usual_script
from wirecue.projects import load_board


class Desk:
    """One design, and captures of it."""

    def __init__(self, name: str) -> None:
        self.design: Design = load_design(ROOT / "examples" / f"{name}.toml")
        self.target: Target = target_of(Project(self.design, load_board(self.design.board.type)))
        self.fitted = (self.target.fitted | {"supply"}) & set(SIGNALS)

    def capture(self, script=None, *, inverted=(), step_ns=1_000, until_us=None):
        """Capture the model's own run, with the channels named as the roles; `inverted` ones the other way up."""
        timeline = simulate(self.design, script or usual_script(self.design))
        channels = {}
        end_us = until_us or timeline.end_us
        for name, states in tracks(self.design, timeline).items():
            if name in self.fitted:
                turn = int(name in inverted)
                levels = [(at_us * 1_000, value ^ turn) for at_us, value in states if at_us <= end_us]
                channels[name] = Channel(name, levels[0][1], tuple(alternating(levels)))
        return Capture("capture", channels, end_us * 1_000, step_ns, "as made")

    def paced(self, stray):
        """Capture a board that takes all its times `stray` times as long, at an ordinary weld."""
        plain = self.capture()
        inputs = [plain.channels[name] for name in plain.channels if name not in OUTPUTS]
        changes = [Change(at_ns // 1_000, each.name, level) for each in inputs for at_ns, level in each.changes]
        script = Script(tuple(sorted(changes, key=lambda change: change.at_us)), plain.end_ns // 1_000)
        run = run_script(paced_rig(self.target, AnalyserPace(stray, 0.0), {}), script)
        outputs = [
            Channel(role, 0, tuple((edge.at_us * 1_000, int(edge.on)) for edge in run.edges_of(output)))
            for role, output in OUTPUTS.items()
            if role in plain.channels
        ]
        channels = {each.name: each for each in [*inputs, *outputs]}
        return Capture("capture", channels, plain.end_ns, 1_000, "as made")

    def check(self, capture, *maps, told=Script(()), **options):  # noqa: B008
        on_levels = dict(self.design.board.on_level)
        assigned = assign(capture, parse_map(maps, "--map"), self.fitted, on_levels)
        return check_capture(capture, self.target, assigned, told, **options)


def alternating(levels):
    standing = levels[0][1]
    for at_ns, level in levels[1:]:
        if level != standing:
            yield at_ns, level
            standing = level


def changed(capture, name, change):
    """The capture with `change` done to the list of one channel's changes."""
    channel = capture.channels[name]
    other = Channel(name, channel.begins, tuple(change(list(channel.changes))))
    return Capture(
        capture.source, {**capture.channels, name: other}, capture.end_ns, capture.step_ns, capture.step_from
    )


@pytest.fixture(params=[path.stem for path in EXAMPLES])
def desk(request):
    return Desk(request.param)


@pytest.fixture
def shop_desk():
    return Desk("shop_two_step")


@pytest.fixture
def spot_desk():
    return Desk("spot_stitch")


@pytest.fixture(scope="session")
def gasless_desk():
    return Desk("gasless_four_step")


@pytest.fixture(scope="session")
def alter():
    return changed
