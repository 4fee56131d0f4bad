"""Memory of the sketch, for the checks: measured where a compiler is at hand, otherwise estimated."""

from __future__ import annotations

import os
from pathlib import Path

from codegen.build import sketch_in
from codegen.plan import Plan
from codegen.toolchain import footprint
from timing.project import Project


def with_measurement(project: Project, plan: Plan) -> Project:
    """Return `project` with the memory that the sketch in `plan` takes as compiled here, where it can be.

    Compiled files are kept in the user's cache folder. Raises codegen.toolchain.ToolchainError.
    """
    measured = footprint(sketch_in(plan, project.design), project.board, cache_folder())
    return project if measured is None else project.with_footprint(measured)


def cache_folder() -> Path:
    """Return the folder for things that can be made again."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "wirecue"
