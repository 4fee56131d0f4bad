"""Papers as PDF: whole on both sizes of paper, the same on every machine, and nothing in them read as markup."""

from __future__ import annotations

import re
import subprocess
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops

from codegen.papers.blocks import (
    Caution,
    Fill,
    Grid,
    Paper,
    PaperSection,
    Paragraph,
    Picture,
    Steps,
    paper_pdf,
    paper_pdfs,
)
from codegen.papers.build_sheet import SECTIONS, build_paper
from codegen.papers.commissioning_sheet import commissioning_paper
from codegen.papers.survey_sheet import survey_paper
from codegen.papers.typesetting import TypesettingError, typeset
from tests.conftest import EXAMPLES, gate_share
from tests.support.printing import ink_outside, text_of
from tests.support.sheets import quick_sheet
from timing.circuit.lists import parts_list, wire_list
from timing.design.loading import load_design
from timing.survey.topics import topics
from wirecue.projects import board_names, load_board

POINTS_PER_MM = 72 / 25.4
A4_MM, LETTER_MM = (210, 297), (215.9, 279.4)
PRINTER_EDGE_MM = 6
"""What printers cannot reach (common practice, no source: 4 mm to 6 mm)."""
pytestmark = pytest.mark.debian("poppler")


def told(*command):
    return subprocess.run(command, check=True, capture_output=True, text=True, timeout=60).stdout


def pages_mm(pdf):
    """Width and height of each page."""
    sizes = re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+) pts", told("pdfinfo", "-l", "999", pdf))
    return [tuple(float(side) / POINTS_PER_MM for side in size) for size in sizes]


def written(paper, folder):
    pdf = folder / "paper.pdf"
    pdf.write_bytes(paper_pdf(paper))
    return pdf


@cache
def sheet_of(path):
    return quick_sheet(load_design(path))


@cache
def papers_of(path):
    """Build sheet and commissioning sheet of an example, as PDF; set once for all tests that only read them."""
    sheet = sheet_of(path)
    return paper_pdfs([build_paper(sheet), commissioning_paper(sheet)])


@pytest.fixture
def sheet_pdf(example, tmp_path):
    """The build sheet of each example."""
    pdf = tmp_path / "sheet.pdf"
    pdf.write_bytes(papers_of(example)[0])
    return pdf


@pytest.fixture
def commissioning_pdf(example, tmp_path):
    """The commissioning sheet of each example."""
    pdf = tmp_path / "commissioning.pdf"
    pdf.write_bytes(papers_of(example)[1])
    return pdf


def words_of(pdf):
    return " ".join(text_of(pdf).split())


@pytest.mark.parametrize("example", gate_share(EXAMPLES, 3, first=2), ids=lambda path: path.stem)
def test_the_build_sheet_is_whole(example, sheet_pdf):
    sheet = sheet_of(example)
    found = text_of(sheet_pdf)
    for _, title, content, _ in SECTIONS:
        assert (title in found) == (content(sheet) is not None)
    for wire in wire_list(sheet.project.netlist):
        assert wire.from_end in found
    for part in parts_list(sheet.project.netlist):
        assert set(part.description.split()) <= set(found.split())
    # The record stands on the last page in one piece.
    last = found.split("\f")[-2]
    assert all(words in last for words in ("For the record", "Machine, and where it stands", "Commissioned by, on"))
    pages = found.count("\f")
    assert re.findall(r"(\d+) / \d+\n\f", found) == [str(number) for number in range(1, pages + 1)]
    assert found.count(sheet.design.digest()) >= pages


def test_every_page_fits_a4_and_letter_at_full_size(sheet_pdf, commissioning_pdf):
    for pdf in (sheet_pdf, commissioning_pdf):
        pages = pages_mm(pdf)
        assert pages
        for sides in map(sorted, pages):
            for sheet in (A4_MM, LETTER_MM):
                assert all(side <= room + 0.01 for side, room in zip(sides, sheet, strict=True))
        assert ink_outside(pdf, PRINTER_EDGE_MM) == []


def test_a_drawing_made_for_landscape_has_a_page_of_its_own(example, sheet_pdf):
    paper = build_paper(sheet_of(example))
    drawings = [block for section in paper.sections for block in section.blocks if getattr(block, "sheet", False)]
    pages = pages_mm(sheet_pdf)
    assert sum(width > height for width, height in pages) == len(drawings) >= 3


