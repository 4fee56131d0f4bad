"""wirecue trace."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.arguments import SAMPLE_RATE, read_steps
from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, junit_option, printed
from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from bench.capture.check import CaptureCheck
    from codegen.charts.capture import Discrepancy
    from timing.project import Project
    from timing.protocol.target import Target


@click.command(name="trace", cls=WritingCommand, short_help="Check a logic analyser's capture against a design.")
@click.argument("capture", type=click.Path(path_type=Path), metavar="FILE")
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--map",
    "-m",
    "maps",
    multiple=True,
    metavar="ROLE=CHANNEL",
    help="Which channel shows what, such as gas_valve=CH1; :low or :high behind it is the level that means on or "
    "closed. May be given several times.",
)
@click.option("--script", "-s", help='Inputs that the capture does not show, such as "0 s dial burnback 150 ms".')
@click.option("--script-file", type=click.Path(path_type=Path), help="File with these inputs; - reads them.")
@click.option(
    "--dials-as-found",
    is_flag=True,
    help="Take each dial's time from the capture; it must lie in the dial's range, and every weld must show the same.",
)
@click.option(
    "--sample-rate",
    "rate_hz",
    metavar="RATE",
    callback=SAMPLE_RATE,
    help='Samples a second, such as "1 MHz", where the file does not say.',
)
@click.option(
    "--svg", type=OutputOption("picture", Form.XML), help="Draw expected above measured to this file; - prints it."
)
@click.option(
    "--json",
    "json_path",
    type=OutputOption("report", Form.JSON),
    metavar="FILE",
    help="Write every edge as JSON; - prints it.",
)
@junit_option
@click.pass_context
def command(
    ctx: click.Context,
    capture: Path,
    design: Path,
    maps: tuple[str, ...],
    script: str | None,
    script_file: Path | None,
    dials_as_found: bool,
    rate_hz: float | None,
    svg: Destination | None,
    json_path: Destination | None,
    junit_path: Destination | None,
) -> None:
    """Check a logic analyser's capture against a design.

    FILE is a value change dump (VCD), a CSV of samples, or what `wirecue simulate` wrote with --vcd or --csv. The
    captured trigger and buttons drive the model; every captured edge of gas valve, wire drive and contactor must come
    when the model's does, within what the board's clock, its passes and the analyser's samples allow.

    \b
      wirecue trace weld.vcd my_feeder.toml --map trigger=CH1,gas_valve=CH2,wire_drive=CH3,contactor=CH4
      wirecue trace weld.csv my_feeder.toml --sample-rate "1 MHz" --dials-as-found --svg weld.svg
      wirecue trace weld.vcd my_feeder.toml --script "0 s dial burnback 150 ms"

    Channels named after what they show (trigger, gas, wire, contactor ...) need no --map.

    How to capture, with any analyser of a few dollars:

    1. On the bench, before the board goes into the feeder: lamps for loads, board on USB, feeder plug (P1) pulled.

    2. Analyser ground to board common; its inputs to the board's own pins: trigger, gas valve, wire drive,
    contactor, at the board's side of the optocouplers and relays, 5 V or 3.3 V as the board has it. Never to 24 V, to
    a coil, or to the welding circuit: that burns analyser, computer and perhaps you.

    3. In the machine only through isolation: a USB isolator, or a laptop on its battery with nothing else plugged in
    and no hand on it. Board common is not isolated from the feeder's 24 V, which may be grounded, and the welding
    circuit's open-circuit voltage can kill in damp.

    4. 1 MHz is plenty, 100 kHz will do. Begin with everything at rest and past hold-off (one second after power-up),
    pull the trigger, release it, and wait until the gas is off.

    5. Save as VCD, or as CSV with its sample rate.

    Exit codes: 0 every edge is as the design has it, 1 one is not, 2 a bad file or command.
    """
    from bench.capture.check import check_capture
    from bench.capture.mapping import SIGNALS, assign, parse_map
    from bench.capture.reading import read_capture
    from bench.capture.report import edges_text
    from timing.protocol.target_of_design import target_of
    from timing.sequence.core.script import Script
    from timing.sequence.simulate import simulate
    from wirecue.projects import load_project

    if printed(svg, json_path, junit_path) > 1:
        raise click.UsageError("only one of --svg, --json and --junit can be printed")
    project = load_project(design)
    told = read_steps(script, script_file) or Script(())
    # What the design does not have is refused here.
    simulate(project.design, told)
    target = target_of(project)
    fitted = (target.fitted | ({"supply"} if target.supply is not None else set())) & set(SIGNALS)
    shown = read_capture(capture, rate_hz)
    on_levels = dict(project.design.board.on_level)
    assigned = assign(shown, parse_map(maps, "--map"), fitted, on_levels)
    check = check_capture(shown, target, assigned, told, as_found=dials_as_found)
    _give(check, project, target, svg, json_path, junit_path)
    say(edges_text(check, target).rstrip("\n"), err=printed(svg, json_path, junit_path) > 0)
    ctx.exit(0 if check.passed else 1)


def _give(
    check: CaptureCheck,
    project: Project,
    target: Target,
    svg: Destination | None,
    json_path: Destination | None,
    junit_path: Destination | None,
) -> None:
    from bench.capture.report import edges_data, edges_report
    from bench.reports import junit_text

    if svg is not None:
        from codegen.charts.capture import capture_svg

        title = f"{project.design.title or project.design.name}: measured"
        svg.give(capture_svg(title, check.predicted, check.seen, _marks(check)))
    if json_path is not None:
        json_path.give(json_text(edges_data(check, target)))
    if junit_path is not None:
        junit_path.give(junit_text(edges_report(check, target), "trace"))


def _marks(check: CaptureCheck) -> list[Discrepancy]:
    from codegen.charts.capture import Discrepancy

    return [Discrepancy(edge.output, edge.at_us, edge.brief) for edge in check.edges if not edge.passed]
