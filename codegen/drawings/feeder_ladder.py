"""The feeder as found and as changed: a ladder drawing each, the cuts marked and told beside it.

Contacts are two bars, coils circles, as in the ladder drawings of control circuits (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

import drawsvg as draw

from codegen.drawings.sheet import DASHED, LETTER, SMALL, WIRE_WIDTH, Point, Sheet, wrapped
from codegen.style import HOT, INK, TINT
from timing.circuit.feeder_ladder import feeder_wiring
from timing.circuit.ladder import Ladder, Rail, Rung, RungPart, Symbol
from timing.once import once
from timing.project import Project

LEFT, RIGHT, MIDDLE_SHARE = 24.0, 168.0, 0.42
"""Where the rails stand, and the share of the way at which that of the switched side does."""
ASIDE_LEFT, ASIDE_RIGHT = 186.0, 287.0
TOP, BOTTOM = 24.0, 176.0
LADDERS_ROOM = 160.0
"""Height that ladders may take on a sheet, drawn close."""
TITLE, LEAST_PITCH, MOST_PITCH = 10.0, 10.6, 22.0
"""Height of a ladder's title, and from rung to rung."""
REACH: dict[Symbol, float] = {
    Symbol.CONTACT: 1.2, Symbol.BREAK_CONTACT: 1.2, Symbol.RESISTOR: 3.2, Symbol.COIL: 3.2, Symbol.VALVE: 3.2,
    Symbol.MOTOR: 3.6, Symbol.ELECTRONICS: 9.0, Symbol.CUT: 0.0, Symbol.WINDING: 6.0, Symbol.TERMINAL: 0.6,
    Symbol.OURS: 13.0, Symbol.FUSE: 3.6, Symbol.GAP: 6.0,
}  # fmt: skip
"""Half length of a symbol in mm."""
FREE_END = 20.0
"""How far from its rail a rung begins or ends that does not reach it."""
NOTE_OFF = 2.4
"""From a terminal at a free end to the note beside it."""
LIFT = 4.6
"""How far a label stands above its wire."""


@once
def feeder_sheets(project: Project) -> tuple[str, ...]:
    """Return the sheets of the feeder as SVG documents: one as found, then one or more as changed.

    None where the design does not say how the machine was wired.
    """
    wiring = feeder_wiring(project)
    if wiring is None:
        return ()
    found = Sheet.of(project, "Feeder as found")
    _draw(found, wiring.found)
    cuts = ((str(cut.number), [cut.wire, f"Before: {cut.before}"]) for cut in wiring.cuts)
    low = _tell(found, "Wires to cut, in this order", cuts)
    _tell(found, "What the words mean", ((word, [meaning]) for word, meaning in wiring.words), low + 3)
    pages = _pages(wiring.changed)
    changed = [
        Sheet.of(project, f"Feeder as changed{f', {number} of {len(pages)}' if len(pages) > 1 else ''}")
        for number in range(1, len(pages) + 1)
    ]
    for sheet, page in zip(changed, pages, strict=True):
        _draw(sheet, page)
    ends = (
        (str(cut.number), [*(f"{end[0].upper()}{end[1:]}: {goes}" for end, goes in cut.ends), f"After: {cut.after}"])
        for cut in wiring.cuts
    )
    _tell(changed[0], "Where the ends of each cut go", ends)
    return found.finish(), *(sheet.finish() for sheet in changed)


def _pages(ladders: Sequence[Ladder]) -> list[list[Ladder]]:
    """Place ladders on as many sheets as they take."""
    pages: list[list[Ladder]] = [[]]
    used = 0.0
    for ladder in ladders:
        height = TITLE + LEAST_PITCH * len(ladder.rungs)
        if pages[-1] and used + height > LADDERS_ROOM:
            pages.append([])
            used = 0.0
        pages[-1].append(ladder)
        used += height
    return pages


def _tell(sheet: Sheet, title: str, rows: Iterable[tuple[str, list[str]]], top: float = TOP + 3.2) -> float:
    """Write numbered texts beside the ladders; returns where they end."""
    sheet.text((ASIDE_LEFT, top), title, LETTER, bold=True)
    y = top + 4.6
    for mark, texts in rows:
        numbered = mark.isdigit()
        if numbered:
            _number(sheet, (ASIDE_LEFT + 2, y - 0.8), mark)
            lines = [line for text in texts for line in wrapped(text, ASIDE_RIGHT - ASIDE_LEFT - 6)]
        else:
            lines = [line for text in texts for line in wrapped(f"{mark}: {text}", ASIDE_RIGHT - ASIDE_LEFT - 6)]
        sheet.lines((ASIDE_LEFT + (6 if numbered else 0), y), lines, SMALL)
        y += len(lines) * SMALL * 1.3 + 1.6
    return y


