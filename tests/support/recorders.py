"""Recorders to draw and to write of: designs in both ways of building, on boards of both logic voltages."""

from __future__ import annotations

from typing import Literal

from codegen.drawings.recorder_schematic import RecorderDrawing
from tests.conftest import ROOT
from timing.project import Project
from timing.recorder.fitting import RecorderWish, recorder_circuits
from timing.recorder.netlist import recorder_wiring
from wirecue.projects import load_board, load_project

WISHES = (RecorderWish(), RecorderWish(main_contact="contact", sensor="flag", motor_v=42.0))
"""What a person may choose, between them every kind of adapter."""


def built(name: str, build: Literal["modules", "board"]) -> Project:
    """Return an example, built one way."""
    project = load_project(ROOT / "examples" / f"{name}.toml")
    circuits = project.design.circuits.model_copy(update={"build": build})
    return Project(project.design.model_copy(update={"circuits": circuits}), project.board)


def drawing_of(project: Project, board: str, wish: RecorderWish) -> RecorderDrawing:
    """Return what the drawings of a recorder are made from."""
    facts = load_board(board)
    circuits = recorder_circuits(project, facts, wish)
    wiring = recorder_wiring(circuits, facts.recorder_pins)
    return RecorderDrawing(circuits, wiring, project.design.title, "foot")
