"""Wiring, sheet 1: point to point between the feeder, the connector, the circuit board and the panel.

One line is one wire of the wire list, with its number, its size and how to run it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

import drawsvg as draw

from codegen.drawings.selector import selector_from_behind
from codegen.drawings.sheet import LETTER, SMALL, Point, Sheet, wrapped
from codegen.drawings.wiring_layout import (
    PANEL_GAP,
    PANEL_PITCH,
    Keys,
    at_loads,
    loads_apart,
    panel_apart,
    panel_parts,
)
from codegen.style import COMMANDED, INK, TINT
from timing.circuit.lists import WireRow, wire_list
from timing.circuit.parts import AS_FOUND, Group, Mate, Part, PartKind, Terminal

TINY = 2.2
BOXED = (*AS_FOUND, PartKind.INTERPOSING_CONTACTOR)
"""What is drawn as a box in the feeder, with the wires that come from it to the connector."""
FIRST = 33.0
WAY_PITCH, WAYS_ROOM = 7.0, 92.0
"""Rows of the connector, and the height that they may take."""
NAME_ROOM, LETTER_ROOM = 4.6, 0.6
"""Room for the names of a part's terminals there, in mm, and for one letter of a longer one over the type size."""
APART_ROWS = 2
"""Rows left free between two connectors."""
ASIDE_END = 152.0
"""Where the strip of cautions may begin."""
ASIDE_X, ASIDE_WIDTH, ASIDE_PITCH = 214.0, 38.0, 4.2
INSIDE = {"box", "module", ""}
"""Places of wires that run inside the box; a star point has none."""
LOAD_COLUMNS = (26.0, 118.0, 208.0)
"""Where the wires at the loads begin, on a sheet of their own."""
SOURCE_RIGHT, FUSE_LEFT, FUSE_RIGHT, FAR_X = 19.0, 50.4, 56.6, 56.6
FUSE_HALF = 1.8
SUPPLY_WAYS = ("24VAC-A", "24VAC-B")
SOCKET_LEFT, SOCKET_RIGHT, PLUG_RIGHT = 92.0, 112.0, 118.0
PAD_LEFT, PAD_RIGHT = 154.0, 208.0
PANEL_LEFT, PANEL_RIGHT = 250.0, 289.0


