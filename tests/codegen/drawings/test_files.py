"""The drawings' files: a sheet of A4 each, the same bytes every time, and part of every build."""

from __future__ import annotations

import re
from pathlib import Path

from codegen.build import build_plan
from codegen.drawings.files import drawing_files, numbered
from codegen.sketch import sketch_files
from tests.conftest import EXAMPLES
from wirecue.projects import load_project


def test_there_is_every_sheet_and_both_lists(example: Path) -> None:
    project = load_project(example)
    files = drawing_files(project)
    assert {"schematic.svg", "schematic-3.svg", "wiring.svg", "wiring-2.svg", "bypass.svg"} <= set(files)
    assert {"parts.csv", "wires.csv"} <= set(files)
    assert drawing_files(load_project(example)) == files


def test_the_drawings_are_part_of_every_build() -> None:
    source = EXAMPLES[0]
    project = load_project(source)
    built = build_plan(project, sketch_files(project, "1"), "1", source.read_text()).files
    assert all(built[name] == text.encode() for name, text in drawing_files(project).items())


def test_every_drawing_is_a_sheet_of_a4_in_landscape(example: Path) -> None:
    project = load_project(example)
    for name, text in drawing_files(project).items():
        if name.endswith(".svg"):
            head = text[: text.index("<defs")]
            assert re.search(r'width="297mm" height="210mm" viewBox="0 0 297.0 210.0"', head.replace("\n", " ")), name


def test_the_first_sheet_has_the_plain_name() -> None:
    assert list(numbered("wiring", ["a", "b", "c"])) == ["wiring.svg", "wiring-2.svg", "wiring-3.svg"]
