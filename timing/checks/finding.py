"""What a rule says of a design."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum


class Severity(IntEnum):
    """How much a finding matters; an error breaks the design."""

    INFO = 0
    WARNING = 1
    ERROR = 2

    @property
    def word(self) -> str:
        """In the report."""
        return self.name.lower()


@dataclass(frozen=True)
class Finding:
    """One thing worth saying: what, why it matters, what to do."""

    severity: Severity
    rule: str
    key: str
    """Key of the design file that it is about."""
    says: str
    """The fact, with its numbers and units."""
    reason: str
    """Why that matters, with its source where it is a limit."""
    remedy: str = ""
    """What to change; empty for an info."""


def info(rule: str, key: str, says: str, reason: str, remedy: str = "") -> Finding:
    """Return an info: nothing to fix, but good to know."""
    return Finding(Severity.INFO, rule, key, says, reason, remedy)


def warning(rule: str, key: str, says: str, reason: str, remedy: str) -> Finding:
    """Return a warning: it will work, not well or not always."""
    return Finding(Severity.WARNING, rule, key, says, reason, remedy)


def error(rule: str, key: str, says: str, reason: str, remedy: str) -> Finding:
    """Return an error: this design must not be built."""
    return Finding(Severity.ERROR, rule, key, says, reason, remedy)
