"""Plates of the panel laid out on pages at full size, with the bar that proves the print's scale."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from codegen.papers.control_plate import ControlPlate, control_plates, control_shapes
from codegen.papers.dial_plate import DialPlate, dial_plates, plate_height_mm, plate_shapes
from codegen.papers.plate_parts import PLATE_WIDTH_MM
from codegen.papers.shapes import A4, BOTH, US_LETTER, Line, Page, PaperSize, Shape, Text, page_svg, pages_pdf
from codegen.style import FRAME
from timing.project import Project

CHECK_BAR_MM = 50.0
MARGIN_MM = 12.0
"""Printers leave 4 mm to 6 mm of the edge blank (practice)."""
HEAD_MM = 30.0
ROW_GAP_MM = 4.0
Plate = DialPlate | ControlPlate
HOW_TO_USE = (
    "Crosses: drilling centres. Dashed circles: usual holes; measure your part. Triangle: the design's setting.",
    "Fit the knob so that its pointer stands just past the end marks at either stop. Cut along the thin lines.",
)


@dataclass(frozen=True)
class PlacedPlate:
    """A plate on its page."""

    plate: Plate
    page: int
    """From 0."""
    x_mm: float
    y_mm: float
    """Of its upper left corner."""

    def shapes(self) -> list[Shape]:
        """Return its shapes where they stand."""
        shapes = plate_shapes(self.plate) if isinstance(self.plate, DialPlate) else control_shapes(self.plate)
        return [shape.moved(self.x_mm, self.y_mm) for shape in shapes]


def size_mm(plate: Plate) -> tuple[float, float]:
    """Return width and height of a plate."""
    if isinstance(plate, DialPlate):
        return PLATE_WIDTH_MM, plate_height_mm(plate)
    return plate.width_mm, plate.height_mm


def placed_plates(project: Project, paper: PaperSize) -> tuple[PlacedPlate, ...]:
    """Return every plate of a panel on its page: those of dials, of switches and buttons, of the lamp, in rows."""
    right, bottom = paper.width_mm - MARGIN_MM, paper.height_mm - MARGIN_MM
    placed: list[PlacedPlate] = []
    page, y = 0, MARGIN_MM + HEAD_MM
    for row in _rows((*dial_plates(project), *control_plates(project)), right - MARGIN_MM):
        height = max(size_mm(plate)[1] for plate in row)
        if y + height > bottom:
            page, y = page + 1, MARGIN_MM + HEAD_MM
        x = MARGIN_MM
        for plate in row:
            placed.append(PlacedPlate(plate, page, x, y))
            x += size_mm(plate)[0]
        y += height + ROW_GAP_MM
    return tuple(placed)


def _rows(plates: Sequence[Plate], width_mm: float) -> Iterator[list[Plate]]:
    """Plates of one sort side by side, as many as go."""
    row: list[Plate] = []
    for plate in plates:
        full = sum(size_mm(one)[0] for one in (*row, plate)) > width_mm
        if row and (full or isinstance(row[-1], DialPlate) != isinstance(plate, DialPlate)):
            yield row
            row = []
        row.append(plate)
    if row:
        yield row


def panel_pages(project: Project, version: str, paper: PaperSize) -> tuple[Page, ...]:
    """Return the pages with every plate of the panel; `version` is that of this tool."""
    design, placed = project.design, placed_plates(project, paper)
    stamp = f"design {design.digest()}, wirecue {version}"
    count = 1 + max(one.page for one in placed)
    pages = []
    for page in range(count):
        number = f", page {page + 1} of {count}" if count > 1 else ""
        head = full_size_head(f"{design.name}: plates of the panel, full size{number}", stamp, HOW_TO_USE)
        shapes = [shape for one in placed if one.page == page for shape in one.shapes()]
        pages.append(Page(paper, (*head, *shapes)))
    return tuple(pages)


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


def plate_files(project: Project, version: str) -> dict[str, bytes]:
    """Return the plates of a project in two forms; of the pictures one a page. version: of this tool."""
    pages = panel_pages(project, version, BOTH)
    names = ("dials.svg", *(f"dials-{number}.svg" for number in range(2, len(pages) + 1)))
    pictures = {name: page_svg(page).encode() for name, page in zip(names, pages, strict=True)}
    return pictures | {"dials.pdf": plates_pdf(project, version)}


def plates_pdf(project: Project, version: str) -> bytes:
    """Return the plates as a PDF: all pages on A4, then all on Letter, of which one lot is printed."""
    pages = [page for paper in (A4, US_LETTER) for page in panel_pages(project, version, paper)]
    return pages_pdf(pages, f"{project.design.name}: plates of the panel")
