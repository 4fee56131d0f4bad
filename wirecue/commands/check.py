"""wirecue check."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from timing.project import Project


@click.command(name="check", short_help="Check a design against the rules.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the findings as JSON.")
@click.option("--all", "-a", "everything", is_flag=True, help="Show the infos as well.")
@click.pass_context
def command(ctx: click.Context, design: Path, as_json: bool, everything: bool) -> None:
    """Check a design against the rules.

    Each finding says what was found, with numbers, why it matters, and what to do. An error breaks the design
    (exit code 1); a warning means that it will work, not well or not always. An info asks for nothing: without --all
    they are only counted.
    """
    from timing.checks.finding import Severity, worst
    from wirecue.projects import load_project
    from wirecue.terminal import finding_text, untold_text, verdict_text

    project = load_project(design)
    findings = project.findings
    if as_json:
        click.echo(json_text(check_record(project)), nl=False)
    else:
        told = [one for one in findings if everything or one.severity is not Severity.INFO]
        for finding in told:
            say(finding_text(finding))
        if len(told) < len(findings):
            say(untold_text(len(findings) - len(told), design))
        say(verdict_text(project.design.name, findings))
    ctx.exit(1 if worst(findings) is Severity.ERROR else 0)


def check_record(project: Project) -> dict[str, object]:
    """Return the findings of a design as data, as `wirecue schema --findings` describes them."""
    from timing.checks.finding import FORMAT, findings_record

    return {
        "format": FORMAT,
        "design": project.design.name,
        "digest": project.design.digest(),
        "findings": findings_record(project.findings),
    }
