"""The wiring: cables point to point, the joints on the circuit board, the bypass plug."""

from __future__ import annotations

from codegen.drawings.bypass import draw_bypass
from codegen.drawings.sheet import Sheet
from codegen.drawings.wiring_board import cards, draw_cards, pages
from codegen.drawings.wiring_cables import Cables, panel_apart
from timing.circuit.netlist import netlist
from timing.circuit.parts import Netlist
from timing.design.board import Board
from timing.design.design import Design


def wiring_sheets(design: Design, board: Board, wiring: Netlist | None = None) -> tuple[str, ...]:
    """Return the sheets of the wiring as SVG documents. wiring: the netlist if it was made already."""
    wiring = wiring or netlist(design, board)
    placed = pages(tuple(cards(wiring)))
    first = cable_sheets(design, board, wiring, len(placed))
    total, drawn = len(first) + len(placed), []
    for number, page in enumerate(placed, start=len(first) + 1):
        sheet = Sheet(wiring, f"Wiring {number} of {total}: on the circuit board", design.title or design.name)
        draw_cards(sheet, page)
        drawn.append(sheet.finish(_foot(design)))
    return (*first, *drawn)


def cable_sheets(
    design: Design, board: Board, wiring: Netlist | None = None, more: int | None = None
) -> tuple[str, ...]:
    """Return the sheets that show wires from point to point.

    wiring: the netlist if it was made already. more: how many sheets come after these, if known already.
    """
    wiring = wiring or netlist(design, board)
    more = len(pages(tuple(cards(wiring)))) if more is None else more
    titles = ["cables, point to point"] + (["panel, point to point"] if panel_apart(wiring) else [])
    sheets = [
        Sheet(wiring, f"Wiring {number} of {len(titles) + more}: {title}", design.title or design.name)
        for number, title in enumerate(titles, start=1)
    ]  # fmt: skip
    Cables(sheets[0]).draw()
    for sheet in sheets[1:]:
        Cables(sheet).draw_panel()
    return tuple(sheet.finish(_foot(design)) for sheet in sheets)


def bypass_sheet(design: Design, board: Board, wiring: Netlist | None = None) -> str:
    """Return the sheet of the bypass plug as an SVG document. wiring: the netlist if it was made already."""
    wiring = wiring or netlist(design, board)
    sheet = Sheet(wiring, "Bypass plug", design.title or design.name)
    draw_bypass(sheet)
    return sheet.finish(_foot(design))


def _foot(design: Design) -> str:
    return f"{design.name}, design {design.digest()}"
