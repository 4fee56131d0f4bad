"""Sheets whose advice is drawn from few welds: what it says is tested elsewhere, here it only has to stand there."""

from __future__ import annotations

from codegen.papers.sheet import BenchRun, SheetSource
from timing.design.design import Design
from timing.process.advice import advise
from timing.project import Project
from wirecue.projects import load_board

DRAWS = 100


def quick_sheet(design: Design, bench: BenchRun | None = None, **results: object) -> SheetSource:
    """Return what a sheet of `design` is written from. results: of the project, put in place of computed ones."""
    project = Project(design, load_board(design.board.type))
    # A cached result is kept under its own name.
    project.__dict__.update({"advice": advise(design, draws=DRAWS), **results})
    return SheetSource(project, "1.2.3", bench)
