"""The picture of the advice: every time on its own scale, nothing overlapping."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from codegen.charts.advice import WIDTH, advice_svg
from tests.support.pictures import outside, overlapping, words_of
from timing.design.loading import load_design
from timing.design.times import TIME_TITLES
from timing.design.units import format_duration
from timing.process.advice import advise
from timing.sequence.core.columns import TIME_NAMES


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


def test_every_time_that_there_is_has_a_title():
    assert set(TIME_TITLES) == set(TIME_NAMES)
