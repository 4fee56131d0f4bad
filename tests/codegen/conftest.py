"""Designs on their boards, and a place for compiled files that outlives a test run."""

from __future__ import annotations

import pytest

from tests.conftest import CACHE, ROOT, VERSION
from timing.design.design import Design
from timing.design.loading import load_design, parse_design
from wirecue.projects import load_board


@pytest.fixture(scope="session")
def cache():
    """Folder for compiled files: the same files are compiled once and for all."""
    return CACHE


@pytest.fixture
def design(example):
    """Each example in turn."""
    return load_design(example)


@pytest.fixture
def board(design):
    """The board of that design."""
    return load_board(design.board.type)


@pytest.fixture
def version():
    return VERSION


def changed(example: str, *changes: tuple[str, str]) -> Design:
    """The design of an example with pieces of its text replaced, each of which must be there."""
    text = (ROOT / "examples" / f"{example}.toml").read_text()
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    return parse_design(text)


@pytest.fixture
def full_design():
    """A design with everything that a sketch can have, on the board with the most pins."""
    return changed(
        "spot_stitch",
        ('mode = "two-step"', 'mode = "switch"'),
        ("purge = true", "purge = true\ninch = true\n[interlock]\nfitted = true"),
        ('preflow = "250 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "250 ms", off_switch = true }'),
        ('postflow = "1.1 s"', 'postflow = { from = "0 ms", to = "5 s", setting = "1.1 s" }'),
    )


@pytest.fixture
def bare_design():
    """A design with nothing that can be left out."""
    return changed(
        "gasless_four_step",
        ('mode = "switch"', 'mode = "two-step"'),
        ("inch = true", ""),
        ("fitted = true", ""),
        ('burnback = { from = "30 ms", to = "400 ms", setting = "270 ms" }', 'burnback = "270 ms"'),
        ('weld = "4 min"', ""),
    )
