"""The recorder's sheet has every part, wire, circuit and caution, in both ways of building."""

from __future__ import annotations

import html

import pytest

from codegen.papers.blocks import Grid, paper_html
from codegen.papers.recorder_sheet import recorder_paper
from codegen.recorder_papers import RecorderSource
from tests.support.recorders import WISHES, built
from timing.circuit.lists import parts_list, wire_list
from wirecue.projects import load_board


@pytest.mark.parametrize(("build", "wish"), [("board", WISHES[0]), ("modules", WISHES[1])])
def test_it_says_everything_that_hands_need(build, wish):
    source = RecorderSource(built("spot_stitch", build), load_board("nano"), "1.2.3", wish)
    paper = recorder_paper(source)
    text = html.unescape(paper_html(paper))
    for row in parts_list(source.wiring.netlist):
        assert row.description in text
        assert " ".join(row.refs) in text
    for caution in source.wiring.netlist.cautions:
        assert caution.at != "everywhere" or caution.text in text
    wires = next(
        block
        for section in paper.sections
        for block in section.blocks
        if isinstance(block, Grid) and block.head[0] == "no."
    )
    assert len(wires.rows) == len(wire_list(source.wiring.netlist))
    for use in source.uses.values():
        for one in use:
            assert one.title in text
    for finding in source.findings:
        assert finding.text in text
    assert paper_html(recorder_paper(source)) == paper_html(paper)
