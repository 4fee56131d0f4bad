"""Wiring, sheets from 2 on: what is joined on the circuit board, net by net, to tick off while soldering."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from codegen.drawings.sheet import SMALL, Sheet, wrapped
from codegen.look import COMMANDED, FRAME
from timing.circuit.lists import Wire, wire_list
from timing.circuit.parts import Netlist

TINY = 2.2
COLUMNS, LEFT, TOP, BOTTOM = 4, 11.0, 28.0, 168.0
COLUMN, GAP = 66.0, 3.5
CHIPS, CHIP, LINE = 3, 21.5, 4.3
"""Terminals in a line of a card, the width of each, the height of a line."""
BOLD_SHARE = 0.9
"""Bold letters are wider."""


@dataclass(frozen=True)
class Card:
    """One net on the board."""

    net: str
    title: str
    wires: tuple[Wire, ...]
    star: bool

    @property
    def height(self) -> float:
        """Height in mm."""
        ends = len(self.wires) if self.star else 2
        return LINE * (len(self.heading) + -(-ends // CHIPS)) + 2.4

    @property
    def heading(self) -> list[str]:
        """Lines of the title."""
        return wrapped(self.title, BOLD_SHARE * (COLUMN - 2.8), TINY)


def cards(wiring: Netlist) -> Iterator[Card]:
    """Yield the cards of a netlist, in the order of the nets."""
    by_net: dict[str, list[Wire]] = {}
    for wire in wire_list(wiring):
        by_net.setdefault(wire.net, []).append(wire)
    for net, wires in by_net.items():
        on_board = tuple(wire for wire in wires if wire.on_board)
        if not on_board:
            continue
        star = on_board[0].to_end.startswith("*")
        gauge = on_board[0].gauge
        outside = [str(wire.number) for wire in wires if not wire.on_board]
        title = f"{'*' if star else ''}{net}, {gauge}"
        if outside:
            title += f"; wire{'' if len(outside) == 1 else 's'} {', '.join(outside)}"
        yield Card(net, title, on_board, star)


def pages(found: Sequence[Card]) -> list[list[tuple[Card, float, float]]]:
    """Place the cards in columns, on as many sheets as they take."""
    placed: list[list[tuple[Card, float, float]]] = [[]]
    column, y = 0, TOP
    for card in found:
        if y + card.height > BOTTOM:
            column, y = column + 1, TOP
        if column == COLUMNS:
            placed.append([])
            column = 0
        placed[-1].append((card, LEFT + column * (COLUMN + GAP), y))
        y += card.height + 2.0
    return placed


def draw_cards(sheet: Sheet, placed: Sequence[tuple[Card, float, float]]) -> None:
    """Draw the cards of one sheet."""
    says = "Join what stands in one card, and bring the wires named in its heading there from outside."
    sheet.text((LEFT, 24.5), f"{says} Box to tick, number in the wire list, terminal.", SMALL)
    for card, x, y in placed:
        sheet.line((x, y), (x + COLUMN, y), (x + COLUMN, y + card.height), (x, y + card.height), (x, y),
                   width=0.2, colour=FRAME)  # fmt: skip
        for index, line in enumerate(card.heading):
            sheet.text((x + 1.4, y + 3.2 + index * LINE * 0.8), line, TINY, bold=True)
        ends = [(wire.number, wire.from_end) for wire in card.wires]
        if not card.star:
            wire = card.wires[0]
            ends = [(wire.number, wire.from_end), (wire.number, wire.to_end)]
        for index, (number, end) in enumerate(ends):
            left = x + 1.6 + index % CHIPS * CHIP
            base = y + LINE * (len(card.heading) + 1 + index // CHIPS) - 0.6
            ref, _, name = end.partition(".")
            sheet.line((left, base), (left + 2, base), (left + 2, base - 2), (left, base - 2), (left, base), width=0.2)
            sheet.text((left + 2.8, base), str(number), TINY, colour=COMMANDED)
            sheet.text((left + 7.6, base), end, TINY)
            sheet.terminal(ref, name, (left + 1, base - 1), 0.05)
            sheet.pin_flag(card.net, (left + 1, base - 1))
