"""A paper as PDF, on pages that fit A4 and Letter both; needs no browser, and no typeface of the machine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from functools import cache
from importlib.resources import as_file, files
from typing import TYPE_CHECKING, Any

from codegen.look import FONT
from codegen.papers.blocks import Paper

if TYPE_CHECKING:
    from typst import Fonts, PDFStandard

_FONT_IN_PDF = "Bitstream Vera Sans"
"""Comes with reportlab, so that pages break alike on every machine."""


def paper_pdf(paper: Paper) -> bytes:
    """Return the PDF document of a paper, the same bytes for the same paper; for screen readers too (PDF/UA-1).

    Letters beyond Latin, Greek and Cyrillic are taken from the typefaces of the machine, if it has them; such a paper
    may differ from machine to machine.
    """
    from typst import TypstError

    try:
        return _compiled(paper, _typefaces(of_machine=False), standards=["ua-1"])
    except TypstError:
        # PDF/UA refuses what it has no letter for. Shown with a gap it is still of use in a workshop.
        return _compiled(paper, _typefaces(of_machine=True), standards=[])


def _compiled(paper: Paper, typefaces: Fonts, standards: list[PDFStandard]) -> bytes:
    import typst

    template = files("board_templates").joinpath("common/papers/paper.typ").read_bytes()
    facts = json.dumps(_facts(paper))
    return typst.compile(
        template, sys_inputs={"paper": facts}, font_paths=typefaces, timestamp=0, pdf_standards=standards
    )


@cache
def _typefaces(of_machine: bool) -> Fonts:
    from typst import Fonts

    with as_file(files("reportlab").joinpath("fonts")) as folder:
        return Fonts(include_system_fonts=of_machine, font_paths=[folder])


def _facts(paper: Paper) -> Mapping[str, Any]:
    facts = asdict(paper, dict_factory=_plain)
    for section in facts["sections"]:
        for block in section["blocks"]:
            if block["kind"] == "picture":
                block["svg"] = block["svg"].replace(FONT, _FONT_IN_PDF)
    return facts


def _plain(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    return {key: sorted(value) if isinstance(value, frozenset) else value for key, value in pairs}
