"""Virtual boards for the tests of the bench."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any

import pytest

from bench.cases import Case, cases_of
from bench.compare import CaseResult
from bench.link import Link
from bench.run import Bench
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import NO_FAULTS, Faults
from tests.conftest import ROOT
from tests.support.virtual_boards import Loopback
from timing.design.loading import load_design
from timing.project import Project
from timing.protocol.target import Target
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board


def target_named(name: str) -> Target:
    design = load_design(ROOT / "examples" / f"{name}.toml")
    return target_of(Project(design, load_board(design.board.type)))


@pytest.fixture(scope="session")
def shop() -> Target:
    """Two-step, three dials, purge, inch, supply sense."""
    return target_named("shop_two_step")


@pytest.fixture(scope="session")
def spots() -> Target:
    """Spot and stitch with switches, arc sensor."""
    return target_named("spot_stitch")


@pytest.fixture(scope="session")
def gasless() -> Target:
    """Four-step by a switch, interlock, no gas valve."""
    return target_named("gasless_four_step")


@pytest.fixture
def linked() -> Callable[..., Link]:
    """Return a function that puts a link on a virtual board, without a port."""

    def link(board: VirtualBoard, timeout_s: float = 0.0, **options: Any) -> Link:
        # Its clock runs ahead with every line, unless the test has it follow another.
        return Link(Loopback(board), "loopback", timeout_s, **{"follows_host": False} | options)

    return link


@pytest.fixture
def run_case(linked: Callable[..., Link]) -> Callable[..., CaseResult]:
    """Return a function that runs one case of a target on a virtual board with faults."""

    def run(target: Target, name: str, faults: Faults = NO_FAULTS, board: VirtualBoard | None = None) -> CaseResult:
        board = board or VirtualBoard(target, clock=AheadClock(2_003), faults=faults)
        bench = Bench(linked(board), target)
        with bench.held():
            return bench.run_case(_case_named(target, name))

    return run


@pytest.fixture(scope="session")
def case_named() -> Callable[[Target, str], Case]:
    """Return a function that finds one case of a target."""
    return _case_named


def _case_named(target: Target, name: str) -> Case:
    return next(case for case in cases_of(target) if case.name == name)


@pytest.fixture
def stack() -> Iterator[ExitStack]:
    """Things to be closed at the end of a test."""
    with ExitStack() as opened:
        yield opened
