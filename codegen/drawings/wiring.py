"""The wiring: cables point to point, the joints on the circuit board, the bypass plug.

On the sheets of the circuit board each net is a card, to tick off while soldering. The bypass plug is a second plug
whose links put the feeder back as it was found.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from codegen.drawings.sheet import LETTER, SMALL, Sheet, wrapped
from codegen.drawings.wiring_cables import TINY, Cables
from codegen.drawings.wiring_layout import loads_apart, panel_apart
from codegen.drawings.wiring_modules import draw_modules
from codegen.style import COMMANDED, FRAME, TINT
from timing.circuit.lists import BYPASS_REFS, WireRow, hand_work, wire_list
from timing.circuit.parts import BypassLink, Mate, Netlist
from timing.once import once
from timing.project import Project


@once
def wiring_sheets(project: Project) -> tuple[str, ...]:
    """Return the sheets of the wiring as SVG documents: wires from point to point, then the circuit board."""
    wiring = project.netlist
    placed = pages(tuple(cards(wiring)))
    titles = ["cables, point to point"] + (["panel, point to point"] if panel_apart(wiring) else [])
    titles += ["in the feeder, at the loads"] if loads_apart(wiring) else []
    of_modules = bool(hand_work(wiring).modules)
    titles += ["between modules and loose parts, in the box"] if of_modules else []
    titles += ["loose parts, on a small board" if of_modules else "on the circuit board" for _ in placed]
    sheets = [
        Sheet.of(project, f"Wiring {number} of {len(titles)}: {title}") for number, title in enumerate(titles, start=1)
    ]
    joints = sheets[-len(placed) :]
    Cables(sheets[0]).draw()
    between = sheets[1 : -len(placed)]
    if of_modules:
        draw_modules(between.pop())
    if loads_apart(wiring):
        Cables(between.pop()).draw_at_loads()
    for sheet in between:
        Cables(sheet).draw_panel()
    for sheet, page in zip(joints, placed, strict=True):
        draw_cards(sheet, page)
    return tuple(sheet.finish() for sheet in sheets)


@once
def bypass_sheet(project: Project) -> str:
    """Return the sheet of the bypass plug as an SVG document."""
    sheet = Sheet.of(project, "Bypass plug")
    draw_bypass(sheet)
    return sheet.finish()


COLUMNS, CARDS_LEFT, CARDS_TOP, CARDS_BOTTOM = 4, 11.0, 28.0, 168.0
COLUMN, GAP = 66.0, 3.5
CHIPS, CHIP, LINE = 3, 21.5, 4.3
"""Terminals in a line of a card, the width of each, the height of a line."""
EVEN_STEP = 2
"""Steps in mm in which the sheets are made equally full."""
BOLD_SHARE = 0.9
"""Bold letters are wider."""


@dataclass(frozen=True)
class Card:
    """One net on the board."""

    net: str
    title: str
    wires: tuple[WireRow, ...]
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
    by_net: dict[str, list[WireRow]] = {}
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
    """Place the cards in columns, on as many sheets as they take, all about equally full."""
    full = _placed(found, CARDS_BOTTOM)
    even = full
    for bottom in range(int(CARDS_BOTTOM), int(CARDS_TOP), -EVEN_STEP):
        tried = _placed(found, bottom)
        if len(tried) > len(full):
            return even
        even = tried
    return even


def _placed(found: Sequence[Card], bottom: float) -> list[list[tuple[Card, float, float]]]:
    placed: list[list[tuple[Card, float, float]]] = [[]]
    column, y = 0, CARDS_TOP
    for card in found:
        if y + card.height > bottom and y > CARDS_TOP:
            column, y = column + 1, CARDS_TOP
        if column == COLUMNS:
            placed.append([])
            column = 0
        placed[-1].append((card, CARDS_LEFT + column * (COLUMN + GAP), y))
        y += card.height + 2.0
    return placed


def draw_cards(sheet: Sheet, placed: Sequence[tuple[Card, float, float]]) -> None:
    """Draw the cards of one sheet."""
    says = "Join what stands in one card, and bring the wires named in its heading there from outside."
    sheet.text((CARDS_LEFT, 24.5), f"{says} Box to tick, number in the wire list, terminal.", SMALL)
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


PLUG_TOP, PLUG_PITCH, PLUGS_ROOM, PLUGS_APART = 40.0, 7.2, 115.0, 2.6
"""Rows of the plugs, the height that they may take, and the rows between two plugs."""
PLUG_BOX_LEFT, PLUG_BOX_RIGHT, LINKS_LEFT, LINK_STEP = 20.0, 60.0, 66.0, 7.0
NOTES_LEFT = 140.0
HOW_TO_USE_PLUG = (
    "Pull the mains plug of machine and power source, wait until the capacitors are empty; measure.",
    "Solder these links into a plug like that of the add-on's cable, and nothing else. Mark it BYPASS.",
    "Compare every link with your survey and photographs before you plug it in.",
    "Unplug the add-on, plug this in: the feeder works as it was found. Try this before the add-on.",
    "Never both at once: the socket takes one of them.",
)


def draw_bypass(sheet: Sheet) -> None:
    """Draw the sheet."""
    rows: dict[str, float] = {}
    y = PLUG_TOP
    for plug, mate in zip(BYPASS_REFS, sheet.wiring.mates, strict=False):
        y = _plug(sheet, plug, mate, y, rows)
    for index, link in enumerate(sheet.wiring.bypass):
        _link(sheet, link, rows, LINKS_LEFT + 8 + index * LINK_STEP, index + 1)
    _notes(sheet, sheet.wiring.bypass)


def _plug(sheet: Sheet, plug: str, mate: Mate, top: float, rows: dict[str, float]) -> float:
    """Draw one plug and note the height of its ways in `rows`; returns where the next one begins."""
    socket = mate.fixed
    ways = sheet.wiring.part(socket).terminals
    pitch = _pitch(sheet)
    rows |= {name: top + index * pitch for index, name in enumerate(ways)}
    sheet.box(PLUG_BOX_LEFT, top - 5, PLUG_BOX_RIGHT, rows[ways[-1]] + 5, fill=TINT)
    sheet.text((PLUG_BOX_LEFT, top - 7), f"plug {plug}, fits socket {socket}", SMALL)
    sheet.caution(socket, (PLUG_BOX_LEFT + 48, top - 8))
    linked = {name for link in sheet.wiring.bypass for name in (link.from_way, link.to_way)}
    for number, name in enumerate(ways, start=1):
        sheet.text((PLUG_BOX_LEFT + 3, rows[name] + 0.9), str(number), SMALL)
        sheet.text((PLUG_BOX_RIGHT - 3, rows[name] + 0.9), name, SMALL, "end")
        if name not in linked:
            sheet.text((PLUG_BOX_RIGHT + 2.4, rows[name] + 0.9), "open", SMALL)
    return rows[ways[-1]] + PLUGS_APART * max(pitch, 6.0)


def _pitch(sheet: Sheet) -> float:
    ways = sum(len(sheet.wiring.part(mate.fixed).terminals) for mate in sheet.wiring.mates)
    return min(PLUG_PITCH, PLUGS_ROOM / (ways - 1 + PLUGS_APART * (len(sheet.wiring.mates) - 1)))


def _link(sheet: Sheet, link: BypassLink, rows: dict[str, float], x: float, number: int) -> None:
    top, bottom = sorted((rows[link.from_way], rows[link.to_way]))
    sheet.line(
        (PLUG_BOX_RIGHT, top),
        (x, top),
        (x, bottom),
        (PLUG_BOX_RIGHT, bottom),
        width=0.5,
    )
    for y in (top, bottom):
        sheet.dot((PLUG_BOX_RIGHT, y))
    # Half a row below the upper way: no other link crosses there.
    sheet.text((x + 1.2, top + _pitch(sheet) / 2 + 0.9), str(number), SMALL, bold=True)


def _notes(sheet: Sheet, links: tuple[BypassLink, ...]) -> None:
    y = PLUG_TOP
    sheet.text((NOTES_LEFT, y - 7), "Links", LETTER, bold=True)
    for number, link in enumerate(links, start=1):
        sheet.text((NOTES_LEFT, y), f"{number}  {link.from_way} to {link.to_way}", SMALL, bold=True)
        for line in wrapped(link.note, 130):
            y += 3.4
            sheet.text((NOTES_LEFT + 5, y), line, SMALL)
        y += 5.2
    y += 4
    sheet.text((NOTES_LEFT, y), "How to use it", LETTER, bold=True)
    for number, step in enumerate(HOW_TO_USE_PLUG, start=1):
        y += 5.0
        sheet.text((NOTES_LEFT, y), str(number), SMALL, bold=True)
        lines = wrapped(step, 130)
        sheet.lines((NOTES_LEFT + 5, y), lines, SMALL)
        y += 3.0 * (len(lines) - 1)
