"""The rules on the trigger's input: what each remedy makes of the design that broke them."""

from __future__ import annotations

import pytest

from timing.checks.finding import Finding
from timing.checks.remedies import applied
from timing.checks.trigger_levels import trigger_levels, trigger_sag
from timing.circuit.trigger_input import trigger_sense
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.project import Project

CAPACITOR = 'reservoir = "1000 uF"'
BROKEN = {
    "resistor too large": (CAPACITOR, f'{CAPACITOR}\ntrigger_resistor = "22 kohm"', "circuits.trigger-current"),
    "bleed too large": (CAPACITOR, f'{CAPACITOR}\ntrigger_bleed = "4.7 kohm"', "circuits.trigger-leak"),
    "resistor too small": (CAPACITOR, f'{CAPACITOR}\ntrigger_resistor = "1 kohm"', "circuits.trigger-led"),
    "a large RC": ('circuit_voltage = "24 VAC"', 'snubber_capacitor = "1 uF"', "circuits.trigger-leak"),
    "three volts": ('circuit_voltage = "24 VAC"', 'circuit_voltage = "3 V"', "circuits.trigger-current"),
}  # fmt: skip


def spoken(text: str, board: Board) -> list[Finding]:
    return [one for one in trigger_levels(Project(parse_design(text), board)) if one.rule != "circuits.trigger"]


@pytest.mark.parametrize("what", BROKEN)
def test_the_remedy_of_each_finding_makes_an_input_that_keeps_its_levels(
    what: str, shop_text: str, board: Board
) -> None:
    old, new, rule = BROKEN[what]
    assert old in shop_text
    text = shop_text.replace(old, new)
    if what == "three volts":
        text = text.replace('sense = "ac"', 'sense = "dc"')
    findings = spoken(text, board)
    assert rule in {one.rule for one in findings}
    changes = next(remedy.changes for one in findings for remedy in one.remedies if remedy.changes)
    done = applied(text, changes)
    assert spoken(done, board) == []
    assert trigger_sense(parse_design(done), board).holds


def test_a_wet_cable_is_dried_and_no_resistor_is_sold_for_it(shop_text: str, board: Board) -> None:
    text = shop_text.replace('circuit_voltage = "24 VAC"', 'circuit_voltage = "24 VAC"\nleak = "3 kohm"')
    (found,) = (one for one in spoken(text, board) if one.rule == "circuits.trigger-leak")
    assert [remedy.changes for remedy in found.remedies] == [()]
    assert "Dry the gun's cable" in found.remedies[0].text


def test_a_filter_longer_than_the_pull_in_outlasts_the_sag(shop_text: str, board: Board) -> None:
    text = shop_text.replace('measured_loaded = "25.2 V"', 'measured_loaded = "18.0 V"')
    (found,) = trigger_sag(Project(parse_design(text), board))
    assert list(trigger_sag(Project(parse_design(applied(text, found.remedies[0].changes)), board))) == []
    # A trigger with a supply of its own does not sag with the winding.
    apart = text.replace('sense = "ac"', 'sense = "dc"')
    assert list(trigger_sag(Project(parse_design(apart), board))) == []
