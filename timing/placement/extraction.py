"""What a laid-out board connects, read from its holes, cuts, links and pins alone; it knows nothing of how it was made.

Also whether every pin stands where its part's pattern has it, whether anything lies on anything else, and how far the
copper of the field's side stays from that of the logic.
"""

from __future__ import annotations

import heapq
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping

from timing.placement.board import BoardLayout, BoardLink, Hole, StripRun
from timing.placement.footprints import PITCH_MM, HolePattern

CUT_MM = 3.5
"""Width that a cut takes off a strip, by a drill or cutter of at least that size (practice)."""
STRIP_GAP_MM = 0.5
"""Between neighbouring strips (practice)."""
BARRIER_MM = 5.0
"""Least way over bare board from the field's side to the logic's, floating strips not counted (choice: extra-low
voltage asks for less; two columns of cuts give 6 mm)."""


def copper_runs(layout: BoardLayout) -> tuple[StripRun, ...]:
    """Return every stretch of strip between cuts and edges, floating ones included."""
    cut = set(layout.all_cuts)
    found: list[StripRun] = []
    for row in range(layout.rows):
        first: int | None = None
        for column in range(layout.columns + 1):
            ends = column == layout.columns or Hole(row, column) in cut
            if not ends and first is None:
                first = column
            elif ends and first is not None:
                found.append(StripRun(row, first, column - 1))
                first = None
    return tuple(found)


def wire_runs(layout: BoardLayout) -> tuple[StripRun, ...]:
    """Return the bare wires that take the place of the strips on perforated board, a pad to each hole and no cuts.

    Each goes along a row from the first joint of a stretch of strip to its last.
    """
    joints = {hole for part in layout.parts for _, hole in part.pins}
    joints |= {hole for link in layout.links for hole in (link.start, link.end)}
    found: list[StripRun] = []
    for run in copper_runs(layout):
        columns = [column for column in range(run.first, run.last + 1) if Hole(run.row, column) in joints]
        if len(columns) > 1:
            found.append(StripRun(run.row, columns[0], columns[-1]))
    return tuple(found)


def connected_terminals(layout: BoardLayout) -> frozenset[frozenset[str]]:
    """Return the terminals that hang together: by strips, cuts and links, with union-find."""
    above: dict[object, object] = {}

    def top(one: object) -> object:
        above.setdefault(one, one)
        while above[one] != one:
            above[one] = above[above[one]]
            one = above[one]
        return one

    cut = set(layout.all_cuts)
    for row in range(layout.rows):
        for column in range(layout.columns - 1):
            here, beside = Hole(row, column), Hole(row, column + 1)
            if here not in cut and beside not in cut:
                above[top(here)] = top(beside)
    for link in layout.links:
        above[top(link.start)] = top(link.end)
    for part in layout.parts:
        for terminal, hole in part.pins:
            above[top(terminal)] = top(hole)
    groups: dict[object, set[str]] = defaultdict(set)
    for part in layout.parts:
        for terminal, _ in part.pins:
            groups[top(terminal)].add(terminal)
    return frozenset(map(frozenset, groups.values()))


def faults(
    layout: BoardLayout,
    nets: Mapping[str, frozenset[str]],
    patterns: Mapping[str, tuple[HolePattern, ...]],
    field_nets: Iterable[str],
) -> list[str]:
    """Return what is wrong with a layout, in words; nothing where it is the circuit.

    nets: terminals that belong together, by net. patterns: what each part may look like. field_nets: names of the nets
    on the field's side.
    """
    found = [*_wrong_nets(layout, nets), *_wrong_pins(layout, patterns), *_collisions(layout)]
    field = {terminal for name in field_nets for terminal in nets[name]}
    way_mm = barrier_mm(layout, field)
    if way_mm is not None and way_mm < BARRIER_MM:
        found.append(f"{way_mm:.1f} mm of clear way between the two sides, {BARRIER_MM:g} mm needed")
    return found


def _wrong_nets(layout: BoardLayout, nets: Mapping[str, frozenset[str]]) -> Iterator[str]:
    wanted, read = frozenset(nets.values()), connected_terminals(layout)
    for group in sorted(map(sorted, read - wanted)):
        yield f"the board joins {', '.join(group)}"
    for group in sorted(map(sorted, wanted - read)):
        yield f"the circuit joins {', '.join(group)}"


def _wrong_pins(layout: BoardLayout, patterns: Mapping[str, tuple[HolePattern, ...]]) -> Iterator[str]:
    if Counter(part.name for part in layout.parts) != Counter(patterns.keys()):
        yield "other parts than the circuit has, or one twice"
    for part in layout.parts:
        pattern = next((one for one in patterns.get(part.name, ()) if one.name == part.pattern), None)
        if pattern is None or part.turn not in pattern.turns:
            yield f"{part.name} stands in a pattern that it has not: {part.pattern}, turned by {part.turn}"
            continue
        pins, (top, bottom, left, right) = pattern.turned(part.turn)
        origin = part.pins[0][1]
        there = tuple(Hole(origin.row + row, origin.column + column) for row, column in pins.values())
        if there != tuple(hole for _, hole in part.pins):
            yield f"{part.name} has a pin beside its pattern"
        body = (origin.row + top, origin.row + bottom, origin.column + left, origin.column + right)
        if body != part.body:
            yield f"{part.name} has a body beside its pattern"
        names = [terminal.partition(".")[2] for terminal, _ in part.pins]
        if names != list(pins):
            yield f"{part.name} has other pins than its pattern"


