"""Everything the supply has to say about a design, in one call."""

from __future__ import annotations

from dataclasses import dataclass

from timing.checks.budget_rules import budget_findings
from timing.checks.circuits import circuit_findings
from timing.checks.supply_finding import Finding
from timing.design.board import Board
from timing.design.design import Design
from timing.power.budget import Budget, budget


@dataclass(frozen=True)
class Report:
    """The budget and what was found in it and in the circuits."""

    budget: Budget
    findings: tuple[Finding, ...]

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that forbid building it like this."""
        return tuple(finding for finding in self.findings if finding.severity == "error")


def report(design: Design, board: Board) -> Report:
    """Compute the budget of a design on its board and check it against all rules."""
    found = budget(design, board)
    return Report(found, budget_findings(found) + circuit_findings(found))
