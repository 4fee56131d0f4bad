"""Dial plates laid out on a page at full size, with the bar that proves the print's scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from codegen.papers.dial_plate import PLATE_WIDTH_MM, DialPlate, dial_plates, plate_height_mm, plate_shapes
from codegen.papers.shapes import A4, BOTH, US_LETTER, Line, Page, PaperSize, Shape, Text, page_svg, pages_pdf
from codegen.style import FRAME
from timing.project import Project

CHECK_BAR_MM = 50.0
MARGIN_MM = 12.0
"""Printers leave 4 mm to 6 mm of the edge blank (practice)."""
HEAD_MM = 30.0
ROW_GAP_MM = 4.0
HOW_TO_USE = (
    "Crosses: drilling centres. Dashed circles: usual bushes; measure yours. Triangle: the design's setting.",
    "Fit the knob so that its pointer stands just past the end marks at either stop. Cut along the thin lines.",
)


def dial_page(project: Project, version: str, paper: PaperSize) -> Page:
    """Return the page with every dial's plate; `version` is that of this tool. Five plates, the most there are, fit."""
    design, plates = project.design, dial_plates(project.dials.values())
    stamp = f"design {design.digest()}, wirecue {version}"
    head = full_size_head(f"{design.name}: dial plates, full size", stamp, HOW_TO_USE)
    placed = [shape for plate, x, y in _places(plates, paper) for shape in _moved(plate, x, y)]
    none = [] if plates else [Text(MARGIN_MM, MARGIN_MM + HEAD_MM + 6.0, "This design has no dials.", 3.6)]
    return Page(paper, (*head, *placed, *none))


def _moved(plate: DialPlate, x: float, y: float) -> list[Shape]:
    return [shape.moved(x, y) for shape in plate_shapes(plate)]


def _places(plates: tuple[DialPlate, ...], paper: PaperSize) -> Iterator[tuple[DialPlate, float, float]]:
    columns = int((paper.width_mm - 2 * MARGIN_MM) // PLATE_WIDTH_MM)
    y = MARGIN_MM + HEAD_MM
    for start in range(0, len(plates), columns):
        row = plates[start : start + columns]
        for column, plate in enumerate(row):
            yield plate, MARGIN_MM + column * PLATE_WIDTH_MM, y
        y += max(plate_height_mm(plate) for plate in row) + ROW_GAP_MM


def full_size_head(title: str, stamp: str, how_to_use: Sequence[str]) -> list[Shape]:
    """Return the head of a page at full size: title, check bar and how to use what stands below."""
    left, bar_y = MARGIN_MM, MARGIN_MM + 13.0
    right = left + CHECK_BAR_MM
    beside = right + 4.0
    return [
        Text(left, MARGIN_MM + 4.0, title, 4.2, bold=True),
        Text(left, MARGIN_MM + 8.0, stamp, 2.4, colour=FRAME),
        Line(left, bar_y, right, bar_y, width=0.3, mark="check-bar"),
        *(Line(x, bar_y - 2.0, x, bar_y + 2.0, width=0.2, mark="check-bar-end") for x in (left, right)),
        Text(beside, bar_y - 0.6, "This bar must measure 50.0 mm.", 3.0, bold=True),
        Text(beside, bar_y + 3.6, "If not, print again at 100 % (actual size), not fitted to the page.", 3.0),
        *(Text(left, bar_y + 10.0 + 3.6 * row, text, 2.6) for row, text in enumerate(how_to_use)),
    ]


def dial_files(project: Project, version: str) -> dict[str, bytes]:
    """Return the dial plates of a project in two forms. version: of this tool."""
    return {
        "dials.svg": page_svg(dial_page(project, version, BOTH)).encode(),
        "dials.pdf": dials_pdf(project, version),
    }


def dials_pdf(project: Project, version: str) -> bytes:
    """Return the dial plates as a PDF of two pages, A4 and Letter, of which one is printed."""
    pages = [dial_page(project, version, paper) for paper in (A4, US_LETTER)]
    return pages_pdf(pages, f"{project.design.name}: dial plates")
