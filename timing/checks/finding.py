"""What a rule says of a design: one kind of finding, for check, supply, page, papers and JSON alike."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import IntEnum
from typing import Any


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
class Figure:
    """One number of a finding."""

    name: str
    """Words for people, small letters."""
    value: float
    unit: str


_Figures = tuple[Figure, ...]


def time_figure(name: str, duration_us: float) -> Figure:
    """Return a duration as a figure, in milliseconds."""
    return Figure(name, duration_us / 1000, "ms")


@dataclass(frozen=True)
class DesignEdit:
    """One value to write into the design file."""

    key: str
    """Dotted path, such as ``supply.regulator_input_max``."""
    value: str | bool
    """As it is written there, such as ``60 V``."""

    @property
    def line(self) -> str:
        """The line that goes into the design file, its key dotted."""
        written = str(self.value).lower() if isinstance(self.value, bool) else f'"{self.value}"'
        return f"{self.key} = {written}"


@dataclass(frozen=True)
class Remedy:
    """A way out: words, and where a design file can be changed to that effect, the changes."""

    text: str
    changes: tuple[DesignEdit, ...] = ()

    @property
    def with_lines(self) -> str:
        """The words, with the lines that go into the design file, if any."""
        lines = ", ".join(change.line for change in self.changes)
        return f"{self.text} ({lines})" if lines else self.text


@dataclass(frozen=True)
class Finding:
    """One thing worth saying: what, why it matters, what to do. Its texts end without a full stop."""

    rule: str
    """Name of the rule in the registry, such as ``supply.input-voltage``."""
    severity: Severity
    key: str
    """Key of the design file that it is about."""
    text: str
    """The fact, with its numbers and units."""
    reason: str
    """Why that matters, with its source where it is a limit."""
    figures: tuple[Figure, ...] = ()
    remedies: tuple[Remedy, ...] = ()
    """Best first; an info may have none."""

    @property
    def remedy(self) -> str:
        """Every way out in one line, best first; empty where there is nothing to do."""
        return "; or: ".join(remedy.with_lines for remedy in self.remedies)


def info(rule: str, key: str, text: str, reason: str, *remedies: Remedy | str, figures: _Figures = ()) -> Finding:
    """Return an info: nothing to fix, but good to know."""
    return _finding(rule, Severity.INFO, key, text, reason, remedies, figures)


def warning(
    rule: str, key: str, text: str, reason: str, remedy: Remedy | str, *others: Remedy | str, figures: _Figures = ()
) -> Finding:
    """Return a warning: it will work, not well or not always."""
    return _finding(rule, Severity.WARNING, key, text, reason, (remedy, *others), figures)


def error(
    rule: str, key: str, text: str, reason: str, remedy: Remedy | str, *others: Remedy | str, figures: _Figures = ()
) -> Finding:
    """Return an error: this design must not be built."""
    return _finding(rule, Severity.ERROR, key, text, reason, (remedy, *others), figures)


def _finding(
    rule: str,
    severity: Severity,
    key: str,
    text: str,
    reason: str,
    remedies: tuple[Remedy | str, ...],
    figures: _Figures,
) -> Finding:
    ways = tuple(remedy if isinstance(remedy, Remedy) else Remedy(remedy) for remedy in remedies)
    return Finding(rule, severity, key, text, reason, figures, ways)


def worst(findings: Iterable[Finding]) -> Severity:
    """Return the gravest severity among `findings`; INFO when there are none."""
    return max((finding.severity for finding in findings), default=Severity.INFO)


def count(findings: Iterable[Finding], severity: Severity) -> str:
    """Return how many findings are that grave, in words: '1 error', '2 warnings'."""
    number = sum(finding.severity is severity for finding in findings)
    return f"{number} {severity.word}{'' if number == 1 else 's'}"


FORMAT = 2
"""Number of the form that findings have as JSON; 1 had one remedy, as text, and two forms (choice)."""


def findings_record(findings: Iterable[Finding]) -> list[dict[str, Any]]:
    """Return findings as plain data, as `finding_schema.json` describes them."""
    return [
        {
            "rule": finding.rule,
            "severity": finding.severity.word,
            "key": finding.key,
            "text": finding.text,
            "reason": finding.reason,
            "figures": [{"name": one.name, "value": one.value, "unit": one.unit} for one in finding.figures],
            "remedies": [
                {"text": one.text, "changes": {change.key: change.value for change in one.changes}}
                for one in finding.remedies
            ],
        }
        for finding in findings
    ]
