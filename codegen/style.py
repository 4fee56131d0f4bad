"""How our pictures look: colours, letters, hatchings."""

from __future__ import annotations

import re

import drawsvg as draw

FONT = "DejaVu Sans, Verdana, sans-serif"
LETTER_SHARE = 0.57
"""Mean width of a letter as a share of the letter size: a little wide, so that labels keep apart in other fonts."""

# Told apart by lightness as well as by hue, so that grey prints and colour-blind eyes do too.
INK, PALE, FRAME, COMMANDED = "#1c2b33", "#d9dee0", "#8a979d", "#2f5d73"
TINT = "#eef4f6"
WARM, HOT = "#e8a33d", "#b5541f"


def text_width(text: str, size: float) -> float:
    """Return about how wide a text comes out, in the units of its size."""
    return LETTER_SHARE * size * len(text)


def hatch(
    name: str, colour: str, ground: str, angle_deg: float = 45, spacing: float = 7, width: float = 3
) -> draw.Pattern:
    """Return a hatching of parallel lines, as a fill; `name` becomes its id in the picture."""
    pattern = _pattern(name, ground, angle_deg, spacing)
    pattern.append(draw.Line(0, 0, 0, spacing, stroke=colour, stroke_width=width))
    return pattern


def cross_hatch(name: str, colour: str, ground: str, spacing: float = 7, width: float = 1.6) -> draw.Pattern:
    """Return a hatching of crossed lines, as a fill."""
    pattern = hatch(name, colour, ground, 45, spacing, width)
    pattern.append(draw.Line(0, 0, spacing, 0, stroke=colour, stroke_width=width))
    return pattern


def dots(name: str, colour: str, ground: str, spacing: float = 7, radius: float = 1.5) -> draw.Pattern:
    """Return a fill of dots."""
    pattern = _pattern(name, ground, 45, spacing)
    pattern.append(draw.Circle(spacing / 2, spacing / 2, radius, fill=colour))
    return pattern


def _pattern(name: str, ground: str, angle_deg: float, spacing: float) -> draw.Pattern:
    turned = f"rotate({angle_deg:g})"
    pattern = draw.Pattern(spacing, spacing, patternUnits="userSpaceOnUse", patternTransform=turned, id=name)
    pattern.append(draw.Rectangle(0, 0, spacing, spacing, fill=ground))
    return pattern


_LONG_NUMBER = re.compile(r"\d+\.\d{7,}(?:e-?\d+)?")
_DECIMALS_KEPT = 4


def svg_text(picture: draw.Drawing) -> str:
    """Return a picture as SVG, the same on every system: their mathematics part in the last digits of a number."""
    return _LONG_NUMBER.sub(lambda found: str(round(float(found[0]), _DECIMALS_KEPT)), str(picture.as_svg()))
