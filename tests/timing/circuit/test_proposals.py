"""Proposed parts."""

from __future__ import annotations

from timing.checks.remedies import applied
from timing.circuit.proposals import proposals
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.project import Project


def test_proposals_written_into_the_design_close_it_and_leave_nothing_open(shop_text: str, board: Board) -> None:
    offered = proposals(Project(parse_design(shop_text), board))
    assert {proposal.change.key for proposal in offered} == {
        "supply.regulator_input_max",
        "supply.regulator_output",
        "supply.reservoir_ripple",
        "supply.fuse",
        "supply.trigger_resistor",
        "supply.trigger_bleed",
    }
    assert all(proposal.reason and proposal.part for proposal in offered)
    done = Project(parse_design(applied(shop_text, [proposal.change for proposal in offered])), board)
    assert done.supply.errors == ()
    assert proposals(done) == ()


def test_a_capacitor_rated_too_low_is_offered_a_better_one(shop_text: str, board: Board) -> None:
    text = shop_text.replace('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nreservoir_rating = "35 V"')
    offered = {proposal.change.key: proposal for proposal in proposals(Project(parse_design(text), board))}
    assert offered["supply.reservoir_rating"].change.value == "50 V"
    assert not offered["supply.reservoir_rating"].open
