"""wirecue build."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from timing.design.text_file import shown
from timing.logbook.entry import EntryKind
from wirecue import __version__
from wirecue.logbooks import enter, latest_entry, logbook_path, told_place
from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from codegen.compiled_core import CoreComparison
    from codegen.papers.board_pages import BoardPaper
    from codegen.writing import Written
    from timing.project import Project
    from timing.proof.prove import Proof


@click.command(name="build", short_help="Make sketch, bench harness and drawings from a design.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--output", "-o", type=click.Path(path_type=Path), help="Folder to make.  [default: NAME_build]")
@click.option("--force", is_flag=True, help="Build over files that were edited since; a copy of each is kept.")
@click.option("--json", "as_json", is_flag=True, help="Print what was made as JSON.")
@click.pass_context
def command(ctx: click.Context, design: Path, output: Path | None, force: bool, as_json: bool) -> None:
    """Make sketch, bench harness and drawings from a design.

    \b
    NAME/          the sketch: open NAME/NAME.ino in the board maker's own IDE
    bench/         a test of the real board: pytest and pyserial, without this tool
    sheet.html     the build sheet: everything for the workshop on paper, A4 or Letter; sheet.pdf the same
    dials.svg      plates of the panel at full size: dials, switches, buttons, the lamp with what its blinks mean; to
                   print and glue on; dials.pdf the same (what a page does not hold: dials-2.svg)
    schematic.svg  the circuit, wiring.svg point to point, bypass.svg the plug that puts the feeder back; A4 each
    parts.csv      what to buy; wires.csv every wire, its length left blank
    nets.csv       every net with its terminals, for other programs; nets.json the same
    spice/         the circuits behind the figures, for ngspice
    strip_board/   the circuit on strip board, where `wirecue layout` laid it out: pages at full size, lists
    timeline.svg   the sequence as a picture
    NAME.hex       the sketch compiled, where there was a compiler: `wirecue flash` uploads it anywhere
    NAME.toml      the design itself, as the record
    manifest.json  digests of design and files; what was proved and compared, and what was not

    A design that breaks a rule, or whose sequence can, is not built (exit code 1). Where there is a C compiler, the
    sequence of this very design is compiled and compared with the model on every combination that was proved; where
    they differ, nothing is built.

    The same design gives the same bytes. A file that you edited since is not overwritten; --force does, and keeps
    your copy as FILE.yours. Whatever else is in the folder stays as it is.
    """
    from codegen.build import about, build_plan
    from codegen.compiled_core import compare_core
    from codegen.sketch import sketch_files
    from codegen.writing import write_plan
    from timing.design.loading import read_design_text
    from wirecue.firmware import compiling
    from wirecue.projects import parse_project
    from wirecue.terminal import working

    # Read once, so that the text kept as the record is the one that was built.
    source = read_design_text(design)
    project = parse_project(source, str(design))
    _refuse_errors(ctx, project, as_json)
    sketch = sketch_files(project, __version__)
    with compiling(project, sketch) as waited_for:
        with working("walking every state of the sequence"):
            proof = project.proof
        _refuse_breach(ctx, design, proof)
        with working("making drawings and papers"):
            plan = build_plan(project, sketch, __version__, source, _board(project))
        with working("comparing the compiled sequence with the model") as tell:
            compared = compare_core(project.design, sketch, proof.walked, tell)
        with working("compiling the sketch to see that it fits"):
            compiled = waited_for()
    project = compiled.project
    _refuse_errors(ctx, project, as_json)
    plan = compiled.added_to(plan)
    folder = output or Path(f"{project.design.name}_build")
    written = write_plan(plan, folder, about(project, __version__, source, compared), force=force)
    if as_json:
        click.echo(json_text(_report(folder, project, compared, written)), nl=False)
    else:
        _tell(folder, project, written, compiled.why_not)
        _tell_proof(proof, compared)
        _tell_next(design, folder, project, plan.files)
    enter_build(design, folder, project)


def _refuse_errors(ctx: click.Context, project: Project, as_json: bool) -> None:
    from timing.checks.finding import Severity, worst
    from wirecue.commands.check import check_record
    from wirecue.terminal import finding_text, verdict_text

    findings = project.findings
    if worst(findings) is not Severity.ERROR:
        return
    if as_json:
        click.echo(json_text(check_record(project)), nl=False)
    for finding in findings:
        if finding.severity is Severity.ERROR:
            say(finding_text(finding), err=True)
    say(verdict_text(project.design.name, findings), err=True)
    ctx.exit(1)


def _board(project: Project) -> BoardPaper | None:
    """The board laid out before for this very circuit, if there is one."""
    from timing.errors import WirecueError
    from wirecue.board_layouts import kept_board

    try:
        return kept_board(project)
    except WirecueError:
        return None


def _refuse_breach(ctx: click.Context, design: Path, proof: Proof) -> None:
    for verdict in proof.broken:
        say(f"error    {verdict.rule.name}: {verdict.rule.sentence}", err=True)
    if not proof.holds:
        say(f"the sequence can break this; `wirecue prove {shown(design)}` shows how", err=True)
        ctx.exit(1)


def _tell(folder: Path, project: Project, written: Written, why_not_compiled: str) -> None:
    for label, names in (("new", written.new), ("changed", written.changed), ("removed", written.removed)):
        for place, count in Counter(name.partition("/")[0] for name in names).items():
            files = "" if place in names else f"/  {count} file{'' if count == 1 else 's'}"
            say(f"{label:<8} {shown(folder / place)}{files}")
    for file in written.kept:
        say(f"kept     {shown(folder / file)}: your edited copy")
    if written.unchanged:
        say(f"{len(written.unchanged)} files unchanged")
    memory = project.footprint
    estimated = f"estimated: {why_not_compiled}" if why_not_compiled else "estimated"
    say(
        f"\nmemory   {memory.flash_bytes} of {project.board.flash_bytes} bytes of flash, {memory.ram_bytes} of "
        f"{project.board.ram_bytes} bytes of RAM, {'as compiled here' if memory.measured else estimated}"
    )


def _tell_proof(proof: Proof, compared: CoreComparison) -> None:
    say(f"proof    all rules hold on {proof.combinations:,} combinations of phase, inputs, timers and flags")
    if compared.compiler is None:
        say(f"compiled sequence not compared here with the model: {compared.why_not}")
    else:
        say(f"compiled sequence ({compared.compiler}) compared with the model on all of them: no difference")


def _tell_next(design: Path, folder: Path, project: Project, made: Container[str]) -> None:
    name = project.design.name
    if "strip_board/pages.pdf" not in made:
        say("board    not laid out on strip board; `wirecue layout DESIGN` does, then build again draws it")
    say(f"digest   {project.design.digest()}")
    say(f"open     {shown(folder / name / name)}.ino in the board maker's own IDE, board: {project.board.title}")
    say(f"flash    or at once: wirecue flash {shown(design)}")
    say(f"test     wirecue bench {shown(design)} --port PORT, or see {shown(folder / 'bench' / 'README.md')}")
    begins = "" if logbook_path(design).exists() else ": that begins its logbook"
    say(f"record   once it is flashed, wirecue log {shown(design)} --flash{begins}")


def enter_build(design: Path, folder: Path, project: Project) -> None:
    """Enter the build in the design's logbook, where there is one, unless its latest build is this very one."""
    values = {"digest": project.design.digest(), "folder": told_place(folder, design), "version": __version__}
    latest = latest_entry(design, EntryKind.BUILD)
    if latest is None or latest.values != values:
        enter(design, (EntryKind.BUILD, values))


def _report(folder: Path, project: Project, compared: CoreComparison, written: Written) -> dict[str, Any]:
    memory = project.footprint
    return {
        "folder": str(folder),
        "design": project.design.name,
        "digest": project.design.digest(),
        "board": project.board.type,
        "flash_bytes": memory.flash_bytes,
        "ram_bytes": memory.ram_bytes,
        "memory_measured": memory.measured,
        "compiled_sequence": compared.as_data(),
        **asdict(written),
    }