def _collisions(layout: BoardLayout) -> Iterator[str]:
    covered: dict[Hole, str] = {}
    for part in layout.parts:
        for hole in part.covered:
            if not (0 <= hole.row < layout.rows and 0 <= hole.column < layout.columns):
                yield f"{part.name} leaves the board"
                break
            if hole in covered:
                yield f"{part.name} stands on {covered[hole]} at {hole}"
            covered[hole] = part.name
    used = Counter(hole for part in layout.parts for _, hole in part.pins)
    used.update(hole for link in layout.links for hole in (link.start, link.end))
    cut = set(layout.all_cuts)
    for hole, times in used.items():
        if times > 1:
            yield f"{times} wires in {hole}"
        if hole in cut:
            yield f"a wire in {hole}, which is cut"
        if not (0 <= hole.row < layout.rows and 0 <= hole.column < layout.columns):
            yield f"{hole} is beyond the board"
    for link in layout.links:
        yield from _link_crossings(layout, link, covered, used)


def _link_crossings(
    layout: BoardLayout, link: BoardLink, covered: Mapping[Hole, str], used: Mapping[Hole, int]
) -> Iterator[str]:
    for hole in (link.start, link.end):
        if hole in covered:
            yield f"a link ends in {hole}, under {covered[hole]}"
    if link.insulated:
        return
    if link.start.column != link.end.column:
        yield f"the bare link {link.start} to {link.end} runs aslant"
    inner = set(holes_along(link)) - {link.start, link.end}
    for hole in sorted(inner):
        if hole in covered or hole in used:
            yield f"the bare link {link.start} to {link.end} crosses {covered.get(hole, 'a wire')} at {hole}"
    for other in layout.links:
        if other is not link and not other.insulated and inner & set(holes_along(other)):
            yield f"the bare links {link.start} to {link.end} and {other.start} to {other.end} touch"


def holes_along(link: BoardLink) -> Iterator[Hole]:
    """Yield the holes of a link along a column, both ends included."""
    low, high = sorted((link.start.row, link.end.row))
    return (Hole(row, link.start.column) for row in range(low, high + 1))


def barrier_mm(layout: BoardLayout, field: Iterable[str]) -> float | None:
    """Return the shortest way (mm) over gaps in the copper from the field's side to the logic's.

    Copper on the way, floating strips and joined pieces alike, adds nothing: what counts is the bare board between.
    None where one of the sides has no copper.
    """
    runs = copper_runs(layout)
    of_row: dict[int, list[int]] = defaultdict(list)
    for index, run in enumerate(runs):
        of_row[run.row].append(index)

    def at(hole: Hole) -> int | None:
        return next((index for index in of_row[hole.row] if runs[index].first <= hole.column <= runs[index].last), None)

    fields = set(field)
    sides: dict[bool, set[int]] = {True: set(), False: set()}
    for part in layout.parts:
        for terminal, hole in part.pins:
            under = at(hole)
            if under is not None:
                sides[terminal in fields].add(under)
    joined: dict[int, set[int]] = defaultdict(set)
    for link in layout.links:
        ends = at(link.start), at(link.end)
        if ends[0] is not None and ends[1] is not None:
            joined[ends[0]].add(ends[1])
            joined[ends[1]].add(ends[0])
    if not sides[True] or not sides[False]:
        return None
    reached = dict.fromkeys(sides[True], 0.0)
    waiting = [(0.0, index) for index in sorted(sides[True])]
    while waiting:
        way, index = heapq.heappop(waiting)
        if way > reached[index]:
            continue
        if index in sides[False]:
            return way
        steps = [(other, 0.0) for other in joined[index]]
        steps += [(other, _apart(runs[index], runs[other])) for row in range(runs[index].row - 1, runs[index].row + 2)
                  for other in of_row[row] if other != index]  # fmt: skip
        for other, gap in steps:
            if way + gap < reached.get(other, float("inf")):
                reached[other] = way + gap
                heapq.heappush(waiting, (way + gap, other))
    return None


def _apart(one: StripRun, other: StripRun) -> float:
    """Bare board (mm) between two stretches of one strip or of neighbouring strips."""
    columns = max(one.first - other.last, other.first - one.last, 0)
    # A strip ends where the cut begins, on either side of it.
    along = max(columns * PITCH_MM - 2 * (PITCH_MM - CUT_MM / 2), 0.0) if columns else 0.0
    across = STRIP_GAP_MM if one.row != other.row else 0.0
    return float((along**2 + across**2) ** 0.5)
