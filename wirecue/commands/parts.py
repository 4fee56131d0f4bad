"""wirecue parts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import say

if TYPE_CHECKING:
    from timing.circuit.lists import HandWork
    from timing.circuit.proposals import Proposal
    from timing.project import Project


@click.command(name="parts", cls=WritingCommand, short_help="Propose parts for the add-on's supply and circuits.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--write", is_flag=True, help="Write the proposals into the design; its comments and layout stay.")
@click.option(
    "--csv", type=OutputOption("parts list", Form.CSV), help="Write the whole parts list to this file; - prints it."
)
@click.option(
    "--nets",
    type=OutputOption("net list", Form.CSV),
    help="Write every net with its terminals as CSV to this file; - prints it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the proposals as JSON.")
def command(design: Path, write: bool, csv: Destination | None, nets: Destination | None, as_json: bool) -> None:
    """Propose parts for the add-on's supply and circuits.

    Proposed is what the design leaves open, and what falls short of what the supply really does; each with its
    reason. Before them stands what either way of building asks of a pair of hands. --write shows the lines that
    change, then writes them, all or none.
    """
    from timing.checks.remedies import applied
    from timing.circuit.proposals import proposals
    from timing.design.loading import read_design_text
    from timing.design.origin import PROPOSED_PART
    from wirecue.output_files import write_changed
    from wirecue.projects import parse_project
    from wirecue.terminal import json_text

    if printed(csv, nets) + as_json > 1:
        raise click.UsageError("--json, --csv - and --nets - all print; give all but one of them a file")
    text = read_design_text(design)
    project = parse_project(text, str(design))
    offered = proposals(project)
    if csv is not None:
        from codegen.drawings.files import parts_csv

        csv.give(parts_csv(project))
    if nets is not None:
        from codegen.drawings.files import nets_csv

        nets.give(nets_csv(project.netlist))
    if as_json:
        record = {
            "proposals": [_record(one) for one in offered],
            "build": project.design.circuits.build,
            "hand_work": {way: asdict(work) | {"in_box": work.in_box} for way, work in _ways(project).items()},
        }
        click.echo(json_text(record), nl=False)
    elif not printed(csv, nets):
        for way, work in _ways(project).items():
            chosen = " (as in the design)" if way == project.design.circuits.build else ""
            say(f"{way:<8} {work}{chosen}")
        click.echo()
        say(_shown(offered))
    if write and offered:
        click.echo(err=True)
        write_changed(design, text, applied(text, [one.change for one in offered], PROPOSED_PART), "parts --write")


def _ways(project: Project) -> dict[str, HandWork]:
    from timing.circuit.modules import ways_of_building

    return ways_of_building(project)


def _shown(offered: Sequence[Proposal]) -> str:
    if not offered:
        return "The design names every part, and each of them is rated for what it meets: nothing to propose."
    return "\n".join(map(_block, offered))


def _block(one: Proposal) -> str:
    line = one.change.line
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
