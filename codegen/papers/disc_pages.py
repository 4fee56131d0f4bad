"""The disc for the drive roll, the marks that may take its place, and the flag, at full size."""

from __future__ import annotations

import math
from dataclasses import dataclass

from codegen.papers.dial_pages import HEAD_MM, MARGIN_MM, full_size_head
from codegen.papers.shapes import (
    A4,
    BOTH,
    US_LETTER,
    Circle,
    Line,
    Page,
    PaperSize,
    Polygon,
    Shape,
    Text,
    page_svg,
    pages_pdf,
)
from codegen.style import FRAME, INK
from timing.recorder.disc import RollDisc
from timing.recorder.flag import SENSOR_AWAY_MM, Flag

DISC_TOP_MM = MARGIN_MM + HEAD_MM + 12.0
SECTOR_STEP_DEG = 2.0
"""Arcs are drawn in steps no longer than this: at 120 mm across they are off by 0.01 mm (choice)."""
CENTRE_CROSS_MM = 4.0
FLAG_LEFT_MM = 95.0
LINE_MM = 4.0
"""From one line of text to the next."""
MARK_MM, MARK_PLATE_MM = (6.0, 12.0), (24.0, 18.0)
"""A dark mark on its bright plate, for a roll that has no room for a disc."""
TAB_MM = 10.0
"""Of the flag, laid round a needle or a bare wire on which it swings."""
HOW_TO_USE_DISC = (
    "Print on thick bright paper with a laser printer: the black of many inkjets is bright in infrared. Try it: held",
    "before the sensor by hand, each dark sector must make one edge. Glue it on card, cut along the outer line and the",
    "bore, screw it to the drive roll so that it turns with it and touches nothing. For a light barrier cut the dark",
    "sectors out as slots. Machine disconnected while you reach in: rolls pinch, and may be live while welding.",
)


@dataclass(frozen=True)
class DiscPaper:
    """What the page is made from."""

    name: str
    """Of the design."""
    stamp: str
    disc: RollDisc
    roll_mm: float
    roll_measured: bool
    flag: Flag | None
    """None with gasless wire."""


def disc_files(paper: DiscPaper) -> dict[str, bytes]:
    """Return the page as picture and as PDF, the latter on A4 and on Letter, of which one is printed."""
    pages = [disc_page(paper, size) for size in (A4, US_LETTER)]
    title = f"{paper.name}: disc, marks and flag"
    return {"disc.svg": page_svg(disc_page(paper, BOTH)).encode(), "disc.pdf": pages_pdf(pages, title)}


def disc_page(paper: DiscPaper, size: PaperSize) -> Page:
    """Return the page on a paper."""
    disc, radius = paper.disc, paper.disc.outer_mm / 2.0
    shapes: list[Shape] = [
        *full_size_head(f"{paper.name}: disc for the drive roll, full size", paper.stamp, HOW_TO_USE_DISC)
    ]
    centre = (MARGIN_MM + radius + 2.0, DISC_TOP_MM + radius)
    shapes += [shape.moved(*centre) for shape in disc_shapes(disc)]
    shapes += _words(paper, centre[0] + radius + 8.0, DISC_TOP_MM + 6.0)
    y = DISC_TOP_MM + disc.outer_mm + 14.0
    shapes += _marks(y)
    if paper.flag is not None:
        shapes += _flag(paper.flag, FLAG_LEFT_MM, y)
    return Page(size, tuple(shapes))


def disc_shapes(disc: RollDisc) -> list[Shape]:
    """Return a disc about the origin: cutting lines, sectors, centre."""
    half = CENTRE_CROSS_MM / 2.0
    return [
        Circle(0.0, 0.0, disc.outer_mm / 2.0, mark="disc outer"),
        *(_sector(disc, number) for number in range(disc.sectors)),
        Circle(0.0, 0.0, disc.bore_mm / 2.0, mark="disc bore"),
        Line(-half, 0.0, half, 0.0, 0.15),
        Line(0.0, -half, 0.0, half, 0.15),
    ]


