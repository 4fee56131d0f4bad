"""A page of shapes as SVG, one user unit a millimetre."""

from __future__ import annotations

import drawsvg as draw

from codegen.look import FONT
from codegen.papers.dial_sheet import Page
from codegen.papers.shapes import Circle, Line, Polygon, Shape, Text

DASHES_MM = "0.8 0.6"


def page_svg(page: Page) -> str:
    """Return the page as an SVG document that prints at full size."""
    paper = page.paper
    picture = draw.Drawing(paper.width_mm, paper.height_mm, font_family=FONT)
    picture.set_render_size(f"{paper.width_mm:g}mm", f"{paper.height_mm:g}mm")
    picture.append(draw.Rectangle(0, 0, paper.width_mm, paper.height_mm, fill="white"))
    for shape in page.shapes:
        picture.append(_element(shape))
    return str(picture.as_svg())


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
        stroke["stroke_dasharray"] = DASHES_MM
    if isinstance(shape, Circle):
        return draw.Circle(_mm(shape.x), _mm(shape.y), shape.radius, fill="none", **stroke)
    return _line(shape, stroke)


def _line(shape: Line, stroke: dict[str, str | float]) -> draw.DrawingBasicElement:
    marked = {"data_mark": shape.mark} if shape.mark else {}
    return draw.Line(_mm(shape.x1), _mm(shape.y1), _mm(shape.x2), _mm(shape.y2), **stroke, **marked)


def _mm(value: float) -> float:
    return round(value, 4)