def _draw(sheet: Sheet, ladders: Sequence[Ladder]) -> None:
    rungs = sum(len(ladder.rungs) for ladder in ladders)
    pitch = min(MOST_PITCH, max(LEAST_PITCH, (BOTTOM - TOP - TITLE * len(ladders)) / rungs))
    y = TOP
    for ladder in ladders:
        sheet.text((LEFT - 8, y + 3.2), ladder.title, LETTER, bold=True)
        y += TITLE
        _ladder(sheet, ladder, y, pitch)
        y += pitch * len(ladder.rungs)


def _ladder(sheet: Sheet, ladder: Ladder, top: float, pitch: float) -> None:
    places: dict[Rail, float] = {"left": LEFT, "middle": LEFT + MIDDLE_SHARE * (RIGHT - LEFT), "right": RIGHT}
    heights = [top + pitch * (index + 0.45) for index in range(len(ladder.rungs))]
    ends = {side: [y for rung, y in zip(ladder.rungs, heights, strict=True) if side in (rung.start, rung.end)]
            for side in places}  # fmt: skip
    rails: tuple[tuple[Rail, str, str], ...] = (("left", ladder.left, "end"), ("right", ladder.right, "start"))
    for side, name, anchor in rails:
        if not ends[side]:
            continue
        x, first, last = places[side], min(ends[side]) - 3.2, max(ends[side])
        sheet.line((x, first), (x, last), width=0.7)
        sheet.text((x + (-1.4 if anchor == "end" else 1.4), first + 1.6), name, SMALL, anchor, bold=True)
        if ladder.grounded == side:
            _ground(sheet, (x, last))
    if ladder.middle:
        x = places["middle"]
        sheet.line((x, min(ends["middle"])), (x, max(ends["middle"])), width=0.7)
        sheet.text((x + 1.2, min(ends["middle"]) - 1.2), ladder.middle, SMALL)
    for rung, y in zip(ladder.rungs, heights, strict=True):
        start = LEFT + FREE_END if rung.start == "open" else places[rung.start]
        end = RIGHT - FREE_END if rung.end == "open" else places[rung.end]
        _rung(sheet, rung, (start, end), y)


def _rung(sheet: Sheet, rung: Rung, span: tuple[float, float], y: float) -> None:
    start, end = span
    step = (end - start) / len(rung.steps)
    centres = [start + step * (index + 0.5) for index in range(len(rung.steps))]
    edges = [start]
    for one, x in zip(rung.steps, centres, strict=True):
        edges += [x - REACH[one.symbol], x + REACH[one.symbol]]
    edges.append(end)
    # No wire leads on from an end that is on the connector alone.
    edges = edges[2 if rung.start == "open" else 0 : -2 if rung.end == "open" else None]
    for left, right in list(pairwise(edges))[::2]:
        if right - left > 0.01:
            sheet.line((left, y), (right, y), width=WIRE_WIDTH)
    for one, x in zip(rung.steps, centres, strict=True):
        SYMBOLS[one.symbol](sheet, one, (x, y))
    if rung.note and rung.end == "open":
        sheet.text((centres[-1] + NOTE_OFF, y + 0.8), rung.note, SMALL)
    elif rung.note and rung.start == "open":
        sheet.text((centres[0] - NOTE_OFF, y + 0.8), rung.note, SMALL, "end")
    elif rung.note:
        sheet.text((start + 4, y + 4.7), rung.note, SMALL)


def _label(sheet: Sheet, one: RungPart, at: Point, lift: float = LIFT) -> None:
    sheet.text((at[0], at[1] - lift), one.label, SMALL, "middle")


def _contact(sheet: Sheet, one: RungPart, at: Point) -> None:
    x, y = at
    for side in (-1.2, 1.2):
        sheet.line((x + side, y - 2.4), (x + side, y + 2.4))
    _label(sheet, one, at, 3.2)


def _break_contact(sheet: Sheet, one: RungPart, at: Point) -> None:
    _contact(sheet, one, at)
    sheet.line((at[0] - 2.2, at[1] + 2.4), (at[0] + 2.2, at[1] - 2.4))


def _resistor(sheet: Sheet, one: RungPart, at: Point) -> None:
    sheet.box(at[0] - 3.2, at[1] - 1.2, at[0] + 3.2, at[1] + 1.2)
    _label(sheet, one, at, 3.2)


