"""From a placement to cuts and links: which piece of strip joins which, where a wire may lie, where a strip ends."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from timing.placement.board import BoardLink, Hole, StripRun

OVER, ASLANT, HOP = 14, 10, 5
"""What it costs a link to pass over something, to run aslant, and to lie one link further from the root (choice)."""
LINK_TRIES = 40
"""Orders of the nets to try (choice)."""


@dataclass
class Piece:
    """A stretch of strip of one net, from its first to its last used hole."""

    row: int
    net: int
    first: int
    last: int
    hops: int = 0
    """Links to the root."""
    joined: bool = False


@dataclass
class Copper:
    """The board between placement and links. Cells count row by row."""

    rows: int
    columns: int
    bodies: list[bool]
    """Cells under a part, or kept free for a screw."""
    pins: dict[Hole, int]
    """Net by hole."""
    barrier: tuple[int, ...]
    pieces: list[list[Piece]] = field(default_factory=list)
    """By row, in order of columns."""
    ends: set[Hole] = field(default_factory=set)
    bare: set[Hole] = field(default_factory=set)
    """Holes that a bare link lies on."""
    links: list[BoardLink] = field(default_factory=list)

    def __post_init__(self) -> None:
        by_row: list[list[tuple[int, int]]] = [[] for _ in range(self.rows)]
        for hole, net in self.pins.items():
            by_row[hole.row].append((hole.column, net))
        for row, pins in enumerate(by_row):
            line: list[Piece] = []
            for column, net in sorted(pins):
                if line and line[-1].net == net:
                    line[-1].last = column
                else:
                    line.append(Piece(row, net, column, column))
            self.pieces.append(line)

    def reach(self, piece: Piece) -> tuple[int, int]:
        """Return the first and last column that a piece may grow to; a hole for the cut is left at either side."""
        line = self.pieces[piece.row]
        at = next(index for index, one in enumerate(line) if one is piece)
        low = line[at - 1].last + 2 if at else 0
        high = line[at + 1].first - 2 if at + 1 < len(line) else self.columns - 1
        for column in self.barrier:
            if column < piece.first:
                low = max(low, column + 1)
            else:
                high = min(high, column - 1)
        return low, high

    def free(self, hole: Hole) -> bool:
        """Tell whether a link may end in a hole."""
        return (
            not self.bodies[hole.row * self.columns + hole.column]
            and hole not in self.pins
            and hole not in self.ends
            and hole not in self.bare
        )

    def crossed(self, start: Hole, end: Hole) -> int:
        """Return how many holes of a straight link along a column lie under parts, pins or other links."""
        count = 0
        low, high = sorted((start.row, end.row))
        for row in range(low + 1, high):
            hole = Hole(row, start.column)
            count += (
                self.bodies[row * self.columns + start.column]
                or hole in self.pins
                or hole in self.ends
                or hole in self.bare
            )
        return count


def linked_copper(bare: Copper, order: list[int], roots: dict[int, Hole], heavy: set[int]) -> Copper | None:
    """Return the copper with the pieces of each net linked into a tree, or None where some cannot be reached.

    Nets are linked in the given order; one that finds no room goes first at the next try. roots: by net, a hole of the
    piece that its tree starts from, where that matters. heavy: nets for thick links.
    """
    for _ in range(LINK_TRIES):
        copper = Copper(bare.rows, bare.columns, bare.bodies, bare.pins, bare.barrier)
        stuck = _link_all(copper, order, roots, heavy)
        if stuck is None:
            return copper
        order = [stuck, *(net for net in order if net != stuck)]
    return None


def _link_all(copper: Copper, order: list[int], roots: dict[int, Hole], heavy: set[int]) -> int | None:
    """Link net by net; returns the net that cannot be, if any."""
    by_net: dict[int, list[Piece]] = {}
    for line in copper.pieces:
        for piece in line:
            by_net.setdefault(piece.net, []).append(piece)
    for net in order:
        pieces = by_net.get(net, [])
        root = roots.get(net)
        first = next(
            (piece for piece in pieces if root and piece.row == root.row and piece.first <= root.column <= piece.last),
            None,
        ) or max(pieces, key=lambda piece: (piece.last - piece.first, -piece.row), default=None)
        if first is not None and not _tree(copper, first, pieces, net in heavy):
            return net
    return None


_Way = tuple[int, Hole, Hole, bool]


def _tree(copper: Copper, root: Piece, pieces: list[Piece], heavy: bool) -> bool:
    root.joined, root.hops = True, 0
    waiting = [piece for piece in pieces if piece is not root]
    known: dict[tuple[int, int], _Way | None] = {}
    joined = [root]
    while waiting:
        best: tuple[int, _Way, Piece, Piece] | None = None
        for inner in joined:
            for outer in waiting:
                key = (id(inner), id(outer))
                way = known.get(key)
                if key not in known or (way and not _still(copper, inner, outer, way)):
                    way = known[key] = best_way(copper, inner, outer)
                if way is not None:
                    price = way[0] + HOP * inner.hops
                    if best is None or price < best[0]:
                        best = (price, way, inner, outer)
        if best is None:
            return False
        _, (_, start, end, insulated), inner, outer = best
        for piece, hole in ((inner, start), (outer, end)):
            piece.first, piece.last = min(piece.first, hole.column), max(piece.last, hole.column)
            copper.ends.add(hole)
        if not insulated:
            low, high = sorted((start.row, end.row))
            copper.bare.update(Hole(row, start.column) for row in range(low, high + 1))
        copper.links.append(BoardLink(start, end, insulated, heavy))
        outer.joined, outer.hops = True, inner.hops + 1
        waiting = [piece for piece in waiting if piece is not outer]
        joined.append(outer)
    return True


def _still(copper: Copper, inner: Piece, outer: Piece, way: _Way) -> bool:
    _, start, end, insulated = way
    for piece, hole in ((inner, start), (outer, end)):
        low, high = copper.reach(piece)
        if not (low <= hole.column <= high and copper.free(hole)):
            return False
    return insulated or not copper.crossed(start, end)


def best_way(copper: Copper, inner: Piece, outer: Piece) -> _Way | None:
    """Return the cheapest link between two pieces, with its price; None where no hole is free."""
    first, last = copper.reach(inner)
    other_first, other_last = copper.reach(outer)
    best: _Way | None = None
    length = abs(inner.row - outer.row)
    if length:
        for column in range(max(first, other_first), min(last, other_last) + 1):
            start, end = Hole(inner.row, column), Hole(outer.row, column)
            if copper.free(start) and copper.free(end):
                over = copper.crossed(start, end)
                # A longer piece of strip takes room from its neighbours.
                grown = _growth(inner, column) + _growth(outer, column)
                price = length + (OVER + 2 * over if over else 0) + grown // 4
                if best is None or price < best[0]:
                    best = (price, start, end, bool(over))
    if best is not None:
        return best
    starts = [Hole(inner.row, column) for column in range(first, last + 1) if copper.free(Hole(inner.row, column))]
    ends = [Hole(outer.row, column) for column in range(other_first, other_last + 1)
            if copper.free(Hole(outer.row, column))]  # fmt: skip
    for start in starts:
        for end in ends:
            price = length + abs(start.column - end.column) + OVER + ASLANT
            if start != end and (best is None or price < best[0]):
                best = (price, start, end, True)
    return best


def _growth(piece: Piece, column: int) -> int:
    return max(piece.first - column, column - piece.last, 0)


def cuts_of(copper: Copper) -> Iterator[Hole]:
    """Yield a cut between each two neighbouring pieces of a row that the barrier does not part already."""
    for row, line in enumerate(copper.pieces):
        for left, right in pairwise(line):
            if not any(left.last < column < right.first for column in copper.barrier):
                yield Hole(row, (left.last + right.first) // 2)


def tinned_runs(copper: Copper, heavy: set[int]) -> tuple[StripRun, ...]:
    """Return the stretches of the nets that carry much, longer than a hole."""
    return tuple(
        StripRun(row, piece.first, piece.last)
        for row, line in enumerate(copper.pieces)
        for piece in line
        if piece.net in heavy and piece.last > piece.first
    )
