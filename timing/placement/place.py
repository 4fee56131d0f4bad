"""A board for a circuit: a size, a placement, its links and cuts, confirmed by reading it back, or a larger size."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from timing.circuit.parts import Netlist, PartKind
from timing.placement.annealing import SCREW_HOLES, Annealer, HoleGrid
from timing.placement.board import BoardLayout, Hole, PlacedPart, trimmed
from timing.placement.extraction import faults
from timing.placement.items import BoardItems, PlacementError, board_items
from timing.placement.linking import Copper, cuts_of, linked_copper, tinned_runs

LAYOUT_MOVES = 400_000
"""Of the annealing on one size of board (choice)."""
LAYOUT_SEED = 24
"""Where the draws begin (choice)."""
STOCK = ((25, 39), (36, 50), (39, 62), (39, 86))
"""Rows and columns of the boards on sale, about 64 x 100 mm, 95 x 127 mm, 100 x 160 mm and 100 x 220 mm (practice)."""
HEAVY_A = 1.0
"""Above this current a strip is doubled with solder and wire (practice)."""
FILLED = 0.34
"""Share of the board that bodies may take at the first try (choice)."""
MORE_COLUMNS = 2
"""That a board grows by when it would not do (choice)."""


def place(
    wiring: Netlist, seed: int = LAYOUT_SEED, moves: int = LAYOUT_MOVES, tell: Callable[[int], None] = lambda _: None
) -> BoardLayout:
    """Return the confirmed board of a circuit. Raises PlacementError and FootprintError.

    moves: of the annealing, for each size of board tried. tell: told of moves as they are made.
    """
    items = board_items(wiring)
    for grid in sizes(items):
        layout = _placed(wiring, items, grid, seed, moves, tell)
        if layout is not None and not confirmed_faults(items, layout):
            return layout
    rows, columns = STOCK[-1]
    raise PlacementError(
        f"{len(items.items)} parts and blocks of pins find no room on {rows} x {columns} holes, the largest board "
        "that is sold and printed",
        'ready-made modules, `circuits.build = "modules"`, or fewer dials and contacts',
    )


def confirmed_faults(items: BoardItems, layout: BoardLayout) -> list[str]:
    """Return what the independent reading finds wrong with a layout."""
    return faults(layout, items.net_groups(), {item.name: item.patterns for item in items.items}, items.field_nets)


def sizes(items: BoardItems) -> Iterator[HoleGrid]:
    """Yield the sizes to try, the smallest that may do first."""
    area = dict.fromkeys(("field", "logic", "across"), 0)
    for item in items.items:
        top, bottom, left, right = item.patterns[0].body
        area[item.side] += (bottom - top + 1) * (right - left + 1)
    for rows, most in STOCK:
        usable = rows * FILLED
        across = area["across"] / 2
        field = max(10, round((area["field"] + across) / usable)) if area["field"] else 0
        logic = round((area["logic"] + across) / usable)
        begin = max(field + logic + 2, 2 * SCREW_HOLES + 4)
        for columns in range(begin, most + 1, MORE_COLUMNS):
            # The field's side grows in proportion.
            yield HoleGrid(rows, columns, round(field * columns / begin))


def _placed(
    wiring: Netlist, items: BoardItems, grid: HoleGrid, seed: int, moves: int, tell: Callable[[int], None]
) -> BoardLayout | None:
    annealer = Annealer(items, grid, seed)
    if not annealer.fits:
        return None
    annealer.begin()
    annealer.improve(moves, tell)
    return linked(wiring, items, annealer, seed, moves)


def linked(wiring: Netlist, items: BoardItems, annealer: Annealer, seed: int, moves: int) -> BoardLayout | None:
    """Return the layout of a placement with its links and cuts, or None where a piece cannot be reached."""
    grid = annealer.grid
    parts = tuple(_part(items, annealer, index) for index in range(len(items.items)))
    bodies = [False] * (grid.rows * grid.columns)
    for row in (*range(SCREW_HOLES), *range(grid.rows - SCREW_HOLES, grid.rows)):
        for column in (*range(SCREW_HOLES), *range(grid.columns - SCREW_HOLES, grid.columns)):
            bodies[row * grid.columns + column] = True
    pins: dict[Hole, int] = {}
    for part, item in zip(parts, items.items, strict=True):
        top, bottom, left, right = part.body
        for row in range(top, bottom + 1):
            for column in range(left, right + 1):
                bodies[row * grid.columns + column] = True
        for (_, hole), net in zip(part.pins, item.nets, strict=True):
            pins[hole] = net
    bare = Copper(grid.rows, grid.columns, bodies, pins, grid.barrier)
    heavy = {index for index, net in enumerate(items.nets) if net.current_a > HEAVY_A}
    count = [sum(net == index for net in pins.values()) for index in range(len(items.nets))]
    order = sorted(range(len(items.nets)), key=lambda net: (count[net], net))
    copper = linked_copper(bare, order, _roots(wiring, items, parts), heavy)
    if copper is None:
        return None
    cuts, tinned = tuple(cuts_of(copper)), tinned_runs(copper, heavy)
    links = tuple(sorted(copper.links, key=lambda link: (link.start, link.end)))
    whole = BoardLayout(grid.rows, grid.columns, grid.barrier, parts, cuts, links, tinned, seed, moves)
    return trimmed(whole, SCREW_HOLES)


def _part(items: BoardItems, annealer: Annealer, index: int) -> PlacedPart:
    item = items.items[index]
    stance, row, column = annealer.at[index]
    taken = annealer.stances[index][stance]
    top, bottom, left, right = taken.body
    return PlacedPart(
        name=item.name,
        label=item.label,
        pattern=item.patterns[taken.pattern].name,
        turn=taken.turn,
        body=(row + top, row + bottom, column + left, column + right),
        pins=tuple(
            (terminal, Hole(row + down, column + right_))
            for terminal, (down, right_, _) in zip(item.terminals, taken.pins, strict=True)
        ),
        side=item.side,
    )


def _roots(wiring: Netlist, items: BoardItems, parts: tuple[PlacedPart, ...]) -> dict[int, Hole]:
    """The reservoir's pins: the nets on them begin there, above all the common one, as a tree."""
    reservoirs = [part.ref for part in wiring.parts if part.kind is PartKind.ELECTROLYTIC]
    found: dict[int, Hole] = {}
    for part, item in zip(parts, items.items, strict=True):
        if part.name in reservoirs[:1]:
            for (_, hole), net in zip(part.pins, item.nets, strict=True):
                found[net] = hole
    return found
