"""A finding as text for the terminal: fact, reason, every way out."""

from __future__ import annotations

from collections.abc import Sequence

import click

from wirecue.terminal import paragraph

_COLOURS = {"error": "red", "warning": "yellow", "info": "cyan"}
_FACT, _MORE = 9, 15
"""Columns that the severity takes, and that a label in front of a reason or remedy takes."""


def finding_text(severity: str, fact: str, reason: str, remedies: Sequence[str]) -> str:
    """Return the lines of a finding; severity: error, warning or info; remedies: the best one first."""
    head = paragraph(fact, first=severity.ljust(_FACT), then=" " * _FACT)
    labels = ["why", "do", *["or"] * len(remedies)]
    more = [_labelled(label, text) for label, text in zip(labels, (reason, *remedies), strict=False)]
    return "\n".join([click.style(severity, fg=_COLOURS[severity], bold=True) + head[len(severity) :], *more])


def _labelled(label: str, text: str) -> str:
    return paragraph(text, first=" " * _FACT + label.ljust(_MORE - _FACT), then=" " * _MORE)
