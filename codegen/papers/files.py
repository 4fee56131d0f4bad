"""The papers of a build, by file name."""

from __future__ import annotations

from codegen.papers.blocks import paper_html, paper_pdf
from codegen.papers.build_sheet import build_paper
from codegen.papers.dial_pages import dial_page
from codegen.papers.shapes import A4, BOTH, US_LETTER, page_svg, pages_pdf
from codegen.papers.sheet import BenchRun, SheetSource
from timing.project import Project


def paper_files(project: Project, version: str, bench: BenchRun | None = None) -> dict[str, bytes]:
    """Return build sheet and dial plates of a project, each in two forms; the same bytes for the same arguments.

    version: of this tool. bench: a bench run to show.
    """
    sheet = build_paper(SheetSource(project, version, bench))
    return {
        "sheet.html": paper_html(sheet).encode(),
        "sheet.pdf": paper_pdf(sheet),
        "dials.svg": page_svg(dial_page(project, version, BOTH)).encode(),
        "dials.pdf": dials_pdf(project, version),
    }


def dials_pdf(project: Project, version: str) -> bytes:
    """Return the dial plates as a PDF of two pages, A4 and Letter, of which one is printed."""
    pages = [dial_page(project, version, paper) for paper in (A4, US_LETTER)]
    return pages_pdf(pages, f"{project.design.name}: dial plates")
