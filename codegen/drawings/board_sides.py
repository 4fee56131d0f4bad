"""The strip board from both sides at full size: parts and links from above, strips and cuts mirrored from below.

Pins, links and cuts carry their names in the SVG (data-mark), so that the drawing can be read back into a net list. The
mark 'origin' is hole A1.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from codegen.papers.shapes import Circle, Line, Polygon, Shape, Text
from codegen.style import COMMANDED, FRAME, HOT, INK, PALE, text_width
from timing.placement.board import BoardLayout, BoardLink, Hole, PlacedPart, row_letters
from timing.placement.extraction import copper_runs
from timing.placement.footprints import PITCH_MM

COPPER, BODY, BAND = "#eed9bf", "#f7fafb", "#f6dcd0"
TINNED = "#cfd6da"
STRIP_MM, HOLE_MM = 2.0, 0.5
"""Width of a strip and radius of a hole as drawn."""
EDGE_MM = 2.0
"""From the outer holes to the edge of the board."""
REF, PIN, AXIS = 1.7, 1.15, 1.7
"""Letter sizes in mm."""


@dataclass(frozen=True)
class BoardView:
    """One side of a board with its upper left hole, as drawn, at a place on the page (mm)."""

    layout: BoardLayout
    left: float
    top: float
    mirrored: bool

    def at(self, hole: Hole) -> tuple[float, float]:
        """Return where a hole is on the page."""
        column = self.layout.columns - 1 - hole.column if self.mirrored else hole.column
        return self.left + column * PITCH_MM, self.top + hole.row * PITCH_MM

    @property
    def width(self) -> float:
        """From the first to the last hole, in mm."""
        return (self.layout.columns - 1) * PITCH_MM

    @property
    def height(self) -> float:
        """From the first to the last hole, in mm."""
        return (self.layout.rows - 1) * PITCH_MM


def component_side(layout: BoardLayout, left: float, top: float) -> list[Shape]:
    """Return the side that parts and links lie on."""
    view = BoardView(layout, left, top, mirrored=False)
    return [
        *_ground(view, PALE),
        *_holes(view),
        *(shape for cut in layout.cuts for shape in _cross(view, cut, FRAME, 0.15, "")),
        *(shape for part in layout.parts for shape in _part(view, part)),
        *(shape for link in layout.links for shape in _link(view, link)),
    ]


def copper_side(layout: BoardLayout, left: float, top: float) -> list[Shape]:
    """Return the side that the strips lie on, as it looks when the board is turned over to the left or right."""
    view = BoardView(layout, left, top, mirrored=True)
    pins = [(hole, f"joint {terminal}") for part in layout.parts for terminal, hole in part.pins]
    ends = [(hole, "joint link") for link in layout.links for hole in (link.start, link.end)]
    return [
        *_ground(view, COPPER),
        *(_bar(view, run.row, run.first, run.last, TINNED) for run in layout.tinned),
        *_holes(view),
        *(Circle(*view.at(hole), 0.75, 0.2, INK, fill=FRAME, mark=mark) for hole, mark in pins + ends),
        *(shape for cut in layout.all_cuts for shape in _cut(view, cut)),
    ]


def _ground(view: BoardView, colour: str) -> Iterator[Shape]:
    """The board's edge, its strips between cuts, the barrier, the screws and the names of rows and columns."""
    layout = view.layout
    left, top = view.left - EDGE_MM, view.top - EDGE_MM
    right, bottom = view.left + view.width + EDGE_MM, view.top + view.height + EDGE_MM
    yield from _outline(((left, top), (right, top), (right, bottom), (left, bottom)), 0.3, FRAME)
    for run in copper_runs(layout):
        yield _bar(view, run.row, run.first, run.last, colour)
    if layout.barrier:
        across = [view.at(Hole(0, column))[0] for column in layout.barrier]
        yield _box(min(across) - 1.0, top, max(across) + 1.0, bottom, BAND)
        middle = (min(across) + max(across)) / 2
        yield Text(middle, bottom + 6.6, "barrier", AXIS, "middle", bold=True, colour=HOT)
    yield Circle(*view.at(Hole(0, 0)), 0.05, 0.05, FRAME, mark="origin")
    for row in (1, layout.rows - 2):
        for column in (1, layout.columns - 2):
            yield Circle(*view.at(Hole(row, column)), 1.6, 0.25, FRAME, dashed=True)
    for row in range(layout.rows):
        y, name = view.top + row * PITCH_MM + 0.6, row_letters(row)
        yield Text(left - 1.0, y, name, AXIS, "end", colour=FRAME)
        yield Text(right + 1.0, y, name, AXIS, colour=FRAME)
    for column in range(layout.columns):
        if (column + 1) % 5 == 0 or column == 0:
            x, _ = view.at(Hole(0, column))
            for beyond in (top - 1.0, bottom + 2.4):
                yield Text(x, beyond, str(column + 1), AXIS, "middle", colour=FRAME)


def _outline(points: tuple[tuple[float, float], ...], width: float, colour: str) -> Iterator[Line]:
    for start, end in pairwise((*points, points[0])):
        yield Line(*start, *end, width, colour)


def _box(left: float, top: float, right: float, bottom: float, colour: str) -> Polygon:
    return Polygon(((left, top), (right, top), (right, bottom), (left, bottom)), colour)


def _bar(view: BoardView, row: int, first: int, last: int, colour: str) -> Polygon:
    """A strip; it ends where the cut beside it begins."""
    ends = sorted(view.at(Hole(row, column))[0] for column in (first, last))
    y = view.top + row * PITCH_MM
    return _box(ends[0] - 0.8, y - STRIP_MM / 2, ends[1] + 0.8, y + STRIP_MM / 2, colour)


