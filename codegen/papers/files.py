"""The papers of a build, by file name."""

from __future__ import annotations

from collections.abc import Sequence

from codegen.papers.bench_run import BenchRun
from codegen.papers.build_sheet import build_paper
from codegen.papers.dial_pdf import pages_pdf
from codegen.papers.dial_sheet import A4, BOTH, LETTER, dial_page
from codegen.papers.dial_svg import page_svg
from codegen.papers.paper_html import paper_html
from codegen.papers.paper_pdf import paper_pdf
from codegen.papers.sheet_subject import sheet_subject
from timing.checks.finding import Finding
from timing.design.board import Board
from timing.design.design import Design
from timing.power.report import Report
from timing.process.advice import Advice


def paper_files(
    design: Design,
    board: Board,
    version: str,
    *,
    findings: Sequence[Finding] | None = None,
    supply: Report | None = None,
    advice: Advice | None = None,
    bench: BenchRun | None = None,
) -> dict[str, bytes]:
    """Return build sheet and dial plates of a design, each in two forms; the same bytes for the same arguments.

    version: of this tool. findings, supply, advice: as computed already; computed here where they are left out.
    bench: a bench run to show, see bench_run.
    """
    subject = sheet_subject(design, board, version, findings=findings, supply=supply, advice=advice, bench=bench)
    sheet = build_paper(subject)
    return {
        "sheet.html": paper_html(sheet).encode(),
        "sheet.pdf": paper_pdf(sheet),
        "dials.svg": page_svg(dial_page(design, board, version, BOTH)).encode(),
        "dials.pdf": dials_pdf(design, board, version),
    }


def dials_pdf(design: Design, board: Board, version: str) -> bytes:
    """Return the dial plates as a PDF of two pages, A4 and Letter, of which one is printed."""
    pages = [dial_page(design, board, version, paper) for paper in (A4, LETTER)]
    return pages_pdf(pages, f"{design.name}: dial plates")
