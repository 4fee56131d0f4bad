"""What all plates of the panel have in common: sizes, outline, drilling marks, words beside a switch."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import pairwise

from codegen.papers.shapes import Circle, Line, Shape
from codegen.style import FRAME

PLATE_WIDTH_MM = 60.0
TITLE_MM, TITLE_SIZE_MM = 7.5, 4.6
"""Base line of a plate's title, from its upper edge, and its type size."""
WORD_SIZE_MM, SMALL_SIZE_MM = 2.8, 2.2
"""Type sizes of what a hand looks for, and of what is read once."""
SWITCH_HOLES_MM = (6.5, 12.2)
"""For the usual bushes of toggle switches: M6 or 1/4 in, M12 or 15/32 in (practice)."""
LEVER_TICK_MM, WORDS_MM, PITCH_MM = (9.4, 12.0), 13.0, 8.4
"""Beside a switch, from its centre: ends of the strokes towards its words, and where the words begin; from one
position's words to the next."""
CROSS_MM = 2.5


def plate_outline(width: float, height: float) -> list[Shape]:
    """Return the lines along which a plate is cut."""
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height), (0.0, 0.0)]
    return [Line(*start, *end, width=0.1, colour=FRAME, mark="cut") for start, end in pairwise(corners)]


def drill_marks(x: float, y: float, diameters: Iterable[float]) -> list[Shape]:
    """Return the cross of a drilling centre, and a circle for each hole that parts usually want."""
    return [
        *(Circle(x, y, diameter / 2, width=0.1, dashed=True) for diameter in diameters),
        Line(x - CROSS_MM, y, x + CROSS_MM, y, width=0.1, mark="drill"),
        Line(x, y - CROSS_MM, x, y + CROSS_MM, width=0.1, mark="drill"),
    ]


def holes_text(diameters: Iterable[float]) -> str:
    """Return in words how wide the circles of a drilling centre are."""
    return f"hole {hole_sizes(diameters)} mm"


def hole_sizes(diameters: Iterable[float]) -> str:
    """Return diameters to choose from."""
    return " or ".join(f"{diameter:g}" for diameter in diameters)


def lever_tick(centre: tuple[float, float], towards: tuple[float, float], label: str) -> Line:
    """Return the stroke that leads from a toggle switch to the word for one of its positions."""
    turned = math.atan2(towards[1] - centre[1], towards[0] - centre[0])
    (x1, y1), (x2, y2) = (
        (centre[0] + radius * math.cos(turned), centre[1] + radius * math.sin(turned)) for radius in LEVER_TICK_MM
    )
    return Line(x1, y1, x2, y2, width=0.3, mark=f"position {label}")
