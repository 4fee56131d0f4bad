"""wirecue supply."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from timing.power.montecarlo import MonteCarlo
    from timing.project import Project

FIRST_CIRCUIT = "supply-low-aged"
SHOW_PROGRESS_FROM = 20_000
"""Draws from which on it takes about a second."""


@click.command(
    name="supply", cls=WritingCommand, short_help="Show whether the feeder's 24 VAC supply carries the add-on."
)
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--draws", type=click.IntRange(0, 1_000_000), default=0, help="Draw this many feeders within tolerances.")
@click.option("--seed", type=click.IntRange(0, 2**32 - 1), default=24, show_default=True, help="Seed of the draws.")
@click.option("--svg", type=OutputOption("picture", Form.XML), help="Write the picture to this file; - prints it.")
@click.option(
    "--spice",
    type=OutputOption("SPICE netlist", Form.SPICE),
    help="Write a circuit as a netlist for ngspice to this file; - prints it.",
)
@click.option(
    "--circuit",
    "circuit_name",
    default=FIRST_CIRCUIT,
    show_default=True,
    help="Which circuit --spice writes; a name that is none is answered with all of them.",
)
@click.option("--write", is_flag=True, help="Write the first way out of what is wrong into the design; comments stay.")
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON; every number's key ends in its unit.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    draws: int,
    seed: int,
    svg: Destination | None,
    spice: Destination | None,
    circuit_name: str,
    write: bool,
    as_json: bool,
) -> None:
    """Show whether the feeder's 24 VAC supply carries the add-on.

    Computed at high and low line, by phase of the sequence, while the contactor pulls in, at switching on and with
    the supply gone. Each finding comes with what to do; `wirecue parts` proposes the parts.

    --spice writes one of the circuits that these figures come from, and the trigger's input with a damp cable, an RC
    left on its contact and the like, for ngspice: `ngspice -b FILE` measures what the comments in it say.

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

    if printed(svg, spice) + as_json > 1:
        raise click.UsageError("--svg -, --spice - and --json all print; give all but one of them a file")
    text = read_design_text(design)
    project = parse_project(text, str(design))
    if write:
        changed = mended(text, project.board)
        write_changed(design, text, changed, "supply --write")
        project = parse_project(changed, str(design))
    computed = project.supply
    drawn = _drawn(project, draws, seed) if draws else None
    if svg is not None:
        svg.give(supply_svg(computed))
    if spice is not None:
        spice.give(_spice(project, circuit_name))
    if as_json:
        record = {"design": project.design.name, "digest": project.design.digest()}
        click.echo(json_text(record | report_record(computed, drawn)), nl=False)
    elif not printed(svg, spice):
        plain = not (sys.stdout.encoding or "").lower().startswith("utf")
        say(terminal_supply(computed, drawn, ascii_only=plain))
    ctx.exit(1 if computed.errors else 0)


def _spice(project: Project, name: str) -> str:
    """Return the netlist of that name. Raises click.BadParameter with all names where there is none."""
    from timing.circuit.spice import spice_circuits

    circuits = {one.name: one for one in spice_circuits(project)}
    if name not in circuits:
        there = "\n".join(f"  {one.name}: {one.title}" for one in circuits.values())
        raise click.BadParameter(f"{name!r} is no circuit of this design; there are\n{there}", param_hint="--circuit")
    return circuits[name].text


def _drawn(project: Project, draws: int, seed: int) -> MonteCarlo:
    from timing.power.montecarlo import monte_carlo

    if draws < SHOW_PROGRESS_FROM:
        return monte_carlo(project.design, project.board, draws, seed)
    with click.progressbar(length=draws, label="drawing feeders", file=sys.stderr) as bar:
        return monte_carlo(project.design, project.board, draws, seed, bar.update)
