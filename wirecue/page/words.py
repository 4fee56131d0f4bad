"""Texts of the model as parts of the page, every one escaped."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Sequence
from html import escape

from codegen.papers.blocks import marked_html
from wirecue.page.cards import STATIONS

CARDS_OF_COMMANDS = {
    "advise": "advise",
    "bench": "bench",
    "build": "build",
    "check": "findings",
    "commission": "commissioning",
    "fit": "welds",
    "flash": "flash",
    "log": "log",
    "parts": "parts",
    "sheet": "build",
    "simulate": "timeline",
    "supply": "supply",
    "symptom": "symptoms",
}
"""Where the page does what a command does."""
_COMMAND = re.compile(r"<code>wirecue (\w+)[^<]*</code>")


def told_html(text: str) -> str:
    """Return a sentence as HTML; a command that it names leads to the card that does the same."""
    return _COMMAND.sub(_with_card, str(marked_html(text)))


def _with_card(found: re.Match[str]) -> str:
    key = CARDS_OF_COMMANDS.get(found[1])
    station = next((one for one in STATIONS if one.key == key), None)
    if station is None:
        return found[0]
    return f'<a class="to-card" href="#at-{station.key}">{escape(station.title)}</a> ({found[0]})'


def told_list(texts: Iterable[str], tag: str = "ul") -> str:
    """Return sentences as a list; nothing where there are none."""
    items = "".join(f"<li>{told_html(text)}</li>" for text in texts)
    return f"<{tag}>{items}</{tag}>" if items else ""


def told_table(
    head: Sequence[str], rows: Iterable[Sequence[str]], numbers: Collection[int] = (), name: str = ""
) -> str:
    """Return a table; on a phone each row stands as a block, with its heads beside it. numbers: columns set right."""
    heads = "".join(
        f'<th role="columnheader"{_number(at in numbers)}>{told_html(one)}</th>' for at, one in enumerate(head)
    )
    body = "".join(
        f'<tr role="row">{"".join(map(_cell, head, row, (at in numbers for at in range(len(row)))))}</tr>'
        for row in rows
    )
    named = f' data-testid="{escape(name)}"' if name else ""
    return (
        f'<table role="table" class="plain told"{named}><thead role="rowgroup"><tr role="row">{heads}</tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table>'
    )


def folded(summary: str, html: str) -> str:
    """Return HTML behind a line that opens it; nothing where there is none."""
    return f"<details><summary class='more'>{escape(summary)}</summary>{html}</details>" if html else ""


def _cell(head: str, text: str, number: bool) -> str:
    return f'<td role="cell" data-head="{escape(head)}"{_number(number)}>{told_html(text)}</td>'


def _number(number: bool) -> str:
    return ' class="number"' if number else ""
