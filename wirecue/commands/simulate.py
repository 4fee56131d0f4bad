"""wirecue simulate."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.arguments import read_steps
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import say

if TYPE_CHECKING:
    from timing.design.design import Design
    from timing.sequence.core.scan import Scanner


@click.command(name="simulate", cls=WritingCommand, short_help="Show what happens, and when, at a pull of the trigger.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--script", "-s", help='Steps to play, such as "0 s press; 1.2 s release".')
@click.option("--script-file", type=click.Path(path_type=Path), help="File with the steps to play; - reads them.")
@click.option("--power-up", is_flag=True, help="Start at power-up, in hold-off, instead of in idle.")
@click.option(
    "--engine",
    type=click.Choice(["plain", "transitions"]),
    default="plain",
    show_default=True,
    help="What reads the phase table. transitions: a state machine library, as a second, independent opinion on the "
    "plain engine, which the generated C follows; slower, and the timeline must be the same.",
)
@click.option("--svg", type=OutputOption("picture", Form.XML), help="Write the picture to this file; - prints it.")
@click.option(
    "--vcd",
    type=OutputOption("dump", Form.VCD),
    help="Write a value change dump (IEEE 1364) to this file, for logic-analyser software.",
)
@click.option("--csv", type=OutputOption("table", Form.CSV), help="Write all changes as CSV to this file; - prints it.")
@click.option(
    "--json",
    "json_path",
    type=OutputOption("data", Form.JSON),
    help="Write the timeline as JSON to this file; - prints it.",
)
def command(
    design: Path,
    script: str | None,
    script_file: Path | None,
    power_up: bool,
    engine: str,
    svg: Destination | None,
    vcd: Destination | None,
    csv: Destination | None,
    json_path: Destination | None,
) -> None:
    """Show what happens, and when, at a pull of the trigger.

    Without a script an ordinary weld is shown. Each output has two traces: as commanded by the board, and as it
    really acts with the delays of valve, drive and contactor. Below them the wire's end: its extension from the
    contact tip, how long the arc is, and what each weld leaves.

    \b
    Steps are a time and what happens, parted by semicolons or line ends; + counts from the step before:
      "0 s press; +1.5 s release"             a weld
      "0 s press bounce 5 ms; +80 ms release" a tap with a bouncing contact
      "0 s purge press; +2 s purge release"   purge; likewise inch
      "0 s press; +1 s interlock open"        likewise close, supply low, supply good
      "0 s dial burnback 150 ms; +1 s press"  a dial turned, then a press; likewise dials broken
      "0 s mode four-step; +1 s press"        panel switches; likewise switch spot off, selector stitch
      "0 s press; +1 s reset; +3 s end"       a reset, and where to stop looking
    """
    from codegen.timeline_files import csv_text, timeline_json, timeline_text, vcd_text
    from timing.sequence.simulate import simulate, usual_script
    from wirecue.projects import load_project

    project = load_project(design)
    given = read_steps(script, script_file)
    steps = usual_script(project.design, settled=not power_up) if given is None else given
    timeline = simulate(project.design, steps, settled=not power_up, scan=_scan(engine))
    _say_without_arc(project.design)

    if svg is not None:
        # The drawing library takes longer to load than the simulation to run.
        from codegen.charts.timeline import timeline_svg

        svg.give(timeline_svg(project.design, timeline))
    for destination, make in ((vcd, vcd_text), (csv, csv_text), (json_path, timeline_json)):
        if destination is not None:
            destination.give(make(project.design, timeline))
    if not printed(svg, vcd, csv, json_path):
        width = min(shutil.get_terminal_size((100, 24)).columns, 140)
        plain = not (sys.stdout.encoding or "").lower().startswith("utf")
        click.echo(timeline_text(project.design, timeline, width, ascii_only=plain))


def _scan(engine: str) -> Scanner:
    if engine == "plain":
        from timing.sequence.core.scan import step

        return step
    # Here, because only who asks for it waits for the library.
    from timing.sequence.transitions_engine import TransitionsScan

    return TransitionsScan()


def _say_without_arc(design: Design) -> None:
    """Say why there are no traces of the wire's end, where no arc can burn."""
    from timing.process.case import burnback_case
    from timing.process.errors import ProcessError

    try:
        burnback_case(design).operating_point()
    except ProcessError as impossible:
        say(f"no traces of the wire's end: {impossible.what}", err=True)
