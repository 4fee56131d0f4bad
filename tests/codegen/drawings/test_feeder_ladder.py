"""The drawings of the feeder can be read: no text on another, on a wire or off the sheet."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings

from codegen.drawings.feeder_ladder import feeder_sheets
from codegen.drawings.files import FEEDER_FILES, drawing_files
from tests.support.drawing_reading import overlaps, read
from tests.support.drawn_designs import project_of
from tests.timing.circuit.test_feeder_ladder import AS_FOUND, MACHINES


def test_the_examples_are_drawn_without_overlap(example: Path) -> None:
    project = project_of(example.read_text())
    sheets = feeder_sheets(project)
    assert len(sheets) == 2
    assert [problem for svg in sheets for problem in overlaps(read(svg))] == []
    files = drawing_files(project)
    assert [files[name] for name in FEEDER_FILES] == list(sheets)


@settings(max_examples=15)
@given(MACHINES, AS_FOUND)
def test_every_machine_is_drawn_without_overlap(text: str, as_found: str) -> None:
    for svg in feeder_sheets(project_of(text + as_found)):
        assert list(overlaps(read(svg))) == []


def test_a_machine_that_was_not_described_gets_no_drawing(example: Path) -> None:
    lines = example.read_text().splitlines()
    start = lines.index("[feeder.as_found]")
    kept = [*lines[:start], *lines[lines.index("", start) :]]
    project = project_of("\n".join(kept))
    assert feeder_sheets(project) == ()
    assert not set(FEEDER_FILES) & set(drawing_files(project))
