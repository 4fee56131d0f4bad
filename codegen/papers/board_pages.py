"""The strip board on paper: both sides at full size, what goes where, and the same as lists for a spreadsheet."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from codegen.drawings.board_sides import component_side, copper_side
from codegen.drawings.files import table_csv
from codegen.drawings.sheet import wrapped
from codegen.papers.dial_pages import MARGIN_MM, full_size_head
from codegen.papers.shapes import (
    A4_ACROSS,
    BOTH_ACROSS,
    US_LETTER_ACROSS,
    Page,
    PaperSize,
    Shape,
    Text,
    page_svg,
    pages_pdf,
)
from timing.placement.board import BoardLayout, BoardLink, row_letters
from timing.placement.extraction import BARRIER_MM, wire_runs
from timing.placement.footprints import PITCH_MM
from timing.placement.items import BoardItems
from timing.project import Project

BOARD_TOP_MM = MARGIN_MM + 38.0
LETTERS, FEED = 2.3, 3.15
"""Letter size and line height of the lists in mm."""
LIST_COLUMNS, COLUMN_GAP = 4, 4.0
LISTS_TOP_MM = MARGIN_MM + 16.0
HOLES_HEAD = ("what", "name", "hole", "to", "note")


@dataclass(frozen=True)
class BoardPaper:
    """A confirmed layout of a project's circuit, for paper. version: of this tool."""

    project: Project
    items: BoardItems
    layout: BoardLayout
    version: str

    @property
    def title(self) -> str:
        """What the pages are of."""
        return f"{self.project.design.name}: strip board"

    @property
    def stamp(self) -> str:
        """What they were made from."""
        return (
            f"design {self.project.design.digest()}, net list {self.items.digest}, seed {self.layout.seed}, "
            f"{self.layout.moves} moves, wirecue {self.version}"
        )


def board_files(paper: BoardPaper) -> dict[str, bytes]:
    """Return the board's files by name: pages at full size, lists and data."""
    return {
        "strip_board/pages.pdf": board_pdf(paper),
        "strip_board/component.svg": page_svg(component_page(paper, BOTH_ACROSS)).encode(),
        "strip_board/copper.svg": page_svg(copper_page(paper, BOTH_ACROSS)).encode(),
        "strip_board/holes.csv": holes_csv(paper).encode(),
        "strip_board/layout.json": (json.dumps(paper.layout.as_data(paper.items.digest), indent=1) + "\n").encode(),
    }  # fmt: skip


def board_pdf(paper: BoardPaper) -> bytes:
    """Return the pages as PDF, for A4 and then for Letter."""
    every = [page for size in (A4_ACROSS, US_LETTER_ACROSS) for page in board_sheets(paper, size)]
    return pages_pdf(every, paper.title, compressed=True)


def holes_csv(paper: BoardPaper) -> str:
    """Return which hole each pin, link and cut is at."""
    return table_csv(HOLES_HEAD, hole_rows(paper.layout))


def board_sheets(paper: BoardPaper, size: PaperSize) -> list[Page]:
    """Return all pages in one paper size."""
    return [component_page(paper, size), copper_page(paper, size), *list_pages(paper, size)]


def component_page(paper: BoardPaper, size: PaperSize) -> Page:
    """Return the side that parts and links lie on."""
    how = (
        "Seen from above. Blue: bare link; thick: for more than 1 A. Broken blue: insulated, led round the parts.",
        "Grey cross: strip cut below. Broken circle: room for a 3 mm plastic screw with a plastic spacer.",
    )
    head = full_size_head(f"{paper.title}, component side, full size", paper.stamp, how)
    drawn = component_side(paper.layout, _left(paper.layout, size), BOARD_TOP_MM)
    return Page(size, (*head, *drawn, *_notes(paper, size, _side_notes(paper))))


def copper_page(paper: BoardPaper, size: PaperSize) -> Page:
    """Return the side that the strips lie on."""
    how = (
        "Seen from below, the board turned over sideways: column 1 lies at the right. Grey dot: a joint to solder.",
        "Red: cut the strip round the hole, with a drill of 3.5 mm or more turned by hand."
        + (" Grey strip: more than 1 A, see below." if paper.layout.tinned else ""),
    )
    head = full_size_head(f"{paper.title}, copper side, full size", paper.stamp, how)
    drawn = copper_side(paper.layout, _left(paper.layout, size), BOARD_TOP_MM)
    return Page(size, (*head, *drawn, *_notes(paper, size, _copper_notes(paper))))


