"""Boards and designs for the tests of the model; `shop.toml` leaves open what a shop's first survey leaves open."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import parse_design
from timing.project import Project
from wirecue.projects import load_board

SHOP = Path(__file__).with_name("shop.toml").read_text()

_board = cache(load_board)
_design = cache(parse_design)


@pytest.fixture(scope="session")
def board_named() -> Callable[[str], Board]:
    """Read a board by its name; each once a session."""
    return _board


@pytest.fixture(scope="session")
def board() -> Board:
    return _board("uno")


@pytest.fixture(scope="session")
def shop_text() -> str:
    return SHOP


@pytest.fixture(scope="session")
def changed() -> Callable[..., Design]:
    """The shop design with replacements in its text, each of which must match; equal ones are read once a session."""
    return _changed


@pytest.fixture(scope="session")
def project() -> Callable[..., Project]:
    """The shop project with replacements as in `changed`; what follows from equal ones is computed once a session."""
    return _project


def _changed(*pairs: tuple[str, str]) -> Design:
    text = SHOP
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new)
    return _design(text)


@cache
def _project(*pairs: tuple[str, str]) -> Project:
    design = _changed(*pairs)
    return Project(design, _board(design.board.type))
