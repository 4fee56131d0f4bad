"""Memory of the sketch, for the checks: measured where a compiler is at hand, otherwise estimated."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

from codegen.build import sketch_in
from codegen.plan import Plan
from codegen.toolchain import estimate, footprint
from timing.checks.subject import Subject


def with_estimate(subject: Subject) -> Subject:
    """Return `subject` with an estimate of the sketch's memory."""
    return replace(subject, footprint=estimate(subject.design, subject.board))


def with_measurement(subject: Subject, plan: Plan) -> Subject:
    """Return `subject` with the memory that the sketch in `plan` takes as compiled here, else with the estimate.

    Compiled files are kept in the user's cache folder. Raises codegen.toolchain.ToolchainError.
    """
    files = sketch_in(plan, subject.design)
    return replace(subject, footprint=footprint(files, subject.design, subject.board, cache_folder()))


def cache_folder() -> Path:
    """Return the folder for things that can be made again."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "wirecue"
