"""What a paper is made of, and a paper as HTML and as PDF: two forms of one value, neither with anything outside it."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from importlib.resources import as_file, files
from typing import Any

import jinja2
from markupsafe import Markup, escape

from codegen.papers.typesetting import typeset
from codegen.rendering import TemplateFolders, render
from codegen.style import FONT


@dataclass(frozen=True)
class Paragraph:
    """Running text. In all texts, what stands in `backticks` is shown as code."""

    text: str
    kind: str = "paragraph"


@dataclass(frozen=True)
class Caution:
    """A warning, in the place where it matters."""

    text: str
    kind: str = "caution"


@dataclass(frozen=True)
class Steps:
    """A list, numbered or not, or with boxes to tick."""

    items: tuple[str, ...]
    mark: str = "number"
    """number, bullet or box."""
    kind: str = "steps"


@dataclass(frozen=True)
class Grid:
    """Rows under a head. An empty cell under a column named in `fill` is a place to write in."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    """Columns of figures, set to the right."""
    fill: frozenset[int] = frozenset()
    """Columns to write in by hand."""
    title: str = ""
    whole: bool = True
    """False: may go over to the next page between rows, however short it is."""
    kind: str = "table"


@dataclass(frozen=True)
class Picture:
    """A drawing. Shown as an image, so that the ids and scripts of several do not meet."""

    svg: str
    alternative: str
    """What it shows, in words."""
    sheet: bool = False
    """True for a drawing made for a sheet of its own, in landscape."""
    kind: str = "picture"


@dataclass(frozen=True)
class Fill:
    """A line to write on, with what belongs there."""

    label: str
    hint: str = ""
    unit: str = ""
    boxes: tuple[str, ...] = ()
    """Answers to tick; they take the place of the line."""
    kind: str = "fill"


Block = Paragraph | Caution | Steps | Grid | Picture | Fill


@dataclass(frozen=True)
class PaperSection:
    """A heading with what stands under it."""

    key: str
    title: str
    blocks: Sequence[Block]
    new_page: bool = False


@dataclass(frozen=True)
class Paper:
    """A whole paper."""

    title: str
    subtitle: str
    foot: str
    """At the foot of every page."""
    sections: Sequence[PaperSection]


_CODE = re.compile(r"`([^`]+)`")


def paper_html(paper: Paper) -> str:
    """Return the HTML document of a paper."""
    return render(_environment(), "paper.html.j2", {"paper": paper})


@cache
def _environment() -> jinja2.Environment:
    made = jinja2.Environment(
        loader=TemplateFolders("common/papers"),
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
        autoescape=True,
    )
    made.filters.update(marked=marked_html, data_address=_data_address, css_text=_css_text)
    return made


def marked_html(text: str) -> Markup:
    """Escape a text and show what stands in backticks as code."""
    return Markup(_CODE.sub(r"<code>\1</code>", str(escape(text))))


def _data_address(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _css_text(text: str) -> Markup:
    """Return a text as a CSS string; every character outside letters, digits and space as its number."""
    return Markup('"' + re.sub(r"[^A-Za-z0-9 .,]", lambda match: f"\\{ord(match[0]):06x}", text) + '"')


_FONT_IN_PDF = "Bitstream Vera Sans"
"""Comes with reportlab, so that pages break alike on every machine."""


def paper_pdf(paper: Paper) -> bytes:
    """Return the PDF document of a paper, as `paper_pdfs` does of several."""
    return paper_pdfs([paper])[0]


def paper_pdfs(papers: Sequence[Paper]) -> list[bytes]:
    """Return the PDF document of each paper, the same bytes for the same paper; for screen readers too (PDF/UA-1).

    The typesetter starts once for all of them. Letters beyond Latin, Greek and Cyrillic are taken from the typefaces of
    the machine, if it has them; such a paper may differ from machine to machine.
    """
    template = files("board_templates").joinpath("common/papers/paper.typ").read_text(encoding="utf-8")
    with as_file(files("reportlab").joinpath("fonts")) as typefaces:
        return typeset(
            [
                {"template": template, "inputs": {"paper": json.dumps(_facts(paper))}, "typefaces": str(typefaces)}
                for paper in papers
            ]
        )


def _facts(paper: Paper) -> Mapping[str, Any]:
    facts = asdict(paper, dict_factory=_plain)
    for section in facts["sections"]:
        for block in section["blocks"]:
            if block["kind"] == "picture":
                block["svg"] = block["svg"].replace(FONT, _FONT_IN_PDF)
    return facts


def _plain(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    return {key: sorted(value) if isinstance(value, frozenset) else value for key, value in pairs}


def paper_file(paper: Paper, name: str) -> bytes:
    """Return one paper, as `paper_files` does several."""
    return paper_files([(paper, name)])[0]


def paper_files(papers: Sequence[tuple[Paper, str]]) -> list[bytes]:
    """Return each paper as PDF where the name beside it ends in .pdf, in any case of letters; as HTML otherwise."""
    printed = [name.lower().endswith(".pdf") for _, name in papers]
    pdfs = iter(paper_pdfs([paper for (paper, _), pdf in zip(papers, printed, strict=True) if pdf]))
    return [next(pdfs) if pdf else paper_html(paper).encode() for (paper, _), pdf in zip(papers, printed, strict=True)]
