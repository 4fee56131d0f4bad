"""A small picture of a sequence, for choosing among several: what is on when, and how much of it is which phase."""

from __future__ import annotations

import drawsvg as draw

from codegen.charts.chart import Axis, canvas, write
from codegen.charts.tracks import PHASE_FILL
from codegen.style import COMMANDED, FRAME, PALE, svg_text
from timing.project import Project
from timing.sequence.core.table import Output

SMALL_WIDTH = 300
_LEFT, _RIGHT, _TOP, _BAND, _TRACK, _BAR = 44, 6, 6, 12, 17, 9
_WORDS = {Output.GAS: "gas", Output.WIRE: "wire", Output.CONTACTOR: "arc"}


def small_timeline_svg(project: Project) -> str:
    """Return a small picture of an ordinary weld as an SVG document: phases, gas, wire and arc as commanded."""
    timeline = project.timeline
    outputs = [output for output in _WORDS if output is not Output.GAS or project.design.feeder.gas_valve is not None]
    height = _TOP + _BAND + 4 + _TRACK * len(outputs) + 4
    picture = canvas(SMALL_WIDTH, height)
    axis = Axis(timeline.start_us, max(timeline.end_us, timeline.start_us + 1), _LEFT, SMALL_WIDTH - _RIGHT)
    ends_us = [change.at_us for change in timeline.phases[1:]] + [timeline.end_us]
    for change, end_us in zip(timeline.phases, ends_us, strict=True):
        left, right, fill = axis.at(change.at_us), axis.at(end_us), PHASE_FILL.get(change.phase)
        if fill is not None and right > left:
            box = draw.Rectangle(left, _TOP, right - left, _BAND, fill=fill, stroke=FRAME, stroke_width=0.5)
            box.append_title(change.phase.word)
            picture.append(box)
    y = _TOP + _BAND + 4
    for output in outputs:
        base = y + _TRACK - 4
        write(picture, _WORDS[output], _LEFT - 7, base, 12, anchor="end")
        picture.append(draw.Line(_LEFT, base, SMALL_WIDTH - _RIGHT, base, stroke=PALE, stroke_width=1.2))
        for from_us, to_us in timeline.on_spans_us(output):
            wide = axis.at(min(to_us, timeline.end_us)) - axis.at(from_us)
            picture.append(draw.Rectangle(axis.at(from_us), base - _BAR, wide, _BAR, fill=COMMANDED))
        y += _TRACK
    return svg_text(picture)
