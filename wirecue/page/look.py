"""How the page looks, and the little that the browser does by itself; the rest stands in page.css and page.js."""

from __future__ import annotations

import re
from pathlib import Path

from codegen.look import COMMANDED, FONT, FRAME, HOT, INK, PALE, TINT, WARM

PAPER = "#f6f7f5"
_COLOURS = {
    "ink": INK,
    "pale": PALE,
    "frame": FRAME,
    "lead": COMMANDED,
    "tint": TINT,
    "paper": PAPER,
    "warm": WARM,
    "hot": HOT,
    "letters": FONT,
}


def head_html() -> str:
    """Return the page's style, in the colours of our pictures."""
    values = " ".join(f"--{name}: {value};" for name, value in _COLOURS.items())
    return f"<style>:root {{ {values} }}\n{_asset('page.css')}</style>"


def body_html() -> str:
    """Return what must work without the server: the keys, and the notice that the server has gone."""
    return f"{_asset('gone.html')}<script>{_asset('page.js')}</script>"


def _asset(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


def in_page(svg: str, name: str, label: str) -> str:
    """Return a picture's SVG document as a part of the page.

    Several pictures stand in one page, so the ids in each get its `name` in front; `label` tells those who do not
    see it what it is.
    """
    body = svg[svg.index("<svg") :]
    body = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', body)
    body = re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", body)
    body = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', body)
    return body.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)
