"""wirecue parts."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed

if TYPE_CHECKING:
    from timing.circuit.proposals import Proposal


@click.command(name="parts", cls=WritingCommand, short_help="Propose parts for the add-on's supply and circuits.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--write", is_flag=True, help="Write the proposals into the design; its comments and layout stay.")
@click.option(
    "--csv", type=OutputOption("parts list", Form.CSV), help="Write the whole parts list to this file; - prints it."
)
@click.option("--json", "as_json", is_flag=True, help="Print the proposals as JSON.")
def command(design: Path, write: bool, csv: Destination | None, as_json: bool) -> None:
    """Propose parts for the add-on's supply and circuits.

    Proposed is what the design leaves open, and what falls short of what the supply really does; each with its
    reason. --write shows the lines that change, then writes them, all or none.
    """
    from timing.checks.remedies import applied
    from timing.circuit.proposals import proposals
    from timing.design.loading import read_design_text
    from wirecue.output_files import write_changed
    from wirecue.projects import parse_project
    from wirecue.terminal import json_text

    if as_json and printed(csv):
        raise click.UsageError("--json and --csv - both print; give the list a file")
    text = read_design_text(design)
    project = parse_project(text, str(design))
    offered = proposals(project)
    if csv is not None:
        from codegen.drawings.files import parts_csv

        csv.give(parts_csv(project))
    if as_json:
        click.echo(json_text([_record(one) for one in offered]), nl=False)
    elif not printed(csv):
        click.echo(_shown(offered))
    if write and offered:
        click.echo(err=True)
        write_changed(design, text, applied(text, [one.change for one in offered]))


def _shown(offered: Sequence[Proposal]) -> str:
    if not offered:
        return "The design names every part, and each of them is rated for what it meets: nothing to propose."
    return "\n".join(map(_block, offered))


def _block(one: Proposal) -> str:
    line = f'{one.change.key} = "{one.change.value}"'
    short = "" if one.open else "; what the design says falls short"
    return f"{click.style(line, bold=True)}\n         part  {one.part}\n         why   {one.reason}{short}"


def _record(one: Proposal) -> dict[str, object]:
    return {
        "key": one.change.key,
        "value": one.change.value,
        "part": one.part,
        "reason": one.reason,
        "open": one.open,
    }
