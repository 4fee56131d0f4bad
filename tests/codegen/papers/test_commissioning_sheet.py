"""The commissioning sheet: what to expect comes from the design, and there is room for what was read."""

from __future__ import annotations

import re

import pytest

from codegen.papers.blocks import Caution, Grid, paper_html
from codegen.papers.commissioning_sheet import TEST_WELDS, commissioning_paper
from tests.conftest import ROOT
from tests.support.printing import ink_outside, print_html, text_of
from tests.support.sheets import quick_sheet
from timing.commission.step import ReadingAsked, WeldsAsked
from timing.commission.steps import commission_plan
from timing.design.loading import load_design, parse_design
from timing.safety import GAS


def sheet_of(design):
    return paper_html(commissioning_paper(quick_sheet(design)))


def test_it_has_the_steps_of_the_walk_with_blanks(example):
    sheet = quick_sheet(load_design(example))
    paper = commissioning_paper(sheet)
    rows = [
        row for section in paper.sections for block in section.blocks if isinstance(block, Grid) for row in block.rows
    ]
    steps = {f"`{step.key}`": step for step in commission_plan(sheet.project).steps}
    told = {row[0]: row for row in rows if row[0] in steps}
    assert [key for key, step in steps.items() if not isinstance(step.ask, WeldsAsked)] == list(told)
    for key, (_, do, must, if_not, blank) in told.items():
        step = steps[key]
        for text in (*step.setup.words, *step.do):
            assert text.lower() in do.lower()
        assert must.startswith(step.expect)
        assert not isinstance(step.ask, ReadingAsked) or step.ask.band in must
        assert (if_not, blank) == (step.if_not, "")
    welds = [row for row in rows if row[0] in map(str, range(1, TEST_WELDS + 1))]
    assert len(welds) == TEST_WELDS
    html = paper_html(paper)
    assert f"answered <code>{sheet.design.digest()}</code>" in html
    assert "not a safety function" in html
    assert "ultraviolet" in html
    for kind in ("<script", "http://", "https://"):
        assert kind not in html


GROUNDED = {"no": 'grounded = "no"', "yes": 'grounded = "yes"', "unknown": ""}


def shop(*changes):
    text = (ROOT / "examples" / "shop_two_step.toml").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return " ".join(re.sub("<[^>]+>", " ", sheet_of(parse_design(text))).split())


@pytest.mark.parametrize("answer", GROUNDED)
def test_what_was_found_of_the_winding_changes_the_steps(answer):
    told = shop((GROUNDED["no"], GROUNDED[answer]))
    assert ("through a USB isolator only" in told) == (answer != "no")
    assert ("in the side that is not tied to chassis" in told) == (answer != "no")
    assert ("a sound build reads a diode there" in told) == (answer != "no")
    assert ("Under 5 V: it floats" in told) == (answer != "yes")
    assert ("Unsteady, down to -42 V dc: live, and to be tied to nothing" in told) == (answer != "no")
    assert ("Write down which, and state it as supply.grounded" in told) == (answer == "unknown")
    assert told.count("run from its battery, 100 kohm across it") == 2


def test_every_ohmmeter_step_says_which_plug_is_out_and_leaves_the_winding_out():
    told = shop()
    assert told.count("Mains plugs of feeder and power source pulled, reservoir empty (measure), P1 out of J1.") == 3
    assert "from 24VAC-A and from 24VAC-B of P1 to its SCREEN" in told
    assert "the winding, about 1.0 ohm, is out of the way like this" in told


def test_no_step_pulls_a_plug_under_load_or_needs_a_third_hand():
    told = shop()
    for words in ("pull the mains while", "mains is pulled", "hands behind", "oscilloscope in"):
        assert words not in told
    assert "still holding, switch the machine off at its own switch, and on again. No plug is pulled" in told
    assert "Hold the purge button, never the trigger" in told
    assert "other off the machine" in told


def test_first_power_has_a_way_for_a_feeder_with_a_transformer_and_for_one_fed_by_the_source():
    told = shop()
    assert "A feeder with a mains transformer of its own: the power source stays off" in told
    assert "A feeder whose 24 VAC comes from the power source, which must be on then: first, cold, unplug" in told


def test_every_caution_stands_before_the_work_that_it_is_about():
    told = shop()
    order = [
        "This alters a machine",
        "A high-frequency start",
        "Drive rolls pinch",
        "Hold the inch button",
        "Fire watch:",
    ]
    places = [told.index(words) for words in order]
    assert places == sorted(places)
    assert told.index("in a closed room") < told.index("Hold the purge button")
    assert "Inspected and tested again (IEC 60974-4) by" in told


@pytest.mark.parametrize("design", ["shop_two_step", "gasless_four_step"])
def test_no_caution_stands_twice(design):
    paper = commissioning_paper(quick_sheet(load_design(ROOT / "examples" / f"{design}.toml")))
    told = [block.text for section in paper.sections for block in section.blocks if isinstance(block, Caution)]
    assert len(told) == len(set(told))
    assert (GAS in told) == (design == "shop_two_step")


def test_a_load_above_extra_low_voltage_is_signed_for():
    hot = 'coil = { voltage = "115 V", fed_from = "elsewhere", hold = "0.2 A" }'
    told = shop(('coil = { hold = "0.6 A", inrush = "3.5 A" }', hot))
    assert "Everything behind P2 was fitted, measured and signed for by a licensed electrician" in told
    assert "signed for" not in shop()


def test_a_fixed_spot_is_not_waited_for_with_the_dial_off():
    text = (ROOT / "examples" / "spot_stitch.toml").read_text()
    assert "Spot switch at OFF" in sheet_of(parse_design(text))
    always = re.sub(r"(, off_switch = true)", "", text)
    assert "during the first spot, so that no second one begins" in sheet_of(parse_design(always))


@pytest.mark.parametrize("paper", ["A4", "letter"])
def test_printed_it_is_whole(paper, tmp_path):
    design = load_design(ROOT / "examples" / "spot_stitch.toml")
    pdf = print_html(sheet_of(design), paper, tmp_path)
    printed = text_of(pdf)
    for words in ("Before the first power", "Dry runs", "Test welds", "Commissioned by"):
        assert words in printed
    assert ink_outside(pdf, 10) == []
    assert printed.count("\f") <= 8
