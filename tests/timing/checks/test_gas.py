"""The rule on the shielding gas: silent for the usual pairs, loud for those that spoil a weld (common practice)."""

from __future__ import annotations

import pytest

from tests.conftest import ROOT
from timing.checks.finding import Severity
from timing.checks.process import gas_suits_wire
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
USUAL = {
    "mild-steel": ["M20", "M21", "C1"],
    "stainless-steel": ["M12"],
    "aluminium": ["I1", "I3"],
    "flux-cored": ["M21", "C1"],
}
SPOILING = [("aluminium", "C1"), ("aluminium", "M21"), ("stainless-steel", "C1"), ("mild-steel", "I1")]


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
