"""The selector for spot and stitch: as the two contacts that its links make of it, and from behind, to be linked."""

from __future__ import annotations

import drawsvg as draw

from codegen.drawings.sheet import SMALL, SYMBOL_WIDTH, WIRE_WIDTH, Point, Sheet
from codegen.style import INK

POLE_X_MM, ROWS_MM = (24.0, 38.0), (9.0, 18.0, 27.0)
"""Terminals of the two poles, from the corner of the view from behind: across, and down."""
LUG_MM = 1.3
"""Radius of a terminal as drawn."""


def selector_symbol(sheet: Sheet, ref: str, at: Point, right: float, row: float) -> None:
    """Draw the selector as the two contacts that its links make of it, one `row` below the other, on one lever.

    COM comes at `at`, SPOT and STITCH at `right`, in its row and in the next.
    """
    (left, y), inside = at, at[0] + 2
    middle = (left + right) / 2
    common, *ways = sheet.wiring.part(ref).terminals
    sheet.terminal(ref, common, at)
    sheet.line(at, (inside, y), (inside, y + row), width=WIRE_WIDTH)
    for index, (name, told) in enumerate(zip(ways, ("at SPOT and at STITCH", "at STITCH"), strict=True)):
        level = y + index * row
        sheet.line((inside, level), (middle - 3, level), (middle + 2.6, level - 2.2))
        sheet.line((middle + 3, level), (right, level), width=WIRE_WIDTH)
        sheet.terminal(ref, name, (right, level))
        sheet.text((right + 2, level - 0.9), f"{name}: closed {told}", SMALL)
    sheet.line((middle, y - 1.0), (middle, y + row - 1.0), dash="1 0.8", width=0.3)


def selector_from_behind(sheet: Sheet, ref: str, at: Point) -> None:
    """Draw the switch as whoever solders it sees it, six terminals with two links; `at` is the upper left corner.

    A lever that is up closes the lower pair (practice), so STITCH, the lever down, is the upper end.
    """
    left, top = at
    one, other = (left + x for x in POLE_X_MM)
    upper, middle, lower = (top + y for y in ROWS_MM)
    common, spot, stitch = sheet.wiring.part(ref).terminals
    sheet.text((left, top), f"{ref} from behind, SPOT upwards: two links, three wires", SMALL, bold=True)
    sheet.line((one - 7, upper - 5), (other + 7, upper - 5), (other + 7, lower + 4), (one - 7, lower + 4),
               (one - 7, upper - 5), width=0.3)  # fmt: skip
    sheet.line((one, middle), (other + 12, middle), width=WIRE_WIDTH)
    sheet.line((one, upper), (one - 4, upper), (one - 4, lower), (one, lower), width=WIRE_WIDTH)
    sheet.line((one - 4, middle + 4.5), (one - 12, middle + 4.5), width=WIRE_WIDTH)
    sheet.line((other, upper), (other + 12, upper), width=WIRE_WIDTH)
    for x in (one, other):
        for y in (upper, middle, lower):
            fill = "white" if (x, y) == (other, lower) else INK
            sheet.canvas.append(draw.Circle(x, y, LUG_MM, fill=fill, stroke=INK, stroke_width=SYMBOL_WIDTH))
    sheet.text((one - 13, middle + 5.4), spot, SMALL, "end")
    for name, y in ((stitch, upper), (common, middle), ("nothing", lower)):
        sheet.text((other + 13, y + 0.9), name, SMALL)
