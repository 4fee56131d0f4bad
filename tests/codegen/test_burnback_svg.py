"""The burnback picture: all of it inside, no words on words, and the marks where the numbers are."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from codegen.charts.burnback import HEIGHT, LEFT, RIGHT, WIDTH, Asked, burnback_svg
from tests.support.pictures import outside, overlapping, words_of
from timing.design.loading import load_design
from timing.process.burnback import OUTCOMES
from timing.process.burnback_curve import BurnbackCurve, burnback_curve, curve_settings_s
from timing.process.case import burnback_case

DRAWS = 400


@pytest.fixture
def curve(example) -> BurnbackCurve:
    design = load_design(example)
    case = burnback_case(design)
    return burnback_curve(case, curve_settings_s(case, design.times.burnback.high_us / 1e6), DRAWS)


@pytest.mark.parametrize("setting_s", [None, 0.0, 0.04, 0.06, 0.135, 0.2])
def test_no_words_overlap_or_leave_the_picture(curve, setting_s):
    words = words_of(burnback_svg("A title", curve, None if setting_s is None else Asked(setting_s, "in the design")))
    assert overlapping(words) == []
    assert outside(words, WIDTH, HEIGHT) == []


def test_every_zone_is_named_and_has_a_fill_of_its_own(curve):
    svg = burnback_svg("A title", curve)
    texts = [words.text for words in words_of(svg)]
    # Once beside the zones, once in the key of the shares.
    assert all(texts.count(outcome) == 2 for outcome in OUTCOMES)
    assert len(set(re.findall(r'<pattern [^>]*id="(\w+)"', svg))) == 3


def test_the_advice_is_marked_at_its_setting(curve):
    svg = burnback_svg("A title", curve)
    label = f"start with {curve.best.setting_s * 1000:.0f} ms"
    assert label in [words.text for words in words_of(svg)]
    x = LEFT + curve.best.setting_s / curve.settings_s[-1] * (WIDTH - LEFT - RIGHT)
    lines = [element for element in ET.fromstring(svg).iter() if element.tag.endswith("}path")]
    starts = [float(match[1]) for line in lines if (match := re.match(r"M([\d.]+),", line.get("d", "")))]
    assert any(start == pytest.approx(x, abs=0.1) for start in starts)


def test_a_setting_of_the_design_is_marked_apart(curve):
    texts = [
        words.text for words in words_of(burnback_svg("A title", curve, Asked(curve.best.setting_s, "in the design")))
    ]
    assert any(text.endswith("as in the design") for text in texts)
    other = float(curve.settings_s[1])
    texts = [words.text for words in words_of(burnback_svg("A title", curve, Asked(other, "asked about")))]
    assert f"asked about: {other * 1000:.0f} ms" in texts


def test_text_of_a_design_is_escaped(curve):
    svg = burnback_svg('<script>alert("x")</script> & co', curve)
    assert "<script>" not in svg
    assert ET.fromstring(svg) is not None


def test_no_number_in_it_is_missing(curve):
    svg = burnback_svg("A title", curve, Asked(0.06, "here"))
    assert "nan" not in svg.lower()
    assert np.isfinite(curve.middle_mm).all()


def test_the_same_curve_gives_the_same_bytes(curve):
    assert burnback_svg("A title", curve, Asked(0.05, "here")) == burnback_svg("A title", curve, Asked(0.05, "here"))
