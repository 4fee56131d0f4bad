"""What of a netlist goes onto the board: its parts, the pins for wires from elsewhere, and the side of each."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from timing.circuit.parts import Family, Net, Netlist, Part, PartKind, Terminal
from timing.errors import WirecueError
from timing.placement.footprints import OFF_BOARD, HolePattern, patterns_of, screw_terminals, wire_header

BoardSide = Literal["field", "logic", "across"]

SIDES: dict[Family, BoardSide] = {
    "ac": "field", "load": "field", "trigger": "field", "dc": "logic", "logic": "logic", "signal": "logic",
}  # fmt: skip
"""On which side of the barrier a net lies; where the supply is isolated, the feed's dc lies on the field's. The screen
stays off the board."""
ISOLATING = {
    PartKind.COUPLER, PartKind.AC_INPUT_COUPLER, PartKind.OPTO_TRIAC, PartKind.DC_RELAY, PartKind.RELAY,
    PartKind.ISOLATING_MODULE, PartKind.SECOND_TRANSFORMER, PartKind.RELAY_MODULE, PartKind.SOLID_STATE_MODULE,
    PartKind.INPUT_MODULE,
}  # fmt: skip
"""Kinds that may stand across the barrier because they keep its sides apart."""
JOINING = {PartKind.BRIDGE, PartKind.DIODE, PartKind.WIRE_LINK}
"""Kinds of the rectifier: across the barrier, and the exception to it, since the supply comes from the field's side."""
POLES = 2
"""Screw terminals in a block (choice)."""


class PlacementError(WirecueError):
    """A circuit that cannot be laid out on a strip board: why, and what to do instead."""

    exit_code = 1

    def __init__(self, why: str, do: str) -> None:
        super().__init__(why, do)
        self.why, self.do = why, do

    def __str__(self) -> str:
        return f"no strip board: {self.why}\n  do       {self.do}"


@dataclass(frozen=True)
class BoardItem:
    """Something to place."""

    name: str
    label: str
    patterns: tuple[HolePattern, ...]
    """To choose from."""
    terminals: tuple[str, ...]
    """Of the netlist, such as 'R1.1', in the order of the patterns' pins."""
    nets: tuple[int, ...]
    """Of the terminals, as numbers of the board's nets."""
    side: BoardSide
    edge: Literal["left", "right", ""] = ""
    """The edge of the board at which it stands."""
    joins: bool = False
    """True for the exception to the barrier."""


@dataclass(frozen=True)
class BoardItems:
    """Everything to place, and its nets."""

    nets: tuple[Net, ...]
    sides: tuple[BoardSide, ...]
    """Of the nets: field or logic."""
    items: tuple[BoardItem, ...]

    @property
    def field_nets(self) -> tuple[str, ...]:
        """Names of the nets on the field's side."""
        return tuple(net.name for net, side in zip(self.nets, self.sides, strict=True) if side == "field")

    def net_groups(self) -> dict[str, frozenset[str]]:
        """Return what must be connected on the board: terminals by net."""
        found: dict[str, set[str]] = {}
        for item in self.items:
            for terminal, net in zip(item.terminals, item.nets, strict=True):
                found.setdefault(self.nets[net].name, set()).add(terminal)
        return {name: frozenset(terminals) for name, terminals in found.items()}

    @property
    def digest(self) -> str:
        """Stands for all that a layout follows from: nets, parts, patterns, sides."""
        facts = [
            [item.name, item.label, item.side, item.edge, item.terminals, item.nets,
             [[one.name, list(one.pins.items()), one.body, one.turns, one.hot] for one in item.patterns]]
            for item in self.items
        ]  # fmt: skip
        nets = [[net.name, round(net.current_a, 6), side] for net, side in zip(self.nets, self.sides, strict=True)]
        return hashlib.sha256(json.dumps([nets, facts]).encode()).hexdigest()[:16]


