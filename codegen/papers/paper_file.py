"""A paper in the form that a file's name asks for."""

from __future__ import annotations

from codegen.papers.blocks import Paper
from codegen.papers.paper_html import paper_html
from codegen.papers.paper_pdf import paper_pdf


def paper_file(paper: Paper, name: str) -> bytes:
    """Return the paper as PDF where `name` ends in .pdf, in any case of letters; as HTML otherwise."""
    return paper_pdf(paper) if name.lower().endswith(".pdf") else paper_html(paper).encode()