def test_the_cuts_stand_under_their_heading(sheet_pdf):
    pages = text_of(sheet_pdf).split("\f")
    (page,) = (page for page in pages if "The feeder: what to cut" in page)
    assert "Cuts, in this order" in page


def page_of(pages, word):
    (found,) = (number for number, page in enumerate(pages) if word in page.split())
    return found


@pytest.mark.parametrize("sheet", [False, True])
def test_a_heading_is_never_left_alone_with_its_cautions_nor_a_row_cut_in_two(sheet, tmp_path):
    """Wherever on the page a section begins."""
    picture = Picture('<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm"/>', "nothing", sheet=True)
    rows = tuple(("from", " ".join([f"begins{row}", *["word"] * 60, f"ends{row}"]), "done") for row in range(4))
    table = Grid(("", "long", "short"), rows)
    begun = [Caution("one"), Paragraph("two"), Paragraph("three"), picture if sheet else table, Paragraph("after")]
    papers = [
        Paper("Paper", "", "foot", [
            PaperSection("before", "Before", [Steps(("line",) * lines)]), PaperSection("begun", "Begun", begun)
        ])
        for lines in range(22, 58, 5)
    ]  # fmt: skip
    for pdf in paper_pdfs(papers):
        (tmp_path / "paper.pdf").write_bytes(pdf)
        pages = text_of(tmp_path / "paper.pdf").split("\f")
        heading = page_of(pages, "Begun")
        assert [page_of(pages, word) for word in ("one", "two", "three")] == [heading] * 3
        if sheet:
            assert page_of(pages, "after") == heading + 1
            continue
        assert page_of(pages, "begins0") == heading
        for row in range(4):
            assert page_of(pages, f"begins{row}") == page_of(pages, f"ends{row}")


def test_the_survey_asks_everything_in_pdf_too(tmp_path):
    boards = tuple(map(load_board, board_names()))
    pdf = written(survey_paper(boards, "1"), tmp_path)
    found = words_of(pdf)
    for topic in topics(boards):
        assert topic.title in found
        assert all(question.ask in found for question in topic.questions)
    assert ink_outside(pdf, PRINTER_EDGE_MM) == []


def test_it_brings_its_own_typefaces_and_is_tagged(sheet_pdf):
    fonts = told("pdffonts", sheet_pdf).splitlines()[2:]
    assert fonts
    # The columns from the right: object id in two, unicode, subset, embedded.
    assert all(font.split()[-5] == "yes" for font in fonts)
    assert {re.sub(r"^[A-Z]{6}\+", "", font.split()[0]) for font in fonts} <= {
        "BitstreamVeraSans-Roman",
        "BitstreamVeraSans-Bold",
        "DejaVuSansMono",
    }
    facts = told("pdfinfo", sheet_pdf)
    assert re.search(r"Tagged: +yes", facts)
    assert "CreationDate" not in facts


def of_text(text):
    blocks = [
        Paragraph(text),
        Caution(text),
        *(Steps((text, text), mark) for mark in ("number", "bullet", "box")),
        Grid((text, "b"), ((text, ""),), numbers=frozenset({0}), fill=frozenset({1}), title=text),
        Fill(text, text, text),
        Fill(text, boxes=(text,)),
    ]
    return Paper(text, text, text, [PaperSection("a", text, blocks)])


@pytest.mark.parametrize(
    "text",
    [
        "= not a heading *bold* _thin_ $x^2$ #panic() <label> @cite",
        '"quoted" \\ backslash // comment /* another */ ~ -- ... [x] #{1+1}',
        "Äußerst größe Ζεύς Привет 25 °C",
    ],
)
def test_text_stays_text(text, tmp_path):
    found = words_of(written(of_text(text), tmp_path))
    assert found.count(text) >= 10


@given(st.lists(st.text(max_size=30), min_size=6, max_size=6))
@settings(deadline=None, max_examples=5)
def test_any_text_makes_a_document_and_the_same_one_each_time(texts):
    papers = [of_text(text) for text in texts]
    made = paper_pdfs(papers)
    assert all(pdf.startswith(b"%PDF-") for pdf in made)
    # In another process, and after other papers.
    assert paper_pdfs(papers[::-1])[::-1] == made


