"""wirecue flash."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wirecue.terminal import json_text, paragraph, say

if TYPE_CHECKING:
    from timing.project import Project
    from wirecue.flash_errors import SeveralPortsError
    from wirecue.flashing import FlashPlan, FlashResult
    from wirecue.recorder_flashing import RecorderFlashPlan, RecorderFlashResult

FLASH_FORMAT = 1


@click.command(name="flash", short_help="Put a design onto its board, and have the board say so.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--recorder", is_flag=True, help="The recorder's sketch instead, onto a second board.")
@click.option("--board", help="With --recorder: type of that board.  [default: as the design's]")
@click.option("--port", "-p", help="Serial port of the board, such as /dev/ttyACM0.  [default: the only one]")
@click.option(
    "--bootloader",
    type=click.Choice(["new", "old", "usual"]),
    help="Try this bootloader alone.  [default: each that such boards are sold with]",
)
@click.option("--build", type=click.Path(path_type=Path), help="Folder of a build whose compiled sketch may be taken.")
@click.option("--drive", type=click.Path(path_type=Path), help="For a board that is a drive: where that lies.")
@click.option("--yes", "-y", is_flag=True, help="The cautions are heeded: do not ask.")
@click.option("--dry-run", is_flag=True, help="Say what would be run, and stop; nothing is opened.")
@click.option("--json", "as_json", is_flag=True, help="Print the outcome as JSON; what goes on is told beside it.")
@click.option("--patience", "patience_s", type=click.FloatRange(0.2, 120), help="Seconds until the sketch must answer.")
def command(
    design: Path,
    recorder: bool,
    board: str | None,
    port: str | None,
    bootloader: str | None,
    build: Path | None,
    drive: Path | None,
    yes: bool,
    dry_run: bool,
    as_json: bool,
    patience_s: float | None,
) -> None:
    """Put a design onto its board, and have the board say so.

    The sketch is compiled here, or taken from the build of this very design; avrdude carries it through the board's
    bootloader and reads it back; then the board itself is asked which design it carries. Both bootloaders that such
    boards are sold with are known, and asked which of them is there.

    \b
      wirecue flash my_feeder.toml                      the only board that is plugged in
      wirecue flash my_feeder.toml --dry-run            what would be run, avrdude's line included
      wirecue flash my_feeder.toml --port /dev/ttyACM0
      wirecue flash my_feeder.toml --yes                for scripts: the cautions are heeded

    Feeder plug (P1) out first, or a USB isolator between: COMMON is not isolated from the feeder's 24 VAC. While it
    is written the board's pins float, and an upload that is cut short leaves half a sketch on it, which runs: only
    the resistors hold the outputs off. Flash it again then; the bootloader is whole.

    With --recorder the second board gets its sketch, which knows no design: it watches the add-on, and presses its
    buttons (`wirecue bench --recorder`, `wirecue measure`). Its type is the design's unless --board names another; the
    logbook, which is the machine's, hears nothing of it.

    \b
      wirecue flash my_feeder.toml --recorder --port /dev/ttyUSB1
      wirecue flash my_feeder.toml --recorder --board nano

    A board that shows itself as a drive (hold BOOTSEL, plug it in) takes the .uf2 file that the IDE exports; where
    there is none yet, the steps to one are told.

    Where no compiler is: run `wirecue build` on a machine that has one, bring the folder here, and NAME.hex in it is
    taken. Without avrdude, open the sketch in the board maker's own IDE and press Upload.

    It is entered in the design's logbook where there is one (`wirecue log`).

    Exit codes: 0 flashed, and the board answers with the design's digest; 1 not flashed, or it answers with another
    one or not at all; 2 nothing was tried: a file, command, tool or port.
    """
    from wirecue.flash_errors import SeveralPortsError
    from wirecue.projects import load_project

    if board is not None and not recorder:
        raise click.UsageError("--board goes with --recorder: a design names its own board.")
    project = load_project(design)
    folders = () if build is None else (build,)
    options: dict[str, Any] = {"bootloader": bootloader, "drive": drive, "patience_s": patience_s}

    def plan_for(port: str | None) -> FlashPlan | RecorderFlashPlan:
        if recorder:
            return _recorder_plan(project, board, port, folders, options)
        from wirecue.flashing import plan_flash

        return plan_flash(design, project, port, folders=folders, **options)

    try:
        plan = plan_for(port)
    except SeveralPortsError as several:
        plan = plan_for(_chosen(several))
    _tell_plan(plan, dry_run and not as_json)
    if dry_run:
        if as_json:
            click.echo(json_text(_planned(plan)), nl=False)
        return
    _caution(plan, yes)
    result = _run(plan, lambda line: say(f"  {line} ...", err=True))
    if as_json:
        click.echo(json_text(_planned(plan) | _done(result)), nl=False)
    for sentence in result.sentences:
        say(paragraph(sentence), err=as_json)


def _recorder_plan(
    project: Project, board: str | None, port: str | None, folders: tuple[Path, ...], options: dict[str, Any]
) -> RecorderFlashPlan:
    from wirecue.carried_sketch import RecorderSketch
    from wirecue.projects import load_board
    from wirecue.recorder_flashing import plan_recorder_flash

    name = project.design.name
    sketch = RecorderSketch(project.board if board is None else load_board(board), name)
    return plan_recorder_flash(sketch, port, folders=(*folders, Path(f"{name}_recorder")), **options)


def _run(plan: FlashPlan | RecorderFlashPlan, tell: Callable[[str], None]) -> FlashResult | RecorderFlashResult:
    from wirecue.flashing import FlashPlan, run_flash
    from wirecue.recorder_flashing import run_recorder_flash

    return run_flash(plan, tell) if isinstance(plan, FlashPlan) else run_recorder_flash(plan, tell)


def _attended() -> bool:
    """Tell whether somebody is there to answer."""
    return sys.stdin.isatty()


def _chosen(several: SeveralPortsError) -> str:
    """Ask which of several ports is the board's. Raises SeveralPortsError where nobody is there to say."""
    if not _attended():
        raise several
    for number, one in enumerate(several.present, 1):
        say(f"{number}  {one.told}", err=True)
    say(paragraph("Not sure which? Unplug the board, start again, and see which one is gone."), err=True)
    number = click.prompt("Which one is the board", type=click.IntRange(1, len(several.present)), err=True)
    return several.present[number - 1].name


