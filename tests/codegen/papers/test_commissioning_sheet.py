"""The commissioning sheet: what to expect comes from the design, and there is room for what was read."""

from __future__ import annotations

import re

import pytest

from codegen.papers.commissioning_sheet import TEST_WELDS, commissioning_paper
from codegen.papers.paper_html import paper_html
from codegen.papers.sheet_subject import sheet_subject
from tests.codegen.papers.printing import ink_outside, print_html, text_of
from tests.conftest import ROOT
from timing.checks.subject import ms
from timing.design.loading import load_design, parse_design
from timing.process.advice import advise
from wirecue.boards import load_board


def sheet_of(design):
    advice = advise(design, draws=100)
    subject = sheet_subject(design, load_board(design.board.type), "1", advice=advice, findings=[])
    return paper_html(commissioning_paper(subject))


def test_it_states_what_to_expect_of_this_design(example):
    design = load_design(example)
    html = sheet_of(design)
    assert f"answered <code>{design.digest()}</code>" in html
    assert f"{ms(design.times.burnback.setting_us)} later" in html
    assert ("L/min at the nozzle" in html) == (design.buttons.purge and not design.process.gasless)
    assert ("no arc is seen" in html) == (design.arc_sensor is not None)
    assert ("interlock contact" in html) == design.interlock.fitted
    assert "not a safety function" in html
    assert "ultraviolet" in html
    assert html.count('<td class="fill">') > TEST_WELDS * 3
    for kind in ("<script", "http://", "https://"):
        assert kind not in html


def test_a_fixed_spot_is_not_waited_for_with_the_dial_off():
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    assert "Spot switched off." in sheet_of(parse_design(text))
    always = re.sub(r"(, off_switch = true)", "", text)
    assert "until the spot has ended by itself" in sheet_of(parse_design(always))


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_printed_it_is_whole(paper, tmp_path):
    design = load_design(ROOT / "examples" / "spot_stitch.toml")
    pdf = print_html(sheet_of(design), paper, tmp_path)
    printed = text_of(pdf)
    for words in ("Before the first power", "Dry runs", "Test welds", "Commissioned by"):
        assert words in printed
    assert ink_outside(pdf, 10) == []
    assert printed.count("\f") <= 4
