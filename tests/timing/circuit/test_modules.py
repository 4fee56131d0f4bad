"""Circuits of ready-made modules: complete, few connections, safe at power-up, counted in budget and times."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.conftest import EXAMPLES, ROOT
from tests.timing.circuit.test_netlist import complete
from timing.circuit.lists import hand_work, wire_list
from timing.circuit.modules import channels_sold, ways_of_building
from timing.circuit.parts import PartKind, Terminal
from timing.design.circuits import MODULE_COIL_A
from timing.design.loading import parse_design
from timing.design.suppression import off_delay_of
from timing.project import Project
from wirecue.projects import load_board

LEVELS = "on_level = {{ gas_valve = {0}, wire_drive = {0}, contactor = {0} }}\n"


def of_modules(path: Path, level: str = "low", board: str | None = None, extra: str = "") -> Project:
    """An example as a design of modules with one level for all outputs."""
    lines = path.read_text().replace('build = "board"', f'build = "modules"\n{extra}').splitlines()
    text = "\n".join(line for line in lines if not line.startswith("on_level")) + "\n"
    text += LEVELS.format(f'"{level}"')
    design = parse_design(text)
    if board is not None:
        design = design.model_copy(update={"board": design.board.model_copy(update={"type": board})})
    return Project(design, load_board(design.board.type))


@pytest.mark.parametrize("level", ["high", "low"])
@pytest.mark.parametrize("board", [None, "mega"])
def test_every_pin_and_terminal_is_wired_once(example: Path, level: str, board: str | None) -> None:
    project = of_modules(example, level, board)
    complete(project.netlist, project.design, project.board)


def test_the_spot_example_takes_sixty_connections_at_most() -> None:
    work = hand_work(of_modules(ROOT / "examples/spot_stitch.toml").netlist)
    assert work.joints > 0
    assert work.between_modules > 0
    assert work.in_box <= 60


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_each_wire_is_counted_once_and_modules_halve_the_work(path: Path) -> None:
    ways = ways_of_building(of_modules(path))
    for work in ways.values():
        assert min(work.in_feeder, work.cable_and_panel, work.joints, work.loose_parts) > 0
    netlist = of_modules(path).netlist
    counted = ways["modules"]
    # The bench link is one piece of wire with two rows.
    assert counted.in_box + counted.cable_and_panel + counted.in_feeder + 1 == len(wire_list(netlist))
    assert ways["modules"].in_box <= 0.6 * ways["board"].in_box
    assert ways["board"].modules == 0
    assert counted.cable_and_panel == ways["board"].cable_and_panel


def test_an_active_high_input_is_held_off_and_an_active_low_one_needs_nothing(example: Path) -> None:
    for level in ("high", "low"):
        project = of_modules(example, level)
        for one in project.drives:
            pull = project.netlist.between(f"PIN-{one.role}", "COMMON", PartKind.RESISTOR)
            assert len(pull) == (1 if level == "high" else 0)
            assert (one.pull_ohm is None) == (level == "low")


def test_a_five_volt_board_is_fed_past_its_own_regulator_and_a_pico_is_not(example: Path) -> None:
    fed = of_modules(example).netlist
    board = next(part for part in fed.parts if part.kind is PartKind.BOARD)
    regulator = next(part for part in fed.parts if part.kind is PartKind.REGULATOR_MODULE)
    assert "VIN" not in board.terminals
    assert fed.net_of(Terminal(board.ref, "5V")) == fed.net_of(Terminal(regulator.ref, "OUT+"))
    project = of_modules(ROOT / "examples/gasless_four_step.toml", board="pico")
    pico = project.netlist
    complete(pico, project.design, project.board)
    board = next(part for part in pico.parts if part.kind is PartKind.BOARD)
    assert pico.net_of(Terminal(board.ref, "VSYS")) != pico.net_of(Terminal(board.ref, "3V3"))


def test_what_guards_the_rail_leaves_its_own_highest_alone(example: Path) -> None:
    project = of_modules(example)
    clamp = next(part for part in project.netlist.parts if part.kind is PartKind.ZENER and part.place == "box")
    assert float(clamp.value.removesuffix(" V")) * 0.95 >= 1.05 * project.budget.regulator.output_v


def test_the_budget_counts_the_coils_of_modules(example: Path) -> None:
    project = of_modules(example)
    welding = max(phase.load.rail_a for phase in project.budget.phases)
    coils = sum(one.actuator.drive == "relay" for one in project.drives) * MODULE_COIL_A
    assert welding >= coils + project.board.current_a
    assert project.budget.regulator.output_v == 5.0


def test_every_time_counts_the_plain_diode_of_a_module(example: Path) -> None:
    project, later = of_modules(example), []
    for one in project.drives:
        actual, stated = off_delay_of(project.design, one.actuator), one.actuator.off_delay
        later.append(actual.typical_us - stated.typical_us)
        assert actual == one.off_delay
    assert min(later) > 1000


def test_what_may_kill_and_another_level_have_modules_of_their_own() -> None:
    text = (ROOT / "examples/shop_two_step.toml").read_text().replace('build = "board"', 'build = "modules"')
    text = "\n".join(line for line in text.splitlines() if not line.startswith("on_level"))
    mains = text.replace(
        'coil = { hold = "0.6 A", inrush = "3.5 A" }',
        'coil = { voltage = "115 V", fed_from = "elsewhere", hold = "0.2 A" }',
    )
    for changed, levels in ((mains, '"low"'), (text, '"high"')):
        design = parse_design(
            f'{changed}\non_level = {{ gas_valve = "low", wire_drive = "low", contactor = {levels} }}\n'
        )
        wiring = Project(design, load_board("uno")).netlist
        modules = [part for part in wiring.parts if part.kind is PartKind.RELAY_MODULE]
        assert len(modules) == 2
        contactor = next(net for net in wiring.nets if net.name == "CONT-FEED")
        alone = next(part for part in modules if any(end.ref == part.ref for end in contactor.terminals))
        assert [name for name in alone.terminals if name.startswith("IN")] == ["IN1"]


def test_a_module_is_bought_with_channels_that_are_sold() -> None:
    assert [channels_sold(wanted) for wanted in (1, 2, 3, 5, 9, 17)] == [1, 2, 4, 8, 16, 17]
