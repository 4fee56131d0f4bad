"""The wiring sheets say what the netlist and the wire list say, and can be read."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

from hypothesis import given, settings

from codegen.drawings.schematic import schematic
from codegen.drawings.wiring import bypass_sheet, wiring_sheets
from tests.conftest import ROOT
from tests.support.drawing_reading import connected, overlaps, read
from tests.support.drawn_designs import DESIGNS, INTERPOSED, project_of
from timing.circuit.lists import wire_list
from timing.project import Project
from wirecue.projects import parse_project


def holds(project: Project) -> None:
    wiring = project.netlist
    sheets = [read(svg) for svg in wiring_sheets(project)]
    counts: Counter[str] = Counter()
    for sheet in sheets:
        counts += sheet.counts
    assert counts == {f"{part.ref}.{name}": 1 for part in wiring.parts for name in part.terminals}
    assert {frozenset(group) for group in connected(sheets)} == {
        frozenset(map(str, net.terminals)) for net in wiring.nets
    }
    plug = read(bypass_sheet(project))
    assert [problem for sheet in (*sheets, plug) for problem in overlaps(sheet)] == []


def test_the_examples_are_wired_as_in_the_netlist_and_without_overlap(example: Path) -> None:
    holds(project_of(example.read_text()))


@settings(max_examples=8)
@given(DESIGNS)
def test_every_kind_of_circuit_is_wired_as_in_the_netlist_and_without_overlap(text: str) -> None:
    holds(project_of(text))


@settings(max_examples=4)
@given(INTERPOSED)
def test_interposing_contactors_are_wired_as_in_the_netlist_and_without_overlap(text: str) -> None:
    holds(project_of(text))


def test_every_wire_stands_on_its_line_with_number_and_size(example: Path) -> None:
    project = project_of(example.read_text())
    wiring = project.netlist
    texts = [text for svg in wiring_sheets(project) for text, _ in read(svg).texts]
    for wire in wire_list(wiring):
        if wire.on_board:
            assert str(wire.number) in texts
        else:
            start = f"{wire.number}: {wire.gauge}"
            assert sum(text == start or text.startswith(f"{start}, ") for text in texts) == 1


def test_cautions_and_treatments_are_told_on_the_sheets(example: Path) -> None:
    project = project_of(example.read_text())
    wiring = project.netlist
    words = " ".join(text for svg in wiring_sheets(project) for text, _ in read(svg).texts)
    for caution in wiring.cautions:
        assert caution.text in words
    for wire in wire_list(wiring):
        assert wire.on_board or wire.treatment in words


def test_the_bypass_plug_shows_every_way_once_and_every_link(example: Path) -> None:
    project = project_of(example.read_text())
    wiring = project.netlist
    texts = [text for text, _ in read(bypass_sheet(project)).texts]
    for mate in wiring.mates:
        for way in wiring.part(mate.fixed).terminals:
            assert texts.count(way) == 1
    for number, link in enumerate(wiring.bypass, start=1):
        assert f"{number}  {link.from_way} to {link.to_way}" in texts


def test_a_load_above_extra_low_voltage_has_plug_caution_and_bypass_of_its_own() -> None:
    text = (ROOT / "examples/shop_two_step.toml").read_text()
    coil = 'coil = { voltage = "115 V", fed_from = "elsewhere", hold = "0.2 A" }'
    project = project_of(text.replace('coil = { hold = "0.6 A", inrush = "3.5 A" }', coil))
    sheets = [*schematic(project)[1:2], wiring_sheets(project)[0]]
    for words in (" ".join(text for text, _ in read(svg).texts) for svg in sheets):
        assert "J2" in words
        assert "P2" in words
        assert "for a licensed electrician" in words
    plug = " ".join(text for text, _ in read(bypass_sheet(project)).texts)
    assert "plug P00, fits socket J2" in plug
    assert "for a licensed electrician" in plug


def test_the_same_design_gives_the_same_sheets(example: Path) -> None:
    text = example.read_text()
    assert wiring_sheets(project_of(text)) == wiring_sheets(parse_project(text, "again"))


def test_text_of_a_design_is_escaped(example: Path) -> None:
    text = re.sub(r"(?m)^title = .*$", 'title = "</svg><script>&amp;"', example.read_text())
    project = project_of(text)
    for svg in (*wiring_sheets(project), bypass_sheet(project)):
        assert "<script>" not in svg
        assert "</svg><script>&amp;" in [words for words, _ in read(svg).texts]