def _circle(sheet: Sheet, at: Point, radius: float, text: str = "") -> None:
    sheet.canvas.append(draw.Circle(*at, radius, fill="white", stroke=INK, stroke_width=0.4))
    if text:
        sheet.text((at[0], at[1] + 0.9), text, LETTER, "middle", bold=True)


def _coil(sheet: Sheet, one: RungPart, at: Point) -> None:
    _circle(sheet, at, REACH[Symbol.COIL])
    _label(sheet, one, at)


def _motor(sheet: Sheet, one: RungPart, at: Point) -> None:
    _circle(sheet, at, REACH[Symbol.MOTOR], "M")
    _label(sheet, one, at)


def _valve(sheet: Sheet, one: RungPart, at: Point) -> None:
    x, y = at
    sheet.box(x - 3.2, y - 2.0, x + 3.2, y + 2.0)
    sheet.line((x - 3.2, y + 2.0), (x + 3.2, y - 2.0))
    _label(sheet, one, at)


def _electronics(sheet: Sheet, one: RungPart, at: Point) -> None:
    _boxed(sheet, one, at, "white", DASHED)
    _label(sheet, RungPart(one.symbol, "control board"), at, 3.2)


def _ours(sheet: Sheet, one: RungPart, at: Point) -> None:
    _boxed(sheet, RungPart(one.symbol, f"add-on: {one.label}"), at, TINT)


def _winding(sheet: Sheet, one: RungPart, at: Point) -> None:
    x, y = at
    for index in range(4):
        centre = x - 4.5 + 3 * index
        sheet.canvas.append(draw.Arc(centre, y, 1.5, 0, 180, fill="none", stroke=INK, stroke_width=0.4))
    sheet.line((x - 6, y - 3.0), (x + 6, y - 3.0), width=0.6)
    _label(sheet, one, at)


def _boxed(sheet: Sheet, one: RungPart, at: Point, fill: str, dash: str = "") -> None:
    x, y = at
    reach = REACH[one.symbol]
    sheet.box(x - reach, y - 2.6, x + reach, y + 2.6, fill, dash)
    sheet.text((x, y + 0.8), one.label, SMALL, "middle")


def _fuse(sheet: Sheet, one: RungPart, at: Point) -> None:
    x, y = at
    sheet.box(x - 3.6, y - 1.3, x + 3.6, y + 1.3)
    sheet.line((x - 3.6, y), (x + 3.6, y), width=WIRE_WIDTH)
    _label(sheet, one, at, 3.4)


def _terminal(sheet: Sheet, one: RungPart, at: Point) -> None:
    ref, _, name = one.label.partition(".")
    sheet.terminal(ref, name, at, 0.7)
    _label(sheet, one, at, 3.4)


def _cut(sheet: Sheet, one: RungPart, at: Point) -> None:
    x, y = at
    for shift in (-0.7, 0.7):
        sheet.line((x + shift - 0.9, y + 2.2), (x + shift + 0.9, y - 2.2), width=0.6, colour=HOT)
    _number(sheet, (x, y - 5.2), one.label)


def _number(sheet: Sheet, at: Point, number: str) -> None:
    sheet.canvas.append(draw.Circle(*at, 1.9, fill="white", stroke=HOT, stroke_width=0.4))
    sheet.text((at[0], at[1] + 0.8), number, SMALL, "middle", bold=True)


def _ground(sheet: Sheet, at: Point) -> None:
    x, y = at
    sheet.line((x, y), (x, y + 2.4), width=0.7)
    sheet.line((x - 2.4, y + 2.4), (x + 2.4, y + 2.4))
    for shift in (-2.4, 0, 2.4):
        sheet.line((x + shift, y + 2.4), (x + shift - 1, y + 3.8))


def _gap(sheet: Sheet, one: RungPart, at: Point) -> None:
    _label(sheet, RungPart(one.symbol, one.symbol.value), at, 0.8)


SYMBOLS: dict[Symbol, Callable[[Sheet, RungPart, Point], None]] = {
    Symbol.CONTACT: _contact,
    Symbol.BREAK_CONTACT: _break_contact,
    Symbol.RESISTOR: _resistor,
    Symbol.COIL: _coil,
    Symbol.VALVE: _valve,
    Symbol.MOTOR: _motor,
    Symbol.ELECTRONICS: _electronics,
    Symbol.CUT: _cut,
    Symbol.TERMINAL: _terminal,
    Symbol.OURS: _ours,
    Symbol.WINDING: _winding,
    Symbol.FUSE: _fuse,
    Symbol.GAP: _gap,
}
