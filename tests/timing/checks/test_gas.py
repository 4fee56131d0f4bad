"""The rule on the shielding gas: silent for the usual pairs, loud for those that spoil a weld (common practice)."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.checks.finding import Severity
from timing.checks.process import gas_suits_wire
from timing.design.loading import parse_design
from timing.design.text_file import DesignFileError
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
