"""Every fault is explained, and a design is told of those that it can show."""

from __future__ import annotations

from tests.conftest import ROOT
from timing.design.loading import load_design
from timing.sequence.core.table import TABLE, Fault
from timing.sequence.faults import EXPLANATIONS, faults_of
from timing.sequence.of_design import table_of


def faults(name: str) -> set[Fault]:
    return set(faults_of(table_of(load_design(ROOT / "examples" / f"{name}.toml"))))


def test_every_fault_says_what_it_means_and_what_to_do():
    assert set(EXPLANATIONS) == set(Fault) - {Fault.NONE}
    assert all(told.means.endswith(".") and told.remedy.endswith(".") for told in EXPLANATIONS.values())


def test_the_whole_table_shows_them_all():
    assert faults_of(TABLE) == tuple(EXPLANATIONS)


def test_a_design_shows_what_it_has_only():
    assert faults("spot_stitch") == set(EXPLANATIONS) - {Fault.INTERLOCK, Fault.INCH_LIMIT}
    assert not faults("shop_two_step") & {Fault.ARC_STAYS, Fault.ARC_START, Fault.INTERLOCK}
    assert Fault.INTERLOCK in faults("gasless_four_step")
