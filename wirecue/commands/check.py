"""wirecue check."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.terminal import json_text

if TYPE_CHECKING:
    from timing.checks.finding import Finding


@click.command(name="check", short_help="Check a design against the rules.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@click.option("--quiet", "-q", is_flag=True, help="Leave infos out; show warnings and errors.")
@click.pass_context
def command(ctx: click.Context, design: Path, as_json: bool, quiet: bool) -> None:
    """Check a design against the rules.

    Each finding says what was found, with numbers, why it matters, and what to do. An error breaks the design
    (exit code 1); a warning means that it will work, not well or not always; an info asks for nothing.
    """
    from timing.checks.finding import Severity
    from timing.checks.registry import check, worst
    from wirecue.projects import load_project

    subject = load_project(design)
    findings = check(subject)
    if as_json:
        click.echo(json_text(report(subject.design.name, subject.design.digest(), findings)), nl=False)
    else:
        shown = [finding for finding in findings if not (quiet and finding.severity is Severity.INFO)]
        for finding in shown:
            click.echo(block(finding))
        click.echo(summary(subject.design.name, findings))
    ctx.exit(1 if worst(findings) is Severity.ERROR else 0)


def report(name: str, digest: str, findings: list[Finding]) -> dict[str, object]:
    """Return findings as data."""
    return {
        "design": name,
        "digest": digest,
        "findings": [
            {
                "severity": finding.severity.word,
                "rule": finding.rule,
                "key": finding.key,
                "says": finding.says,
                "reason": finding.reason,
                "remedy": finding.remedy,
            }
            for finding in findings
        ],
    }


def summary(name: str, findings: list[Finding]) -> str:
    """Return one line that counts the findings."""
    from timing.checks.finding import Severity

    def count(severity: Severity, word: str) -> str:
        number = sum(finding.severity is severity for finding in findings)
        return f"{number} {word}{'' if number == 1 else 's'}"

    errors, warnings = count(Severity.ERROR, "error"), count(Severity.WARNING, "warning")
    verdict = "must not be built yet" if not errors.startswith("0") else "may be built"
    return f"{name}: {errors}, {warnings}; it {verdict}."


def block(finding: Finding) -> str:
    """Return a finding as lines of text."""
    from wirecue.terminal_finding import finding_text

    remedies = [finding.remedy] if finding.remedy else []
    return finding_text(finding.severity.word, f"{finding.key}: {finding.says}", finding.reason, remedies)