def _holes(view: BoardView) -> Iterator[Shape]:
    # A line of dots for each row: some thousand circles would make the file slow to print.
    for row in range(view.layout.rows):
        y = view.top + row * PITCH_MM
        for radius, colour in ((HOLE_MM, FRAME), (HOLE_MM - 0.1, "#ffffff")):
            yield Line(view.left, y, view.left + view.width + 0.1, y, 2 * radius, colour, dots_mm=PITCH_MM)


def _cross(view: BoardView, hole: Hole, colour: str, width: float, mark: str) -> Iterator[Line]:
    x, y = view.at(hole)
    yield Line(x - 0.8, y - 0.8, x + 0.8, y + 0.8, width, colour, mark=mark)
    yield Line(x - 0.8, y + 0.8, x + 0.8, y - 0.8, width, colour)


def _cut(view: BoardView, hole: Hole) -> Iterator[Shape]:
    yield Circle(*view.at(hole), 1.15, 0.2, HOT, fill="#ffffff", mark=f"cut {hole}")
    yield from _cross(view, hole, HOT, 0.35, "")


def _part(view: BoardView, part: PlacedPart) -> Iterator[Shape]:
    top, bottom, left, right = part.body
    (x1, y1), (x2, y2) = view.at(Hole(top, left)), view.at(Hole(bottom, right))
    box = (x1 - 1.05, y1 - 1.05, x2 + 1.05, y2 + 1.05)
    yield _box(*box, BODY)
    yield from _outline(((box[0], box[1]), (box[2], box[1]), (box[2], box[3]), (box[0], box[3])), 0.25, INK)
    pin_names = {terminal.partition(".")[2] for terminal, _ in part.pins}
    named = part.label.startswith("to ") or pin_names not in ({"1", "2"}, {"A", "K"})
    wide = part.body[2] != part.body[3] or view.layout.columns - 1 == part.body[3]
    named = named and (wide or not part.label.startswith("to "))
    for terminal, hole in part.pins:
        x, y = view.at(hole)
        yield Circle(x, y, 0.7, 0.2, INK, fill=INK, mark=f"pin {terminal}")
        if named:
            yield from _pin_name(view, part, terminal.partition(".")[2], hole)
    yield from _band(view, part)
    yield from _ref(view, part, box)


def _band(view: BoardView, part: PlacedPart) -> Iterator[Shape]:
    """The band of a diode, at its cathode."""
    names = {terminal.partition(".")[2]: hole for terminal, hole in part.pins}
    if set(names) != {"A", "K"} or part.label.startswith("to "):
        return
    (x1, y1), (x2, y2) = view.at(names["K"]), view.at(names["A"])
    length = abs(x2 - x1) + abs(y2 - y1)
    x, y = x1 + 2.1 * (x2 - x1) / length, y1 + 2.1 * (y2 - y1) / length
    across = (1.05, 0.0) if x1 == x2 else (0.0, 1.05)
    yield Line(x - across[0], y - across[1], x + across[0], y + across[1], 0.5, INK)


def _pin_name(view: BoardView, part: PlacedPart, name: str, hole: Hole) -> Iterator[Shape]:
    """Beside the pin, inside the body where it is wide enough; for wires from elsewhere outside the board."""
    x, y = view.at(hole)
    layout = view.layout
    if part.body[2] == 0:
        yield Text(view.left - EDGE_MM - 4.6, y + 0.5, name, AXIS, "end", bold=True)
    elif part.body[3] == layout.columns - 1 and part.label.startswith("to "):
        yield Text(view.left + view.width + EDGE_MM + 5.0, y + 0.5, f"{part.name}.{name}", AXIS, bold=True)
    elif part.body[2] == part.body[3]:
        # One hole wide: between two pins, under this one where there is one.
        last = hole.row == part.body[1]
        yield Text(x, y - 0.85 if last else y + 1.7, name, PIN, "middle")
    elif hole.column == part.body[3] and hole.column != part.body[2]:
        yield Text(x - 0.9, y + 0.4, name, PIN, "end")
    else:
        yield Text(x + 0.9, y + 0.4, name, PIN)


def _ref(view: BoardView, part: PlacedPart, box: tuple[float, float, float, float]) -> Iterator[Shape]:
    x, y = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
    size = min(REF, 0.95 * (box[2] - box[0]) / text_width(part.name, 1.0))
    rows = part.body[0] + part.body[1]
    if len(part.pins) > 2 and rows % 2 == 0 and any(2 * hole.row == rows for _, hole in part.pins):
        # Between two pins, for their names stand in the middle.
        y -= PITCH_MM / 2
    if part.label.startswith("to ") and part.body[2] == part.body[3]:
        # A row of pins: its name stands above it, or beside it at the board's edge.
        if part.body[3] == view.layout.columns - 1:
            return
        y = box[1] + 1.05 + PITCH_MM / 2 if len(part.pins) > 1 else box[3] + 0.1
    yield Text(x, y + 0.36 * size, part.name, size, "middle", bold=True)


def _link(view: BoardView, link: BoardLink) -> Iterator[Shape]:
    start, end = view.at(link.start), view.at(link.end)
    kind = "insulated" if link.insulated else "bare"
    width = 0.75 if link.heavy else 0.45
    yield Line(*start, *end, width, COMMANDED, dashed=link.insulated, mark=f"link {kind}")
    for at in (start, end):
        yield Circle(*at, 0.6, 0.25, COMMANDED, fill="#ffffff")
