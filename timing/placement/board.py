"""A strip board as laid out: holes, parts, cuts and links, as one value and as plain data.

Strips run along the rows. Rows are lettered from the top as seen from the component side (A to Z, AA, AB ...), columns
numbered from the left. A cut takes the copper away round its hole, so that the strip ends on either side of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass, replace
from typing import Any, NamedTuple

from timing.placement.footprints import PITCH_MM

LAYOUT_FORMAT = 2
"""Of the data; another one is laid out anew (choice)."""
MOST_HOLES = 200
"""In a row or a column of a board that is read (choice)."""
_HOLE = re.compile(r"([A-Z]{1,2})([1-9][0-9]{0,2})")


class Hole(NamedTuple):
    """One hole; row and column count from 0."""

    row: int
    column: int

    def __str__(self) -> str:
        return f"{row_letters(self.row)}{self.column + 1}"


def row_letters(row: int) -> str:
    """Return the letters of a row, A for 0."""
    return chr(65 + row) if row < 26 else chr(64 + row // 26) + chr(65 + row % 26)


def hole_of(text: str) -> Hole:
    """Return the hole of a name such as 'C12'. Raises ValueError."""
    found = _HOLE.fullmatch(text)
    if found is None:
        raise ValueError(f"{text!r} names no hole")
    letters, number = found.groups()
    row = ord(letters[-1]) - 65 + (26 * (ord(letters[0]) - 64) if len(letters) == 2 else 0)
    return Hole(row, int(number) - 1)


@dataclass(frozen=True)
class PlacedPart:
    """A part, or the pins for the wires of one that stands elsewhere."""

    name: str
    """Its ref; for the wires of what stands elsewhere that one's ref, numbered where there are several blocks."""
    label: str
    """Value, or what the wires lead to."""
    pattern: str
    """What was assumed of its pins and body."""
    turn: int
    """Degrees, clockwise."""
    body: tuple[int, int, int, int]
    """First and last row, first and last column that it covers."""
    pins: tuple[tuple[str, Hole], ...]
    """Terminal, written 'R1.1', and its hole; the first is the origin."""
    side: str
    """field, logic or across."""

    @property
    def covered(self) -> Iterator[Hole]:
        """Every hole under its body."""
        top, bottom, left, right = self.body
        return (Hole(row, column) for row in range(top, bottom + 1) for column in range(left, right + 1))


@dataclass(frozen=True)
class BoardLink:
    """A wire on the component side from hole to hole."""

    start: Hole
    end: Hole
    insulated: bool
    """True where it passes over a pin, a part or another link."""
    heavy: bool
    """True where it carries more than a thin wire should."""


@dataclass(frozen=True)
class StripRun:
    """A stretch of one strip."""

    row: int
    first: int
    last: int

    def __str__(self) -> str:
        return f"{Hole(self.row, self.first)} to {Hole(self.row, self.last)}"


@dataclass(frozen=True)
class BoardLayout:
    """A whole board."""

    rows: int
    columns: int
    barrier: tuple[int, ...]
    """Columns in which every strip is cut, between the field's side at the left and the logic at the right."""
    parts: tuple[PlacedPart, ...]
    cuts: tuple[Hole, ...]
    """All others."""
    links: tuple[BoardLink, ...]
    tinned: tuple[StripRun, ...]
    """Stretches to double with solder and wire for their current."""
    seed: int
    moves: int

    @property
    def size_mm(self) -> tuple[float, float]:
        """Height and width to cut the board to."""
        return self.rows * PITCH_MM, self.columns * PITCH_MM

    @property
    def all_cuts(self) -> Iterator[Hole]:
        """Every cut, those of the barrier included."""
        yield from self.cuts
        yield from (Hole(row, column) for row in range(self.rows) for column in self.barrier)

    def as_data(self, digest: str) -> dict[str, Any]:
        """Return the layout as plain data, for JSON. digest: of the net list that it was made for."""
        return {
            "format": LAYOUT_FORMAT,
            "netlist": digest,
            "seed": self.seed,
            "moves": self.moves,
            "rows": self.rows,
            "columns": self.columns,
            "barrier_columns": [column + 1 for column in self.barrier],
            "parts": [
                asdict(part)
                | {
                    "body": [str(Hole(part.body[0], part.body[2])), str(Hole(part.body[1], part.body[3]))],
                    "pins": {terminal: str(hole) for terminal, hole in part.pins},
                }
                for part in self.parts
            ],
            "cuts": [str(cut) for cut in self.cuts],
            "links": [
                {"from": str(one.start), "to": str(one.end), "insulated": one.insulated, "heavy": one.heavy}
                for one in self.links
            ],
            "tinned": [[str(Hole(one.row, one.first)), str(Hole(one.row, one.last))] for one in self.tinned],
        }


