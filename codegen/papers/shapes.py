"""Drawings at full size: what they are made of, in millimetres right and down from the corner, as SVG and as PDF."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

import drawsvg as draw

from codegen.style import FONT, INK, svg_text

if TYPE_CHECKING:
    from reportlab.lib.colors import Color
    from reportlab.pdfgen.canvas import Canvas


Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True)
class Line:
    """A straight line."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.2
    colour: str = INK
    dashed: bool = False
    dots_mm: float = 0.0
    """Above zero: drawn as round dots, as wide as the line and so far apart."""
    mark: str = ""
    """What the line stands for, such as 'tick burnback 60000' (microseconds) or 'check-bar'; for whoever measures."""

    def moved(self, right: float, down: float) -> Line:
        """The line elsewhere."""
        return replace(self, x1=self.x1 + right, y1=self.y1 + down, x2=self.x2 + right, y2=self.y2 + down)


@dataclass(frozen=True)
class Circle:
    """A circle, drawn as an outline, filled where it has a fill."""

    x: float
    y: float
    radius: float
    width: float = 0.2
    colour: str = INK
    dashed: bool = False
    fill: str = ""
    mark: str = ""
    """As that of a line."""

    def moved(self, right: float, down: float) -> Circle:
        """The circle elsewhere."""
        return replace(self, x=self.x + right, y=self.y + down)


@dataclass(frozen=True)
class Polygon:
    """A filled polygon."""

    points: tuple[tuple[float, float], ...]
    colour: str = INK

    def moved(self, right: float, down: float) -> Polygon:
        """The polygon elsewhere."""
        return replace(self, points=tuple((x + right, y + down) for x, y in self.points))


@dataclass(frozen=True)
class Text:
    """One line of text; `y` is its base line, `size` the type size."""

    x: float
    y: float
    text: str
    size: float
    anchor: Anchor = "start"
    bold: bool = False
    colour: str = INK

    def moved(self, right: float, down: float) -> Text:
        """The text elsewhere."""
        return replace(self, x=self.x + right, y=self.y + down)


Shape = Line | Circle | Polygon | Text
CAP_HEIGHT = 0.729
"""Height of capitals and digits over the type size (metrics of the typeface: 1493 of 2048)."""


def polyline(points: list[tuple[float, float]], width: float) -> list[Shape]:
    """Return lines from point to point."""
    return [Line(*start, *end, width) for start, end in pairwise(points)]


@dataclass(frozen=True)
class PaperSize:
    """A paper size."""

    name: str
    width_mm: float
    height_mm: float


A4 = PaperSize("A4", 210.0, 297.0)
"""ISO 216 (exact)."""
US_LETTER = PaperSize("Letter", 215.9, 279.4)
"""8.5 in by 11 in (exact)."""
A4_ACROSS = PaperSize("A4, landscape", A4.height_mm, A4.width_mm)
"""ISO 216, turned (exact)."""
US_LETTER_ACROSS = PaperSize("Letter, landscape", US_LETTER.height_mm, US_LETTER.width_mm)
"""8.5 in by 11 in, turned (exact)."""
BOTH_ACROSS = PaperSize("A4 or Letter, landscape", US_LETTER.height_mm, A4.width_mm)
"""What fits on either, turned."""
BOTH = PaperSize("A4 or Letter", A4.width_mm, US_LETTER.height_mm)
"""What fits on either."""


@dataclass(frozen=True)
class Page:
    """One page of shapes."""

    paper: PaperSize
    shapes: tuple[Shape, ...]


def page_svg(page: Page) -> str:
    """Return the page as an SVG document that prints at full size."""
    paper = page.paper
    picture = draw.Drawing(paper.width_mm, paper.height_mm, font_family=FONT)
    picture.set_render_size(f"{paper.width_mm:g}mm", f"{paper.height_mm:g}mm")
    picture.append(draw.Rectangle(0, 0, paper.width_mm, paper.height_mm, fill="white"))
    for shape in page.shapes:
        picture.append(_element(shape))
    return svg_text(picture)


