"""wirecue new."""

from __future__ import annotations

import os
from pathlib import Path

import click

from timing.design.text_file import shown
from wirecue.design_names import check_design_name
from wirecue.output_files import write_file
from wirecue.projects import example_names, example_text
from wirecue.terminal import say


@click.command(name="new", short_help="Write a design file to start from.")
@click.argument("name")
@click.option(
    "--like",
    type=click.Choice(example_names()),
    default="shop_two_step",
    show_default=True,
    help="Which example to start from.",
)
@click.option("--board", help="Board to use, as `wirecue boards` lists them.  [default: the example's]")
@click.option("--force", is_flag=True, help="Replace a file that is there.")
def command(name: str, like: str, board: str | None, force: bool) -> None:
    """Write NAME.toml, a design file to start from, with a remark on every key.

    Put your own figures in: what you measured at your feeder takes the place of the example's numbers.

    \b
    shop_two_step      solid wire and gas, trigger held while welding
    spot_stitch        timed spots and stitches on sheet, arc sensor
    gasless_four_step  self-shielded wire, press to start and press to end
    """
    from timing.design.loading import parse_design
    from timing.design.saving import starting_text

    path = Path(f"{Path(name).name.removesuffix('.toml')}.toml")
    path = Path(name).parent / path
    check_design_name(path.stem, str(path))
    if os.path.lexists(path) and not force:
        raise click.UsageError(f"{shown(path)} is there already; --force replaces it, or take another name")
    text = starting_text(example_text(like), path.stem, board)
    parse_design(text, str(path))
    write_file(path, text)
    say(f"{shown(path)}: your figures go in there; then `wirecue check {shown(path)}`")