def _left(layout: BoardLayout, size: PaperSize) -> float:
    return (size.width_mm - (layout.columns - 1) * PITCH_MM) / 2


def _notes(paper: BoardPaper, size: PaperSize, texts: Iterable[str]) -> Iterator[Shape]:
    y = BOARD_TOP_MM + (paper.layout.rows - 1) * PITCH_MM + 14.0
    for text in texts:
        for line in wrapped(text, size.width_mm - 2 * MARGIN_MM, LETTERS):
            yield Text(MARGIN_MM, y, line, LETTERS)
            y += FEED


def _side_notes(paper: BoardPaper) -> Iterator[str]:
    layout = paper.layout
    yield (
        f"Board: {layout.rows} strips of {layout.columns} holes, {layout.size_mm[0]:.0f} x "
        f"{layout.size_mm[1]:.0f} mm, {len(layout.links)} links, {len(layout.cuts)} cuts beside the barrier."
    )
    yield (
        "Hold each part against its place before you cut anything: pins and bodies are assumed, and parts of one kind "
        "differ from make to make. The last page says what was assumed."
    )
    yield (
        "Extra-low voltage only. Mains-level loads stay off this board: that is work for a licensed electrician, and "
        "local codes come first."
    )


def _copper_notes(paper: BoardPaper) -> Iterator[str]:
    layout = paper.layout
    if layout.barrier:
        first, last = layout.barrier[0] + 1, layout.barrier[-1] + 1
        joins = [item.name for item in paper.items.items if item.joins]
        across = [item.name for item in paper.items.items if item.side == "across" and not item.joins]
        yield (
            f"Barrier: cut every strip, empty ones too, in columns {first} and {last}, and scrape the copper away "
            f"between: at least {BARRIER_MM:g} mm of bare board stay between the feeder's side and the logic. Across "
            f"it stand {', '.join(across) or 'no parts that isolate'}."
        )
        if joins:
            yield (
                f"The exception is {', '.join(joins)}: the rectifier joins both sides, since the supply comes from the "
                "feeder's winding. The logic is therefore not isolated from that winding."
            )
    yield "Cuts: " + "; ".join(_cuts_by_row(layout)) + "."
    if layout.tinned:
        runs = ", ".join(str(run) for run in layout.tinned)
        yield f"More than 1 A flows here: lay 0.8 mm wire along the strip and flood it with solder: {runs}."


def _cuts_by_row(layout: BoardLayout) -> Iterator[str]:
    for row in range(layout.rows):
        columns = sorted(cut.column + 1 for cut in layout.cuts if cut.row == row)
        if columns:
            yield f"{row_letters(row)} {' '.join(map(str, columns))}"


# ---- lists


STEPS = (
    "Mark the holes' names on the board: rows A, B, C from the top, columns from the left.",
    "Turn it over sideways. Make the cuts, those of the barrier last; look at each through a lens.",
    "Measure: nothing between neighbouring strips, nothing across the barrier.",
    "Solder the links, bare ones first. Double the strips named on the copper side.",
    "Solder the parts, low ones first; band, + and pin 1 as drawn. Shorten the leads.",
    "Measure each row of the net against the schematic, and once more across the barrier.",
    "Wire the board to the outside last. First power: from a bench supply with its current limited.",
)


def list_pages(paper: BoardPaper, size: PaperSize) -> list[Page]:
    """Return what goes where, in columns, on as many pages as that takes; no text goes on in the next column."""
    width = (size.width_mm - 2 * MARGIN_MM - (LIST_COLUMNS - 1) * COLUMN_GAP) / LIST_COLUMNS
    deepest = int((min(size.height_mm, BOTH_ACROSS.height_mm) - MARGIN_MM - LISTS_TOP_MM) / FEED)
    columns: list[list[tuple[str, bool]]] = [[]]
    for text, bold in _list_lines(paper):
        lines = wrapped(text, width * (0.9 if bold else 0.98), LETTERS) or [""]
        if len(columns[-1]) + len(lines) > deepest:
            columns.append([])
        columns[-1] += [(line if index == 0 else f"   {line}", bold) for index, line in enumerate(lines)]
    found: list[Page] = []
    for at in range(0, len(columns), LIST_COLUMNS):
        shapes: list[Shape] = [
            Text(MARGIN_MM, MARGIN_MM + 4.0, f"{paper.title}, what goes where", 4.2, bold=True),
            Text(MARGIN_MM, MARGIN_MM + 8.0, paper.stamp, 2.4),
        ]
        for number, column in enumerate(columns[at : at + LIST_COLUMNS]):
            x = MARGIN_MM + number * (width + COLUMN_GAP)
            shapes += [
                Text(x, LISTS_TOP_MM + row * FEED, text, LETTERS, bold=bold)
                for row, (text, bold) in enumerate(column)
                if text
            ]
        found.append(Page(size, tuple(shapes)))
    return found


