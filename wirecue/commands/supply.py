"""wirecue supply."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text

if TYPE_CHECKING:
    from timing.power.montecarlo import MonteCarlo
    from timing.project import Project

SHOW_PROGRESS_FROM = 20_000
"""Draws from which on it takes about a second."""


@click.command(
    name="supply", cls=WritingCommand, short_help="Show whether the feeder's 24 VAC supply carries the add-on."
)
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--draws", type=click.IntRange(0, 1_000_000), default=0, help="Draw this many feeders within tolerances.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=24, show_default=True, help="Seed of the draws.")
@click.option("--svg", type=OutputOption("picture", Form.XML), help="Write the picture to this file; - prints it.")
@click.option("--write", is_flag=True, help="Write the first way out of what is wrong into the design; comments stay.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON; every number's key ends in its unit.")
@click.pass_context
def command(
    ctx: click.Context, design: Path, draws: int, seed: int, svg: Destination | None, write: bool, as_json: bool
) -> None:
    """Show whether the feeder's 24 VAC supply carries the add-on.

    Computed at high and low line, by phase of the sequence, while the contactor pulls in, at switching on and with
    the supply gone. Each finding comes with what to do; `wirecue parts` proposes the parts.

    --write takes the first way out of each error, and fits a divider by which the board measures its supply: it
    shows the lines that change, writes them, and reports on the design as it then is. Exit code 1 where the supply
    does not carry the add-on.
    """
    from codegen.charts.supply import supply_svg
    from timing.checks.remedies import mended
    from timing.design.loading import read_design_text
    from timing.power.record import report_record
    from wirecue.output_files import write_changed
    from wirecue.projects import parse_project
    from wirecue.terminal_supply import terminal_supply

    if printed(svg) and as_json:
        raise click.UsageError("--svg - and --json both print; give one of them a file")
    text = read_design_text(design)
    project = parse_project(text, str(design))
    if write:
        changed = mended(text, project.board)
        write_changed(design, text, changed)
        project = parse_project(changed, str(design))
    computed = project.supply
    drawn = _drawn(project, draws, seed) if draws else None
    if svg is not None:
        svg.give(supply_svg(computed))
    if as_json:
        record = {"design": project.design.name, "digest": project.design.digest()}
        click.echo(json_text(record | report_record(computed, drawn)), nl=False)
    elif not printed(svg):
        plain = not (sys.stdout.encoding or "").lower().startswith("utf")
        click.echo(terminal_supply(computed, drawn, ascii_only=plain))
    ctx.exit(1 if computed.errors else 0)


def _drawn(project: Project, draws: int, seed: int) -> MonteCarlo:
    from timing.power.montecarlo import monte_carlo

    if draws < SHOW_PROGRESS_FROM:
        return monte_carlo(project.design, project.board, draws, seed)
    with click.progressbar(length=draws, label="drawing feeders", file=sys.stderr) as bar:
        return monte_carlo(project.design, project.board, draws, seed, bar.update)