def _element(shape: Shape) -> draw.DrawingBasicElement:
    if isinstance(shape, Text):
        weight = "bold" if shape.bold else "normal"
        return draw.Text(
            shape.text, shape.size, _mm(shape.x), _mm(shape.y),
            fill=shape.colour, text_anchor=shape.anchor, font_weight=weight,
        )  # fmt: skip
    if isinstance(shape, Polygon):
        return draw.Lines(*(_mm(value) for point in shape.points for value in point), close=True, fill=shape.colour)
    stroke: dict[str, str | float] = {"stroke": shape.colour, "stroke_width": shape.width}
    if shape.dashed:
        stroke["stroke_dasharray"] = " ".join(map(str, DASHES_MM))
    elif isinstance(shape, Line) and shape.dots_mm:
        stroke |= {"stroke_dasharray": f"0 {shape.dots_mm}", "stroke_linecap": "round"}
    if isinstance(shape, Circle):
        marked = {"data_mark": shape.mark} if shape.mark else {}
        return draw.Circle(_mm(shape.x), _mm(shape.y), shape.radius, fill=shape.fill or "none", **stroke, **marked)
    return _line(shape, stroke)


def _line(shape: Line, stroke: dict[str, str | float]) -> draw.DrawingBasicElement:
    marked = {"data_mark": shape.mark} if shape.mark else {}
    return draw.Line(_mm(shape.x1), _mm(shape.y1), _mm(shape.x2), _mm(shape.y2), **stroke, **marked)


def _mm(value: float) -> float:
    return round(value, 4)


POINTS_PER_MM = 72 / 25.4
"""A PDF's unit is 1/72 in (ISO 32000, exact)."""
DASHES_MM = (0.8, 0.6)
_NO_DATE = "D:20000101000000+00'00'"
"""The date in each document, so that the same plates are the same bytes."""
# The typeface that comes with the library: its metrics are those that the SVG's first choice has.
_PLAIN, _BOLD = "Vera", "VeraBd"


def pages_pdf(pages: Sequence[Page], title: str, *, compressed: bool = False) -> bytes:
    """Return the pages as a PDF document, the same bytes for the same pages.

    Left uncompressed, the drawing can be read and measured in the file itself; some thousands of holes are large then.
    """
    from reportlab.pdfgen.canvas import Canvas

    _typefaces()
    file = io.BytesIO()
    canvas = Canvas(file, invariant=1, pageCompression=1 if compressed else 0)
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


# The library reads a colour's text anew each time: a fifth of a board's drawing.
@cache
def _colour(text: str) -> Color:
    from reportlab.lib.colors import toColor

    return toColor(text)


def _draw(canvas: Canvas, shape: Shape, height_mm: float) -> None:
    if isinstance(shape, Text):
        canvas.setFillColor(_colour(shape.colour))
        canvas.setFont(_BOLD if shape.bold else _PLAIN, shape.size)
        write = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}
        write[shape.anchor](shape.x, height_mm - shape.y, shape.text)
    elif isinstance(shape, Polygon):
        canvas.setFillColor(_colour(shape.colour))
        path = canvas.beginPath()
        path.moveTo(shape.points[0][0], height_mm - shape.points[0][1])
        for x, y in shape.points[1:]:
            path.lineTo(x, height_mm - y)
        path.close()
        canvas.drawPath(path, stroke=0, fill=1)
    else:
        _stroke(canvas, shape, height_mm)


def _stroke(canvas: Canvas, shape: Line | Circle, height_mm: float) -> None:
    canvas.setStrokeColor(_colour(shape.colour))
    canvas.setLineWidth(shape.width)
    dots = isinstance(shape, Line) and shape.dots_mm
    canvas.setLineCap(1 if dots else 0)
    canvas.setDash([0, dots] if dots else list(DASHES_MM) if shape.dashed else [])
    if isinstance(shape, Circle):
        if shape.fill:
            canvas.setFillColor(_colour(shape.fill))
        canvas.circle(shape.x, height_mm - shape.y, shape.radius, fill=bool(shape.fill))
    else:
        canvas.line(shape.x1, height_mm - shape.y1, shape.x2, height_mm - shape.y2)
