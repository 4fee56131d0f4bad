"""The recorder's schematic says what its netlist says, and can be read."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise, product

import pytest

from codegen.drawings.recorder_schematic import recorder_schematic
from codegen.style import HOT
from tests.conftest import gate_share
from tests.support.drawing_reading import connected, cuts, overlaps, read
from tests.support.recorders import WISHES, built, drawing_of

CASES = list(
    product(("shop_two_step", "spot_stitch", "gasless_four_step"), ("board", "modules"), ("nano", "pico"), WISHES)
)


@pytest.mark.parametrize(("name", "build", "board", "wish"), gate_share(CASES, 3))
def test_it_is_drawn_as_wired_and_without_overlap(name, build, board, wish):
    drawing = drawing_of(built(name, build), board, wish)
    wiring = drawing.wiring.netlist
    sheets = [read(svg) for svg in recorder_schematic(drawing)]
    counts: Counter[str] = sum((sheet.counts for sheet in sheets), start=Counter())
    assert counts == {f"{part.ref}.{name}": 1 for part in wiring.parts for name in part.terminals}
    drawn = {frozenset(group) for group in connected(sheets)}
    assert drawn == {frozenset(map(str, net.terminals)) for net in wiring.nets}
    assert [problem for sheet in sheets for problem in overlaps(sheet)] == []


@pytest.mark.parametrize(("name", "build", "board", "wish"), gate_share(CASES, 5))
def test_nothing_but_couplers_stands_on_the_barrier(name, build, board, wish):
    """Neither words nor flags: what crosses it in the drawing would be read as a wire across it."""
    for svg in recorder_schematic(drawing_of(built(name, build), board, wish)):
        sheet, pieces = read(svg), barrier(svg)
        assert pieces
        boxes = [box for _, box in sheet.texts]
        assert not [one for one in pieces for box in boxes if cuts(box, *one)]
        crossing = [
            stroke
            for (x, top), (_, bottom) in pieces
            for stroke in sheet.strokes + [pair for _, points in sheet.wires for pair in pairwise(points)]
            if min(stroke[0][0], stroke[1][0]) < x < max(stroke[0][0], stroke[1][0])
            and top < stroke[0][1] == stroke[1][1] < bottom
        ]
        assert crossing == []


def barrier(svg: str) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """The pieces of the dashed line between the two sides."""
    number = r"([\d.]+)"
    lines = re.findall(rf'<path d="M{number},{number} L{number},{number}"[^>]*stroke="{HOT}"[^>]*>', svg)
    return [((float(x1), float(y1)), (float(x2), float(y2))) for x1, y1, x2, y2 in lines if x1 == x2]
