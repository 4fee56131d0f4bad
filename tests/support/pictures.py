"""What is written where in an SVG picture, for tests that no words overlap or leave the picture."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass
from itertools import combinations

# DejaVu Sans sets its letters this wide on the average, as a share of the letter size (measured on our own labels).
LETTER_SHARE = 0.56


@dataclass(frozen=True)
class Words:
    """A text with the box that it takes."""

    text: str
    left: float
    right: float
    top: float
    bottom: float


def words_of(svg: str) -> list[Words]:
    """Return every text of a picture with its box; moves of groups are followed."""
    found: list[Words] = []
    _walk(ET.fromstring(svg), 0.0, found)
    return found


def _walk(element: ET.Element, down: float, found: list[Words]) -> None:
    if moved := re.fullmatch(r"translate\(0 ([\d.]+)\)", element.get("transform", "")):
        down += float(moved[1])
    if element.tag.endswith("}text") and element.text:
        size, x, y = (float(element.get(key, "0")) for key in ("font-size", "x", "y"))
        wide = LETTER_SHARE * size * len(element.text) * (1.08 if element.get("font-weight") == "bold" else 1)
        left = {"start": x, "middle": x - wide / 2, "end": x - wide}[element.get("text-anchor", "start")]
        found.append(Words(element.text, left, left + wide, y + down - 0.75 * size, y + down + 0.2 * size))
    for child in element:
        _walk(child, down, found)


def overlapping(words: list[Words]) -> list[tuple[str, str]]:
    """Return the pairs of texts whose boxes overlap."""
    return [
        (one.text, two.text)
        for one, two in combinations(words, 2)
        if one.left < two.right and two.left < one.right and one.top < two.bottom and two.top < one.bottom
    ]


def outside(words: list[Words], width: float, height: float) -> list[str]:
    """Return the texts that leave the picture."""
    return [w.text for w in words if w.left < 0 or w.right > width or w.top < 0 or w.bottom > height]