def trimmed(layout: BoardLayout, screw_holes: int) -> BoardLayout:
    """Return the layout without the outer rows that nothing stands on.

    screw_holes: rows and columns that stay free at each corner of what is left.
    """
    used = {hole for part in layout.parts for hole in part.covered}
    used |= {hole for link in layout.links for hole in (link.start, link.end)}
    at_the_sides = (*range(screw_holes), *range(layout.columns - screw_holes, layout.columns))

    def empty(row: int, columns: Iterable[int]) -> bool:
        return not any(Hole(row, column) in used for column in columns)

    first, last = 0, layout.rows - 1
    while last - first >= 2 * screw_holes and empty(first, range(layout.columns)) and empty(
        first + screw_holes, at_the_sides
    ):  # fmt: skip
        first += 1
    while last - first >= 2 * screw_holes and empty(last, range(layout.columns)) and empty(
        last - screw_holes, at_the_sides
    ):  # fmt: skip
        last -= 1
    return _of_rows(layout, first, last)


def _of_rows(layout: BoardLayout, first: int, last: int) -> BoardLayout:
    """The rows from first to last, which hold all parts and links, counted from 0 again."""

    def up(hole: Hole) -> Hole:
        return Hole(hole.row - first, hole.column)

    def moved(part: PlacedPart) -> PlacedPart:
        top, bottom, left, right = part.body
        pins = tuple((terminal, up(hole)) for terminal, hole in part.pins)
        return replace(part, body=(top - first, bottom - first, left, right), pins=pins)

    return replace(
        layout,
        rows=last - first + 1,
        parts=tuple(map(moved, layout.parts)),
        cuts=tuple(up(cut) for cut in layout.cuts if first <= cut.row <= last),
        links=tuple(replace(link, start=up(link.start), end=up(link.end)) for link in layout.links),
        tinned=tuple(replace(run, row=run.row - first) for run in layout.tinned),
    )


def layout_of(data: Any, digest: str) -> BoardLayout | None:
    """Return the layout in plain data, or None where that is none, or is for another net list."""
    try:
        if data["format"] != LAYOUT_FORMAT or data["netlist"] != digest:
            return None
        if not (0 < int(data["rows"]) <= MOST_HOLES and 0 < int(data["columns"]) <= MOST_HOLES):
            return None
        return BoardLayout(
            rows=int(data["rows"]),
            columns=int(data["columns"]),
            barrier=tuple(int(column) - 1 for column in data["barrier_columns"]),
            parts=tuple(_part(one) for one in data["parts"]),
            cuts=tuple(hole_of(one) for one in data["cuts"]),
            links=tuple(
                BoardLink(hole_of(one["from"]), hole_of(one["to"]), bool(one["insulated"]), bool(one["heavy"]))
                for one in data["links"]
            ),
            tinned=tuple(
                StripRun(hole_of(first).row, hole_of(first).column, hole_of(last).column)
                for first, last in data["tinned"]
            ),
            seed=int(data["seed"]),
            moves=int(data["moves"]),
        )
    except (KeyError, TypeError, ValueError, AttributeError):
        return None


def _part(one: Any) -> PlacedPart:
    first, last = (hole_of(text) for text in one["body"])
    return PlacedPart(
        name=str(one["name"]),
        label=str(one["label"]),
        pattern=str(one["pattern"]),
        turn=int(one["turn"]),
        body=(first.row, last.row, first.column, last.column),
        pins=tuple((str(terminal), hole_of(hole)) for terminal, hole in one["pins"].items()),
        side=str(one["side"]),
    )
