"""What a 3.3 V board asks of its design."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.checks.finding import Severity
from timing.checks.registry import check
from timing.circuit.dial import dial_of
from timing.circuit.parts import PartKind
from timing.design.features import features_of
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

ON_PICO = (
    ('type = "nano"', 'type = "pico"'),
    ('pause = { from = "200 ms", to = "1.5 s", setting = "800 ms", off_switch = true }', 'pause = "800 ms"'),
    ('rating = "75 VA"', 'rating = "75 VA"\nregulator = "switching"'),
    ('divider_top = "56 kohm", divider_bottom = "4.7 kohm"', 'divider_top = "68 kohm", divider_bottom = "3.9 kohm"'),
)


def design_of(*changes, base=ON_PICO):
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    for old, new in (*base, *changes):
        assert old in text, old
        text = text.replace(old, new)
    return parse_design(text)


def project_of(*changes, base=ON_PICO):
    design = design_of(*changes, base=base)
    return Project(design, load_board(design.board.type))


def found(project, rule):
    return [finding for finding in check(project) if finding.rule == rule]


def test_a_3v3_board_that_suits_its_design_has_no_error():
    assert [finding for finding in check(project_of()) if finding.severity is Severity.ERROR] == []


def test_a_board_that_was_not_tried_in_full_says_so():
    (finding,) = found(project_of(), "board-was-tested")
    assert finding.severity is Severity.WARNING
    assert "not yet on a real board" in finding.text
    assert found(project_of(base=()), "board-was-tested") == []


def test_gates_at_3v3_are_told_and_the_parts_list_agrees():
    project = project_of()
    findings = found(project, "gates-open-at-logic-level")
    assert [finding.key for finding in findings] == [f"feeder.{one.role}.drive" for one in project.drives]
    assert "gets 3.3 V" in findings[0].text
    assert "specified at 2.5 V" in findings[0].remedy
    assert mosfets(project) == {
        "MOSFET, N-channel, specified at 2.5 V on the gate, off below 0.8 V, 60 V, 0.2 A or more"
    }
    five = project_of(base=())
    assert found(five, "gates-open-at-logic-level") == []
    assert mosfets(five) == {"MOSFET, N-channel, logic level, off below 0.8 V, 60 V, 0.2 A or more"}


def test_a_gate_that_a_coupler_drives_from_the_rail_is_left_alone():
    low = ('type = "pico"', 'type = "pico"\non_level = { gas_valve = "low", wire_drive = "low", contactor = "low" }')
    assert found(project_of(low), "gates-open-at-logic-level") == []


def mosfets(project):
    return {part.description for part in project.netlist.parts if part.kind is PartKind.MOSFET}


def test_signals_of_five_volts_are_warned_of_and_the_arc_sensor_by_itself():
    keys = [finding.key for finding in found(project_of(), "signals-keep-to-logic-level")]
    assert keys == ["board.type", "arc_sensor"]
    assert found(project_of(base=()), "signals-keep-to-logic-level") == []


def test_the_divider_is_held_against_3v3():
    divider = (
        'divider_top = "68 kohm", divider_bottom = "3.9 kohm"',
        'divider_top = "56 kohm", divider_bottom = "4.7 kohm"',
    )
    # 4.7 of 60.7 kohm: some 3.3 V at 43 V in, where the winding is unloaded and the line high; 5 V boards have room.
    high = ('measured_open = "26.8 V"', 'measured_open = "30 V"')
    (finding,) = found(project_of(divider, high), "circuits.sense-voltage")
    assert finding.severity is Severity.ERROR
    assert "full scale is 3.3 V" in finding.text
    assert found(project_of(high, base=()), "circuits.sense-voltage") == []


def test_a_pin_of_less_current_is_held_against_its_own_limit():
    triac = (
        'coil = { hold = "0.3 A", inrush = "0.7 A" }',
        'coil = { hold = "0.3 A", inrush = "0.7 A" }\ndrive = "opto-triac"',
    )
    (finding,) = found(project_of(triac), "circuits.pin-current")
    assert "the board allows 12 mA" in finding.text


@pytest.mark.parametrize("name", ["spot", "burnback"])
def test_a_dial_of_twelve_bits_is_as_long_and_finer(name):
    design = design_of()
    fine, coarse = (
        dial_of(name, features_of(design).times[name], load_board(board)).scale for board in ("pico", "nano")
    )
    assert (fine.low_us, fine.high_us) == (coarse.low_us, coarse.high_us)
    assert coarse.step_q4_us / fine.step_q4_us == pytest.approx(4, rel=0.02)
    for counts in (fine.low_counts, 2_048, fine.high_counts):
        assert fine.time_us(counts) == pytest.approx(coarse.time_us(counts // 4), abs=coarse.step_q4_us / 8)
    assert fine.fault_above < 4_096
