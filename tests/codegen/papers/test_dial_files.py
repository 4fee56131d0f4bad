"""Dial plates as files: measured in the files themselves, as whoever prints them would with a rule."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET

import pytest

from codegen.drawings.files import drawing_files
from codegen.papers.dial_pages import CHECK_BAR_MM, MARGIN_MM, panel_pages, plate_files, plates_pdf
from codegen.papers.shapes import A4, BOTH, US_LETTER, Text, page_svg, pages_pdf
from codegen.sketch import sketch_files
from tests.conftest import ROOT
from timing.circuit import dial
from timing.circuit.dial import dial_of, dials_of
from timing.design.loading import load_design, parse_design
from timing.project import Project
from timing.protocol.target_of_design import target_of
from wirecue.projects import load_board, load_project

SVG = "{http://www.w3.org/2000/svg}"
PDF_LINE = re.compile(rb"n ([\d.-]+) ([\d.-]+) m ([\d.-]+) ([\d.-]+) l S")


def five_dials(example):
    text = example.read_text()
    for name, setting in {
        "preflow": '{ from = "0 ms", to = "1.5 s", setting = "300 ms", off_switch = true }',
        "postflow": '{ from = "200 ms", to = "60 s", setting = "1.2 s", rotation = "3600 deg" }',
    }.items():
        text = re.sub(rf"(?m)^{name} = .*$", f"{name} = {setting}", text)
    return parse_design(text)


def marked_lines(svg):
    for element in ET.fromstring(svg).iter(f"{SVG}path"):
        mark = element.get("data-mark")
        if mark is not None:
            yield mark, *map(float, re.findall(r"-?[0-9.]+", element.get("d")))


def test_ticks_in_the_svg_point_to_the_angle_at_which_the_firmware_reads_their_time(example):
    design = load_design(example)
    board = load_board(design.board.type)
    lines = list(marked_lines(page_svg(panel_pages(Project(design, board), "1", BOTH)[0])))
    measured = 0
    for reading in dials_of(design, board).values():
        for mark, x1, y1, x2, y2 in lines:
            if not mark.startswith(f"tick {reading.name} "):
                continue
            time_us = int(mark.rpartition(" ")[2])
            upright_deg = math.degrees(math.atan2(x2 - x1, y1 - y2))
            angle_deg = upright_deg + reading.setting.rotation_deg / 2
            assert abs(reading.time_at_us(angle_deg) - time_us) <= 2 * reading.scale.step_q4_us / 16
            measured += 1
    assert measured > 30


def test_the_svg_is_in_millimetres_and_its_check_bar_is_50_mm_long(example):
    design = load_design(example)
    svg = page_svg(panel_pages(Project(design, load_board(design.board.type)), "1", BOTH)[0])
    root = ET.fromstring(svg)
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == ("210mm", "279.4mm", "0 0 210.0 279.4")
    bars = [x2 - x1 for mark, x1, _, x2, _ in marked_lines(svg) if mark == "check-bar"]
    assert bars == [pytest.approx(50.0, abs=1e-9)]


def test_the_pdf_holds_the_same_lines_at_full_size(example):
    design = load_design(example)
    board = load_board(design.board.type)
    pdf = pages_pdf([panel_pages(Project(design, board), "1", US_LETTER)[0]], "plates")
    assert b"/MediaBox [ 0 0 612 792 ]" in pdf
    scale = re.search(rb"([\d.]+) 0 0 ([\d.]+) 0 0 cm", pdf.partition(b"1 0 0 1 0 0 cm")[2])
    assert scale is not None
    # reportlab writes six digits.
    assert float(scale[1]) == float(scale[2]) == pytest.approx(72 / 25.4, abs=1e-5)
    drawn = [tuple(map(float, match.groups())) for match in PDF_LINE.finditer(pdf)]
    height = US_LETTER.height_mm
    rounded = {tuple(round(value, 2) for value in line) for line in drawn}
    for _, x1, y1, x2, y2 in marked_lines(page_svg(panel_pages(Project(design, board), "1", US_LETTER)[0])):
        assert any(
            line == pytest.approx((x1, height - y1, x2, height - y2), abs=0.011)
            for line in rounded
            if abs(line[0] - x1) < 0.02
        )
    assert sum(line[2] - line[0] == pytest.approx(CHECK_BAR_MM, abs=1e-3) for line in drawn) == 1


def test_a_printed_check_bar_measures_50_mm(example, tmp_path):
    if shutil.which("pdftoppm") is None:
        pytest.skip("needs pdftoppm: `make packages` installs it")
    design = load_design(example)
    pages = [panel_pages(Project(design, load_board(design.board.type)), "1", paper)[0] for paper in (A4, US_LETTER)]
    (tmp_path / "plates.pdf").write_bytes(pages_pdf(pages, "plates"))
    # 508 dots an inch are 20 a millimetre.
    subprocess.run(["pdftoppm", "-r", "508", "-gray", "plates.pdf", "page"], cwd=tmp_path, check=True, timeout=120)
    for number, paper in enumerate((A4, US_LETTER), start=1):
        magic, size, _, pixels = (tmp_path / f"page-{number}.pgm").read_bytes().split(b"\n", 3)
        width, height = map(int, size.split())
        assert (magic, width) == (b"P5", pytest.approx(paper.width_mm * 20, abs=2))
        bar_row = round((MARGIN_MM + 13.0) * 20)
        row = pixels[bar_row * width : (bar_row + 1) * width]
        longest = max(re.finditer(rb"[\x00-\x80]+", row), key=lambda run: len(run[0]))
        assert len(longest[0]) / 20 == pytest.approx(50.0, abs=0.3)  # the end strokes are 0.2 mm wide
        assert height == pytest.approx(paper.height_mm * 20, abs=2)


@pytest.mark.parametrize("paper", [A4, US_LETTER, BOTH], ids=lambda paper: paper.name)
def test_five_plates_and_those_of_the_controls_stay_on_their_pages(example, paper):
    design = five_dials(example)
    pages = panel_pages(Project(design, load_board("uno")), "1", paper)
    assert sum(shape.text == "status" for page in pages for shape in page.shapes if isinstance(shape, Text)) == 1
    for page in pages:
        for _, *ends in marked_lines(page_svg(page)):
            for x, y in (ends[:2], ends[2:]):
                assert MARGIN_MM <= x <= paper.width_mm - MARGIN_MM
                assert MARGIN_MM <= y <= paper.height_mm - MARGIN_MM


def test_more_plates_than_a_page_holds_go_on_to_the_next_with_a_check_bar_of_its_own():
    project = Project(five_dials(ROOT / "examples" / "spot_stitch.toml"), load_board("uno"))
    files = plate_files(project, "1")
    assert list(files) == ["dials.svg", "dials-2.svg", "dials.pdf"]
    for name in ("dials.svg", "dials-2.svg"):
        bars = [x2 - x1 for mark, x1, _, x2, _ in marked_lines(files[name].decode()) if mark == "check-bar"]
        assert bars == [pytest.approx(50.0, abs=1e-9)]
    assert "page 2 of 2" in files["dials-2.svg"].decode()
    assert files["dials.pdf"].count(b"/MediaBox [ 0 0 612 792 ]") == 2


def test_same_design_same_bytes(example):
    design = load_design(example)
    page = panel_pages(Project(design, load_board(design.board.type)), "1", A4)[0]
    assert pages_pdf([page], "plates") == pages_pdf([page], "plates")
    assert page_svg(page) == page_svg(page)


def test_a_design_without_dials_has_the_plates_of_its_controls(example):
    text = re.sub(r'\{ from = [^}]*setting = ("[^"]*")[^}]*\}', r"\1", example.read_text())
    svg = page_svg(panel_pages(Project(parse_design(text), load_board("uno")), "1", BOTH)[0])
    assert "tick" not in {mark.partition(" ")[0] for mark, *_ in marked_lines(svg)}
    assert ">status<" in svg


def test_sketch_link_drawings_and_plates_share_one_model_of_each_dial(example, monkeypatch):
    made = []
    monkeypatch.setattr(dial, "dial_of", lambda *given: made.append(given[0]) or dial_of(*given))
    project = load_project(example)
    assert sketch_files(project, "1")
    assert target_of(project).scales.keys() == project.dials.keys()
    assert drawing_files(project)
    assert plates_pdf(project, "1")
    assert made == list(project.dials)
