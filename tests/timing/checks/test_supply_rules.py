"""The supply's findings among the checks: same severity and key, every remedy given with its lines."""

from __future__ import annotations

from pathlib import Path

from tests.timing.conftest import SHOP
from timing.checks.finding import Severity, worst
from timing.checks.registry import check
from timing.checks.remedies import applied, first_changes
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

TRAP = SHOP
"""The shop feeder with a regulator for 40 V."""


def project_of(text: str) -> Project:
    design = parse_design(text)
    return Project(design, load_board(design.board.type))


def test_the_classic_trap_breaks_the_design_and_its_remedy_fixes_it() -> None:
    project = project_of(TRAP)
    trap = next(one for one in check(project) if one.rule == "supply.input-voltage")
    assert trap.severity is Severity.ERROR
    assert trap.key == "supply.regulator_input_max"
    assert trap.text == "The reservoir can stand at 41.2 V, and the regulator is rated for 40 V"
    assert trap.remedy == (
        'Fit a regulator rated for 60 V at its input or more (supply.regulator_input_max = "60 V")'
    )  # fmt: skip
    changes = first_changes(project.supply.errors)
    mended = check(project_of(applied(TRAP, changes)))
    assert "supply.input-voltage" not in {one.rule for one in mended}
    assert worst(one for one in mended if one.rule.startswith(("supply.", "circuits."))) < Severity.ERROR


def test_an_example_closes_its_budget_with_reasons(example: Path) -> None:
    project = project_of(example.read_text())
    assert project.supply.budget.closes
    found = project.supply.findings
    assert found
    assert all(one.severity is Severity.INFO and one.reason for one in found)


def test_the_resistor_to_off_is_the_one_of_the_circuit() -> None:
    project = project_of(TRAP.replace('type = "uno"', 'type = "uno"\non_level = { contactor = "low" }'))
    says = [one.text for one in check(project) if one.rule == "outputs-are-pulled-off"]
    assert says == [
        "gas valve: fit 3.3 kohm from D5 to board common",
        "wire drive: fit 3.3 kohm from D6 to board common",
        "contactor: fit 10 kohm from D7 to the board's supply",
    ]
