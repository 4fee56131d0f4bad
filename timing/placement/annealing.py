"""Where each part stands: simulated annealing over positions, turns and patterns.

A placement costs for bodies that overlap, pins of two nets with no hole for a cut between them, pieces of strip that no
link can reach, the number of pieces that the nets fall into (each piece but one of a net takes a link), the length of
those links, and parts that stand far from what they serve. All costs are whole numbers and all draws come from one
seed, so that the same circuit, seed and number of moves give the same board.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from timing.placement.items import BoardItem, BoardItems

OVERLAP, NO_CUT, NO_LINK, ONE_LINK = 400, 900, 260, 30
"""What a hole covered twice costs, a missing hole for a cut, a piece without a free hole, a single one (choice)."""
PIECE, ROW, NEAR, EDGE = 90, 5, 4, 1
"""What a piece costs, a row between the ends of a net, a hole of distance to what a part serves, and one to the right
edge (choice)."""
SPREAD_NETS = 9
"""A net of more pins than this is everywhere: its extent is not weighed (choice)."""
HOT_START, COLD_END = 300.0, 11.0
"""Cost that is taken on with good chance at the first move, and at the last (choice)."""
CANDIDATES = 60
"""Places tried for each part before the annealing (choice)."""
SCREW_HOLES = 3
"""Rows and columns at each corner that stay free for a screw (choice)."""
BARRIER_COLUMNS = 2
"""Cut in every row (choice)."""

Extent = tuple[int, int, int, int]


@dataclass(frozen=True)
class Stance:
    """One way for a part to stand, and where its origin may be."""

    pattern: int
    turn: int
    pins: tuple[tuple[int, int, int], ...]
    """Row, column, net."""
    body: Extent
    cells: tuple[int, ...]
    """What it covers, air of a hot part included, as offsets into the grid."""
    rows: tuple[int, int]
    columns: tuple[int, int]


@dataclass(frozen=True)
class HoleGrid:
    """Size of the board and its barrier."""

    rows: int
    columns: int
    field_columns: int
    """At the left of the barrier; 0 where nothing is there."""

    @property
    def barrier(self) -> tuple[int, ...]:
        """Columns of the barrier."""
        if not self.field_columns:
            return ()
        return tuple(range(self.field_columns, self.field_columns + BARRIER_COLUMNS))

    @property
    def logic_from(self) -> int:
        """First column of the logic's side."""
        return self.field_columns + BARRIER_COLUMNS if self.field_columns else 0


def stances(item: BoardItem, net_is_field: Sequence[bool], grid: HoleGrid) -> tuple[Stance, ...]:
    """Return every way in which an item may stand on the grid; none where it does not fit."""
    found: list[Stance] = []
    for index, pattern in enumerate(item.patterns):
        for turn in pattern.turns:
            turned, body = pattern.turned(turn)
            pins = tuple((*turned[name], net) for name, net in zip(pattern.pins, item.nets, strict=True))
            rows = (-body[0], grid.rows - 1 - body[1])
            columns = _columns(item, pins, body, net_is_field, grid)
            if rows[0] > rows[1] or columns[0] > columns[1]:
                continue
            air = 1 if pattern.hot else 0
            cells = tuple(
                row * grid.columns + column
                for row in range(body[0], body[1] + 1)
                for column in range(body[2] - air, body[3] + 1 + air)
            )
            # Air at the side only, and never over the edge.
            columns = (max(columns[0], air - body[2]), min(columns[1], grid.columns - 1 - air - body[3]))
            if columns[0] <= columns[1]:
                found.append(Stance(index, turn, pins, body, cells, rows, columns))
    return tuple(found)


def _columns(
    item: BoardItem, pins: tuple[tuple[int, int, int], ...], body: Extent, net_is_field: Sequence[bool], grid: HoleGrid
) -> tuple[int, int]:
    """First and last column that the origin may have."""
    low, high = -body[2], grid.columns - 1 - body[3]
    if item.side == "field":
        high = min(high, grid.field_columns - 1 - body[3])
    elif item.side == "logic":
        low = max(low, grid.logic_from - body[2])
    else:
        for _, column, net in pins:
            if net_is_field[net]:
                high = min(high, grid.field_columns - 1 - column)
            else:
                low = max(low, grid.logic_from - column)
    if item.edge == "left":
        high = min(high, low)
    elif item.edge == "right":
        low = max(low, high)
    return low, high


