"""The schematic says what the netlist says, and can be read: no text on another, on a wire or off the sheet."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings

from codegen.drawings.schematic import schematic
from tests.support.drawing_reading import connected, overlaps, read
from tests.support.drawn_designs import DESIGNS, INTERPOSED, project_of
from timing.project import Project


def holds(project: Project) -> None:
    wiring = project.netlist
    sheets = [read(svg) for svg in schematic(project)]
    counts = sum((sheet.counts for sheet in sheets), start=type(sheets[0].counts)())
    assert counts == {f"{part.ref}.{name}": 1 for part in wiring.parts for name in part.terminals}
    drawn = {frozenset(group) for group in connected(sheets)}
    assert drawn == {frozenset(map(str, net.terminals)) for net in wiring.nets}
    assert [problem for sheet in sheets for problem in overlaps(sheet)] == []


def test_the_examples_are_drawn_as_wired_and_without_overlap(example: Path) -> None:
    holds(project_of(example.read_text()))


@settings(max_examples=12)
@given(DESIGNS)
def test_every_kind_of_circuit_is_drawn_as_wired_and_without_overlap(text: str) -> None:
    holds(project_of(text))


@settings(max_examples=5)
@given(INTERPOSED)
def test_interposing_contactors_are_drawn_as_wired_and_without_overlap(text: str) -> None:
    holds(project_of(text))
