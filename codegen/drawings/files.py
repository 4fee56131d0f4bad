"""Drawings and lists of a build, by file name, all from one netlist."""

from __future__ import annotations

from collections.abc import Sequence

from codegen.drawings.schematic import schematic
from codegen.drawings.wiring import bypass_sheet, wiring_sheets
from codegen.lists_csv import parts_csv, wires_csv
from timing.circuit.netlist import netlist
from timing.design.board import Board
from timing.design.design import Design


def drawing_files(design: Design, board: Board) -> dict[str, str]:
    """Return schematic, wiring and bypass plug as SVG, a file for each sheet of A4, and the lists as CSV.

    Check the design against the rules on pins first: raises NetlistError where two roles share a pin.
    """
    wiring = netlist(design, board)
    return {
        **numbered("schematic", schematic(design, board, wiring)),
        **numbered("wiring", wiring_sheets(design, board, wiring)),
        "bypass.svg": bypass_sheet(design, board, wiring),
        "parts.csv": parts_csv(design, board, wiring),
        "wires.csv": wires_csv(design, board, wiring),
    }


def numbered(name: str, sheets: Sequence[str]) -> dict[str, str]:
    """Return sheets by file name: schematic.svg, schematic-2.svg and so on."""
    return {f"{name}{'' if number == 1 else f'-{number}'}.svg": svg for number, svg in enumerate(sheets, start=1)}
