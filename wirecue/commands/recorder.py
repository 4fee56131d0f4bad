"""wirecue recorder."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from timing.design.text_file import shown
from wirecue import __version__
from wirecue.arguments import QuantityOption
from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from codegen.recorder_papers import RecorderSource
    from codegen.writing import Written
    from wirecue.firmware import Compiled

ROLL = QuantityOption("mm", "35 mm", 15, 80)
"""Diameter of a drive roll in mm, bounds as of `timing.recorder.disc.ROLL_MM`."""
DISC = QuantityOption("mm", "60 mm", 40, 120)
"""Outer diameter of a disc in mm, bounds as of `timing.recorder.disc.DISC_MM`."""
BORE = QuantityOption("mm", "8 mm", 2, 20)
"""Bore of a disc in mm, bounds as of `timing.recorder.disc.BORE_MM`."""
MOTOR = QuantityOption("V", "24 V", 3, 250)
"""What stands on the wire motor's plate, in V."""


@click.command(name="recorder", short_help="Make the recorder: a second board that watches, presses and measures.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option(
    "--board", metavar="TYPE", help="Board of the recorder, as `wirecue boards` lists them.  [default: the design's]"
)
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Folder to make.  [default: NAME_recorder]")
@click.option(
    "--roll", callback=ROLL, metavar="LENGTH", help="Diameter of the drive roll, such as '35 mm', for the disc."
)
@click.option(
    "--disc", callback=DISC, metavar="LENGTH", help="Outer diameter of the disc.  [default: the roll and 15 mm]"
)
@click.option("--bore", callback=BORE, metavar="LENGTH", help="Bore of the disc.  [default: 8 mm]")
@click.option("--motor", callback=MOTOR, metavar="VOLTAGE", help="Voltage on the wire motor's plate.  [default: 24 V]")
@click.option(
    "--main-contact",
    type=click.Choice(["voltage", "contact"]),
    default="voltage",
    show_default=True,
    help="Input 5: across the welding output, or a spare bare contact of the contactor.",
)
@click.option(
    "--sensor",
    type=click.Choice(["arc", "flag"]),
    default="arc",
    show_default=True,
    help="Input 6: a current switch at the welding cable, or the paper flag at the nozzle.",
)
@click.option("--force", is_flag=True, help="Make it over files that were edited since; a copy of each is kept.")
@click.option("--json", "as_json", is_flag=True, help="Print circuits, lags and what was made as JSON.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path,
    board: str | None,
    output: Path | None,
    roll: float | None,
    disc: float | None,
    bore: float | None,
    motor: float | None,
    main_contact: Literal["voltage", "contact"],
    sensor: Literal["arc", "flag"],
    force: bool,
    as_json: bool,
) -> None:
    """Make the recorder: a second board that watches, presses and measures.

    A board that reports its own edges with its own clock proves little, and nobody in a workshop owns an
    oscilloscope. A second cheap board sees valve, wire drive, contactor, motor, arc and 24 VAC through couplers, stamps
    every change within 16 us, presses trigger and purge by contacts, and counts a disc on the drive roll. It is an
    option: everything else works without.

    \b
    recorder/      its sketch: open recorder/recorder.ino in the board maker's own IDE
    sheet.pdf      the paper to build it by: parts, circuits, wires, its test on the table, where the leads go;
                   sheet.html the same
    schematic.svg  an adapter a row, the barrier between machine and laptop drawn plainly
    bench.svg      its leads at the bench, with lamps for loads; machine.svg at the machine
    disc.pdf       at full size: disc for the drive roll, marks, flag for the nozzle; print at 100 %
    parts.csv      what to buy; wires.csv, nets.csv
    recorder.hex   the sketch compiled, where there was a compiler
    manifest.json  digests of all of them

    \b
      wirecue recorder my_feeder.toml --roll "35 mm"
      wirecue recorder my_feeder.toml --board nano --sensor flag --motor "42 V"

    Each adapter is computed for this machine's circuits, with every tolerance against it, and built as the design
    says (circuits.build). A circuit above extra-low voltage gets none, with the reason. What must not be built is not
    (exit code 1). No file that you edited since is overwritten; --force does, and keeps your copy as FILE.yours.
    """
    from codegen.recorder_folder import about_recorder, recorder_plan
    from codegen.recorder_papers import DiscWish, RecorderSource
    from codegen.recorder_sketch import recorder_digest, recorder_files
    from codegen.writing import write_plan
    from timing.project import Project
    from timing.protocol.recorder import RECORDER
    from timing.recorder.fitting import RecorderWish
    from wirecue.firmware import compiling
    from wirecue.projects import load_board, load_project
    from wirecue.terminal import working

    project = load_project(design)
    facts = project.board if board is None else load_board(board)
    wish = RecorderWish(main_contact, sensor, motor)
    source = RecorderSource(project, facts, __version__, wish, DiscWish(roll, disc, bore))
    _refuse_recorder(ctx, source, as_json)
    sketch = recorder_files(facts, __version__)
    with compiling(Project(project.design, facts), sketch) as waited_for:
        with working("making drawings and papers"):
            plan = recorder_plan(source, sketch)
        with working("compiling the sketch"):
            compiled = waited_for()
    if compiled.hex is not None:
        plan = plan.with_file(f"{RECORDER}.hex", compiled.hex)
    folder = output or Path(f"{project.design.name}_recorder")
    written = write_plan(plan, folder, about_recorder(source, recorder_digest(facts, __version__)), force=force)
    if as_json:
        click.echo(json_text(_record(source, folder, written)), nl=False)
    else:
        _tell(source, folder, written, compiled)
        onto = "" if board is None else f" --board {board}"
        say(f"flash    or at once: wirecue flash {shown(design)} --recorder{onto}")


