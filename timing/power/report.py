"""What the supply of a design amounts to: the budget, and what its rules say."""

from __future__ import annotations

from dataclasses import dataclass

from timing.checks.finding import Finding, Severity
from timing.power.budget import Budget


@dataclass(frozen=True)
class Report:
    """The budget and what was found in it and in the circuits."""

    budget: Budget
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that forbid building it like this."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.ERROR)
