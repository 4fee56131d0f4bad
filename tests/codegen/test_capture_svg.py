"""The picture of a capture: expected above measured, to one scale, and where they part."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from codegen.charts.capture import Discrepancy, capture_svg
from codegen.charts.tracks import TimeScale
from timing.sequence.core.engine import Edge, PhaseChange, Timeline
from timing.sequence.core.script import Change
from timing.sequence.core.table import Fault, Output, Phase

SVG = "{http://www.w3.org/2000/svg}"
PREDICTED = Timeline(
    0,
    2_000_000,
    (PhaseChange(0, Phase.IDLE, Fault.NONE), PhaseChange(500_000, Phase.PURGE, Fault.NONE)),
    (Edge(500_000, Output.GAS, True), Edge(1_000_000, Output.GAS, False)),
    (Change(450_000, "purge", 1), Change(950_000, "purge", 0)),
)
SEEN = {Output.GAS: (Edge(500_000, Output.GAS, True), Edge(1_200_000, Output.GAS, False))}


def drawn(title='A <b> & "c"', marks=()):
    return ET.fromstring(capture_svg(title, PREDICTED, SEEN, marks))


def texts(root):
    return [element.text for element in root.iter(f"{SVG}text")]


def boxes(root):
    """Boxes of the tracks by what their titles say of them: left end and width."""
    found = {}
    for box in root.iter(f"{SVG}rect"):
        title = box.find(f"{SVG}title")
        if title is not None and title.text is not None:
            found[title.text.partition(":")[0]] = float(box.get("x", 0)), float(box.get("width", 0))
    return found


def test_expected_and_measured_share_one_scale():
    scale, tracks = TimeScale(0, 2_000_000), boxes(drawn())
    for name, (from_us, to_us) in {
        "purge button": (450_000, 950_000),
        "gas valve expected": (500_000, 1_000_000),
        "measured": (500_000, 1_200_000),
    }.items():
        left, width = tracks[name]
        assert (left, round(left + width, 2)) == (scale.x(from_us), scale.x(to_us))


def test_marks_are_crossed_and_named_and_the_legend_tells_only_what_is_there():
    plain = texts(drawn())
    assert "not as expected" not in plain
    marked = texts(drawn(marks=(Discrepancy(Output.GAS, 1_000_000, "200.000 ms late"),)))
    assert {"not as expected", "200.000 ms late"} <= set(marked)


def test_many_marks_do_not_run_into_each_other():
    words = texts(
        drawn(marks=[Discrepancy(Output.GAS, 1_000_000 + 100 * number, "unexpected") for number in range(50)])
    )
    assert words.count("unexpected") == 1


def test_the_title_is_text_whatever_is_in_it():
    assert texts(drawn())[0] == 'A <b> & "c"'
