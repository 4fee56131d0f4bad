"""What a drawing at full size is made of, in millimetres from the upper left corner, down and right."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

INK, PALE = "#1c2b33", "#8a979d"
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
    mark: str = ""
    """What the line stands for, such as 'tick burnback 60000' (microseconds) or 'check-bar'; for whoever measures."""

    def moved(self, right: float, down: float) -> Line:
        """The line elsewhere."""
        return replace(self, x1=self.x1 + right, y1=self.y1 + down, x2=self.x2 + right, y2=self.y2 + down)


@dataclass(frozen=True)
class Circle:
    """A circle, drawn as an outline."""

    x: float
    y: float
    radius: float
    width: float = 0.2
    colour: str = INK
    dashed: bool = False

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
