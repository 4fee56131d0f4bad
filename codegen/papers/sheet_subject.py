"""What the build sheet is written from: the design and everything computed about it, each once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from codegen.papers.bench_run import BenchRun
from timing.checks.finding import Finding
from timing.design.board import Board
from timing.design.design import Design
from timing.power.report import Report
from timing.process.advice import Advice, advise
from timing.process.errors import ProcessError
from timing.project import Project


@dataclass(frozen=True)
class SheetSubject:
    """A design on its board with what was computed about it."""

    design: Design
    board: Board
    version: str
    """Of this tool."""
    supply: Report
    project: Project
    findings: Sequence[Finding]
    advice: Advice | None
    """None where the process as described cannot burn; a finding says why."""
    bench: BenchRun | None = None
    """None: not run yet."""


def sheet_subject(
    design: Design,
    board: Board,
    version: str,
    *,
    findings: Sequence[Finding] | None = None,
    supply: Report | None = None,
    advice: Advice | None = None,
    bench: BenchRun | None = None,
) -> SheetSubject:
    """Return the subject of a sheet; what is not handed in is computed."""
    project = Project(design, board)
    supply = supply or project.supply
    return SheetSubject(
        design=design,
        board=board,
        version=version,
        supply=supply,
        project=project,
        findings=project.findings if findings is None else findings,
        advice=advice or _advice(design),
        bench=bench,
    )


def _advice(design: Design) -> Advice | None:
    try:
        return advise(design)
    except ProcessError:
        return None