class Annealer:
    """A placement being improved."""

    def __init__(self, board: BoardItems, grid: HoleGrid, seed: int) -> None:
        self.board, self.grid, self._random = board, grid, random.Random(seed).random
        is_field = [side == "field" for side in board.sides]
        self.stances = [stances(item, is_field, grid) for item in board.items]
        count = len(board.items)
        self.at: list[tuple[int, int, int]] = [(0, 0, 0)] * count
        """Of each item: stance, row, column."""
        self._placed = [False] * count
        self._covered = [0] * (grid.rows * grid.columns)
        self._rows: list[list[tuple[int, int]]] = [[] for _ in range(grid.rows)]
        """Of each row: its pins as column and net, in order."""
        self._row_costs = [0] * grid.rows
        self._net_pins = [0] * len(board.nets)
        for item in board.items:
            for net in item.nets:
                self._net_pins[net] += 1
        self._pins_of: list[list[tuple[int, int]]] = [[] for _ in board.nets]
        """Of each net: item and pin."""
        for index, item in enumerate(board.items):
            for pin, net in enumerate(item.nets):
                self._pins_of[net].append((index, pin))
        self._net_rows: list[list[int]] = [[] for _ in board.nets]
        self._small = [count <= SPREAD_NETS for count in self._net_pins]
        self._net_cost = [0] * len(board.nets)
        self._near = _near(board)
        self._logic_from, self._field_to = grid.logic_from, grid.field_columns - 1
        self._screws()
        self.cost = 0

    @property
    def fits(self) -> bool:
        """True where every part has a way to stand at all."""
        return all(self.stances)

    def _screws(self) -> None:
        rows, columns = self.grid.rows, self.grid.columns
        for row in (*range(SCREW_HOLES), *range(rows - SCREW_HOLES, rows)):
            for column in (*range(SCREW_HOLES), *range(columns - SCREW_HOLES, columns)):
                self._covered[row * columns + column] = 1

    # ---- one part on or off the board; each returns what the cost changes by

    def _put(self, item: int, stance: int, row: int, column: int) -> int:
        taken = self.stances[item][stance]
        covered, base, change = self._covered, row * self.grid.columns + column, 0
        for cell in taken.cells:
            if covered[base + cell]:
                change += OVERLAP
            covered[base + cell] += 1
        for down, right, net in taken.pins:
            line = self._rows[row + down]
            pin = (column + right, net)
            line.insert(bisect_left(line, pin), pin)
            if self._small[net]:
                self._net_rows[net].append(row + down)
        self.at[item], self._placed[item] = (stance, row, column), True
        return change + self._recount(row, taken) + self._distance(item)

    def _take(self, item: int) -> int:
        stance, row, column = self.at[item]
        taken = self.stances[item][stance]
        change = -self._distance(item)
        covered, base = self._covered, row * self.grid.columns + column
        for cell in taken.cells:
            covered[base + cell] -= 1
            if covered[base + cell]:
                change -= OVERLAP
        for down, right, net in taken.pins:
            line = self._rows[row + down]
            del line[bisect_left(line, (column + right, net))]
            if self._small[net]:
                self._net_rows[net].remove(row + down)
        self._placed[item] = False
        return change + self._recount(row, taken)

    def _recount(self, origin: int, taken: Stance) -> int:
        change, costs = 0, self._row_costs
        for row in range(origin + taken.body[0], origin + taken.body[1] + 1):
            cost = self._row_cost(row)
            change += cost - costs[row]
            costs[row] = cost
        for _, _, net in taken.pins:
            if self._small[net]:
                rows = self._net_rows[net]
                cost = ROW * (max(rows) - min(rows)) if rows else 0
                change += cost - self._net_cost[net]
                self._net_cost[net] = cost
        return change

    def _row_cost(self, row: int) -> int:
        line = self._rows[row]
        if not line:
            return 0
        cost, before, count = 0, -1, 0
        limit, pieces, pins = self._logic_from, [], self._net_pins
        first = last = 0
        for column, net in line:
            if net == before:
                count += 1
                if column == last:
                    cost += NO_CUT
            else:
                if before >= 0:
                    pieces.append((first, last, count < pins[before]))
                    if column - last < 2:
                        cost += NO_CUT
                first, before, count = column, net, 1
            last = column
        pieces.append((first, last, count < pins[before]))
        base, free = row * self.grid.columns, self._covered
        end = len(pieces) - 1
        for index, (first, _, open_) in enumerate(pieces):
            cost += PIECE
            if open_:
                low = pieces[index - 1][1] + 2 if index else 0
                high = pieces[index + 1][0] - 2 if index < end else self.grid.columns - 1
                if first >= limit:
                    low = max(low, limit)
                else:
                    high = min(high, self._field_to)
                holes = free[base + low : base + high + 1].count(0)
                if holes < 2:
                    cost += NO_LINK if not holes else ONE_LINK
        return cost

    def _distance(self, item: int) -> int:
        cost = 0
        _, row, column = self.at[item]
        for other in self._near[item]:
            if self._placed[other]:
                _, there, beside = self.at[other]
                cost += NEAR * (abs(row - there) + abs(column - beside))
        if self.board.items[item].name[0] in "SRP" and self.board.items[item].label.startswith("to "):
            cost += EDGE * (self.grid.columns - column)
        return cost

    # ---- the way

    def begin(self) -> None:
        """Put the parts on the board, the largest first, each at the best of some places drawn for it."""
        order = sorted(range(len(self.at)), key=lambda item: (-len(self.stances[item][0].cells), item))
        for item in order:
            best: tuple[int, int, int, int] | None = None
            for _ in range(CANDIDATES):
                place = self._drawn(item)
                change = self._put(item, *place)
                if best is None or change < best[0]:
                    best = (change, *place)
                self._take(item)
            assert best is not None
            self.cost += self._put(item, *best[1:])

    def _drawn(self, item: int) -> tuple[int, int, int]:
        draw, ways = self._random, self.stances[item]
        stance = int(draw() * len(ways))
        (low, high), (left, right) = ways[stance].rows, ways[stance].columns
        return stance, low + int(draw() * (high - low + 1)), left + int(draw() * (right - left + 1))

    def improve(self, moves: int, tell: Callable[[int], None], step: int = 2_000) -> None:
        """Make a number of moves; `tell` is called with how many were made since it was called last."""
        draw, exp, count = self._random, math.exp, len(self.at)
        cooling = (COLD_END / HOT_START) ** (1.0 / max(moves, 1))
        heat = HOT_START
        for move in range(1, moves + 1):
            heat *= cooling
            reach = 2 + int(16 * (1.0 - move / moves))
            kind, item = draw(), int(draw() * count)
            if kind < 0.1:
                self._swap(item, int(draw() * count), heat)
            elif kind < 0.4:
                self._move(item, self._aligned(item), heat, draw, exp)
            else:
                self._move(item, self._near_by(item, reach, kind > 0.7), heat, draw, exp)
            if move % step == 0:
                tell(step)
        tell(moves % step)

    def _near_by(self, item: int, reach: int, turn: bool) -> tuple[int, int, int]:
        draw, ways = self._random, self.stances[item]
        stance, row, column = self.at[item]
        if turn:
            stance = int(draw() * len(ways))
        taken = ways[stance]
        row += int(draw() * (2 * reach + 1)) - reach
        column += int(draw() * (2 * reach + 1)) - reach
        row = min(max(row, taken.rows[0]), taken.rows[1])
        return stance, row, min(max(column, taken.columns[0]), taken.columns[1])

    def _aligned(self, item: int) -> tuple[int, int, int]:
        """Return a place at which one of the part's pins shares a strip with another pin of its net."""
        draw = self._random
        stance, row, column = self.at[item]
        taken = self.stances[item][stance]
        down, right, net = taken.pins[int(draw() * len(taken.pins))]
        others = self._pins_of[net]
        other, pin = others[int(draw() * len(others))]
        if other != item:
            there, row_there, column_there = self.at[other]
            pin_down, pin_right, _ = self.stances[other][there].pins[pin]
            row = row_there + pin_down - down
            column = column_there + pin_right - right + int(draw() * 13) - 6
        return self._clamped(item, stance, row, column)

    def _move(
        self, item: int, place: tuple[int, int, int], heat: float, draw: Callable[[], float],
        exp: Callable[[float], float],
    ) -> None:  # fmt: skip
        before = self.at[item]
        if place == before:
            return
        change = self._take(item) + self._put(item, *place)
        if change > 0 and draw() >= exp(-change / heat):
            self._take(item)
            self._put(item, *before)
        else:
            self.cost += change

    def _swap(self, first: int, second: int, heat: float) -> None:
        """Let two parts change places, as far as they may stand there."""
        if first == second:
            return
        before = self.at[first], self.at[second]
        places = [
            self._clamped(one, before[index][0], before[1 - index][1], before[1 - index][2])
            for index, one in enumerate((first, second))
        ]
        change = self._take(first) + self._take(second)
        change += self._put(first, *places[0]) + self._put(second, *places[1])
        if change > 0 and self._random() >= math.exp(-change / heat):
            self._take(first)
            self._take(second)
            self._put(first, *before[0])
            self._put(second, *before[1])
        else:
            self.cost += change

    def _clamped(self, item: int, stance: int, row: int, column: int) -> tuple[int, int, int]:
        taken = self.stances[item][stance]
        row = min(max(row, taken.rows[0]), taken.rows[1])
        return stance, row, min(max(column, taken.columns[0]), taken.columns[1])


def _near(board: BoardItems) -> list[tuple[int, ...]]:
    """Pairs that belong side by side: a part with two pins, and the larger one that it serves.

    It serves one with which it shares a net of few pins, or both of its nets, as a capacitor does across a regulator.
    """
    pins: dict[int, int] = {}
    for item in board.items:
        for net in item.nets:
            pins[net] = pins.get(net, 0) + 1
    found: list[set[int]] = [set() for _ in board.items]
    for one, small in enumerate(board.items):
        if len(small.nets) != 2 or small.label.startswith("to "):
            continue
        for other, large in enumerate(board.items):
            if len(large.nets) < 3 or large.label.startswith("to "):
                continue
            shared = set(small.nets) & set(large.nets)
            if len(shared) == 2 or any(pins[net] <= 4 for net in shared):
                found[one].add(other)
                found[other].add(one)
    return [tuple(sorted(others)) for others in found]