def _tell_plan(plan: FlashPlan | RecorderFlashPlan, whole: bool) -> None:
    for number, step in enumerate(plan.steps, 1):
        say(paragraph(f"{step}.", first=f"{number}. ", then="   "), err=not whole)
    for note in plan.notes:
        say(paragraph(note, first="note: ", then="      "), err=not whole)
    if whole:
        say("")
        for line in plan.commands:
            # To be copied: it stays whole.
            click.echo(line)


def _caution(plan: FlashPlan | RecorderFlashPlan, yes: bool) -> None:
    from wirecue.flash_errors import NotConfirmedError

    say("Before a board is flashed:", err=True)
    for caution in plan.cautions:
        say(paragraph(caution, first="  - ", then="    "), err=True)
    if yes:
        return
    if not _attended():
        raise NotConfirmedError(asked=False)
    if not click.confirm("Is all of this so?", err=True):
        raise NotConfirmedError(asked=True)


def _planned(plan: FlashPlan | RecorderFlashPlan) -> dict[str, Any]:
    return {
        "format": FLASH_FORMAT,
        "design": plan.way.sketch.name,
        "digest": plan.way.sketch.digest,
        "board": plan.way.sketch.board.type,
        "port": plan.port,
        "file": None if plan.way.file is None else str(plan.way.file),
        "commands": list(plan.commands),
        "notes": list(plan.notes),
    }


def _done(result: FlashResult | RecorderFlashResult) -> dict[str, Any]:
    return {
        "flashed": True,
        "carries": {"design": result.identity.design, "digest": result.identity.digest},
        "port": result.port,
        "bootloader": None if result.bootloader is None else result.bootloader.name,
        "watchdog_loops": result.bootloader is not None and result.bootloader.watchdog_loops,
        **result.told,
        "took_s": round(result.took_s, 1),
    }
