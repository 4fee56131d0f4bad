"""Both boards of software with lamps between them, without ports."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bench.cases import cases_of
from bench.feeder_model.machines import lamps
from bench.link import Link
from bench.recorder.lags import PairLags, lags_between
from bench.recorder.pair import LinkedPair
from bench.recorder.session import WitnessReport, run_witnessed
from bench.virtual.pair import TrueTime, VirtualPair
from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board

STEP_US = 5_003


@pytest.fixture(scope="session")
def project_named() -> Callable[[str], Project]:
    """Return a function that loads an example."""

    def load(name: str) -> Project:
        design = load_design(ROOT / "examples" / f"{name}.toml")
        return Project(design, load_board(design.board.type))

    return load


def linked_pair(pair: VirtualPair) -> LinkedPair:
    board, recorder = (
        Link(port, name, 0.0, follows_host=False) for port, name in zip(pair.ports(), ("ttyA", "ttyB"), strict=True)
    )
    return LinkedPair(board, board.identify(), recorder, recorder.identify())


@pytest.fixture
def witnessed(project_named: Callable[[str], Project]) -> Callable[..., WitnessReport]:
    """Return a function that runs cases of an example on a virtual pair, with whatever is wrong with it."""

    def run(
        example: str, names: tuple[str, ...] = ("weld",), *, relays: bool = False, step_us: int = STEP_US, **wrong: Any
    ) -> WitnessReport:
        project = project_named(example)
        target = target_of(project)
        hidden = lamps(project) if relays else lamps()
        pair = VirtualPair(target, hidden, true=TrueTime(step_us), **wrong)
        cases = [case for case in cases_of(target) if case.name in names]
        lags = lags_between(project, at_pins=not relays)
        return run_witnessed(linked_pair(pair), target, cases, lags, real=False)

    return run


@pytest.fixture
def lags_of(project_named: Callable[[str], Project]) -> Callable[[str], PairLags]:
    """Return a function that gives the lags of an example with its adapters on the board's pins."""
    return lambda name: lags_between(project_named(name), at_pins=True)
