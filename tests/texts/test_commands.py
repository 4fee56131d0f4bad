"""Commands that README and pages name are there, with the options that stand behind them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
from markdown_it import MarkdownIt

from tests.support.tree import ROOT
from wirecue.cli import main as wirecue

PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
NAMED = re.compile(r"^(?:\$ )?wirecue ([a-z]+)\b([^#]*)")
OPTION = re.compile(r"(?<!\S)--?[a-z][a-z-]*")


def code(text: str) -> Iterator[str]:
    """Yield each line of code of a page, in blocks and in sentences."""
    for block in MarkdownIt("gfm-like", {"linkify": False}).parse(text):
        if block.type in ("fence", "code_block"):
            yield from block.content.splitlines()
        yield from (one.content for one in block.children or [] if one.type == "code_inline")


def unknown(text: str) -> list[str]:
    """Return what a page names and the tool does not have."""
    context, found = click.Context(wirecue), []
    for line in code(text):
        if not (named := NAMED.match(line.strip())):
            continue
        command = wirecue.get_command(context, named[1])
        known = {"--help"} if command is None else {"--help", *(o for p in command.params for o in p.opts)}
        found += [named[1]] if command is None else []
        found += [f"{named[1]} {option}" for option in OPTION.findall(named[2]) if option not in known]
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_what_a_page_tells_to_type_is_there(page: Path) -> None:
    assert unknown(page.read_text(encoding="utf-8")) == []


def test_a_command_or_option_that_is_not_there_is_found() -> None:
    text = "`wirecue flush it.toml`, `wirecue check --al x`\n\n    $ wirecue check x --all  # --none\n"
    assert unknown(text) == ["flush", "check --al"]
