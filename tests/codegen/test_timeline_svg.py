"""The timeline picture: traces of the wire's end below those of the outputs, nothing overlapping."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from codegen.charts.timeline import WIDTH, timeline_svg
from tests.support.pictures import outside, overlapping, words_of
from timing.design.loading import load_design, parse_design
from timing.sequence.script_text import parse_script
from timing.sequence.simulate import simulate, usual_script


def test_no_words_overlap_or_leave_the_picture(example):
    design = load_design(example)
    svg = timeline_svg(design, simulate(design, usual_script(design)))
    words = words_of(svg)
    assert overlapping(words) == []
    assert outside(words, WIDTH, float(ET.fromstring(svg).get("height"))) == []


def test_the_wire_s_end_has_tracks_and_says_what_is_left(example):
    design = load_design(example)
    texts = [words.text for words in words_of(timeline_svg(design, simulate(design, usual_script(design))))]
    assert {"extension", "arc length", "work"} <= set(texts)
    assert any(re.fullmatch(r"\d+ mm left: good", text) for text in texts)


def test_where_no_arc_can_burn_the_rest_is_drawn(example):
    text = re.sub(r"(?m)^load_(voltage|current) = .*\n", "", example.read_text())
    text = re.sub(r"(?m)^open_circuit_voltage = .*$", 'open_circuit_voltage = "12 V"', text)
    design = parse_design(text)
    texts = [words.text for words in words_of(timeline_svg(design, simulate(design, usual_script(design))))]
    assert "contactor" in texts
    assert "extension" not in texts


def test_a_phase_too_short_for_its_words_still_tells_them_to_whoever_points_at_it():
    from tests.conftest import EXAMPLES

    design = load_design(next(path for path in EXAMPLES if path.stem == "shop_two_step"))
    svg = timeline_svg(design, simulate(design, parse_script("0 s press; 50 s release; +80 ms press; +50 s release")))
    assert len(re.findall("<title>burnback 130 ms</title>", svg)) == 2


@pytest.mark.parametrize(("braked", "shape"), [("true", "dies away"), ("false", "stops evenly")])
def test_a_braked_wire_dies_away_and_an_unbraked_one_stops_evenly(braked, shape):
    from tests.conftest import EXAMPLES

    spot = next(path for path in EXAMPLES if path.stem == "spot_stitch").read_text()
    design = parse_design(spot.replace("braked = true", f"braked = {braked}"))
    timeline = simulate(design, parse_script("0 s press; 3 s release"))
    svg = timeline_svg(design, timeline)
    tails = [path for path in re.findall(r'<path d="(M[^"]*)"', svg) if path.count("L") == 16]
    heights = [float(y) for y in re.findall(r"L[\d.]+,([\d.]+)", tails[0])]
    base = float(re.match(r"M[\d.]+,([\d.]+)", tails[0])[1])
    # Half way to rest some speed is left: half of it where friction alone slows the wire, much less behind a brake.
    left = (base - heights[7]) / (base - float(re.search(r"V([\d.]+)", tails[0])[1]))
    assert 0.2 < left < 0.4 if shape == "dies away" else 0.4 < left < 0.5
    assert heights[-1] == pytest.approx(base, abs=0.5)


def test_a_stretch_of_it_fills_the_width_and_its_words_stay_apart(example):
    design = load_design(example)
    timeline = simulate(design, usual_script(design))
    middle_us = (timeline.start_us + timeline.end_us) // 2
    svg = timeline_svg(design, timeline, (middle_us - 150_000, middle_us + 150_000))
    words = words_of(svg)
    assert overlapping(words) == []
    assert outside(words, WIDTH, float(ET.fromstring(svg).get("height"))) == []
    boxes = [box for box in ET.fromstring(svg).iter() if box.tag.endswith("rect") and box.get("x")]
    assert len(boxes) > 3
    assert all(float(box.get("x")) + float(box.get("width")) <= WIDTH for box in boxes)
    assert "time, ms" in [word.text for word in words]
