"""The recorder's schematic says what its netlist says, and can be read."""

from __future__ import annotations

from collections import Counter
from itertools import product

import pytest

from codegen.drawings.recorder_schematic import recorder_schematic
from tests.conftest import gate_share
from tests.support.drawing_reading import connected, overlaps, read
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
