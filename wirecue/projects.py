"""From a design file, by path or as text, to the design on its board."""

from __future__ import annotations

import difflib
from pathlib import Path

from timing.design.errors import Complaint, DesignFileError
from timing.design.loading import parse_design, read_design_text
from timing.design.toml_text import line_of, lines_of_keys
from timing.project import Project
from wirecue.boards import board_names, load_board


def load_project(path: Path) -> Project:
    """Return the design at `path` with its board. Raises DesignFileError, also for a board that is not known."""
    return parse_project(read_design_text(path), str(path))


def parse_project(text: str, source: str) -> Project:
    """Return the design in `text` with its board; `source` names it in messages. Raises DesignFileError."""
    design = parse_design(text, source)
    name, known = design.board.type, board_names()
    if name not in known:
        near = difflib.get_close_matches(name, known, 1)
        hint = f"was {near[0]!r} meant?" if near else "`wirecue boards` shows them with their figures"
        line = line_of(lines_of_keys(text), ("board", "type"))
        raise DesignFileError(source, [Complaint("board.type", repr(name), ", ".join(known), hint, line)])
    return Project(design, load_board(name))
