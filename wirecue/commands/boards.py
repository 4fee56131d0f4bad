"""wirecue boards."""

from __future__ import annotations

import click

from wirecue.terminal import json_text, paragraph, say, table


@click.command(name="boards", short_help="List the boards a sketch can be built for.")
@click.option("--json", "as_json", is_flag=True, help="Print all facts as JSON.")
def command(as_json: bool) -> None:
    """List the boards a sketch can be built for.

    The name in the first column goes into the design file: [board] type = "...".
    """
    from wirecue.projects import board_names, load_board

    boards = [load_board(name) for name in board_names()]
    if as_json:
        click.echo(json_text([board.model_dump() for board in boards]), nl=False)
        return
    rows = [
        (
            board.type,
            board.title,
            board.mcu,
            f"{board.logic_v:g} V",
            f"{board.flash_bytes} B",
            f"{board.ram_bytes} B",
            f"{board.vin_min_v:g} to {board.vin_max_v:g} V",
        )
        for board in boards
    ]
    click.echo(table(rows, ("type", "board", "controller", "logic", "flash", "RAM", "supply input")))
    for board in boards:
        if board.tested:
            say(f"\n{paragraph(f'{board.type}: the sketch was {board.tested.strip()}.')}")
