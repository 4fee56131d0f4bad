"""A sheet of A4 in landscape, in millimetres: wires, terminals, flags, texts and cautions, with their places kept.

Every terminal, wire and flag carries its name in the SVG (data-terminal, data-net, data-flag), so that a drawing can
be read back and compared with the netlist.
"""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import drawsvg as draw

from codegen.style import FONT, FRAME, HOT, INK, PALE, svg_text, text_width
from timing.circuit.parts import Netlist, PlacedCaution
from timing.project import Project

Point = tuple[float, float]

WIDTH, HEIGHT, EDGE = 297.0, 210.0, 7.0
LETTER, SMALL, LARGE = 2.6, 2.3, 4.2
"""Letter sizes in mm; 2.3 mm is about 6.5 point."""
WIRE_WIDTH, SYMBOL_WIDTH = 0.3, 0.4
DASHED = "1.5 1.2"
LINE_FEED = 1.3
SIGN = "#fbe9c8"
"""Ground of a warning triangle."""
TOP = 20.0
"""Where the drawing begins under the title."""
CAUTION_COLUMNS = 3
CAUTION_GAP = 5.0


@dataclass(frozen=True)
class Box:
    """Where a text stands."""

    left: float
    top: float
    right: float
    bottom: float
    text: str


class Sheet:
    """One sheet being drawn."""

    def __init__(self, wiring: Netlist, title: str, subtitle: str, foot: str) -> None:
        self.wiring, self.foot = wiring, foot
        self._nets = {(one.ref, one.name): net.name for net in wiring.nets for one in net.terminals}
        self.texts: list[Box] = []
        self.cautions: list[PlacedCaution] = []
        self._wires: list[tuple[str, tuple[Point, ...]]] = []
        self._ends: list[tuple[str, Point]] = []
        self.canvas = draw.Drawing(WIDTH, HEIGHT, font_family=FONT)
        self.canvas.set_render_size("297mm", "210mm")
        self.canvas.append(draw.Rectangle(0, 0, WIDTH, HEIGHT, fill="white"))
        self.canvas.append(
            draw.Rectangle(EDGE, EDGE, WIDTH - 2 * EDGE, HEIGHT - 2 * EDGE, fill="none", stroke=FRAME, stroke_width=0.3)
        )
        self.text((EDGE + 3, 13.5), title, LARGE, bold=True)
        self.text((EDGE + 3, 18), subtitle, SMALL)

    @classmethod
    def of(cls, project: Project, title: str) -> Sheet:
        """Return an empty sheet for a project's netlist, the design named at its head and foot."""
        design = project.design
        return cls(project.netlist, title, design.title or design.name, f"{design.name}, revision {design.digest()}")

    def net(self, ref: str, name: str) -> str:
        """Return the name of the net that a terminal is on."""
        return self._nets[ref, name]

    # ---- texts

    def text(
        self, at: Point, text: str, size: float = LETTER, anchor: str = "start", bold: bool = False, colour: str = INK
    ) -> None:
        """Write one line; `at` is its base line's start, middle or end."""
        width = text_width(text, size)
        left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        self.texts.append(Box(left, at[1] - 0.78 * size, left + width, at[1] + 0.22 * size, text))
        weight = {"font_weight": "bold"} if bold else {}
        self.canvas.append(draw.Text(text, size, at[0], at[1], fill=colour, text_anchor=anchor, **weight))

    def lines(self, at: Point, texts: Iterable[str], size: float = LETTER, anchor: str = "start") -> None:
        """Write lines one under the other; `at` is the first one's base line."""
        for index, text in enumerate(texts):
            self.text((at[0], at[1] + index * LINE_FEED * size), text, size, anchor)

    # ---- connections

    def terminal(self, ref: str, name: str, at: Point, radius: float = 0.45) -> None:
        """Mark where a terminal of a part is."""
        net = self.net(ref, name)
        self._ends.append((net, at))
        self.canvas.append(
            draw.Circle(*at, radius, fill="white", stroke=INK, stroke_width=0.2, data_terminal=f"{ref}.{name}")
        )

    def wire(self, net: str, *points: Point) -> None:
        """Draw a wire of a net through points."""
        self._wires.append((net, points))
        flat = [coordinate for point in points for coordinate in point]
        self.canvas.append(
            draw.Lines(*flat, close=False, fill="none", stroke=INK, stroke_width=WIRE_WIDTH, data_net=net)
        )

    def flag(self, net: str, at: Point, way: str, label: str = "") -> None:
        """Name a net that goes on elsewhere; `way` is where the flag points: left, right, up."""
        text = label or net
        self.pin_flag(net, at)
        x, y = at
        width = text_width(text, SMALL) + 3.4
        if way == "up":
            self._shape([(x, y), (x - 1.2, y - 1.6), (x + 1.2, y - 1.6)])
            self.text((x, y - 2.4), text, SMALL, "middle")
            return
        sign = 1 if way == "right" else -1
        tip = x + sign * width
        self._shape([(x, y), (x + sign * 1.4, y - 1.9), (tip, y - 1.9), (tip, y + 1.9), (x + sign * 1.4, y + 1.9)])
        self.text(((x + sign * 1.4 + tip) / 2, y + 0.8), text, SMALL, "middle")

    def common(self, at: Point) -> None:
        """Draw the sign for the add-on's own common: an open triangle, not earth and not chassis."""
        self.pin_flag("COMMON", at)
        x, y = at
        self._shape([(x - 1.5, y), (x + 1.5, y), (x, y + 2.2)])

    def pin_flag(self, net: str, at: Point) -> None:
        """Note that a net comes to a point, without drawing anything to speak of."""
        self._ends.append((net, at))
        self.canvas.append(draw.Circle(*at, 0.1, fill=INK, data_flag=net))

    def _shape(self, points: Sequence[Point]) -> None:
        flat = [coordinate for point in points for coordinate in point]
        self.canvas.append(draw.Lines(*flat, close=True, fill="white", stroke=INK, stroke_width=0.25))

    def star(self, net: str, at: Point) -> None:
        """Draw a star point: where the wires of a net meet."""
        self._ends.append((net, at))
        self.canvas.append(draw.Circle(*at, 0.9, fill=INK, data_flag=net))

    # ---- other marks

    def dot(self, at: Point) -> None:
        """Draw a solder joint."""
        self.canvas.append(draw.Circle(*at, 0.7, fill=INK))

    def line(self, *points: Point, dash: str = "", width: float = SYMBOL_WIDTH, colour: str = INK) -> None:
        """Draw a line that is no wire."""
        flat = [coordinate for point in points for coordinate in point]
        dashes = {"stroke_dasharray": dash} if dash else {}
        self.canvas.append(draw.Lines(*flat, close=False, fill="none", stroke=colour, stroke_width=width, **dashes))

    def box(self, left: float, top: float, right: float, bottom: float, fill: str = "white", dash: str = "") -> None:
        """Draw a box."""
        dashes = {"stroke_dasharray": dash} if dash else {}
        self.canvas.append(
            draw.Rectangle(
                left, top, right - left, bottom - top, fill=fill, stroke=INK, stroke_width=SYMBOL_WIDTH, **dashes
            )
        )

    def caution(self, at_name: str, at: Point) -> None:
        """Put a numbered triangle beside what a caution is about, and the caution into the strip below.

        What is said of several things has one number.
        """
        for one in self.wiring.cautions:
            if one.at == at_name and one not in self.cautions:
                texts = [known.text for known in self.cautions]
                if one.text not in texts:
                    self.cautions.append(one)
                    texts.append(one.text)
                self._triangle(at, texts.index(one.text) + 1)
                at = (at[0] + 5.5, at[1])

    def _triangle(self, at: Point, number: int) -> None:
        self._sign(at, 2.5, data_caution=str(number))
        self.text((at[0], at[1] + 1.5), str(number), SMALL, "middle", bold=True)

    def _sign(self, at: Point, half: float, **names: str) -> None:
        x, y = at
        corners = (x - half, y + 0.8 * half, x + half, y + 0.8 * half, x, y - half)
        self.canvas.append(draw.Lines(*corners, close=True, fill=SIGN, stroke=HOT, stroke_width=0.3, **names))

    def finish(self) -> str:
        """Dot the junctions, write cautions and foot, and return the SVG document."""
        for at in self._junctions():
            self.canvas.append(draw.Circle(*at, 0.7, fill=INK))
        self._strip()
        self.text((WIDTH - EDGE - 2, HEIGHT - EDGE - 1.6), self.foot, SMALL, "end")
        return svg_text(self.canvas)

    def _strip(self) -> None:
        general = [one for one in self.wiring.cautions if one.at == "everywhere"]
        marked = [(str(number), one.text) for number, one in enumerate(self.cautions, start=1)]
        marked += [("!", one.text) for one in general]
        column = (WIDTH - 2 * EDGE - 6 - (CAUTION_COLUMNS - 1) * CAUTION_GAP) / CAUTION_COLUMNS
        blocks = [(mark, wrapped(text, column - 6)) for mark, text in marked]
        total = sum(len(lines) for _, lines in blocks) + 0.4 * len(blocks)
        # As many lines to a column as needed for the columns to come out even.
        deepest = max(max((len(lines) for _, lines in blocks), default=0), math.ceil(total / CAUTION_COLUMNS + 1.0))
        columns: list[list[tuple[str, list[str]]]] = [[]]
        used = 0.0
        for block in blocks:
            if used + len(block[1]) > deepest and len(columns) < CAUTION_COLUMNS:
                columns.append([])
                used = 0.0
            columns[-1].append(block)
            used += len(block[1]) + 0.4
        feed = LINE_FEED * SMALL
        depth = max(sum(len(lines) + 0.4 for _, lines in blocks_) for blocks_ in columns)
        self.strip_top = HEIGHT - EDGE - 6.5 - depth * feed
        self.line((EDGE, self.strip_top), (WIDTH - EDGE, self.strip_top), width=0.25, colour=PALE)
        for index, blocks_ in enumerate(columns):
            x, y = EDGE + 5.5 + index * (column + CAUTION_GAP), self.strip_top + feed + 0.6
            for mark, lines in blocks_:
                self._triangle_mark((x, y - 0.6), mark)
                self.lines((x + 4, y), lines, SMALL)
                y += (len(lines) + 0.4) * feed

    def _triangle_mark(self, at: Point, mark: str) -> None:
        self._sign(at, 1.7)
        self.canvas.append(draw.Text(mark, 1.9, at[0], at[1] + 1.0, fill=INK, text_anchor="middle", font_weight="bold"))

    def _junctions(self) -> list[Point]:
        """Where three or more ends of one net meet: ends of wires and of parts, and wires that pass through."""
        found: dict[tuple[str, float, float], int] = {}

        def count(net: str, at: Point, ends: int) -> None:
            key = (net, round(at[0], 2), round(at[1], 2))
            found[key] = found.get(key, 0) + ends

        corners = [(net, point) for net, points in self._wires for point in points]
        places = sorted({(net, round(at[0], 2), round(at[1], 2)) for net, at in corners + self._ends})
        for net, x, y in places:
            for wire_net, points in self._wires:
                if wire_net != net:
                    continue
                for first, second in pairwise(points):
                    count(net, (x, y), _meets((x, y), first, second))
        for net, at in self._ends:
            count(net, at, 1)
        return [(x, y) for (_, x, y), ends in found.items() if ends >= 3]


def wrapped(text: str, width: float, size: float = SMALL) -> list[str]:
    """Return a text as lines that are no wider than `width` (mm) in letters of `size`."""
    return textwrap.wrap(text, max(int(width / text_width("m", size)), 1), break_on_hyphens=False)


def _meets(at: Point, first: Point, second: Point) -> int:
    """How many ends a segment brings to a point: 2 where it passes through, 1 where it ends there, else 0."""
    if math.dist(at, first) < 0.02 or math.dist(at, second) < 0.02:
        return 1
    along = math.dist(first, at) + math.dist(at, second) - math.dist(first, second)
    return 2 if abs(along) < 0.01 else 0