def test_code_is_set_apart(tmp_path):
    paper = Paper("t", "", "", [PaperSection("a", "s", [Paragraph("run `wirecue check` now")])])
    pdf = written(paper, tmp_path)
    assert "run wirecue check now" in words_of(pdf)
    assert "DejaVuSansMono" in told("pdffonts", pdf)


def test_a_tall_picture_is_kept_to_its_page(tmp_path):
    tall = '<svg xmlns="http://www.w3.org/2000/svg" width="100" height="900"><rect width="100" height="900"/></svg>'
    paper = Paper("t", "", "", [PaperSection("a", "s", [Paragraph("before"), Picture(tall, "a bar")])])
    assert len(pages_mm(written(paper, tmp_path))) == 1


@pytest.mark.parametrize("sheet", [True, False])
@pytest.mark.parametrize(("width", "height"), [(297, 210), (100, 300), (400, 100)])
def test_a_picture_is_neither_cut_nor_stretched(sheet, width, height, tmp_path):
    filled = f'<rect width="{width}" height="{height}" fill="#ff0000"/>'
    size = f'viewBox="0 0 {width} {height}" width="{width}mm" height="{height}mm"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{filled}</svg>'
    pdf = written(Paper("t", "", "", [PaperSection("a", "s", [Picture(svg, "red", sheet=sheet)])]), tmp_path)
    page = "2" if sheet else "1"
    told("pdftoppm", "-r", "100", "-f", page, "-l", page, "-singlefile", "-png", pdf, tmp_path / "page")
    red, green, _ = Image.open(tmp_path / "page.png").convert("RGB").split()
    left, top, right, bottom = ImageChops.subtract(red, green).point(lambda value: 255 * (value > 200)).getbbox()
    assert (right - left) / (bottom - top) == pytest.approx(width / height, rel=0.02)


@pytest.mark.parametrize(
    "block",
    [
        Caution("word " * 3000 + "last"),
        Fill("label", "word " * 3000 + "last"),
        Grid(("a",), (*((f"row {n} " + "word " * 250,) for n in range(13)), ("last",))),
        Grid(("a",), (("word " * 3000 + "last",),)),
        Steps(("word " * 3000 + "last",)),
    ],
    ids=["caution", "fill", "table", "cell", "steps"],
)
def test_what_is_longer_than_a_page_goes_on_on_the_next(block, tmp_path):
    pdf = written(Paper("t", "", "", [PaperSection("a", "s", [block])]), tmp_path)
    assert words_of(pdf).count("last") == 1
    assert len(pages_mm(pdf)) > 1
    assert ink_outside(pdf, PRINTER_EDGE_MM) == []


def test_a_word_longer_than_a_line_is_broken(tmp_path):
    word = "x" * 300 + "end"
    pdf = written(
        Paper("t", "", "", [PaperSection("a", "s", [Paragraph(word), Grid(("a", "b"), ((word, word),))])]),
        tmp_path,
    )
    assert ink_outside(pdf, PRINTER_EDGE_MM) == []
    assert text_of(pdf).replace("\u200b", "").count("end") == 3


def test_a_section_without_blocks_keeps_its_heading(tmp_path):
    assert "s alone" in words_of(written(Paper("t", "", "", [PaperSection("a", "s alone", [])]), tmp_path))


def test_a_backtick_alone_stays(tmp_path):
    found = words_of(written(Paper("t", "", "", [PaperSection("a", "s", [Paragraph("one ` other")])]), tmp_path))
    assert "one`other" in found.replace(" ", "")


def test_nothing_in_the_folder_where_somebody_stands_is_imported(tmp_path, monkeypatch):
    for name in ("typst", "json", "pathlib"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('from the folder')")
    monkeypatch.chdir(tmp_path)
    assert paper_pdf(of_text("x")).startswith(b"%PDF")


def test_a_template_with_a_fault_says_which(tmp_path):
    with pytest.raises(TypesettingError, match="unknown variable: nothing"):
        typeset([{"template": "#nothing", "inputs": {}, "typefaces": str(tmp_path)}])