def board_items(wiring: Netlist) -> BoardItems:
    """Return what goes onto the board.

    Raises FootprintError for a part without a hole pattern, and PlacementError for a load above extra-low voltage or a
    part that would join the two sides.
    """
    stands = {part.ref: _stands_on_board(part) for part in wiring.parts}
    nets = tuple(net for net in wiring.nets if any(stands[one.ref] for one in net.terminals))
    number = {net.name: index for index, net in enumerate(nets)}
    sides = _sides(wiring, nets)
    for net in nets:
        if "above extra-low voltage" in net.treatment:
            raise PlacementError(
                f"{net.name} is above extra-low voltage, and neighbouring strips lie half a millimetre apart",
                'a relay or opto module with its own terminals, `circuits.build = "modules"`, fitted and tested by a '
                "licensed electrician",
            )
    items: list[BoardItem] = []
    for part in wiring.parts:
        if stands[part.ref]:
            items.append(_part_item(wiring, part, number, sides))
        else:
            items += _wires_to(wiring, part, number, sides)
    return BoardItems(nets, tuple(sides[net.name] for net in nets), tuple(items))


def _stands_on_board(part: Part) -> bool:
    if part.place != "box" or part.kind in OFF_BOARD:
        return False
    patterns_of(part)
    return True


def _sides(wiring: Netlist, nets: tuple[Net, ...]) -> dict[str, BoardSide]:
    """The side of each net, by name."""
    for net in nets:
        if net.family not in SIDES:
            raise PlacementError(
                f"{net.name} is of the family {net.family!r}, for which no side of the board is known",
                f"nets of the families {', '.join(SIDES)} only",
            )
    logic = _galvanic(wiring, {net.name for net in nets if SIDES[net.family] == "logic" and net.family != "dc"})
    return {net.name: "field" if net.family == "dc" and net.name not in logic else SIDES[net.family] for net in nets}


def _galvanic(wiring: Netlist, names: set[str]) -> set[str]:
    """Nets that hang together with some, through any part that neither isolates nor rectifies the feed."""
    reached, grown = set(names), True
    joined = [
        {net.name for net in found}
        for part in wiring.parts
        if part.kind not in ISOLATING
        for found in [[wiring.net_of(Terminal(part.ref, name)) for name in part.terminals]]
        if all(SIDES.get(net.family) == "logic" for net in found)
    ]
    while grown:
        more = {name for group in joined if group & reached for name in group} - reached
        reached, grown = reached | more, bool(more)
    return reached


def _part_item(wiring: Netlist, part: Part, number: dict[str, int], side_of: dict[str, BoardSide]) -> BoardItem:
    patterns = patterns_of(part)
    names = list(patterns[0].pins)
    found = [wiring.net_of(Terminal(part.ref, name)) for name in names]
    sides = {side_of[net.name] for net in found}
    side: BoardSide = "across" if len(sides) > 1 else sides.pop()
    if side == "across" and part.kind not in ISOLATING | JOINING:
        raise PlacementError(
            f"{part.ref} ({part.kind.value} {part.value}) joins the field's side and the logic",
            "a coupler or relay between them",
        )
    terminals = tuple(f"{part.ref}.{name}" for name in names)
    nets = tuple(number[net.name] for net in found)
    joins = side == "across" and part.kind in JOINING
    return BoardItem(part.ref, part.value or part.kind.value, patterns, terminals, nets, side, joins=joins)


def _wires_to(
    wiring: Netlist, part: Part, number: dict[str, int], side_of: dict[str, BoardSide]
) -> Iterator[BoardItem]:
    """Pins for the wires of a part that stands elsewhere: screw terminals for the field's, a row of pins for others."""
    sides: dict[BoardSide, list[tuple[str, int]]] = {}
    for name in part.terminals:
        net = wiring.net_of(Terminal(part.ref, name))
        if net.name in number:
            sides.setdefault(side_of[net.name], []).append((name, number[net.name]))
    count = 0
    for side, ways in sides.items():
        blocks = [ways[at : at + POLES] for at in range(0, len(ways), POLES)] if side == "field" else [ways]
        for block in blocks:
            count += 1
            names = tuple(name for name, _ in block)
            pattern = screw_terminals(names) if side == "field" else wire_header(names)
            yield BoardItem(
                f"{part.ref}-{count}" if len(blocks) > 1 or len(sides) > 1 else part.ref,
                f"to {part.ref}",
                (pattern,),
                tuple(f"{part.ref}.{name}" for name in names),
                tuple(net for _, net in block),
                side,
                "left" if side == "field" else "right" if part.kind is PartKind.BOARD else "",
            )
