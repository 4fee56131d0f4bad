"""What every chart is made of: the white ground, axes with round ticks, words, and the legend."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import drawsvg as draw

from codegen.style import FONT, INK, text_width
from timing.formatting import round_step

Parent = Any
"""A drawing or a group in one: whatever can be appended to."""
LETTER_WIDTH = 7.2
"""Width that a letter of a legend or a label at size 12 is given."""
_SAME = 1e-9
"""A tick that lies this near an end of its axis, as a share of the distance between ticks, is on it."""


def canvas(width: float, height: float) -> draw.Drawing:
    """Return an empty picture with a white ground."""
    picture = draw.Drawing(width, height, font_family=FONT)
    picture.append(draw.Rectangle(0, 0, width, height, fill="white"))
    return picture


def write(
    picture: Parent,
    words: str,
    x: float,
    y: float,
    size: float = 12,
    *,
    anchor: str | None = None,
    weight: str | None = None,
    fill: str = INK,
) -> None:
    """Write a line of words; x, y: where its foot begins, or what `anchor` says (SVG: start, middle, end)."""
    style = {"text_anchor": anchor, "font_weight": weight}
    given = {name: value for name, value in style.items() if value is not None}
    picture.append(draw.Text(words, size, x, y, fill=fill, **given))


def write_on_white(picture: Parent, words: str, x: float, y: float, anchor: str = "middle", fill: str = INK) -> None:
    """Write in bold on a white ground, so that letters stand clear of hatchings."""
    wide = text_width(words, 12) + 8
    left = {"start": x - 4, "middle": x - wide / 2, "end": x - wide + 4}[anchor]
    picture.append(draw.Rectangle(left, y - 12, wide, 16, fill="white", fill_opacity=0.88, rx=3))
    write(picture, words, x, y, 12, anchor=anchor, weight="bold", fill=fill)


def line_through(points: Iterable[tuple[float, float]], **style: object) -> draw.Path:
    """Return straight lines from one place in the picture to the next."""
    path = draw.Path(**style)
    for number, (x, y) in enumerate(points):
        (path.M if number == 0 else path.L)(x, y)
    return path


def swatches(picture: Parent, entries: Iterable[tuple[object, str]], outline: str) -> float:
    """Write a legend of filled boxes with a word each, below the headline; return where the next one would begin."""
    x = 18.0
    for fill, words in entries:
        picture.append(draw.Rectangle(x, 39, 22, 11, fill=fill, stroke=outline, stroke_width=0.8))
        write(picture, words, x + 29, 49)
        x += 29 + LETTER_WIDTH * len(words) + 18
    return x


@dataclass(frozen=True)
class Axis:
    """Values from `low` to `high`, laid out from one place in the picture to another."""

    low: float
    high: float
    left: float
    """Place of `low`; for an axis that stands, its foot."""
    right: float

    def at(self, value: float) -> float:
        """Return the place of a value, beyond the ends too."""
        return round(self.left + (value - self.low) / (self.high - self.low) * (self.right - self.left), 2)

    def ticks(self, count: int = 10) -> tuple[list[float], float]:
        """Return round values along the axis, at most about `count`, and the distance from one to the next."""
        step = round_step(self.high - self.low, count)
        first, last = math.ceil(self.low / step - _SAME), math.floor(self.high / step + _SAME)
        return [number * step for number in range(first, last + 1)], step
