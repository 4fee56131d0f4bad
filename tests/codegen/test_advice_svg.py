"""The picture of the advice: every time on its own scale, nothing overlapping."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from codegen.charts.advice import RIGHT, WIDTH, advice_svg
from codegen.style import COMMANDED
from tests.conftest import EXAMPLES
from tests.support.pictures import outside, overlapping, words_of
from timing.design.loading import load_design
from timing.design.times import TIME_TITLES
from timing.design.units import format_duration
from timing.process.advice import advise
from timing.sequence.core.columns import TIME_NAMES

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def picture(example):
    design = load_design(example)
    advice = advise(design, 400)
    return advice, advice_svg(design, advice)


def test_no_words_overlap_or_leave_the_picture(picture):
    _, svg = picture
    words = words_of(svg)
    assert overlapping(words) == []
    assert outside(words, WIDTH, float(ET.fromstring(svg).get("height"))) == []


def test_each_time_stands_there_with_its_setting_and_first_reason(picture):
    advice, svg = picture
    texts = [words.text for words in words_of(svg)]
    for time in advice.times:
        assert TIME_TITLES[time.name] in texts
        assert format_duration(time.setting_us) in texts
        assert any(time.reasons[0].startswith(text) for text in texts if len(text) > 20)
    assert advice.closing in texts


@pytest.mark.parametrize(("times", "arrows"), [(1.0, 0), (1.5, 0), (2.4, 0), (4.0, 1)])
def test_a_range_keeps_within_its_scale_and_one_that_goes_on_ends_in_an_arrow(times, arrows):
    design = load_design(EXAMPLES[0])
    advice = advise(design, 400)
    first, *others = advice.times
    wide = replace(first, high_us=round(times * max(first.dial_to_us, design.setting(first.name).setting_us)))
    svg = advice_svg(design, replace(advice, times=(wide, *others)))
    bands = [box for box in ET.fromstring(svg).iter(SVG + "rect") if box.get("fill") == "url(#does)"][1:]
    ends = [float(box.get("x")) + float(box.get("width")) for box in bands]
    assert max(ends) <= WIDTH - RIGHT + 0.01
    assert (ends[0] > WIDTH - RIGHT - 1) == bool(arrows)
    filled = f'Z" fill="{COMMANDED}"'
    assert svg.count(filled) == advice_svg(design, advice).count(filled) + arrows


def test_every_time_that_there_is_has_a_title():
    assert set(TIME_TITLES) == set(TIME_NAMES)
