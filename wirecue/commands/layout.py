"""wirecue layout."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from wirecue.output_files import Destination, Form, OutputOption, WritingCommand
from wirecue.terminal import json_text, say

if TYPE_CHECKING:
    from codegen.papers.board_pages import BoardPaper
    from timing.project import Project


@click.command(name="layout", cls=WritingCommand, short_help="Lay the circuit out on strip board.")
@click.argument("design", type=click.Path(path_type=Path))
@click.option("--pdf", type=OutputOption("board", Form.PDF), metavar="FILE.pdf", help="Write the pages, full size.")
@click.option("--holes", type=OutputOption("list of holes", Form.CSV), metavar="FILE.csv", help="Write the lists.")
@click.option(
    "--seed", type=click.IntRange(0, 2**32 - 1), default=24, show_default=True, help="Another, another board."
)
@click.option(
    "--moves",
    type=click.IntRange(0, 20_000_000),
    default=400_000,
    show_default=True,
    help="Of the search, for each size of board; more take longer and may save links.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the layout as JSON.")
def command(
    design: Path, pdf: Destination | None, holes: Destination | None, seed: int, moves: int, as_json: bool
) -> None:
    """Lay the circuit out on strip board: parts, cuts and links on a grid of 2.54 mm.

    Where each part stands is searched for by simulated annealing, in some twenty seconds; the same circuit, seed and
    number of moves give the same board. It is kept in your cache folder, and `wirecue build` draws what is kept. The
    net list is read back from the holes, cuts and links, and a board that is not the circuit is not given.

    The feeder's side lies at the left of a barrier that every strip is cut at, the logic at the right; couplers and
    relays stand across. Mains-level loads are refused: strips lie half a millimetre apart. The last page says how the
    same board is made on perforated board, with wires in place of the strips.

    \b
      wirecue layout my_feeder.toml --pdf board.pdf
      wirecue layout my_feeder.toml --seed 7 --holes holes.csv

    Print the pages at 100 %, measure the check bar, and hold your parts against them before you cut.
    """
    from codegen.papers.board_pages import board_pdf, holes_csv
    from wirecue.projects import load_project

    paper = _laid_out(load_project(design), seed, moves)
    if pdf is not None:
        pdf.give(board_pdf(paper))
    if holes is not None:
        holes.give(holes_csv(paper))
    if as_json:
        click.echo(json_text(paper.layout.as_data(paper.items.digest)), nl=False)
    elif not any(one is not None and one.printed for one in (pdf, holes)):
        say(_told(paper))


def _laid_out(project: Project, seed: int, moves: int) -> BoardPaper:
    from wirecue.board_layouts import laid_out_board

    if not sys.stderr.isatty():
        return laid_out_board(project, seed, moves, lambda _: None)
    made = 0
    with click.progressbar(length=moves, label="laying out the board", file=sys.stderr) as bar:

        def tell(more: int) -> None:
            nonlocal made
            made += more
            if made > moves:
                # A larger board: from the beginning.
                bar.update(-bar.pos)
                made = more
            bar.update(more)

        return laid_out_board(project, seed, moves, tell)


def _told(paper: BoardPaper) -> str:
    layout = paper.layout
    stands = sum(not part.label.startswith("to ") for part in layout.parts)
    high, wide = layout.size_mm
    facts: dict[str, Any] = {
        "board": f"{layout.rows} strips of {layout.columns} holes, {high:.0f} x {wide:.0f} mm",
        "parts": f"{stands}, and {len(layout.parts) - stands} places for wires from elsewhere",
        "links": f"{len(layout.links)}, of which {sum(link.insulated for link in layout.links)} insulated",
        "cuts": f"{len(layout.cuts)}, and every strip twice at the barrier"
        if layout.barrier
        else f"{len(layout.cuts)}; nothing on the board needs a barrier",
        "net list": "read back from holes, cuts and links: that of the circuit",
    }
    return "\n".join(f"{name:<9}{fact}" for name, fact in facts.items())
