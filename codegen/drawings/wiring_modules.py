"""Wiring in the box where ready-made modules are used: each module a box, each wire a line to where it goes."""

from __future__ import annotations

from collections.abc import Iterator

from codegen.drawings.sheet import SMALL, Sheet, wrapped
from codegen.drawings.wiring_cables import TINY
from codegen.drawings.wiring_layout import Keys
from codegen.style import COMMANDED
from timing.circuit.lists import WireRow, wire_list
from timing.circuit.parts import Netlist, Part

COLUMNS_X, TOP, BOTTOM = (11.0, 105.0, 199.0), 34.0, 158.0
BOX, RUN = 34.0, 34.0
"""Width of a module's box, and length of a wire drawn."""
PITCH, GAP, HEAD = 4.6, 4.0, 3.4


def module_wires(wiring: Netlist) -> Iterator[tuple[Part, list[tuple[WireRow, str, str]]]]:
    """Yield each module with its wires inside the box: row, its own terminal, the other end.

    A wire between two modules stands with the first.
    """
    inside = [wire for wire in wire_list(wiring) if not wire.on_board and _places(wiring, wire) <= {"module", "box"}]
    for part in wiring.parts:
        if part.place != "module":
            continue
        own = [(wire, *ends) for wire in inside if (ends := _seen_from(part, wire)) is not None]
        inside = [wire for wire in inside if _seen_from(part, wire) is None]
        if own:
            yield part, own


def _places(wiring: Netlist, wire: WireRow) -> set[str]:
    ends = (wire.from_end, wire.to_end)
    return {wiring.part(end.partition(".")[0]).place for end in ends if not end.startswith("*")}


def _seen_from(part: Part, wire: WireRow) -> tuple[str, str] | None:
    for end, other in ((wire.from_end, wire.to_end), (wire.to_end, wire.from_end)):
        ref, _, name = end.partition(".")
        if ref == part.ref:
            return name, other
    return None


def draw_modules(sheet: Sheet) -> None:
    """Draw the sheet."""
    keys = Keys.of(wire_list(sheet.wiring))
    sheet.text((COLUMNS_X[0], TOP - 9.5), "Wires from module to module, and to the star points (*) and loose parts on "
               "the small board. Wires to cable and panel: the sheets before; letters: the first.", SMALL)  # fmt: skip
    column, y = 0, TOP
    for part, wires in module_wires(sheet.wiring):
        title = wrapped(f"{part.ref} {part.kind.value}, {part.value}", BOX + RUN, TINY)
        height = HEAD * len(title) + PITCH * len(wires)
        if y + height > BOTTOM and y > TOP:
            column, y = column + 1, TOP
        sheet.lines((COLUMNS_X[column], y), title, TINY)
        y = _module(sheet, keys, wires, part, (COLUMNS_X[column], y + HEAD * (len(title) - 1) + 1.4)) + GAP


def _module(
    sheet: Sheet, keys: Keys, wires: list[tuple[WireRow, str, str]], part: Part, at: tuple[float, float]
) -> float:
    """Draw a module from the corner `at` down; returns its lower edge."""
    left, top = at
    right, bottom = left + BOX, top + PITCH * len(wires)
    sheet.box(left, top, right, bottom)
    for index, (wire, name, other) in enumerate(wires):
        y = top + PITCH * (index + 0.62)
        sheet.text((right - 1, y + 0.75), name, TINY, "end")
        sheet.terminal(part.ref, name, (right, y))
        far = (right + RUN, y)
        sheet.wire(wire.net, (right, y), far)
        label = keys.label(wire)
        sheet.text((right + 2, y - 0.9), label, TINY, colour=COMMANDED)
        if other.startswith("*"):
            sheet.star(wire.net, far)
        else:
            ref, _, end = other.partition(".")
            sheet.terminal(ref, end, far)
        sheet.text((far[0] + 1.6, y + 0.8), other, TINY)
    return bottom
