"""The rules on the gas: silent for usual gases and flows, loud for what spoils a weld or costs time for nothing."""

from __future__ import annotations

import re

import pytest

from tests.conftest import ROOT
from timing.checks.finding import Severity
from timing.checks.gas import gas_flow_shields, gas_suits_wire, gas_times_without_gas
from timing.checks.remedies import applied
from timing.design.loading import parse_design
from timing.design.text_file import DesignFileError
from timing.process.gas_times import preflow_advice
from timing.project import Project
from wirecue.projects import load_board

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
USUAL = {
    "mild-steel": ["M20", "M21", "C1"],
    "stainless-steel": ["M12", "M13", "M14"],
    "aluminium": ["I1", "I3"],
    "flux-cored": ["M21", "C1"],
}
SPOILING = [
    ("aluminium", "C1"),
    ("aluminium", "M21"),
    ("aluminium", "M13"),
    ("stainless-steel", "C1"),
    ("stainless-steel", "M26"),
    ("stainless-steel", "M31"),
    ("mild-steel", "I1"),
    ("mild-steel", "I2"),
    ("stainless-steel", "I1"),
    ("stainless-steel", "I3"),
    ("flux-cored", "I1"),
]


def found(wire: str, gas: str):
    text = SHOP.replace('wire = "mild-steel"', f'wire = "{wire}"').replace('gas = "M21"', f'gas = "{gas}"')
    return list(gas_suits_wire(Project(parse_design(text), load_board("uno"))))


@pytest.mark.parametrize(("wire", "gas"), [(wire, gas) for wire, gases in USUAL.items() for gas in gases])
def test_usual_pairs_are_not_remarked_upon(wire, gas):
    assert found(wire, gas) == []


@pytest.mark.parametrize(("wire", "gas"), SPOILING)
def test_a_gas_that_spoils_the_weld_is_told_with_one_that_does_not(wire, gas):
    (finding,) = found(wire, gas)
    assert (finding.severity, finding.key) == (Severity.WARNING, "process.gas")
    assert found(wire, finding.remedy[:2] if finding.remedy.startswith("I") else finding.remedy[:3]) == []


def named(wire: str, label: str, gas: str):
    text = SHOP.replace('wire = "mild-steel"', f'wire = "{wire}"\nwire_class = "{label}"')
    return parse_design(text.replace('gas = "M21"', gas))


@pytest.mark.parametrize(
    ("label", "gas", "told"),
    [
        ("E71T-1C", 'gas = "M21"\ngas_mixture = "75/25"', "E71T-1C is not classified with 75/25"),
        ("E71T-1M", 'gas = "C1"', "E71T-1M is not classified with C1"),
        ("E71T-1M", 'gas = "M21"', ""),
        ("E71T-1C", 'gas = "C1"', ""),
    ],
)
def test_a_wire_with_another_gas_than_its_class_was_tested_with_is_told(label, gas, told):
    findings = list(gas_suits_wire(Project(named("flux-cored", label, gas), load_board("uno"))))
    assert [one.text for one in findings] == ([told] if told else [])


@pytest.mark.parametrize(
    ("wire", "label", "gas", "told"),
    [
        ("flux-cored", "E71T-11", 'gas = "M21"', "wire = 'self-shielded'; it makes its own gas"),
        ("mild-steel", "ER5356", 'gas = "I1"', "wire = 'aluminium'"),
        ("mild-steel", "ER70S-6", 'gas = "C1"\ngas_mixture = "75/25"', "gas = 'M21'"),
        ("mild-steel", "ER70S-6", 'gas = "M12"\ngas_mixture = "95/5 argon oxygen"', "gas = 'M22'"),
        ("mild-steel", "ER70S-6", 'gas = "M12"\ngas_mixture = "nectar"', "name the parts"),
    ],
)
def test_names_that_contradict_the_design_are_refused(wire, label, gas, told):
    with pytest.raises(DesignFileError) as refused:
        named(wire, label, gas)
    (complaint,) = refused.value.complaints
    assert told in f"{complaint.allowed}; {complaint.hint}"


def flowing(flow: str) -> Project:
    text = re.sub(r'gas_flow = "[^"]*"', f'gas_flow = "{flow}"', SHOP)
    return Project(parse_design(text), load_board("uno"))


@pytest.mark.parametrize("flow", ["8 L/min", "17 ft3/h", "14 L/min", "25 L/min", "52 ft3/h"])
def test_usual_flows_are_not_remarked_upon(flow):
    assert list(gas_flow_shields(flowing(flow))) == []


@pytest.mark.parametrize(
    ("flow", "says", "because"),
    [
        ("80 ft3/h", "a gas flow of 80 ft3/h is more than shields", "turbulent"),
        ("6 ft3/h", "a gas flow of 6 ft3/h is less than shields", "breaks up"),
        ("7.9 L/min", "a gas flow of 7.9 L/min is less than shields", "breaks up"),
        ("25.1 L/min", "a gas flow of 25.1 L/min is more than shields", "turbulent"),
    ],
)
def test_a_flow_that_cannot_work_is_told_in_the_unit_it_was_typed_in_and_alone(flow, says, because):
    project = flowing(flow)
    (finding,) = gas_flow_shields(project)
    assert finding.text.startswith(says)
    assert because in finding.reason
    assert "common practice, no source" in finding.reason
    # No preflow is long enough for it, so none is asked for.
    assert not [one for one in project.findings if one.rule == "preflow-clears-the-air"]
    mended = parse_design(
        applied(SHOP.replace('gas_flow = "', f'gas_flow = "{flow}" # "'), finding.remedies[0].changes)
    )
    assert list(gas_flow_shields(Project(mended, load_board("uno")))) == []


def test_preflow_is_advised_for_a_flow_that_works():
    little, much, least = (preflow_advice(flowing(flow).design) for flow in ("6 ft3/h", "80 ft3/h", "8 L/min"))
    assert little.time.setting_us == least.time.setting_us
    assert little.path.flow_l_min == 8
    assert little.time.reasons[0].startswith("A flow of 6 ft3/h shields after no preflow: set the flow first")
    assert much.path.flow_l_min == 25
    assert "set the flow" not in " ".join(least.time.reasons)


GASLESS = (ROOT / "examples" / "gasless_four_step.toml").read_text()


@pytest.mark.parametrize("name", ["preflow", "postflow"])
@pytest.mark.parametrize(
    "stands", ['"300 ms"', '{ from = "0 ms", to = "2 s", setting = "0 ms" }', '{ setting = "1 s", off_switch = true }']
)
def test_gas_times_left_in_without_gas_are_told_and_taken_out(name, stands):
    text = GASLESS.replace(f'{name} = "0 ms"', f"{name} = {stands}")
    (finding,) = gas_times_without_gas(Project(parse_design(text), load_board("leonardo")))
    assert (finding.severity, finding.key) == (Severity.WARNING, f"times.{name}")
    mended = parse_design(applied(text, finding.remedies[0].changes))
    assert list(gas_times_without_gas(Project(mended, load_board("leonardo")))) == []
    assert mended == parse_design(GASLESS)


def test_no_gas_and_no_gas_times_is_as_it_should_be():
    assert list(gas_times_without_gas(Project(parse_design(GASLESS), load_board("leonardo")))) == []
    assert list(gas_times_without_gas(Project(parse_design(SHOP), load_board("uno")))) == []
