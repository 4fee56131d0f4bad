"""Valves, motors and contactors respond late, and to short commands not at all."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import ROOT
from timing.circuit.drives import drives
from timing.design.loading import parse_design
from timing.design.suppression import off_delay_of
from timing.process.case import burnback_case
from timing.sequence.core.engine import Edge
from timing.sequence.core.table import Output
from timing.sequence.simulate import actual_edges, lagged, simulate, usual_script
from wirecue.projects import load_board


def edges(*instants_us: int) -> tuple[Edge, ...]:
    return tuple(Edge(at_us, Output.GAS, index % 2 == 0) for index, at_us in enumerate(instants_us))


def test_each_edge_comes_late_by_its_own_delay():
    assert lagged(edges(100, 500), 30, 50) == (Edge(130, Output.GAS, True), Edge(550, Output.GAS, False))


def test_a_short_command_has_no_effect():
    assert lagged(edges(100, 120), 30, 50) == ()


def test_a_short_break_has_no_effect():
    assert lagged(edges(100, 500, 520, 900), 30, 50) == (
        Edge(130, Output.GAS, True),
        Edge(950, Output.GAS, False),
    )


@given(st.lists(st.integers(1, 200), max_size=20), st.integers(0, 100), st.integers(0, 100))
def test_actual_edges_alternate_in_order(steps, on_us, off_us):
    at_us, instants = 0, []
    for step in steps:
        at_us += step
        instants.append(at_us)
    actual = lagged(edges(*instants), on_us, off_us)
    assert [edge.on for edge in actual] == [index % 2 == 0 for index in range(len(actual))]
    assert all(earlier.at_us <= later.at_us for earlier, later in itertools.pairwise(actual))
    if instants:
        # What it ends in is what was commanded last.
        assert (len(actual) % 2 == 1) == (len(instants) % 2 == 1)


@pytest.mark.parametrize(
    ("drive", "suppression"), [("relay", "diode"), ("relay", "varistor"), ("mosfet", "diode"), ("opto-triac", "diode")]
)
def test_the_suppression_of_a_coil_moves_what_really_happens_and_the_burnback_with_it(drive, suppression):
    """The actual track, the burnback computation and the circuit itself take the release from one place."""
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    if drive == "mosfet":
        text = text.replace('coil = { hold = "0.6 A"', 'coil = { kind = "dc", fed_from = "elsewhere", hold = "0.6 A"')
    plain = parse_design(text)
    chosen = f'[feeder.contactor]\ndrive = "{drive}"\nsuppression = "{suppression}"'
    design = parse_design(text.replace("[feeder.contactor]", chosen))
    later_us = off_delay_of(design, design.feeder.contactor).typical_us - plain.feeder.contactor.off_delay.typical_us
    assert (later_us > 2_000, later_us < 0, later_us == 0) == (
        suppression == "diode" and drive != "opto-triac", suppression == "varistor", drive == "opto-triac",
    )  # fmt: skip
    off_us = [
        actual_edges(one, simulate(one, usual_script(one)))[Output.CONTACTOR][-1].at_us for one in (plain, design)
    ]
    assert off_us[1] - off_us[0] == later_us
    cases = [burnback_case(one).contactor_off.typical_s for one in (plain, design)]
    assert cases[1] - cases[0] == pytest.approx(later_us / 1e6)
    wired = drives(design, load_board("uno"))[-1]
    assert wired.role == "contactor"
    assert wired.off_delay == off_delay_of(design, design.feeder.contactor)
