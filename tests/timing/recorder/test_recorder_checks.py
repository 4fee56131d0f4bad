"""The rules on a recorder speak where they should, with what to do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from codegen.recorder_papers import DiscWish, RecorderSource
from tests.support.recorders import WISHES, built
from timing.checks.finding import Severity
from timing.project import Project
from timing.recorder.fitting import RecorderWish
from wirecue.projects import board_names, load_board


def source_of(project: Project, board: str = "nano", **changes: object) -> RecorderSource:
    return RecorderSource(project, load_board(board), "1.2.3", **changes)  # type: ignore[arg-type]


def severities(source: RecorderSource) -> dict[str, Severity]:
    return {one.rule: one.severity for one in source.findings}


def changed(name: str, **tables: dict[str, object]) -> Project:
    """An example with keys of some of its tables changed."""
    project = built(name, "board")
    update = {table: getattr(project.design, table).model_copy(update=keys) for table, keys in tables.items()}
    return Project(project.design.model_copy(update=update), project.board)


@pytest.mark.parametrize("board", board_names())
def test_the_examples_may_be_built_on_every_board(example, board):
    from wirecue.projects import load_project

    source = source_of(load_project(example), board)
    assert Severity.ERROR not in severities(source).values()


def test_a_coil_above_extra_low_voltage_is_warned_of_and_gets_no_adapter():
    project = built("shop_two_step", "board")
    contactor = project.design.feeder.contactor
    coil = contactor.coil.model_copy(update={"voltage_v": 115.0, "fed_from": "elsewhere"})
    feeder = project.design.feeder.model_copy(update={"contactor": contactor.model_copy(update={"coil": coil})})
    source = source_of(Project(project.design.model_copy(update={"feeder": feeder}), project.board))
    found = next(one for one in source.findings if one.rule == "recorder.above-extra-low")
    assert found.severity is Severity.WARNING
    assert "115 V ac" in found.text
    assert found.remedy
    assert not any(ref.startswith("IN3") for ref in (net.name for net in source.wiring.netlist.nets))


def test_a_weak_welding_source_is_said_not_to_be_seen_surely():
    source = source_of(changed("shop_two_step", process={"open_circuit_voltage_v": 14.0}))
    found = next(one for one in source.findings if one.rule == "recorder.sees-the-lowest")
    assert found.severity is Severity.WARNING
    assert "--main-contact contact" in found.remedy
    assert "recorder.sees-the-lowest" not in severities(replace(source, wish=WISHES[1]))


def test_a_trigger_that_can_kill_is_not_pressed():
    project = changed("shop_two_step", trigger={"circuit_voltage_v": 58.0})
    assert severities(source_of(project))["recorder.press-rating"] is Severity.ERROR


def test_a_bore_too_large_for_its_disc_is_refused():
    source = source_of(built("shop_two_step", "board"), disc_wish=DiscWish(30.0, 40.0, 20.0))
    assert severities(source)["recorder.disc-fits"] is Severity.ERROR


def test_a_board_without_the_recorders_pins_is_refused_before_anything_is_drawn():
    source = source_of(built("shop_two_step", "board"))
    bare = replace(source, board=source.board.model_copy(update={"recorder_pins": {}}))
    assert severities(bare) == {"recorder.has-its-pins": Severity.ERROR}


def test_a_pin_that_cannot_feed_a_press_is_refused():
    source = source_of(built("shop_two_step", "board"))
    weak = replace(source, board=source.board.model_copy(update={"pin_current_a": 0.004}))
    assert severities(weak)["recorder.press-pin"] is Severity.ERROR


def test_too_little_gas_is_said_not_to_move_the_flag():
    project = changed("shop_two_step", process={"gas_flow_l_min": 2.0, "nozzle_bore_mm": 25.0})
    assert severities(source_of(project))["recorder.flag-reaches"] is Severity.WARNING


def test_an_input_that_is_not_needed_is_told_without_alarm():
    source = source_of(built("gasless_four_step", "board"), wish=RecorderWish())
    told = [one for one in source.findings if one.rule == "recorder.left-out"]
    assert {one.severity for one in told} == {Severity.INFO}
    assert any("gasless" in one.text for one in told)


def test_the_page_names_every_rule():
    """Each rule's name as the findings give it, in docs/recorder.md."""
    import inspect
    import re

    from tests.conftest import ROOT
    from timing.recorder import checks

    named = set(re.findall(r'"(recorder\.[a-z-]+)"', inspect.getsource(checks)))
    told = set(re.findall(r"(?m)^\| `(recorder\.[a-z-]+)`", (ROOT / "docs" / "recorder.md").read_text()))
    assert told == named
