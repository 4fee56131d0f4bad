"""The sheets of the leads can be read, and have every lead."""

from __future__ import annotations

import re

import pytest

from codegen.drawings.recorder_uses import uses_sheet
from tests.support.drawing_reading import overlaps, read
from tests.support.recorders import WISHES, built, drawing_of
from timing.recorder.uses import USES, connections

CASES = [("spot_stitch", "board", 0), ("shop_two_step", "modules", 1), ("gasless_four_step", "board", 1)]


@pytest.mark.parametrize("use", USES)
@pytest.mark.parametrize(("name", "build", "wish"), CASES)
def test_every_lead_is_drawn_once_without_overlap(name, build, wish, use):
    project = built(name, build)
    drawing = drawing_of(project, "nano", WISHES[wish])
    placed = connections(project, drawing.circuits, drawing.wiring, use)
    svg = uses_sheet(drawing, use, placed)
    assert re.findall(r'data-lead="([^"]+)"', svg) == [lead.pole for one in placed for lead in one.leads]
    assert list(overlaps(read(svg))) == []