def _list_lines(paper: BoardPaper) -> Iterator[tuple[str, bool]]:
    """Texts, and whether each is a heading."""
    layout = paper.layout
    yield "Order of work", True
    yield from ((f"{number} {text}", False) for number, text in enumerate(STEPS, start=1))
    yield "", False
    yield "Links", True
    yield from ((f"{number} {_link_words(link)}", False) for number, link in enumerate(layout.links, start=1))
    yield "", False
    yield "Parts: pin and hole", True
    for part in sorted(layout.parts, key=lambda part: _natural(part.name)):
        if not part.label.startswith("to "):
            yield f"{part.name}, {part.label}: {_pins(part.pins)}", False
    yield "", False
    yield "Wires from elsewhere: pin and hole", True
    for part in sorted(layout.parts, key=lambda part: _natural(part.name)):
        if part.label.startswith("to "):
            yield f"{part.name}: {_pins(part.pins)}", False
    yield "", False
    yield "On perforated board instead", True
    yield from ((text, False) for text in _perforated(layout))
    yield "", False
    yield "Assumed of the parts (common practice, no source)", True
    patterns: dict[str, list[str]] = {}
    for part in layout.parts:
        patterns.setdefault(part.pattern, []).append(part.name)
    for pattern, names in sorted(patterns.items()):
        yield f"{', '.join(sorted(names, key=_natural))}: {pattern}", False


def _perforated(layout: BoardLayout) -> Iterator[str]:
    thick = {(run.row, run.first) for run in layout.tinned}
    yield (
        "A pad to each hole: parts and links as here, no cuts. In place of the strips, bare wire on the copper side, "
        "0.6 mm, 0.8 mm where marked *, soldered at each joint on its way:"
    )
    for _, runs in groupby(wire_runs(layout), key=lambda run: run.row):
        yield ", ".join(f"{run}{'*' if (run.row, run.first) in thick else ''}" for run in runs)


def _pins(pins: Sequence[tuple[str, object]]) -> str:
    return ", ".join(f"{terminal.partition('.')[2]} {hole}" for terminal, hole in pins)


def _link_words(link: BoardLink) -> str:
    kind = "insulated" if link.insulated else "bare"
    return f"{link.start} to {link.end}, {kind}, {'0.8' if link.heavy else '0.6'} mm"


def _natural(name: str) -> list[tuple[int, str]]:
    """Sorts R2 before R10."""
    return [(int(word), "") if word.isdigit() else (0, word) for word in re.split(r"(\d+)", name) if word]


def hole_rows(layout: BoardLayout) -> Iterator[tuple[str, str, str, str, str]]:
    """Yield the rows of the list of holes."""
    for part in sorted(layout.parts, key=lambda part: _natural(part.name)):
        for terminal, hole in part.pins:
            yield "pin", terminal, str(hole), "", f"{part.label}; {part.pattern}"
    for number, link in enumerate(layout.links, start=1):
        kind = "insulated" if link.insulated else "bare"
        yield "link", str(number), str(link.start), str(link.end), f"{kind}, {'0.8' if link.heavy else '0.6'} mm"
    for cut in sorted(layout.all_cuts):
        yield "cut", "", str(cut), "", "barrier" if cut.column in layout.barrier else ""
    for run in layout.tinned:
        first, _, last = str(run).partition(" to ")
        yield "double", "", first, last, "0.8 mm wire and solder along the strip"
    for run in wire_runs(layout):
        first, _, last = str(run).partition(" to ")
        yield "run", "", first, last, "on perforated board: bare wire in place of the strip"
