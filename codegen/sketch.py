"""The sketch: a folder of C files made from a design and its board."""

from __future__ import annotations

from codegen.rendering import environment, render
from codegen.sketch_facts import SketchFacts, sketch_facts
from timing.design.board import Board
from timing.design.design import Design

_PORTABLE = "common/sketch"


def sketch_files(design: Design, board: Board, version: str) -> dict[str, str]:
    """Return the files of the sketch folder, by name; the folder must be called `design.name`.

    version: of this tool, as it goes into `*IDN?`. Same design, board and version in, same text out.

    Raises UnplacedRoleError where a role has no pin.
    """
    facts = sketch_facts(design, board, version)
    # What only this board needs stands in its own folder and goes before what its family shares.
    made = environment(board.type, f"common/{board.family}", _PORTABLE)
    names = facts.names()
    templates = [name for name in made.list_templates() if not name.startswith("_") and _wanted(name, facts)]
    return {_file_name(name, design): render(made, name, names).lstrip("\n") for name in templates}


def _wanted(template: str, facts: SketchFacts) -> bool:
    subject = template.partition(".")[0]
    absent = {"dials": not facts.dials, "supply": facts.supply is None}
    return not absent.get(subject, False)


def _file_name(template: str, design: Design) -> str:
    name = template.removesuffix(".j2")
    return f"{design.name}.ino" if name == "sketch.ino" else name