def _sector(disc: RollDisc, number: int) -> Polygon:
    """The dark sector of that number, from the top clockwise."""
    wide = math.pi / disc.sectors
    start = 2.0 * wide * number - wide / 2.0
    steps = max(math.ceil(math.degrees(wide) / SECTOR_STEP_DEG), 1)
    angles = [start + wide * step / steps for step in range(steps + 1)]
    outer = [(disc.track_outer_mm * math.sin(a), -disc.track_outer_mm * math.cos(a)) for a in angles]
    inner = [(disc.track_inner_mm * math.sin(a), -disc.track_inner_mm * math.cos(a)) for a in reversed(angles)]
    return Polygon((*outer, *inner), INK)


def _words(paper: DiscPaper, x: float, y: float) -> list[Shape]:
    disc = paper.disc
    roll = "as measured" if paper.roll_measured else "NOT measured: --roll"
    told = (
        f"{disc.sectors} dark sectors: {disc.sectors} counts a turn",
        f"outer diameter {disc.outer_mm:g} mm, bore {disc.bore_mm:g} mm",
        f"sectors {disc.sector_mm:.2f} mm wide on the track",
        f"drive roll {paper.roll_mm:g} mm ({roll}):",
        f"{disc.mm_per_slot(paper.roll_mm):.3f} mm of wire a count",
        "better: run a metre of wire, measure it,",
        "divide by what the recorder counted",
        "sensor 2 to 4 mm from the track's middle",
    )
    return [Text(x, y + LINE_MM * row, text, 2.8, bold=row == 0) for row, text in enumerate(told)]


def _marks(y: float) -> list[Shape]:
    """Two plates with one mark each: one count a turn, where there is no room for a disc."""
    wide, high = MARK_PLATE_MM
    shapes: list[Shape] = [Text(MARGIN_MM, y, "Marks: one count a turn", 2.8, bold=True)]
    for column in range(2):
        left, top = MARGIN_MM + column * (wide + 6.0), y + 4.0
        shapes += _frame(left, top, wide, high)
        dark_left, dark_top = left + (wide - MARK_MM[0]) / 2.0, top + (high - MARK_MM[1]) / 2.0
        shapes.append(Polygon(_corners(dark_left, dark_top, *MARK_MM), INK))
    notes = (
        "Glue one on the flank of the roll where",
        "a disc has no room; speed and run in whole",
        "turns only, the coast to a turn.",
    )
    shapes += [Text(MARGIN_MM, y + high + 9.0 + LINE_MM * row, text, 2.6) for row, text in enumerate(notes)]
    return shapes


def _flag(flag: Flag, x: float, y: float) -> list[Shape]:
    """The flag with its tab."""
    top = y + 4.0
    notes = (
        "Cut it from thin paper (wrapping or baking paper),",
        "this as pattern. Lay the tab round a needle, glue it;",
        "it must swing freely, hanging before the nozzle,",
        "gun level. Sensor behind it, a dark wall behind that:",
        f"{SENSOR_AWAY_MM:g} mm from the flag at rest. Gas on: it swings",
        f"some {flag.swing_mm:.0f} mm out, and the sensor sees it.",
        "No draught. Wire clipped back; trigger not pulled:",
        "gas by the purge button only.",
    )  # fmt: skip
    return [
        Text(x, y, "Flag for the nozzle (input 6)", 2.8, bold=True),
        *_frame(x, top, flag.width_mm, TAB_MM + flag.length_mm, "flag"),
        Line(x, top + TAB_MM, x + flag.width_mm, top + TAB_MM, 0.2, dashed=True, mark="flag fold"),
        *(Text(x + flag.width_mm + 5.0, top + 3.0 + LINE_MM * row, text, 2.6) for row, text in enumerate(notes)),
    ]


def _corners(left: float, top: float, wide: float, high: float) -> tuple[tuple[float, float], ...]:
    return (left, top), (left + wide, top), (left + wide, top + high), (left, top + high)


def _frame(left: float, top: float, wide: float, high: float, mark: str = "") -> list[Shape]:
    """A cutting line round an oblong."""
    corners = _corners(left, top, wide, high)
    return [
        Line(*start, *end, 0.15, FRAME, mark=mark)
        for start, end in zip(corners, (*corners[1:], corners[0]), strict=True)
    ]
