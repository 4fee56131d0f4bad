"""The build sheet: everything in one file, escaped, and whole on paper."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from html.parser import HTMLParser

import pytest

from codegen.papers.blocks import paper_html
from codegen.papers.build_sheet import SECTIONS, build_paper
from codegen.papers.dial_pages import plate_files
from codegen.papers.sheet import bench_run
from codegen.papers.sheet_board import brown_out_of
from tests.conftest import ROOT, gate_share
from tests.support.printing import ink_outside, print_html, text_of
from tests.support.sheets import quick_sheet
from timing.circuit.dial import dials_of
from timing.circuit.lists import parts_list, wire_list
from timing.design.board import BROWN_OUT
from timing.design.loading import load_design, parse_design
from timing.formatting import ms
from wirecue.projects import board_names, load_board

SPOT = ROOT / "examples" / "spot_stitch.toml"
NASTY = "</title><script>alert('x')</script> & \"quotes\" {{ 7*7 }}"
BENCH = {
    "format": 1,
    "digest": "0123456789abcdef",
    "passed": False,
    "board": "nano",
    "firmware": "0.1.0",
    "port": "/dev/ttyUSB0",
    "cases": [
        {"name": "weld", "title": "a weld", "passed": True, "troubles": [], "earliest_us": -120, "latest_us": 340},
        {"name": "tap", "title": "a tap", "passed": False, "troubles": ["<b>late"], "earliest_us": 0, "latest_us": 9},
    ],
}


class Reader(HTMLParser):
    """Collects headings, text, addresses; complains of tags that do not close."""

    def __init__(self, html):
        super().__init__()
        self.open, self.sections, self.addresses, self.text = [], [], [], []
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        found = dict(attrs)
        self.addresses += [value for key, value in attrs if key in ("src", "href")]
        if tag == "section":
            self.sections.append(found["id"])
        if tag not in ("meta", "img", "col"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


@cache
def sheet_of(path=SPOT):
    return quick_sheet(load_design(path))


def with_bench(run):
    return replace(sheet_of(), bench=bench_run(run))


def sheet_html(sheet):
    return paper_html(build_paper(sheet))


def test_it_says_everything_the_workshop_needs(example):
    sheet = sheet_of(example)
    text = " ".join(Reader(sheet_html(sheet)).text)
    assert sheet.design.digest() in text
    assert "wirecue 1.2.3" in text
    for part in parts_list(sheet.project.netlist):
        assert part.description in text
    for wire in wire_list(sheet.project.netlist):
        assert wire.from_end in text
    for caution in sheet.project.netlist.cautions:
        assert caution.text in text
    for reading in dials_of(sheet.design, sheet.board).values():
        assert ms(reading.time_at_us(0.5 * reading.setting.rotation_deg)) in text
    assert sheet.board.fqbn in text
    assert "not a safety function" in text
    assert "This alters a machine" in text
    assert "COMMON is not isolated" in text
    listens = sheet.design.interlock.fitted or sheet.design.arc_sensor is not None
    assert ("dry (potential-free) contacts of their own" in text) == listens


def test_sections_without_data_are_left_out_and_appear_with_it():
    bare = Reader(sheet_html(quick_sheet(load_design(SPOT), findings=()))).sections
    full = Reader(sheet_html(with_bench(BENCH))).sections
    assert set(full) - set(bare) >= {"bench"}
    assert [key for key, *_ in SECTIONS if key in full] == full


def test_a_bench_run_of_another_design_is_told_apart():
    html = sheet_html(with_bench(BENCH))
    text = " ".join(Reader(html).text)
    assert "FAILED: 1 of 2 cases" in text
    assert "tested design 0123456789abcdef, not the one of this sheet" in text
    assert "<b>late" not in html
    same = {**BENCH, "digest": sheet_of().design.digest()}
    assert "not the one of this sheet" not in sheet_html(with_bench(same))


def test_text_of_the_design_cannot_leave_its_place():
    text = re.sub(r"(?m)^title = .*$", f"title = '''{NASTY}'''", SPOT.read_text())
    text = re.sub(r'(?s)notes = """.*?"""', f"notes = '''{NASTY}'''", text)
    design = parse_design(text)
    html = sheet_html(quick_sheet(design))
    assert "<script" not in html
    reader = Reader(html)
    assert NASTY in "".join(reader.text)


def test_it_needs_no_other_file(example):
    reader = Reader(sheet_html(sheet_of(example)))
    assert all(address.startswith("data:image/svg+xml;base64,") for address in reader.addresses)


def test_same_design_same_bytes(example):
    sheet = sheet_of(example)
    # The PDF is made of the paper alone, by a process of its own: tests/codegen/test_same_bytes.py compares it.
    first, second = ((sheet_html(sheet), build_paper(sheet), plate_files(sheet.project, "1")) for _ in range(2))
    assert first == second
    assert sorted(first[2]) == ["dials.pdf", "dials.svg"]


@pytest.mark.parametrize("paper", gate_share(["A4", "letter"], 2, first=1))
def test_printed_it_is_whole(paper, tmp_path):
    sheet = with_bench(BENCH)
    pdf = print_html(sheet_html(sheet), paper, tmp_path)
    printed = text_of(pdf)
    assert ink_outside(pdf, 10) == []
    for _, title, content, _ in SECTIONS:
        assert (title in printed) == (content(sheet) is not None)
    for wire in wire_list(sheet.project.netlist):
        assert wire.from_end in printed
    pages = printed.count("\f")
    assert f"1/{pages}" in printed.replace(" ", "")
    assert sheet.design.digest() in printed


def test_it_says_what_the_brown_out_fuse_should_be_and_how_it_is_read(example):
    sheet = sheet_of(example)
    text = " ".join("".join(Reader(sheet_html(sheet)).text).split())
    assert "4.3 V" in text
    assert f"avrdude -c PROGRAMMER -p {sheet.board.mcu} -U efuse:r:-:h" in text
    assert "through the bootloader, by the cable that sketches go through, fuses read as 0 or not at all" in text


@pytest.mark.parametrize("name", board_names())
def test_every_board_has_its_brown_out_level_told(name):
    board = load_board(name)
    text = str(brown_out_of(board))
    if board.family == "rp2040":
        assert "nothing to set" in text
        assert "avrdude" not in text
    else:
        fuse = BROWN_OUT[board.mcu]
        assert f"'as it should be', '{fuse.wanted_v:g} V'" in text
        assert f"efuse:w:0x{fuse.wanted_efuse:02X}:m" in text


def test_the_lamp_of_a_reset_is_told_where_the_lamp_is_waited_for(example):
    text = "".join(Reader(sheet_html(sheet_of(example))).text)
    assert "4 brown-out, 5 loop hung, 6 clock slow, 7 converter slow" in text
