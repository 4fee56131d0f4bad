"""The picture of the supply: every corner and phase, its limits, and text escaped."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from codegen.charts.chart import Axis, canvas
from codegen.charts.supply import WIDTH, _scale, supply_svg
from tests.conftest import EXAMPLES
from tests.support.pictures import outside, overlapping, words_of
from wirecue.projects import load_project, parse_project


def texts(svg: str) -> list[str]:
    return [item.text or "" for item in ElementTree.fromstring(svg).iter() if item.tag.endswith("text")]


def test_it_names_every_corner_phase_and_limit(example: Path) -> None:
    project = load_project(example)
    found = project.supply
    words = texts(supply_svg(found))
    for corner in found.budget.corners:
        assert corner.title in words
    for phase in found.budget.phases:
        assert phase.load.phase.word in words
    assert f"regulator's rated input {found.budget.regulator.input_max_v:g} V" in words
    assert any(text.endswith("The supply carries the add-on.") for text in words)
    assert supply_svg(found) == supply_svg(found)


@pytest.mark.parametrize(
    ("rated", "capacitor"), [("42 V", "63 V"), ("60 V", "50 V"), ("60 V", "63 V"), ("60 V", "80 V"), ("60 V", "160 V")]
)
def test_no_words_overlap_or_leave_the_picture(rated: str, capacitor: str) -> None:
    text = re.sub(r"(?m)^(regulator_input_max|reservoir_rating) = .*\n", "", EXAMPLES[0].read_text())
    stated = f'regulator_input_max = "{rated}"\nreservoir_rating = "{capacitor}"'
    svg = supply_svg(parse_project(re.sub(r"(?m)^reservoir = ", f"{stated}\nreservoir = ", text), "design").supply)
    words = words_of(svg)
    assert overlapping([one for one in words if "capacitor" in one.text or "regulator" in one.text]) == []
    assert outside(words, WIDTH, float(ElementTree.fromstring(svg).attrib["height"])) == []


def test_the_last_tick_with_its_unit_keeps_within_the_picture() -> None:
    picture = canvas(WIDTH, 100)
    for most in range(100, 200):
        _scale(picture, Axis(0.0, float(most), WIDTH / 2, WIDTH - 18), 0, 80, "ms")
    assert outside(words_of(str(picture.as_svg())), WIDTH, 100) == []


def test_a_collapse_is_said_where_the_bar_would_be(example: Path) -> None:
    text = re.sub(r'(?m)^reservoir = .*$', 'reservoir = "10 uF"\nrectifier = "half-wave"\nregulator = "linear"',
                  example.read_text())  # fmt: skip
    project = parse_project(text, "design")
    found = project.supply
    words = texts(supply_svg(found))
    broken = [corner for corner in found.budget.corners if not corner.state.settled]
    broken_phases = [phase for phase in found.budget.phases if not phase.state.settled]
    assert words.count("collapses: no steady state") == len(broken) + len(broken_phases)
    assert any(text.startswith("The supply does not carry the add-on") for text in words)


def test_text_of_a_design_is_escaped(example: Path) -> None:
    text = re.sub(r"(?m)^title = .*$", 'title = "</svg><script>&"', example.read_text())
    project = parse_project(text, "design")
    svg = supply_svg(project.supply)
    assert "<script>" not in svg
    assert "</svg><script>&: the 24 VAC supply" in texts(svg)
