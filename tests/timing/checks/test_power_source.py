from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.checks.finding import Finding, Severity
from timing.checks.power_source import source_readings_agree
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
OPEN = 'open_circuit_voltage = "23 V"\nslope = "25 mV/A"\n'


def found(readings: str) -> list[Finding]:
    assert SHOP.count(OPEN) == 1
    design = parse_design(SHOP.replace(OPEN, readings))
    return list(source_readings_agree(Project(design, load_board(design.board.type))))


@pytest.mark.parametrize(
    "readings",
    [
        OPEN,
        "",
        'load_voltage = "20 V"\n',
        'load_current = "120 A"\n',
        'open_circuit_voltage = "23 V"\nload_voltage = "20 V"\nload_current = "120 A"\n',
        'open_circuit_voltage = "27 V"\n',
    ],
)
def test_a_weld_that_people_make_is_not_asked_about(readings: str) -> None:
    assert found(readings) == []


@pytest.mark.parametrize(
    ("readings", "key", "says", "do"),
    [
        (
            'open_circuit_voltage = "31 V"\nslope = "25 mV/A"\n',
            "process.open_circuit_voltage",
            "the open-circuit voltage of 31 V with a slope of 25 mV/A makes 27.7 V at the terminals at 1",
            "process.load_voltage",
        ),
        (
            'load_voltage = "26 V"\n',
            "process.load_voltage",
            "a load voltage of 26 V makes 26.0 V",
            "read the volts again",
        ),
        ('load_current = "190 A"\n', "process.load_current", "190 A were read", "run wire for 6 s"),
        (
            'open_circuit_voltage = "29 V"\nload_voltage = "20 V"\nslope = "25 mV/A"\n',
            "process.slope",
            "the slope is stated as 25 mV/A; 29 V open and 20 V at ",
            "leave slope out",
        ),
    ],
)
def test_figures_that_cannot_belong_together_are_asked_about(readings: str, key: str, says: str, do: str) -> None:
    (one,) = found(readings)
    assert (one.severity, one.key) == (Severity.WARNING, key)
    assert says in one.text
    assert do in one.remedies[0].text


def test_where_no_arc_burns_another_rule_says_so() -> None:
    assert found('open_circuit_voltage = "14 V"\n') == []
