"""wirecue diff."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from timing.design.text_file import shown
from wirecue.terminal import json_text, paragraph, say

if TYPE_CHECKING:
    from bench.message import Identity
    from wirecue.design_sides import DesignSide


@click.command(name="diff", short_help="Say in words what changed: two designs, two builds, or a board and the file.")
@click.argument("design", type=click.Path(path_type=Path))
@click.argument("other", type=click.Path(path_type=Path), required=False)
@click.option("--port", "-p", help="Compare with the board on this serial port, such as /dev/ttyACM0 or COM4.")
@click.option(
    "--build",
    "builds",
    type=click.Path(path_type=Path),
    multiple=True,
    metavar="FOLDER",
    help="With --port: look for the board's build here, too; may be given several times.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the difference as JSON; it has all wires and parts.")
@click.pass_context
def command(
    ctx: click.Context, design: Path, other: Path | None, port: str | None, builds: tuple[Path, ...], as_json: bool
) -> None:
    """Say in words what changed: two designs, two builds, or a board and the file.

    Each is a design file, a folder that `wirecue build` made, or a manifest: that of a folder, or one of the earlier
    builds that it keeps. Told are the keys that differ, old and new as they were typed, and what that means for the
    hands: whether the board must be flashed, which plates to print anew, which dials to turn, which wires move.

    \b
      wirecue diff old.toml my_feeder.toml
      wirecue diff my_feeder_build my_feeder.toml             has the file changed since it was built?
      wirecue diff my_feeder_build/earlier/0123456789abcdef.json my_feeder.toml
      wirecue diff my_feeder.toml --port /dev/ttyACM0         what does the board carry that the file does not?

    A board tells its digest, not its settings. They are in the manifest of the build that it was flashed with: that is
    looked for in the folders that the logbook names, in NAME_build, and in those given with --build. Opening the port
    resets many boards: never while somebody welds.

    Exit codes: 0 the same, 1 another design, or edited settings, 2 a bad file or command, or no board.
    """
    from wirecue.design_sides import side_at
    from wirecue.diff_report import compared, diff_data, diff_text

    if (other is None) == (port is None):
        raise click.UsageError("one thing to compare with: a second design or build, or --port and the board on it")
    if builds and port is None:
        raise click.UsageError("--build goes with --port")
    side = side_at(design)
    record: dict[str, Any] = {}
    if port is not None:
        identity = _identity(port)
        record = {"board": _board_data(identity, port)}
        if not as_json:
            say(_board_text(identity, port, design))
        carried = _carried(design, side, identity, builds)
        if carried is None:
            _say_unknown(as_json, record, identity, side)
            ctx.exit(1)
        report, edited = compared(carried, side), identity.edited
    else:
        assert other is not None
        report, edited = compared(side, side_at(other)), False
    if as_json:
        click.echo(json_text(diff_data(report) | record), nl=False)
    else:
        click.echo(diff_text(report), nl=False)
    ctx.exit(0 if report.same and not edited else 1)


def _identity(port: str) -> Identity:
    """Ask the board who it is, and nothing else. Raises BenchError."""
    from bench.link import connected
    from bench.port import require_present

    require_present(port)
    with connected(port, follows_host=False, clears=False) as (_, identity):
        return identity


def _carried(design: Path, side: DesignSide, identity: Identity, builds: tuple[Path, ...]) -> DesignSide | None:
    """Return the design that a board carries, where its settings are known."""
    from dataclasses import replace

    from wirecue.design_sides import kept_build, side_of_build

    if identity.digest == side.digest:
        return replace(side, label=f"the board, as {side.label} has it")
    path = kept_build(design, identity.digest, builds)
    return None if path is None else replace(side_of_build(path), label=f"the board, as the build in {shown(path)}")


def _board_text(identity: Identity, port: str, design: Path) -> str:
    from wirecue.design_sides import told_of

    told = told_of(design, identity.digest)
    lines = [f"The board on {port} carries {identity.carries}, made with version {identity.version}."]
    if told:
        lines.append(f"The logbook says of that digest: {', '.join(told)}.")
    if identity.edited:
        lines.append(
            "A number of its settings.h was edited after the build: what the board does may be neither of the two. "
            "Put the changed numbers into the design file, build and flash it again."
        )
    return "\n".join(paragraph(line) for line in lines) + "\n"


def _board_data(identity: Identity, port: str) -> dict[str, Any]:
    return {
        "port": port,
        "design": identity.design,
        "digest": identity.digest,
        "firmware": identity.version,
        "edited": identity.edited,
    }


def _say_unknown(as_json: bool, record: dict[str, Any], identity: Identity, side: DesignSide) -> None:
    from wirecue.diff_report import DIFF_FORMAT

    words = (
        f"It is not {side.label}, whose digest is {side.digest}, and no build of digest {identity.digest} was found, "
        "so its settings cannot be told. --build FOLDER names a folder where a build of it may lie."
    )
    if as_json:
        click.echo(
            json_text({"format": DIFF_FORMAT, "same": False, "changes": None, "why_not": words} | record), nl=False
        )
    else:
        say(paragraph(words))
