"""What counts as a low supply, and as one good enough to begin with."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.sequence.core.filters import SupplyFilter, SupplyLevel
from timing.sequence.core.script import Change, Script
from timing.sequence.core.table import Fault, Phase
from timing.sequence.simulate import simulate

FILTER_US = 20_000
LOW, GOOD, BETWEEN = SupplyLevel.LOW, SupplyLevel.GOOD, SupplyLevel.BETWEEN


@given(st.lists(st.integers(0, FILTER_US), min_size=1, max_size=8))
def test_however_often_low_is_read_the_filter_counts_from_the_first(gaps_us: list[int]) -> None:
    supply, now_us = SupplyFilter(FILTER_US), 1_000
    for gap_us in [0, *gaps_us]:
        now_us += gap_us
        supply.read(LOW, now_us)
        assert supply.low == (now_us - 1_000 >= FILTER_US)


@pytest.mark.parametrize(("level", "poor"), [(LOW, True), (BETWEEN, True), (GOOD, False)])
def test_only_a_supply_at_its_upper_threshold_is_good_enough_to_begin(level: SupplyLevel, poor: bool) -> None:
    supply = SupplyFilter(FILTER_US)
    assert supply.poor
    supply.read(level, 0)
    assert supply.poor == poor
    assert not supply.low


def phases_after(*changes: Change) -> list[tuple[Phase, Fault]]:
    design = load_design(ROOT / "examples" / "shop_two_step.toml")
    found = simulate(design, Script(changes, 5_000_000), settled=False).phases
    return [(change.phase, change.fault) for change in found]


def test_a_board_that_starts_between_the_thresholds_waits_and_shows_why() -> None:
    found = phases_after(Change(0, "supply", BETWEEN))
    assert Phase.IDLE not in [phase for phase, _ in found]
    assert found[-1] == (Phase.HOLD_OFF, Fault.SUPPLY)


def test_a_reset_does_not_make_a_low_supply_good() -> None:
    found = phases_after(Change(1_000_000, "supply", LOW), Change(1_500_000, "reset", 1))
    reached = [phase for phase, _ in found]
    assert reached.count(Phase.IDLE) == 1
    assert found[-1] == (Phase.HOLD_OFF, Fault.SUPPLY)
