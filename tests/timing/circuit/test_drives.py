"""Output drives: pins, resistors to off, leakage."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from timing.circuit.drives import QUIET_V, drive, drives, pull_down_ohm
from timing.design.board import Board
from timing.design.design import Design

Changed = Callable[..., Design]


@pytest.mark.parametrize("logic_v", [3.3, 5.0])
def test_the_external_resistor_wins_against_a_bootloaders_pull_up(logic_v: float) -> None:
    pull = pull_down_ohm(logic_v)
    assert logic_v * pull / (pull + 20e3) <= QUIET_V
    assert logic_v / pull < 0.005


@pytest.mark.parametrize("kind", ["relay", "opto-triac", "mosfet"])
@pytest.mark.parametrize("level", ["high", "low"])
def test_no_drive_overloads_its_pin(kind: str, level: str, changed: Changed, board: Board) -> None:
    design = changed(
        ('coil = { hold = "0.6 A"', f'drive = "{kind}"\ncoil = {{ hold = "0.6 A"'),
        ('type = "uno"', f'type = "uno"\non_level = {{ contactor = "{level}" }}'),
    )
    found = drive(design, board, "contactor")
    assert 0.0 < found.pin_a <= board.pin_current_a
    assert found.coupled is (level == "low" or kind != "relay")


def test_a_gasless_design_has_two_drives(board_named: Callable[[str], Board], changed: Changed) -> None:
    design = changed()
    assert [one.role for one in drives(design, board_named("uno"))] == ["gas_valve", "wire_drive", "contactor"]
    gasless = design.model_copy(update={"feeder": design.feeder.model_copy(update={"gas_valve": None})})
    assert [one.role for one in drives(gasless, board_named("uno"))] == ["wire_drive", "contactor"]
    with pytest.raises(ValueError, match="no gas_valve"):
        drive(gasless, board_named("uno"), "gas_valve")
