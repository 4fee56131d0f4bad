"""The verdict: never 'carries' where a rating is broken or a coil may not pull in, and always with its margins."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.power.verdict import heaviest_share, supply_verdict
from timing.project import Project

Changed = Callable[..., Design]
SIXTY = ("[supply]", '[supply]\nregulator_input_max = "60 V"')


def test_a_sound_supply_carries_and_says_by_how_much(changed: Changed, board: Board) -> None:
    said = supply_verdict(Project(changed(SIXTY), board).supply)
    assert said.carries
    assert said.answer == "The supply carries the add-on."
    margins = (
        r"^The winding carries 26 % of its rating at most, on a bad day the reservoir stays 1\d\.\d V above what the "
        r"regulator needs, .* coils need at least\.$"
    )
    assert re.search(margins, said.margin), said.margin


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (('rating = "100 VA"', 'rating = "19 VA"'), r"overloaded: with the add-on it carries 13\d % .* 117 % without"),
        (('measured_loaded = "25.2 V"', 'measured_loaded = "18.0 V"'), r"coils may not pull in: .* 1\d\.\d V, or to 1"),
        (('reservoir = "1000 uF"', 'reservoir = "47 uF"\nregulator = "linear"\nrectifier = "half-wave"'), "runs empty"),
        (
            ('reservoir = "1000 uF"', 'reservoir = "1000 uF"\nfuse = "10 A"'),
            "not carry .* too little to open 10 A",
        ),
        (('reservoir = "1000 uF"', 'reservoir = "1000 uF"\ntrigger_resistor = "1 kohm"'), "circuits must not be built"),
    ],
)
def test_what_is_wrong_is_the_first_sentence(
    change: tuple[str, str], told: str, changed: Changed, board: Board
) -> None:
    said = supply_verdict(Project(changed(SIXTY, change), board).supply)
    assert not said.carries
    assert "carries the add-on" not in said.text
    assert re.search(told, said.answer), said.answer
    assert said.answer.endswith(".")


def test_the_winding_is_judged_in_its_worst_phase(changed: Changed, board: Board) -> None:
    loaded = heaviest_share(Project(changed(), board).budget)
    assert loaded.phase == "weld"
    assert loaded.alone_share == pytest.approx(0.93 / (100.0 / 24.0))
    assert loaded.share > loaded.alone_share
