"""The wiring: cables point to point, the joints on the circuit board, the bypass plug."""

from __future__ import annotations

from codegen.drawings.bypass import draw_bypass
from codegen.drawings.sheet import Sheet
from codegen.drawings.wiring_board import cards, draw_cards, pages
from codegen.drawings.wiring_cables import Cables, panel_apart
from timing.design.board import Board
from timing.design.design import Design
from timing.supply.netlist import netlist
from timing.supply.parts import Netlist


def wiring_sheets(design: Design, board: Board, wiring: Netlist | None = None) -> tuple[str, ...]:
    """Return the sheets of the wiring as SVG documents. wiring: the netlist if it was made already."""
    wiring = wiring or netlist(design, board)
    name, foot = design.title or design.name, f"{design.name}, design {design.digest()}"
    placed = pages(tuple(cards(wiring)))
    crowded = panel_apart(wiring)
    titles = ["cables, point to point"] + (["panel, point to point"] if crowded else [])
    titles += ["on the circuit board"] * len(placed)
    sheets = [
        Sheet(wiring, f"Wiring {number} of {len(titles)}: {title}", name)
        for number, title in enumerate(titles, start=1)
    ]  # fmt: skip
    Cables(sheets[0]).draw()
    if crowded:
        Cables(sheets[1]).draw_panel()
    for sheet, page in zip(sheets[2 if crowded else 1 :], placed, strict=True):
        draw_cards(sheet, page)
    return tuple(sheet.finish(foot) for sheet in sheets)


def bypass_sheet(design: Design, board: Board, wiring: Netlist | None = None) -> str:
    """Return the sheet of the bypass plug as an SVG document. wiring: the netlist if it was made already."""
    wiring = wiring or netlist(design, board)
    sheet = Sheet(wiring, "Bypass plug", design.title or design.name)
    draw_bypass(sheet)
    return sheet.finish(f"{design.name}, design {design.digest()}")
