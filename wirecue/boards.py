"""The boards that ship with the tool, by name."""

from __future__ import annotations

import difflib
import tomllib
from importlib.resources import files
from importlib.resources.abc import Traversable

from timing.design.board import Board
from timing.design.errors import WirecueError

FACTS = "board.toml"


class UnknownBoardError(WirecueError):
    """A board name that no folder has. Keeps the name and what there is."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        super().__init__(name, known)
        self.name = name
        self.known = known

    def __str__(self) -> str:
        near = difflib.get_close_matches(self.name, self.known, 1)
        hint = f"; was {near[0]!r} meant?" if near else ""
        return f"no board {self.name!r}: there are {', '.join(self.known)}{hint}"


def board_names() -> tuple[str, ...]:
    """Return the names of all boards, sorted."""
    return tuple(sorted(folder.name for folder in _templates().iterdir() if folder.joinpath(FACTS).is_file()))


def load_board(name: str) -> Board:
    """Return the facts of the board of that name. Raises UnknownBoardError."""
    known = board_names()
    if name not in known:
        raise UnknownBoardError(name, known)
    text = _templates().joinpath(name, FACTS).read_text(encoding="utf-8")
    return Board.model_validate(tomllib.loads(text))


def _templates() -> Traversable:
    return files("board_templates")
