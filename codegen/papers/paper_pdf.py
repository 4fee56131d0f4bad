"""A paper as PDF, on pages that fit A4 and Letter both; needs no browser, and no typeface of the machine."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict
from importlib.resources import as_file, files
from typing import Any

from codegen.look import FONT
from codegen.papers.blocks import Paper
from codegen.papers.typesetting import typeset

_FONT_IN_PDF = "Bitstream Vera Sans"
"""Comes with reportlab, so that pages break alike on every machine."""


def paper_pdf(paper: Paper) -> bytes:
    """Return the PDF document of a paper, the same bytes for the same paper; for screen readers too (PDF/UA-1).

    Letters beyond Latin, Greek and Cyrillic are taken from the typefaces of the machine, if it has them; such a paper
    may differ from machine to machine.
    """
    template = files("board_templates").joinpath("common/papers/paper.typ").read_text(encoding="utf-8")
    with as_file(files("reportlab").joinpath("fonts")) as typefaces:
        inputs = {"paper": json.dumps(_facts(paper))}
        return typeset({"template": template, "inputs": inputs, "typefaces": str(typefaces)})


def _facts(paper: Paper) -> Mapping[str, Any]:
    facts = asdict(paper, dict_factory=_plain)
    for section in facts["sections"]:
        for block in section["blocks"]:
            if block["kind"] == "picture":
                block["svg"] = block["svg"].replace(FONT, _FONT_IN_PDF)
    return facts


def _plain(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    return {key: sorted(value) if isinstance(value, frozenset) else value for key, value in pairs}
