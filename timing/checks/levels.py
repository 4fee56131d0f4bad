"""Rules on the board itself and its voltage: what 3.3 V asks of what hangs on its pins, and how well it is tested."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, info, warning
from timing.circuit.drives import LOW_GATE_V
from timing.design.board import FIVE_VOLT_LOGIC_V
from timing.design.roles import ROLES
from timing.project import Project
from timing.sequence.of_design import time_settings


def board_was_tested(project: Project) -> Iterator[Finding]:
    """Say so where a board's sketch has not run on its own microcontroller's program in the tests."""
    board = project.board
    if board.tested:
        yield warning(
            "board-was-tested",
            "board.type",
            f"{board.title}: the sketch was {board.tested.strip()}",
            "what was not tested may not work",
            "a bench test with lamps for loads (`wirecue bench`, `wirecue trace`) before it goes near the feeder",
        )


def gates_open_at_logic_level(project: Project) -> Iterator[Finding]:
    """At 3.3 V many MOSFETs that are called logic level open half-way and run hot."""
    logic_v = project.board.logic_v
    if logic_v >= FIVE_VOLT_LOGIC_V:
        return
    for one in project.drives:
        if not one.coupled:
            yield info(
                "gates-open-at-logic-level",
                f"feeder.{one.role}.drive",
                f"{ROLES[one.role].meaning}: the gate of its relay driver gets {logic_v:g} V",
                "a MOSFET specified at 4.5 V opens half-way there and runs hot (data sheets; practice)",
                f"a MOSFET whose on-resistance is specified at {LOW_GATE_V:g} V, as the parts list has it",
            )


def signals_keep_to_logic_level(project: Project) -> Iterator[Finding]:
    """A pin of a 3.3 V board must not see 5 V, from a sensor or from the rail."""
    design, board = project.design, project.board
    if board.logic_v >= FIVE_VOLT_LOGIC_V:
        return
    dialled = any(setting.dial for setting in time_settings(design).values())
    from_logic = "pull-ups and dials" if dialled else "pull-ups"
    yield info(
        "signals-keep-to-logic-level",
        "board.type",
        f"no pin of the {board.title} is rated for more than {board.logic_v:g} V: {from_logic} go to its "
        f"{board.logic_v:g} V terminal, never to the rail or to USB's 5 V",
        "a pin above its supply feeds the board through its protection diode, and dies of it (data sheets)",
    )
    if design.arc_sensor is not None:
        yield info(
            "signals-keep-to-logic-level",
            "arc_sensor",
            f"the arc sensor's output meets a pin rated for {board.logic_v:g} V",
            "many current sensors feed their output from 5 V or more",
            "a sensor with a bare contact or open collector, closing to board common; or an optocoupler between",
        )
