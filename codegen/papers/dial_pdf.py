"""Pages of shapes as PDF, at full size."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from functools import cache
from typing import TYPE_CHECKING

from codegen.papers.dial_sheet import Page
from codegen.papers.shapes import Circle, Line, Polygon, Shape, Text

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

POINTS_PER_MM = 72 / 25.4
"""A PDF's unit is 1/72 in (ISO 32000, exact)."""
DASHES_MM = (0.8, 0.6)
_NO_DATE = "D:20000101000000+00'00'"
"""The date in each document, so that the same plates are the same bytes."""
# The typeface that comes with the library: its metrics are those that the SVG's first choice has.
_PLAIN, _BOLD = "Vera", "VeraBd"


def pages_pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return the pages as a PDF document, the same bytes for the same pages."""
    from reportlab.pdfgen.canvas import Canvas

    _typefaces()
    file = io.BytesIO()
    # Left uncompressed, so that the drawing can be read and measured in the file itself.
    canvas = Canvas(file, invariant=1, pageCompression=0)
    # Else a variable of the environment, SOURCE_DATE_EPOCH, would decide on date and identity of the document.
    canvas.setDateFormatter(lambda *_: _NO_DATE)
    canvas._doc.signature = hashlib.md5(usedforsecurity=False)  # type: ignore[attr-defined]
    canvas.setTitle(title)
    for page in pages:
        canvas.setPageSize((page.paper.width_mm * POINTS_PER_MM, page.paper.height_mm * POINTS_PER_MM))
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        for shape in page.shapes:
            _draw(canvas, shape, page.paper.height_mm)
        canvas.showPage()
    canvas.save()
    return file.getvalue()


@cache
def _typefaces() -> None:
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    for name in (_PLAIN, _BOLD):
        registerFont(TTFont(name, f"{name}.ttf"))


def _draw(canvas: Canvas, shape: Shape, height_mm: float) -> None:
    if isinstance(shape, Text):
        canvas.setFillColor(shape.colour)
        canvas.setFont(_BOLD if shape.bold else _PLAIN, shape.size)
        write = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
        write[shape.anchor](shape.x, height_mm - shape.y, shape.text)
    elif isinstance(shape, Polygon):
        canvas.setFillColor(shape.colour)
        path = canvas.beginPath()
        path.moveTo(shape.points[0][0], height_mm - shape.points[0][1])
        for x, y in shape.points[1:]:
            path.lineTo(x, height_mm - y)
        path.close()
        canvas.drawPath(path, stroke=0, fill=1)
    else:
        _stroke(canvas, shape, height_mm)


def _stroke(canvas: Canvas, shape: Line | Circle, height_mm: float) -> None:
    canvas.setStrokeColor(shape.colour)
    canvas.setLineWidth(shape.width)
    canvas.setDash(list(DASHES_MM) if shape.dashed else [])
    if isinstance(shape, Circle):
        canvas.circle(shape.x, height_mm - shape.y, shape.radius)
    else:
        canvas.line(shape.x1, height_mm - shape.y1, shape.x2, height_mm - shape.y2)
