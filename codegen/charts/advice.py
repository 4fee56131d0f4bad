"""The advice on all times as a picture: each on its own scale; below them the wire end, and what a spot fuses."""

from __future__ import annotations

import textwrap

import drawsvg as draw

from codegen.charts import burnback as burnback_svg
from codegen.charts import spot as spot_chart
from codegen.charts.chart import Axis, canvas, write
from codegen.style import COMMANDED, FRAME, HOT, INK, TINT, hatch, svg_text, text_width
from timing.design.design import Design
from timing.design.times import TIME_TITLES, TimeSetting
from timing.design.units import format_duration
from timing.process.advice import Advice
from timing.process.ranging import TimeAdvice

WIDTH = burnback_svg.WIDTH
LEFT, RIGHT = 268, 40
TOP, ROW, BAR = 112, 104, 18
REASON_LETTERS = 138
ROOM = 1.12
"""A scale ends this much beyond the dial and what it shows besides."""
FARTHEST = 2.5
"""A range that does is shown whole up to so many times the dial; a longer one ends in an arrow."""
IN_DESIGN = "in the design"


def advice_svg(design: Design, advice: Advice) -> str:
    """Return the picture as an SVG document."""
    rows_end = TOP + ROW * len(advice.times)
    spot = None if advice.spot is None else advice.spot.main.fused
    height = rows_end + 24 + burnback_svg.HEIGHT + (0 if spot is None else 16 + spot_chart.SPOT_HEIGHT)
    picture = canvas(WIDTH, height)
    does = hatch("does", COMMANDED, TINT)
    picture.append_def(does)
    write(picture, f"{design.title or design.name}: where to start", 18, 28, 16, weight="bold")
    write(picture, advice.closing, 18, 49, 12)
    _legend(picture, does)
    for number, time in enumerate(advice.times):
        _row(picture, TOP + ROW * number, time, design.setting(time.name), does)
    picture.append(draw.Line(18, rows_end, WIDTH - 18, rows_end, stroke=FRAME, stroke_width=1))
    own = burnback_svg.in_the_design(design)
    below = draw.Group(transform=f"translate(0 {rows_end + 16})")
    below.append(burnback_svg.burnback_group("Burnback in depth", advice.burnback.curve, own))
    picture.append(below)
    if spot is not None:
        lowest = draw.Group(transform=f"translate(0 {rows_end + 32 + burnback_svg.HEIGHT})")
        lowest.append(spot_chart.spot_group("The spot in depth", spot, spot_chart.spot_setting(design)))
        picture.append(lowest)
    return svg_text(picture)


def _legend(picture: draw.Drawing, does: draw.Pattern) -> None:
    x, y = 18.0, 72
    picture.append(draw.Rectangle(x, y, 28, 12, fill="white", stroke=INK, stroke_width=1, rx=3))
    x = _legend_word(picture, x + 35, "dial that serves all the work")
    picture.append(draw.Rectangle(x, y, 28, 12, fill=does, stroke=COMMANDED, stroke_width=0.8))
    x = _legend_word(picture, x + 35, "range that does")
    picture.append(_pointer(x + 8, y + 11, COMMANDED))
    x = _legend_word(picture, x + 23, "start here")
    picture.append(_diamond(x + 7, y + 6))
    _legend_word(picture, x + 21, IN_DESIGN)


def _legend_word(picture: draw.Drawing, x: float, word: str) -> float:
    write(picture, word, x, 82, 12)
    return x + text_width(word, 12) + 20


def _pointer(x: float, y: float, colour: str) -> draw.Lines:
    return draw.Lines(x, y, x - 7, y - 12, x + 7, y - 12, close=True, fill=colour)


def _diamond(x: float, y: float) -> draw.Lines:
    return draw.Lines(x, y - 7, x + 6, y, x, y + 7, x - 6, y, close=True, fill="white", stroke=HOT, stroke_width=2.2)


def _row(picture: draw.Drawing, top: float, time: TimeAdvice, own: TimeSetting | None, does: draw.Pattern) -> None:
    shown_us = max(time.dial_to_us, time.setting_us, own.setting_us if own else 0)
    whole = time.high_us <= FARTHEST * shown_us
    last_us = round(ROOM * max(shown_us, time.high_us if whole else 0))
    axis = Axis(0, last_us, LEFT, WIDTH - RIGHT)
    x = axis.at
    write(picture, TIME_TITLES[time.name], 18, top + 34, 14, weight="bold")
    write(picture, format_duration(time.setting_us), LEFT - 26, top + 35, 20, anchor="end", weight="bold")
    bar = top + 20
    wide = x(time.dial_to_us) - x(time.dial_from_us)
    dial = draw.Rectangle(x(time.dial_from_us), bar, wide, BAR, fill="white", stroke=INK, stroke_width=1, rx=4)
    dial.append_title(f"dial {format_duration(time.dial_from_us)} to {format_duration(time.dial_to_us)}")
    picture.append(dial)
    wide = max(x(min(time.high_us, last_us)) - x(time.low_us), 2)
    band = draw.Rectangle(x(time.low_us), bar + 4, wide, BAR - 8, fill=does, stroke=COMMANDED, stroke_width=0.8)
    band.append_title(f"{format_duration(time.low_us)} to {format_duration(time.high_us)} does")
    picture.append(band)
    if not whole:
        tip, middle = x(last_us) + 12, bar + BAR / 2
        picture.append(draw.Lines(tip, middle, tip - 11, middle - 7, tip - 11, middle + 7, close=True, fill=COMMANDED))
    at = x(time.setting_us)
    picture.append(draw.Line(at, bar - 2, at, bar + BAR, stroke=COMMANDED, stroke_width=2.6))
    picture.append(_pointer(at, bar - 1, COMMANDED))
    if own is not None:
        picture.append(_diamond(x(own.setting_us), bar + BAR / 2))
    _ticks(picture, bar + BAR + 3, axis)
    for number, line in enumerate(textwrap.wrap(time.reasons[0], REASON_LETTERS)[:2]):
        write(picture, line, 18, bar + BAR + 37 + 15 * number, 11.5)


def _ticks(picture: draw.Drawing, y: float, axis: Axis) -> None:
    unit_us, unit = (1e6, "s") if axis.high >= 1_000_000 else (1e3, "ms")
    picture.append(draw.Line(axis.left, y, axis.right, y, stroke=FRAME, stroke_width=1))
    for at_us in axis.ticks(8)[0]:
        x = axis.at(at_us)
        picture.append(draw.Line(x, y, x, y + 4, stroke=INK, stroke_width=1))
        write(picture, f"{at_us / unit_us:g}" + (f" {unit}" if at_us == 0 else ""), x, y + 16, 11, anchor="middle")
