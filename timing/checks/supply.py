"""What is found in the supply and the circuits, in the words of a check.

The names of these rules are those of the findings: supply.input-voltage, circuits.trigger-led and so on.
"""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, Severity
from timing.checks.supply_finding import Finding as Found
from timing.checks.supply_finding import Remedy
from timing.power.report import report
from timing.project import Project

SEVERITIES = {"info": Severity.INFO, "warning": Severity.WARNING, "error": Severity.ERROR}


def supply_and_circuits(project: Project) -> Iterator[Finding]:
    """Check the feeder's 24 VAC supply and every circuit of the add-on against what parts and people withstand."""
    return map(as_checked, report(project.design, project.board).findings)


def as_checked(found: Found) -> Finding:
    """Return a finding of the supply as one of the checks; its remedies become one text, best first."""
    return Finding(
        SEVERITIES[found.severity],
        found.rule,
        found.key,
        found.text.rstrip("."),
        found.reason.rstrip("."),
        "; or: ".join(map(remedy_text, found.remedies)),
    )


def remedy_text(remedy: Remedy) -> str:
    """Return a remedy with the lines that it puts into the design file, if any."""
    words = remedy.text.rstrip(".")
    lines = ", ".join(f'{change.key} = "{change.value}"' for change in remedy.changes)
    return f"{words} ({lines})" if lines else words
