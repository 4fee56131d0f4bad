"""wirecue status."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand, printed
from wirecue.terminal import json_text, paragraph, say

if TYPE_CHECKING:
    from timing.project import Project
    from timing.protocol.target import Target
    from wirecue.firmware import VirtualKind


@click.command(
    name="status", cls=WritingCommand, short_help="Ask a board what it carries, how it is and why it last started."
)
@click.argument("design", type=click.Path(path_type=Path), required=False)
@click.option("--port", "-p", help="Serial port of the board, such as /dev/ttyACM0 or COM4.")
@click.option(
    "--virtual",
    is_flag=False,
    flag_value="model",
    type=click.Choice(["model", "avr"]),
    help="Ask a virtual board that carries DESIGN: --virtual is all model, --virtual=avr the real firmware in a "
    "simulator.",
)
@click.option(
    "--json",
    "json_path",
    type=OutputOption("status", Form.JSON),
    metavar="FILE",
    help="Write the status as JSON (it has a format number); - prints it.",
)
@click.option("--patience", "patience_s", type=click.FloatRange(0.2, 120), help="Seconds to wait for the board.")
@click.pass_context
def command(
    ctx: click.Context,
    design: Path | None,
    port: str | None,
    virtual: VirtualKind | None,
    json_path: Destination | None,
    patience_s: float | None,
) -> None:
    """Ask a board what it carries, how it is and why it last started.

    After a stop that nobody can explain, before anything is taken apart: the board says which design it carries,
    whether its settings were edited, the phase, the fault shown and the latest since power-up, and why it last
    started (brown-out, a loop that hung, a slow clock), each with what to look for. With DESIGN it is compared with
    the board, and supply and dials are told in volts and times.

    \b
      wirecue status --port /dev/ttyACM0                  who is there?
      wirecue status my_feeder.toml --port /dev/ttyACM0   is it this design? where do its dials stand?
      wirecue status my_feeder.toml --virtual             no board needed

    It only asks. No output is moved, nothing is forced, cleared or restarted, and no bench link is needed; errors
    that it tells leave the board's queue, as that is how they are asked for.

    Opening the port resets many boards all by itself: whatever they did ends, outputs float until the sketch runs,
    and it starts in hold-off. That alone reads 'reset pin'; a graver cause and the latest fault outlive it. Never
    ask while somebody welds.

    They last as long as the board has power. To ask it in the feeder while it does, go through a USB isolator:
    COMMON is not isolated from the feeder's 24 VAC. Without one pull the feeder plug (P1) first; the board then says
    'power-up', the supply reads about nothing, and what the lamp showed before is all there is to go by.

    Exit codes: 0 it is this design, or none was given; 1 another design, or edited settings; 2 no board, an answer
    that makes no sense, or a wrong command.
    """
    from bench.link import PATIENCE_S, connected
    from bench.status import ask_status
    from timing.protocol.target_of_design import target_of
    from wirecue.board_status import Compared, status_data, status_text
    from wirecue.firmware import NO_PORT
    from wirecue.projects import load_project

    if port is not None and virtual is not None:
        raise click.UsageError("--port and --virtual exclude each other")
    if virtual is not None and design is None:
        raise click.UsageError("--virtual needs a DESIGN for the board to carry")
    project = None if design is None else load_project(design)
    target = None if project is None else target_of(project)
    with (
        _board(project, target, port, virtual) as address,
        connected(address, patience_s or PATIENCE_S, follows_host=False, clears=False) as (link, identity),
    ):
        status = ask_status(link, identity, target)
    shown = address if virtual is None else NO_PORT[virtual]
    compared = Compared(status, shown, virtual is None, project, target)
    if json_path is not None:
        json_path.give(json_text(status_data(compared)))
    click.echo(status_text(compared), nl=False, err=printed(json_path) > 0)
    ctx.exit(0 if compared.as_designed else 1)


@contextlib.contextmanager
def _board(
    project: Project | None, target: Target | None, port: str | None, virtual: VirtualKind | None
) -> Iterator[str]:
    """Yield the address of the board, after starting it where it is virtual."""
    from bench.errors import NoPortGivenError
    from bench.port import listed_ports, require_present
    from wirecue.firmware import virtual_board

    if virtual is not None and project is not None and target is not None:
        with virtual_board(virtual, project, target, _say) as address:
            yield address
        return
    if port is None:
        raise NoPortGivenError(listed_ports())
    require_present(port)
    _say(
        paragraph(
            "Opening the port resets many boards: never while somebody welds. Feeder plug (P1) pulled, or through a "
            "USB isolator."
        )
    )
    yield port


def _say(text: str) -> None:
    say(text, err=True)
