"""Boards and designs for the tests of the supply."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from timing.design.board import Board
from timing.design.design import Design
from timing.design.loading import parse_design

ROOT = Path(__file__).parents[3]


@pytest.fixture
def board_named() -> Callable[[str], Board]:
    """Read a board by its name."""

    def read(name: str) -> Board:
        return Board.model_validate(tomllib.loads((ROOT / "board_templates" / name / "board.toml").read_text()))

    return read


@pytest.fixture
def board(board_named: Callable[[str], Board]) -> Board:
    return board_named("uno")


@pytest.fixture
def shop_text() -> str:
    return (Path(__file__).parent / "shop.toml").read_text()


@pytest.fixture
def changed(shop_text: str) -> Callable[..., Design]:
    """The shop design with replacements in its text, each of which must match."""

    def change(*pairs: tuple[str, str]) -> Design:
        text = shop_text
        for old, new in pairs:
            assert old in text, old
            text = text.replace(old, new)
        return parse_design(text)

    return change
