"""The bypass plug: a second plug whose links put the feeder back as it was found."""

from __future__ import annotations

from codegen.drawings.sheet import DASHED, LETTER, SMALL, Sheet, wrapped
from codegen.look import TINT
from timing.circuit.lists import BYPASS_REFS
from timing.circuit.parts import BypassLink, Mate

FIRST, PITCH = 40.0, 7.2
LEFT, RIGHT, LINKS, STEP = 20.0, 60.0, 66.0, 7.0
NOTES = 140.0
UNSURE = "A broken line with ? is no link: trace first how that coil was switched as found, and link it so."
HOW = (
    "Pull the mains plug of machine and power source, wait until the capacitors are empty; measure.",
    "Solder these links into a plug like that of the add-on's cable, and nothing else. Mark it BYPASS.",
    "Compare every link with your survey and photographs before you plug it in.",
    "Unplug the add-on, plug this in: the feeder works as it was found. Try this before the add-on.",
    "Never both at once: the socket takes one of them.",
)


def draw_bypass(sheet: Sheet) -> None:
    """Draw the sheet."""
    rows: dict[str, float] = {}
    y = FIRST
    for plug, mate in zip(BYPASS_REFS, sheet.wiring.mates, strict=False):
        y = _plug(sheet, plug, mate, y, rows)
    for index, link in enumerate(sheet.wiring.bypass):
        _link(sheet, link, rows, LINKS + 8 + index * STEP, index + 1)
    _notes(sheet, sheet.wiring.bypass)


def _plug(sheet: Sheet, plug: str, mate: Mate, top: float, rows: dict[str, float]) -> float:
    """Draw one plug and note the height of its ways in `rows`; returns where the next one begins."""
    socket = mate.fixed
    ways = sheet.wiring.part(socket).terminals
    rows |= {name: top + index * PITCH for index, name in enumerate(ways)}
    sheet.box(LEFT, top - 5, RIGHT, rows[ways[-1]] + 5, fill=TINT)
    sheet.text((LEFT, top - 7), f"plug {plug}, fits socket {socket}", SMALL)
    sheet.caution(socket, (LEFT + 48, top - 8))
    linked = {name for link in sheet.wiring.bypass for name in (link.from_way, link.to_way)}
    for number, name in enumerate(ways, start=1):
        sheet.text((LEFT + 3, rows[name] + 0.9), str(number), SMALL)
        sheet.text((RIGHT - 3, rows[name] + 0.9), name, SMALL, "end")
        if name not in linked:
            sheet.text((RIGHT + 2.4, rows[name] + 0.9), "open", SMALL)
    return rows[ways[-1]] + 2.6 * PITCH


def _link(sheet: Sheet, link: BypassLink, rows: dict[str, float], x: float, number: int) -> None:
    top, bottom = sorted((rows[link.from_way], rows[link.to_way]))
    sheet.line((RIGHT, top), (x, top), (x, bottom), (RIGHT, bottom), width=0.5, dash="" if link.sure else DASHED)
    for y in (top, bottom) if link.sure else ():
        sheet.dot((RIGHT, y))
    # Half a row below the upper way: no other link crosses there.
    sheet.text((x + 1.2, top + PITCH / 2 + 0.9), f"{number}{'' if link.sure else '?'}", SMALL, bold=True)


def _notes(sheet: Sheet, links: tuple[BypassLink, ...]) -> None:
    y = FIRST
    sheet.text((NOTES, y - 7), "Links", LETTER, bold=True)
    for number, link in enumerate(links, start=1):
        sheet.text((NOTES, y), f"{number}  {link.from_way} to {link.to_way}", SMALL, bold=True)
        for line in wrapped(link.note, 130):
            y += 3.4
            sheet.text((NOTES + 5, y), line, SMALL)
        y += 5.2
    y += 4
    sheet.text((NOTES, y), "How to use it", LETTER, bold=True)
    steps = HOW if all(link.sure for link in links) else (*HOW[:1], UNSURE, *HOW[1:])
    for number, step in enumerate(steps, start=1):
        y += 5.0
        sheet.text((NOTES, y), str(number), SMALL, bold=True)
        lines = wrapped(step, 130)
        sheet.lines((NOTES + 5, y), lines, SMALL)
        y += 3.0 * (len(lines) - 1)
