"""What the command line prints: data, text, findings, and a word to whoever waits."""

from __future__ import annotations

import contextlib
import json
import re
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

import click

from timing.checks.finding import Finding, Severity, count, worst


def json_text(data: Mapping[str, Any] | Sequence[Any]) -> str:
    """Return `data` as JSON text."""
    return json.dumps(data, indent=2, ensure_ascii=False) + "\n"


_HELD = re.compile(r'[\w.]+ = "[^"]*"|\d [A-Za-z%]')


def paragraph(text: str, width: int = 100, first: str = "", then: str = "") -> str:
    """Return `text` broken into lines, `first` and `then` at their beginnings.

    A number is not parted from its unit, and a line for the design file, to be copied, not in itself.
    """
    held = _HELD.sub(lambda found: found[0].replace(" ", "\N{NO-BREAK SPACE}"), text)
    return textwrap.fill(held, width, initial_indent=first, subsequent_indent=then).replace("\N{NO-BREAK SPACE}", " ")


def rounded(data: Any) -> Any:
    """Return `data` with every float to six figures: more would only look exact."""
    if isinstance(data, float):
        return float(f"{data:.6g}")
    if isinstance(data, Mapping):
        return {key: rounded(value) for key, value in data.items()}
    return [rounded(value) for value in data] if isinstance(data, list | tuple) else data


def table(rows: Iterable[Sequence[str]], head: Sequence[str] = ()) -> str:
    """Return rows as aligned columns."""
    lines = [*([head] if head else []), *rows]
    widths = [max(len(line[column]) for line in lines) for column in range(len(lines[0]))] if lines else []
    texts = ["  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines]
    return "\n".join(texts)


@contextlib.contextmanager
def working(on: str) -> Iterator[Callable[[str], None]]:
    """Show what is being worked on, on standard error, and take it away again. Gives what to tell how far it is."""
    shown = sys.stderr.isatty()

    def tell(how_far: str) -> None:
        if shown:
            click.echo(f"\r\x1b[K{on} ... {how_far}", nl=False, err=True)

    tell("")
    try:
        yield tell
    finally:
        if shown:
            click.echo("\r\x1b[K", nl=False, err=True)


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
