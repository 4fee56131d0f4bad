"""Findings as text for the terminal, the same from every command: fact, reason, every way out; and the count."""

from __future__ import annotations

from collections.abc import Sequence

import click

from timing.checks.finding import Finding, Severity, count, worst
from wirecue.terminal import paragraph

_COLOURS = {Severity.ERROR: "red", Severity.WARNING: "yellow", Severity.INFO: "cyan"}
_FACT, _MORE = 9, 15
"""Columns that the severity takes, and that a label in front of a reason or remedy takes."""


def finding_text(finding: Finding) -> str:
    """Return the lines of a finding; each remedy with the lines that it puts into the design file."""
    word = finding.severity.word
    head = paragraph(f"{finding.key}: {finding.text}", first=word.ljust(_FACT), then=" " * _FACT)
    remedies = [remedy.with_lines for remedy in finding.remedies]
    labels = ["why", "do", *["or"] * len(remedies)]
    more = [_labelled(label, text) for label, text in zip(labels, (finding.reason, *remedies), strict=False)]
    return "\n".join([click.style(word, fg=_COLOURS[finding.severity], bold=True) + head[len(word) :], *more])


def verdict_text(name: str, findings: Sequence[Finding]) -> str:
    """Return one line that counts the findings and says whether the design may be built."""
    verdict = "must not be built yet" if worst(findings) is Severity.ERROR else "may be built"
    return f"{name}: {counted(findings)}; it {verdict}."


def counted(findings: Sequence[Finding]) -> str:
    """Return how many errors and warnings there are, in words."""
    return f"{count(findings, Severity.ERROR)}, {count(findings, Severity.WARNING)}"


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=" " * _FACT + label.ljust(_MORE - _FACT), then=" " * _MORE)
