"""Designs on their boards, and a place for compiled files that outlives a test run."""

from __future__ import annotations

from pathlib import Path

import pytest

from timing.design.loading import load_design, parse_design
from wirecue.boards import load_board

ROOT = Path(__file__).parents[2]
VERSION = "0.1.0"


@pytest.fixture(scope="session")
def cache():
    """Folder for compiled files: the same files are compiled once and for all."""
    return ROOT / "out" / "compiled"


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


@pytest.fixture
def full_design():
    """A design with everything that a sketch can have, on the board with the most pins."""
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    text = text.replace('mode = "two-step"', 'mode = "switch"')
    text = text.replace("purge = true", "purge = true\ninch = true\n[interlock]\nfitted = true")
    text = text.replace(
        'preflow = "150 ms"', 'preflow = { from = "0 ms", to = "1 s", setting = "150 ms", off_switch = true }'
    )
    text = text.replace('postflow = "800 ms"', 'postflow = { from = "0 ms", to = "5 s", setting = "800 ms" }')
    return parse_design(text)


@pytest.fixture
def bare_design():
    """A design with nothing that can be left out."""
    text = (ROOT / "examples" / "gasless_four_step.toml").read_text()
    text = text.replace('mode = "switch"', 'mode = "two-step"').replace("inch = true", "").replace("fitted = true", "")
    text = text.replace('burnback = { from = "30 ms", to = "400 ms", setting = "120 ms" }', 'burnback = "120 ms"')
    text = text.replace('weld = "4 min"', "")
    return parse_design(text)
