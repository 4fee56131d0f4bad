"""The schematic: three sheets of A4 in landscape."""

from __future__ import annotations

from collections.abc import Callable

from codegen.drawings.schematic_board import draw_board
from codegen.drawings.schematic_outputs import draw_outputs
from codegen.drawings.schematic_supply import draw_supply
from codegen.drawings.sheet import Sheet
from timing.circuit.netlist import netlist
from timing.circuit.parts import Netlist
from timing.design.board import Board
from timing.design.design import Design

SHEETS: tuple[tuple[str, Callable[[Sheet], None]], ...] = (
    ("supply and trigger", draw_supply),
    ("outputs", draw_outputs),
    ("board and panel", draw_board),
)


def schematic(design: Design, board: Board, wiring: Netlist | None = None) -> tuple[str, ...]:
    """Return the sheets of the schematic as SVG documents. wiring: the netlist if it was made already."""
    wiring = wiring or netlist(design, board)
    drawn = []
    for number, (title, draw_on) in enumerate(SHEETS, start=1):
        sheet = Sheet(wiring, f"Schematic {number} of {len(SHEETS)}: {title}", design.title or design.name)
        draw_on(sheet)
        drawn.append(sheet.finish(f"{design.name}, design {design.digest()}"))
    return tuple(drawn)
