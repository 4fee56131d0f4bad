"""By name or path: designs on their boards, the boards that come along, the examples."""

from __future__ import annotations

import tomllib
from pathlib import Path

from timing.design.board import Board
from timing.design.loading import line_of, lines_of_keys, parse_design, read_design_text
from timing.design.text_file import Complaint, DesignFileError
from timing.errors import WirecueError, meant
from timing.project import Project


def load_project(path: Path) -> Project:
    """Return the design at `path` with its board. Raises DesignFileError, also for a board that is not known."""
    return parse_project(read_design_text(path), str(path))


def parse_project(text: str, source: str) -> Project:
    """Return the design in `text` with its board; `source` names it in messages. Raises DesignFileError."""
    design = parse_design(text, source)
    name, known = design.board.type, board_names()
    if name not in known:
        hint = meant(name, known) or "`wirecue boards` shows them with their figures"
        line = line_of(lines_of_keys(text), ("board", "type"))
        raise DesignFileError(source, [Complaint("board.type", repr(name), ", ".join(known), hint, line)])
    return Project(design, load_board(name))


FACTS = "board.toml"


class UnknownBoardError(WirecueError):
    """A board name that no folder has. Keeps the name and what there is."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        super().__init__(name, known)
        self.name = name
        self.known = known

    def __str__(self) -> str:
        near = meant(self.name, self.known)
        return f"no board {self.name!r}: there are {', '.join(self.known)}" + (f"; {near}" if near else "")


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


# Not by importlib.resources, which loads what unpacks archives: no installer leaves a wheel packed.
_PACKAGES = Path(__file__).parent.parent


def _templates() -> Path:
    return _PACKAGES / "board_templates"


def _folder() -> Path:
    installed = Path(__file__).parent / "examples"
    # In a checkout the examples lie beside the package; in an installation, inside it.
    return installed if installed.is_dir() else _PACKAGES / "examples"


def example_names() -> list[str]:
    """Return the names of the examples, sorted."""
    return sorted(entry.name.removesuffix(".toml") for entry in _folder().iterdir() if entry.name.endswith(".toml"))


def example_text(name: str) -> str:
    """Return the text of one example's design file. Raises FileNotFoundError."""
    return (_folder() / f"{name}.toml").read_text(encoding="utf-8")
