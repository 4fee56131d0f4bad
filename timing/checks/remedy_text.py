"""Writing remedies' values into the text of a design file, comments and layout kept."""

from __future__ import annotations

from collections.abc import Iterable

from timing.checks.supply_finding import Change, Finding
from timing.design.board import Board
from timing.design.loading import parse_design
from timing.design.saving import with_values
from timing.power.report import Report, report

MOST_ROUNDS = 5
"""One change can call for another, such as a larger reservoir for a slower fuse; more than a few rounds never do
(choice)."""


def first_changes(findings: Iterable[Finding]) -> tuple[Change, ...]:
    """Return the changes of the first remedy that has any, of each finding; a key is changed once."""
    chosen: dict[str, Change] = {}
    for finding in findings:
        remedy = next((remedy for remedy in finding.remedies if remedy.changes), None)
        for change in remedy.changes if remedy else ():
            chosen.setdefault(change.key, change)
    return tuple(chosen.values())


def asked_for(found: Report) -> tuple[Change, ...]:
    """Return the changes that fix every error, and that let the board measure its supply, as far as there are any."""
    wanting = [finding for finding in found.findings if finding.rule == "supply.no-sense"]
    return first_changes((*found.errors, *wanting))


def mended(design_text: str, board: Board) -> str:
    """Return the design file's text with what its supply asks for, changed again until it asks for nothing more.

    Where an error has no change to fix it, it stays. Raises DesignFileError when the text is no valid design.
    """
    for _ in range(MOST_ROUNDS):
        changes = asked_for(report(parse_design(design_text), board))
        if not changes:
            break
        design_text = applied(design_text, changes)
    return design_text


def applied(design_text: str, changes: Iterable[Change]) -> str:
    """Return the design file's text with the changes written in; missing tables are added."""
    text, _ = with_values(design_text, {change.key: change.value for change in changes})
    return text