def _refuse_recorder(ctx: click.Context, source: RecorderSource, as_json: bool) -> None:
    """Show why a recorder must not be built, and end with exit code 1, where a rule says so."""
    from timing.checks.finding import Severity, findings_record, worst
    from wirecue.terminal import finding_text, verdict_text

    findings = source.findings
    if worst(findings) is not Severity.ERROR:
        return
    if as_json:
        click.echo(json_text({"findings": findings_record(findings)}), nl=False)
    for finding in findings:
        if finding.severity is Severity.ERROR:
            say(finding_text(finding), err=True)
    say(verdict_text(source.project.design.name, findings), err=True)
    ctx.exit(1)


def _tell(source: RecorderSource, folder: Path, written: Written, compiled: Compiled) -> None:
    from timing.protocol.recorder import RECORDER
    from timing.recorder.circuit_words import adapter_words
    from wirecue.terminal import finding_text

    for adapter in source.circuits.adapters.values():
        words = adapter_words(adapter)
        say(
            f"input {adapter.input.number}  {adapter.kind.value}, {words.lines[0]}; {words.lines[1]}; {words.lines[-1]}"
        )
    for finding in source.findings:
        say(finding_text(finding))
    say("")
    for label, names in (("new", written.new), ("changed", written.changed), ("removed", written.removed)):
        for place, count in Counter(name.partition("/")[0] for name in names).items():
            files = "" if place in names else f"/  {count} file{'' if count == 1 else 's'}"
            say(f"{label:<8} {shown(folder / place)}{files}")
    for file in written.kept:
        say(f"kept     {shown(folder / file)}: your edited copy")
    if written.unchanged:
        say(f"{len(written.unchanged)} files unchanged")
    memory = compiled.project.footprint
    if memory.measured:
        say(f"\nmemory   {memory.flash_bytes} bytes of flash, {memory.ram_bytes} bytes of RAM, as compiled here")
    if source.disc_wish.roll_mm is None:
        say(f"disc     for a drive roll of {source.roll_mm:g} mm: measure yours, --roll")
    say(f"build    by {shown(folder / 'sheet.pdf')}; test it on the table before it goes near the machine")
    say(f"open     {shown(folder / RECORDER / RECORDER)}.ino in the board maker's own IDE, board: {source.board.title}")


def _record(source: RecorderSource, folder: Path, written: Written) -> dict[str, Any]:
    from codegen.recorder_folder import circuits_record
    from timing.checks.finding import findings_record

    return {
        "folder": str(folder),
        "design": source.project.design.name,
        "board": source.board.type,
        "circuits": circuits_record(source),
        "findings": findings_record(source.findings),
        **asdict(written),
    }
