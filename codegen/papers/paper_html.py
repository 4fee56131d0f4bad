"""A paper as one HTML document that needs nothing else; every text in it is escaped."""

from __future__ import annotations

import base64
import re
from functools import cache

import jinja2
from markupsafe import Markup, escape

from codegen.papers.blocks import Paper
from codegen.rendering import TemplateFolders, render

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
    made.filters.update(marked=_marked, data_address=_data_address, css_text=_css_text)
    return made


def _marked(text: str) -> Markup:
    """Escape a text and show what stands in backticks as code."""
    return Markup(_CODE.sub(r"<code>\1</code>", str(escape(text))))


def _data_address(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()


def _css_text(text: str) -> Markup:
    """Return a text as a CSS string; every character outside letters, digits and space as its number."""
    return Markup('"' + re.sub(r"[^A-Za-z0-9 .,]", lambda match: f"\\{ord(match[0]):06x}", text) + '"')
