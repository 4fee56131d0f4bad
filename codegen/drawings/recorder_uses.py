"""Where the recorder's leads go, a sheet a use: at the bench with lamps for loads, at the machine."""

from __future__ import annotations

import drawsvg as draw

from codegen.drawings.recorder_schematic import BARRIER_DASH, RecorderDrawing
from codegen.drawings.sheet import LETTER, SMALL, Point, Sheet, wrapped
from codegen.style import COMMANDED, HOT, INK, TINT
from timing.recorder.uses import Connection, Use

USE_TITLES: dict[Use, str] = {
    "bench": "Recorder at the bench: lamps for loads",
    "machine": "Recorder at the machine",
}
"""By use."""
USE_INTRODUCTIONS: dict[Use, str] = {
    "bench": "Add-on on the table, its feeder plug out of the machine. A bench supply of 26 V dc that floats, its "
    "current limited to 2 A, feeds the add-on (plus to 24VAC-A of that plug, minus to 24VAC-B) and the lamps. Both "
    "boards on the laptop's USB.",
    "machine": "Everything clipped on while the machine is disconnected. The add-on's own USB stays unplugged; the "
    "recorder's goes to the laptop.",
}
"""What to know before the rows."""
ROWS_TOP, ROWS_BOTTOM, INTRODUCTION_Y = 38.0, 156.0, 23.5
PLACE_LEFT, PLACE_WIDTH = 12.0, 80.0
BOX_LEFT, BOX_RIGHT, BARRIER_X = 120.0, 172.0, 148.0
LAPTOP_LEFT, LAPTOP_RIGHT = 190.0, 218.0
NOTE_LEFT, NOTE_WIDTH = 226.0, 60.0
LAMP_X, LAMP_RADIUS = 106.0, 1.7
MOST_PITCH = 14.0


def uses_sheet(drawing: RecorderDrawing, use: Use, connections: tuple[Connection, ...]) -> str:
    """Return the sheet of a use as an SVG document."""
    sheet = drawing.sheet(USE_TITLES[use])
    sheet.lines((PLACE_LEFT, INTRODUCTION_Y), wrapped(USE_INTRODUCTIONS[use], 270.0), SMALL)
    leads = [len(one.leads) for one in connections]
    step = min((ROWS_BOTTOM - ROWS_TOP) / (sum(leads) + 0.6 * len(leads)), MOST_PITCH / 2)
    y = ROWS_TOP
    rows: list[tuple[Connection, float]] = []
    for one in connections:
        rows.append((one, y))
        y += step * (len(one.leads) + 0.6)
    _boxes(sheet, drawing, ROWS_TOP - 4.0, y - 0.6 * step)
    for one, top in rows:
        _row(sheet, drawing, one, top, step)
    return sheet.finish()


def _boxes(sheet: Sheet, drawing: RecorderDrawing, top: float, bottom: float) -> None:
    """The recorder with its barrier, and the laptop behind it."""
    sheet.box(BOX_LEFT, top, BOX_RIGHT, bottom, TINT)
    sheet.line((BARRIER_X, top - 6.0), (BARRIER_X, bottom + 3.0), dash=BARRIER_DASH, width=0.8, colour=HOT)
    sheet.text((BARRIER_X - 3.0, top - 2.4), "machine's side", LETTER, "end", bold=True, colour=HOT)
    sheet.text((BARRIER_X + 3.0, top - 2.4), "laptop's side", LETTER, "start", bold=True, colour=HOT)
    middle = (top + bottom) / 2
    centre = (BARRIER_X + BOX_RIGHT) / 2
    board = drawing.circuits.board.title.split(",")[0]
    sheet.lines((centre, middle - 4.0), ["recorder", *wrapped(board, BOX_RIGHT - BARRIER_X - 3.0)], SMALL, "middle")
    sheet.caution(drawing.wiring.board, (centre, middle + 12.0))
    sheet.box(LAPTOP_LEFT, middle - 8.0, LAPTOP_RIGHT, middle + 8.0)
    sheet.text(((LAPTOP_LEFT + LAPTOP_RIGHT) / 2, middle + 0.8), "laptop", SMALL, "middle")
    sheet.line((BOX_RIGHT, middle), (LAPTOP_LEFT, middle), width=0.6)
    sheet.text(((BOX_RIGHT + LAPTOP_LEFT) / 2, middle - 1.4), "USB", SMALL, "middle")


def _row(sheet: Sheet, drawing: RecorderDrawing, one: Connection, top: float, step: float) -> None:
    for index, lead in enumerate(one.leads):
        y = top + index * step
        text = wrapped(lead.place, PLACE_WIDTH)[0]
        sheet.text((PLACE_LEFT + PLACE_WIDTH - 2.0, y + 0.8), text, SMALL, "end")
        _lead(sheet, lead.pole, (PLACE_LEFT + PLACE_WIDTH, y), (BOX_LEFT, y))
        sheet.text((BOX_LEFT + 1.4, y + 0.8), lead.pole, SMALL, bold=True)
    last = top + (len(one.leads) - 1) * step
    if one.lamp:
        _lamp(sheet, top, last)
    lines = [*wrapped(one.title, NOTE_WIDTH)[:1], *wrapped(one.note, NOTE_WIDTH)[:2]]
    height = 3.0 * (len(lines) - 1)
    y = (top + last) / 2 - height / 2 + 0.8
    sheet.text((NOTE_LEFT, y), lines[0], SMALL, bold=True, colour=COMMANDED)
    sheet.lines((NOTE_LEFT, y + 3.0), lines[1:], SMALL)
    refs = drawing.wiring.circuits[one.key]
    sheet.caution(refs.terminals, (BARRIER_X - 8.0, (top + last) / 2))


def _lead(sheet: Sheet, pole: str, start: Point, end: Point) -> None:
    sheet.canvas.append(draw.Line(*start, *end, stroke=INK, stroke_width=0.3, data_lead=pole))
    sheet.canvas.append(draw.Circle(*start, 0.6, fill="white", stroke=INK, stroke_width=0.25))


def _lamp(sheet: Sheet, top: float, bottom: float) -> None:
    """A lamp between two leads."""
    middle = (top + bottom) / 2
    sheet.line((LAMP_X, top), (LAMP_X, middle - LAMP_RADIUS), width=0.3)
    sheet.line((LAMP_X, middle + LAMP_RADIUS), (LAMP_X, bottom), width=0.3)
    sheet.canvas.append(draw.Circle(LAMP_X, middle, LAMP_RADIUS, fill="white", stroke=INK, stroke_width=0.35))
    across = 0.7 * LAMP_RADIUS
    for sign in (-1, 1):
        sheet.line((LAMP_X - across, middle - sign * across), (LAMP_X + across, middle + sign * across), width=0.3)
    for y in (top, bottom):
        sheet.dot((LAMP_X, y))
