"""What a paper is made of: sections of paragraphs, cautions, steps, tables, pictures and lines to fill in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Paragraph:
    """Running text. In all texts, what stands in `backticks` is shown as code."""

    text: str
    kind: str = "paragraph"


@dataclass(frozen=True)
class Caution:
    """A warning, in the place where it matters."""

    text: str
    kind: str = "caution"


@dataclass(frozen=True)
class Steps:
    """A list, numbered or not, or with boxes to tick."""

    items: tuple[str, ...]
    mark: str = "number"
    """number, bullet or box."""
    kind: str = "steps"


@dataclass(frozen=True)
class Table:
    """Rows under a head. An empty cell under a column named in `fill` is a place to write in."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    """Columns of figures, set to the right."""
    fill: frozenset[int] = frozenset()
    """Columns to write in by hand."""
    title: str = ""
    kind: str = "table"


@dataclass(frozen=True)
class Picture:
    """A drawing. Shown as an image, so that the ids and scripts of several do not meet."""

    svg: str
    alternative: str
    """What it shows, in words."""
    sheet: bool = False
    """True for a drawing made for a sheet of its own, in landscape."""
    kind: str = "picture"


@dataclass(frozen=True)
class Fill:
    """A line to write on, with what belongs there."""

    label: str
    hint: str = ""
    unit: str = ""
    boxes: tuple[str, ...] = ()
    """Answers to tick; they take the place of the line."""
    kind: str = "fill"


Block = Paragraph | Caution | Steps | Table | Picture | Fill


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it."""

    key: str
    title: str
    blocks: Sequence[Block]
    new_page: bool = False


@dataclass(frozen=True)
class Paper:
    """A whole paper."""

    title: str
    subtitle: str
    foot: str
    """At the foot of every page."""
    sections: Sequence[Section]
