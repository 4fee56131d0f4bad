"""Memory of the sketch, for the checks: measured where a compiler is at hand, otherwise estimated."""

from __future__ import annotations

from dataclasses import replace

from codegen.toolchain import estimate
from timing.checks.subject import Subject


def with_footprint(subject: Subject) -> Subject:
    """Return `subject` with an estimate of the sketch's memory."""
    return replace(subject, footprint=estimate(subject.design, subject.board))