class Cables:
    """The sheet being drawn."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet, self.wiring = sheet, sheet.wiring
        self.wires = wire_list(sheet.wiring)
        self.by_end = {end: wire for wire in self.wires for end in (wire.from_end, wire.to_end)}
        self.keys = Keys.of(self.wires)
        # Ways have names of their own, whichever connector they are in.
        self.mate_of = {name: mate for mate in self.wiring.mates for name in self.wiring.part(mate.fixed).terminals}
        self.ways = tuple(self.mate_of)
        self.sockets = {mate.fixed for mate in self.wiring.mates}
        gaps = APART_ROWS * (len(self.wiring.mates) - 1)
        pitch = min(WAY_PITCH, WAYS_ROOM / (len(self.ways) + gaps))
        order = {mate: number for number, mate in enumerate(self.wiring.mates)}
        self.row = {
            name: FIRST + (index + APART_ROWS * order[mate]) * pitch
            for index, (name, mate) in enumerate(self.mate_of.items())
        }
        self.drawn: set[int] = set()
        self.first = False
        self.listed: list[str] = []
        """What stands in the list of wires at the loads, and is drawn as a box nowhere."""
        self.last_y = self.row[self.ways[-1]]

    def draw(self) -> None:
        """Draw feeder, connector and board, and the panel where it fits."""
        self.first = True
        self.sheet.text((SOCKET_LEFT, FIRST - 9.2), "Feeder", LETTER, "end", bold=True)
        self.sheet.text((SOCKET_RIGHT + 1, FIRST - 9.2), "Cable", LETTER, bold=True)
        for mate in self.wiring.mates:
            self._connector(mate)
        for name in self.ways:
            self._feeder_way(name)
        self._feeder_parts()
        for mate in self.wiring.mates:
            for name in self.wiring.part(mate.free).terminals:
                self._plug_way(name)
        self._pairs()
        if panel_apart(self.wiring):
            self._board(self.last_y + 5, PAD_LEFT + 30)
            below = self._more_in_feeder(FIRST) + 4
            aside = below + self._key_height(92) <= ASIDE_END
            self._key((ASIDE_X - 22, below) if aside else (10, self.last_y + 9), 92 if aside else 275)
        else:
            panel_end = self._panel(panel_parts(self.wiring), 0.0)
            self._board(max(self.last_y, panel_end) + 5, PAD_RIGHT)
            self._key((10, self.last_y + 9), 135)

    def draw_panel(self) -> None:
        """Draw the panel on a sheet of its own, in two columns."""
        columns: list[list[Part]] = [[], []]
        heights = [0.0, 0.0]
        total = sum(len(part.terminals) * PANEL_PITCH + PANEL_GAP for part in panel_parts(self.wiring))
        for part in panel_parts(self.wiring):
            column = 0 if heights[0] < total / 2 else 1
            columns[column].append(part)
            heights[column] += len(part.terminals) * PANEL_PITCH + PANEL_GAP
        for parts, shift in zip(columns, (-158.0, -12.0), strict=True):
            self._panel(parts, shift)
            left, right = PAD_RIGHT + shift - 40, PAD_RIGHT + shift
            end = FIRST + max(heights)
            corners = ((left, FIRST - 4), (left, end), (right, end), (right, FIRST - 4), (left, FIRST - 4))
            self.sheet.line(*corners, width=0.3)
            self.sheet.text((left, FIRST - 5.4), "in the box; * star point", TINY)
        below = FIRST + max(heights) + 7
        self._key((10, below), 135, panel=True)
        selector = self.wiring.first_of_kind(PartKind.SELECTOR)
        if selector is not None:
            selector_from_behind(self.sheet, selector.ref, (PAD_RIGHT - 40, below))

    def wire_of(self, ref: str, name: str) -> WireRow:
        """Return the wire that ends at a terminal."""
        wire = self.by_end[f"{ref}.{name}"]
        self.drawn.add(wire.number)
        return wire

    def line(self, wire: WireRow, start: Point, end: Point, label_left: float | None = None) -> None:
        """Draw a wire with its label on it."""
        self.sheet.wire(wire.net, start, end)
        x = min(start[0], end[0]) + 1.2 if label_left is None else label_left
        self.sheet.text((x, start[1] - 0.9), self.keys.label(wire), TINY, colour=COMMANDED)

    # ---- connector

    def _connector(self, mate: Mate) -> None:
        sheet, ways = self.sheet, self.wiring.part(mate.fixed).terminals
        top, bottom = self.row[ways[0]] - 4, self.row[ways[-1]] + 4
        plug_ways = self.wiring.part(mate.free).terminals
        sheet.box(SOCKET_LEFT, top, SOCKET_RIGHT, bottom, fill=TINT)
        sheet.box(SOCKET_RIGHT, top, PLUG_RIGHT, self.row[plug_ways[-1]] + 4)
        sheet.text(((SOCKET_LEFT + SOCKET_RIGHT) / 2, top - 1.4), f"socket {mate.fixed}", SMALL, "middle")
        sheet.text((SOCKET_RIGHT + 4.5, top - 1.4), f"plug {mate.free}", SMALL)
        for name in ways:
            named = f"{name} {self.wire_of(mate.fixed, name).pole}".strip()
            sheet.text(((SOCKET_LEFT + SOCKET_RIGHT) / 2, self.row[name] + 0.8), named, TINY, "middle")
        sheet.caution(mate.fixed, (SOCKET_LEFT - 4, top - 1))

    # ---- feeder

    def _others(self, net: str) -> list[Terminal]:
        """The terminals of a net in the feeder, the sockets' aside."""
        found = next(one for one in self.wiring.nets if one.name == net)
        return [terminal for terminal in found.terminals if terminal.ref not in self.sockets]

    def _feeder_way(self, name: str) -> None:
        sheet, y, socket = self.sheet, self.row[name], self.mate_of[name].fixed
        wire = self.wire_of(socket, name)
        others = self._others(wire.net)
        far = next((one for one in others if self.wiring.part(one.ref).kind in BOXED), others[0])
        part = self.wiring.part(far.ref)
        x = {PartKind.FUSE: FUSE_RIGHT, PartKind.TRANSFORMER: SOURCE_RIGHT}.get(part.kind, FAR_X)
        sheet.terminal(socket, name, (SOCKET_LEFT, y))
        self.line(wire, (SOCKET_LEFT, y), (x, y), FAR_X + 1.2)
        if part.kind is PartKind.FUSE and name not in SUPPLY_WAYS:
            sheet.box(FUSE_LEFT, y - FUSE_HALF, FUSE_RIGHT, y + FUSE_HALF)
            sheet.text((FUSE_LEFT + 1, y + 0.8), far.ref, TINY)
            sheet.text((FUSE_LEFT - 1.2, y + 0.8), part.value, TINY, "end")
        if len(others) == 1:
            sheet.terminal(far.ref, far.name, (x, y))
        else:
            # More than two ends: they meet at a star close to the load; its own wire and the others are listed aside.
            sheet.star(wire.net, (x, y))

    def _feeder_parts(self) -> None:
        sheet, wiring = self.sheet, self.wiring
        source, fuse = wiring.the(Group.FEEDER, PartKind.TRANSFORMER), wiring.the(Group.FEEDER, PartKind.FUSE)
        top, bottom = self.row["24VAC-A"], self.row["24VAC-B"]
        sheet.box(9, top - 3, SOURCE_RIGHT, bottom + 3)
        sheet.text((SOURCE_RIGHT - 1, top + 0.8), "A", TINY, "end")
        sheet.text((SOURCE_RIGHT - 1, bottom + 0.8), "B", TINY, "end")
        sheet.text((9, top - 4.2), f"{source.ref} {source.value}", TINY)
        sheet.caution(source.ref, (27, top - 5.4))
        sheet.box(FUSE_LEFT, top - 2.6, FUSE_RIGHT, top + 2.6)
        sheet.text(((FUSE_LEFT + FUSE_RIGHT) / 2, top - 3.8), f"{fuse.ref} {fuse.value}", TINY, "middle")
        sheet.text((FUSE_LEFT + 1, top + 0.8), "1", TINY)
        sheet.text((FUSE_RIGHT - 1, top + 0.8), "2", TINY, "end")
        sheet.caution(fuse.ref, (40, top - 5.4))
        tap = self.wire_of(source.ref, "A")
        sheet.terminal(source.ref, "A", (SOURCE_RIGHT, top))
        sheet.terminal(fuse.ref, "1", (FUSE_LEFT, top))
        self.line(tap, (SOURCE_RIGHT, top), (FUSE_LEFT, top), SOURCE_RIGHT + 0.6)
        for part, rows in self._grouped():
            self._feeder_box(part, rows)

    def _grouped(self) -> Iterator[tuple[Part, list[tuple[str, float]]]]:
        """The loads and contacts as found, with their terminals' rows."""

        def far(name: str) -> tuple[str, str]:
            others = self._others(self.sheet.net(self.mate_of[name].fixed, name))
            best = next((one for one in others if self.wiring.part(one.ref).kind in BOXED), others[0])
            return best.ref, best.name

        for ref, names in groupby(self.ways, key=lambda name: far(name)[0]):
            part = self.wiring.part(ref)
            if part.kind not in (PartKind.TRANSFORMER, PartKind.FUSE):
                yield part, [(far(name)[1], self.row[name]) for name in names]

    def _feeder_box(self, part: Part, rows: list[tuple[str, float]]) -> None:
        sheet = self.sheet
        top, bottom = rows[0][1] - 2.8, rows[-1][1] + 2.8
        sheet.box(9, top, FAR_X, bottom)
        for name, y in rows:
            if part.kind is not PartKind.EARTH:
                starred = len(self.wiring.net_of(Terminal(part.ref, name)).terminals) > 2
                sheet.text((FAR_X - 1.4, y + 0.8), f"* {name}" if starred else name, TINY, "end")
        text = f"{part.ref} {part.value}"
        lines = wrapped(text, FAR_X - 9 - 14, TINY)
        middle = (rows[0][1] + rows[-1][1]) / 2
        sheet.lines((10, middle + 0.8 - (len(lines) - 1) * 1.3 * TINY / 2), lines, TINY)
        at = {PartKind.FEEDER_TRIGGER: "FEEDER-TRIG-LIVE", PartKind.EARTH: "FEEDER-SCREEN",
              PartKind.INTERPOSING_CONTACTOR: part.ref}.get(part.kind)  # fmt: skip
        if at is not None:
            sheet.caution(at, (43, middle))

    def _more_in_feeder(self, y: float) -> float:
        """Wires of the feeder that touch no way of the connector, or a star; returns where the list ends."""
        rest = at_loads(self.wiring)
        if not rest or loads_apart(self.wiring):
            return y
        self.sheet.text((ASIDE_X - 22, y), "In the feeder, right at the load:", SMALL, bold=True)
        self._list(rest, ASIDE_X, y)
        return y + ASIDE_PITCH * len(rest) + 6

    def draw_at_loads(self) -> None:
        """Draw the wires at the loads on a sheet of their own, in columns."""
        rest = at_loads(self.wiring)
        deep = -(-len(rest) // len(LOAD_COLUMNS))
        for number, x in enumerate(LOAD_COLUMNS):
            self._list(rest[number * deep : (number + 1) * deep], x, FIRST)
        self._key((10, FIRST + ASIDE_PITCH * deep + 9), 275)

    def _list(self, wires: Sequence[WireRow], left: float, y: float) -> None:
        """Wires one under the other, from end to end."""
        sheet, boxed = self.sheet, {part.ref for part, _ in self._grouped()}
        refs = dict.fromkeys(end.partition(".")[0] for wire in wires for end in (wire.from_end, wire.to_end))
        parts = [self.wiring.part(ref) for ref in refs if not ref.startswith("*") and ref not in boxed]
        told = [f"{part.ref} {part.value}" for part in parts if not part.to_buy]
        self.listed += [text for text in told if text not in self.listed]
        for wire in wires:
            y += ASIDE_PITCH
            self.drawn.add(wire.number)
            ends = []
            for end, x in ((wire.from_end, left), (wire.to_end, left + ASIDE_WIDTH)):
                ends.append((x, y))
                if end.startswith("*"):
                    sheet.star(wire.net, (x, y))
                    sheet.text((x + 1.6, y + 0.8), f"star {end[1:]}", TINY)
                else:
                    ref, _, name = end.partition(".")
                    sheet.terminal(ref, name, (x, y))
                    side = (x - 1.4, "end") if x == left else (x + 1.6, "start")
                    sheet.text((side[0], y + 0.8), end, TINY, side[1])
            self.line(wire, ends[0], ends[1])
            if wire.pole:
                sheet.text((left + ASIDE_WIDTH - 1.6, y - 0.9), wire.pole, TINY, "end", bold=True)

    def _place(self, end: str) -> str:
        return "" if end.startswith("*") else self.wiring.part(end.partition(".")[0]).place

    # ---- cable and board

    def _plug_way(self, name: str) -> None:
        plug = self.mate_of[name].free
        y, wire = self.row[name], self.wire_of(plug, name)
        self.sheet.terminal(plug, name, (PLUG_RIGHT, y))
        self.line(wire, (PLUG_RIGHT, y), (PAD_LEFT, y), PLUG_RIGHT + 4.2)
        self._pad(wire, f"{plug}.{name}", (PAD_LEFT, y), "start")

    def _pad(self, wire: WireRow, here: str, at: Point, anchor: str) -> None:
        """The end of a wire on the circuit board: a terminal, or a star point that other wires share."""
        end = wire.to_end if wire.from_end == here else wire.from_end
        x = at[0] + (1.6 if anchor == "start" else -1.6)
        if end.startswith("*"):
            self.sheet.star(wire.net, at)
            self.sheet.text((x, at[1] + 0.8), end, TINY, anchor)
            return
        ref, _, name = end.partition(".")
        self.sheet.terminal(ref, name, at)
        part = self.wiring.part(ref)
        self.sheet.text((x, at[1] + 0.8), f"{end} {'box' if part.kind is PartKind.EARTH else ''}".strip(), TINY, anchor)

    def _board(self, bottom: float, right: float) -> None:
        sheet = self.sheet
        board = self.wiring.the(Group.BOARD, PartKind.BOARD)
        where = "Circuit board, in the box" if board.place == "box" else "In the box"
        sheet.line((PAD_LEFT, FIRST - 4), (PAD_LEFT, bottom), (right, bottom), (right, FIRST - 4),
                   (PAD_LEFT, FIRST - 4), width=0.3)  # fmt: skip
        sheet.text((PAD_LEFT, FIRST - 9.2), where, LETTER, bold=True)
        sheet.text((PAD_LEFT, FIRST - 5.4), "* star point: see the next sheets", TINY)
        sheet.caution(board.ref, (PAD_LEFT + 46, FIRST - 6.4))
        sheet.caution("RESERVOIR+", (PAD_LEFT + 51.5, FIRST - 6.4))
        sheet.caution("COMMON", (PAD_LEFT + 57, FIRST - 6.4))

    # ---- panel

    def _panel(self, parts: Iterable[Part], shift: float) -> float:
        """Draw parts of the panel in a column; returns the height of the last row."""
        self.sheet.text((PANEL_LEFT + shift, FIRST - 5.4), "Panel", LETTER, bold=True)
        y = FIRST
        for part in parts:
            y = self._panel_part(part, y, shift) + PANEL_GAP
        return y - PANEL_PITCH

    def _panel_part(self, part: Part, y: float, shift: float) -> float:
        sheet, pitch, start = self.sheet, PANEL_PITCH, y
        pad, left, right, top = PAD_RIGHT + shift, PANEL_LEFT + shift, PANEL_RIGHT + shift, y - pitch * 0.6
        screened = False
        for name in part.terminals:
            wire = self.wire_of(part.ref, name)
            screened = screened or wire.treatment.startswith("screened")
            self.line(wire, (pad, y), (left, y), pad + 5.4)
            sheet.terminal(part.ref, name, (left, y))
            self._pad(wire, f"{part.ref}.{name}", (pad, y), "end")
            y += pitch
        bottom = y - pitch * 0.4
        sheet.box(left + 0.6, top, right, bottom)
        for index, name in enumerate(part.terminals):
            sheet.text((left + 1.4, start + index * pitch + 0.75), name, TINY)
        text = self._panel_text(part)
        indent = max(NAME_ROOM, LETTER_ROOM * TINY * max(map(len, part.terminals)) + 2.6)
        lines = wrapped(text, right - left - indent - 1.4, TINY)
        middle = (start + y - pitch) / 2
        sheet.lines((left + indent, middle + 0.75 - (len(lines) - 1) * 1.3 * TINY / 2), lines, TINY)
        if screened:
            self._ellipse(pad + 3.2, start, y - pitch, "0.8 0.6")
        return y

    def _panel_text(self, part: Part) -> str:
        if part.kind is PartKind.POTENTIOMETER:
            dial = self.sheet.net(part.ref, "2").removeprefix("PIN-").removesuffix("_dial")
            return f"{part.ref} {dial} dial, {part.value}"
        if part.kind is PartKind.LAMP:
            return f"{part.ref} status lamp"
        return f"{part.ref} {part.value}".replace(", closed when the function is on", ", closed:\u00a0on")

    # ---- how to run the wires

    def _ellipse(self, x: float, top: float, bottom: float, dash: str = "") -> None:
        dashes = {"stroke_dasharray": dash} if dash else {}
        self.sheet.canvas.append(
            draw.Ellipse(x, (top + bottom) / 2, 1.2, (bottom - top) / 2 + 1.4, fill="none", stroke=INK,
                         stroke_width=0.3, **dashes)
        )  # fmt: skip

    def _pairs(self) -> None:
        """A ring round the two wires of a twisted pair."""
        plug_ways = {name for mate in self.wiring.mates for name in self.wiring.part(mate.free).terminals}
        for first, second in pairwise(self.ways):
            if first.rpartition("-")[0] != second.rpartition("-")[0] or "-" not in first:
                continue
            if "twisted pair" not in self.by_end[f"{self.mate_of[first].fixed}.{first}"].treatment:
                continue
            if first.endswith("FOUND1") or not first.endswith(("COIL", "FOUND2", "-B", "RETURN")):
                self._ellipse(SOCKET_LEFT - 2.0, self.row[first], self.row[second])
                if {first, second} <= plug_ways:
                    self._ellipse(PLUG_RIGHT + 2.4, self.row[first], self.row[second])

    def _key_lines(self, width: float) -> list[tuple[str, list[str]]]:
        texts = [(letter, text) for text, letter in self.keys.letters.items() if text in self._treatments()]
        told = "Solid ring: twisted pair. Broken ring: one screened cable. Lengths: wires.csv."
        if any(wire.pole for wire in self.wires if wire.number in self.drawn):
            told += " + and -: the pole of a dc load's supply; compare with a meter."
        texts.append(("", told))
        if self.listed:
            texts.append(("", f"{'; '.join(self.listed)}."))
        return [(letter, wrapped(text, width - 4, TINY)) for letter, text in texts]

    def _treatments(self) -> set[str]:
        """How the wires on this sheet are run; the first sheet tells of those inside the box as well."""
        shown = {wire.treatment for wire in self.wires if wire.number in self.drawn}
        if not self.first:
            return shown
        inside = {wire.treatment for wire in self.wires if {*map(self._place, (wire.from_end, wire.to_end))} <= INSIDE}
        return shown | inside

    def _key_height(self, width: float) -> float:
        return sum(1.3 * TINY * len(lines) + 0.4 for _, lines in self._key_lines(width))

    def _key(self, at: Point, width: float, *, panel: bool = False) -> None:
        """What the letters and rings on the wires mean; with the panel, how its selector is linked."""
        x, y = at
        selector = self.wiring.first_of_kind(PartKind.SELECTOR) if panel else None
        told = [(selector.ref, wrapped(selector.reason, width - 4, TINY))] if selector is not None else []
        for letter, lines in [*self._key_lines(width), *told]:
            self.sheet.text((x, y), letter, TINY, bold=True)
            self.sheet.lines((x + 4, y), lines, TINY)
            y += 1.3 * TINY * len(lines) + 0.4
