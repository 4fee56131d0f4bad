"""The spot curve as a picture: how wide two sheets are fused over the spot time, with what is not sure of it.

Behind the curve lie the times in which the back sheet is not yet fused, those that make a spot, and those from which it
may burn through. The axis is the time that the dial sets; how much longer the arc burns is in it.
"""

from __future__ import annotations

import math

import drawsvg as draw
import numpy as np

from codegen.charts.burnback import WIDTH, Asked
from codegen.charts.chart import Axis, canvas, line_through, write, write_on_white
from codegen.style import COMMANDED, FRAME, HOT, INK, WARM, cross_hatch, hatch, svg_text, text_width
from timing.design.design import Design
from timing.design.units import as_typed
from timing.elementwise import Floats
from timing.formatting import in_ms
from timing.process.fused_spot import FusedSpot, code_sentence

SPOT_HEIGHT = 560
"""Height of the picture (choice)."""
SIDE, ASIDE = 104, 60
GROUND, FOOT = 96, 440
ROOM_ABOVE = 1.15


def spot_setting(design: Design) -> Asked | None:
    """Return the design's own spot time, to be marked; None where it has none."""
    return None if design.spot is None else Asked(design.spot.time.setting_us / 1e6, "in the design")


def spot_svg(title: str, spot: FusedSpot, asked: Asked | None = None) -> str:
    """Return the picture as an SVG document; `asked` is marked beside the advice."""
    picture = canvas(WIDTH, SPOT_HEIGHT)
    picture.append(spot_group(title, spot, asked))
    return svg_text(picture)


def spot_group(title: str, spot: FusedSpot, asked: Asked | None) -> draw.Group:
    """Return the spot picture, WIDTH by SPOT_HEIGHT, as a part of a larger one."""
    picture = draw.Group()
    times_s = spot.curve.times_s - spot.beyond_s
    best_s = spot.burning_s.middle - spot.beyond_s
    last_s = max(float(times_s[-1]), best_s, 0.0 if asked is None else 1.05 * asked.setting_s)
    across = Axis(0.0, last_s, SIDE, WIDTH - ASIDE)
    low_mm, high_mm = spot.curve.band_mm()
    up = Axis(0.0, ROOM_ABOVE * max(float(high_mm.max()), spot.wanted_mm), FOOT, GROUND)
    work = spot.curve.work
    write(picture, title, 18, 28, 16, weight="bold")
    write(
        picture,
        f"Spot without a hole: {as_typed(work.top_mm, 'mm')} sheet on {as_typed(work.back_mm, 'mm')}, "
        f"{spot.curve.heat.sheet_w(work.metal):.0f} W of the arc left for the sheets",
        18,
        50,
    )
    _regions(picture, spot, across)
    _axes(picture, across, up)
    _curves(picture, spot, across, up, (low_mm, high_mm))
    _marks(picture, across, best_s, asked)
    _foot(picture, spot, best_s)
    return picture


def _regions(picture: draw.Group, spot: FusedSpot, across: Axis) -> None:
    """Fill the times that are too short, that serve, and from which it may burn through, each with its name."""
    cold_s = max(spot.curve.fuses_s().middle - spot.beyond_s, 0.0)
    through_s = spot.through_s.middle - spot.beyond_s
    regions = (
        (0.0, cold_s, hatch("too-cold", COMMANDED, "#dbe7ec", 45, 8, 2.4), "back sheet not fused"),
        (cold_s, through_s, "#ffffff", "fused"),
        (through_s, math.inf, cross_hatch("through", HOT, "#f6d9c8", 7, 1.6), "may burn through"),
    )
    for from_s, to_s, fill, words in regions:
        left, right = across.at(min(from_s, across.high)), across.at(min(to_s, across.high))
        if right - left < 1:
            continue
        area = draw.Rectangle(left, GROUND, right - left, FOOT - GROUND, fill=fill, stroke=FRAME, stroke_width=0.6)
        area.append_title(words)
        picture.append(area)
        if right - left > text_width(words, 12) + 10:
            write_on_white(picture, words, (left + right) / 2, FOOT - 12)


def _axes(picture: draw.Group, across: Axis, up: Axis) -> None:
    picture.append(draw.Line(SIDE, GROUND, SIDE, FOOT, stroke=INK, stroke_width=1))
    for at_mm in up.ticks(7)[0]:
        y = up.at(at_mm)
        picture.append(draw.Line(SIDE - 5, y, SIDE, y, stroke=INK, stroke_width=1))
        write(picture, f"{at_mm:g} mm", SIDE - 9, y + 4, anchor="end")
    write(picture, "fused at", 14, GROUND - 14, 11)
    write(picture, "the joint", 14, GROUND - 1, 11)
    picture.append(draw.Line(SIDE, FOOT, WIDTH - ASIDE, FOOT, stroke=INK, stroke_width=1))
    for at_s in across.ticks(12)[0]:
        x = across.at(at_s)
        picture.append(draw.Line(x, FOOT, x, FOOT + 5, stroke=INK, stroke_width=1))
        write(picture, f"{at_s:.3g}", x, FOOT + 18, anchor="middle")
    write(picture, "spot time, s", SIDE - 9, FOOT + 18, anchor="end")


def _path(across: Axis, up: Axis, times_s: Floats, sizes_mm: Floats, **style: object) -> draw.Path:
    return line_through(_places(across, up, times_s, sizes_mm), fill="none", **style)


def _places(across: Axis, up: Axis, times_s: Floats, sizes_mm: Floats) -> list[tuple[float, float]]:
    """What lies in the picture of a curve: the arc may burn before the dial's zero."""
    shown = times_s >= 0
    return [
        (across.at(float(at_s)), up.at(float(size_mm)))
        for at_s, size_mm in zip(times_s[shown], sizes_mm[shown], strict=True)
    ]


def _curves(picture: draw.Group, spot: FusedSpot, across: Axis, up: Axis, band_mm: tuple[Floats, Floats]) -> None:
    times_s = spot.curve.times_s - spot.beyond_s
    low, high = (_places(across, up, times_s, edge_mm) for edge_mm in band_mm)
    outline = line_through([*high, *reversed(low)], fill=WARM, fill_opacity=0.34, stroke="none")
    outline.Z().append_title("nine spots of ten lie in this band")
    picture.append(outline)
    for edge in band_mm:
        picture.append(_path(across, up, times_s, edge, stroke=HOT, stroke_width=1, stroke_dasharray="5 3"))
    far_mm = spot.curve.far_mm[0]
    picture.append(_path(across, up, times_s, far_mm, stroke=FRAME, stroke_width=1.6, stroke_dasharray="2 3"))
    picture.append(_path(across, up, times_s, spot.curve.fused_mm[0], stroke=INK, stroke_width=2.4))
    wanted = up.at(spot.wanted_mm)
    picture.append(draw.Line(SIDE, wanted, WIDTH - ASIDE, wanted, stroke=COMMANDED, stroke_width=1))
    write_on_white(picture, f"wanted {as_typed(spot.wanted_mm, 'mm')}", SIDE + 8, wanted - 6, "start", COMMANDED)
    end_s = float(times_s[-1])
    named = [(float(spot.curve.fused_mm[0, -1]), "fused, likely"), (float(far_mm[-1]), "molten on the far side")]
    # The two may lie close together: the upper one is named above its line, the lower one below.
    for at_mm, words in named:
        lift = -8 if at_mm == max(size for size, _ in named) else 26
        write_on_white(picture, words, min(across.at(end_s), WIDTH - ASIDE) - 8, up.at(at_mm) + lift, "end")
    row = int(np.searchsorted(times_s, 0.45 * across.high))
    write_on_white(
        picture, "nine of ten", across.at(0.45 * across.high), up.at(float(band_mm[1][min(row, times_s.size - 1)])) - 8
    )


def _marks(picture: draw.Group, across: Axis, best_s: float, asked: Asked | None) -> None:
    """Mark the advice with a full line, the setting asked about with a broken one; labels away from each other."""
    label = f"start with {in_ms(best_s)}"
    same = asked is not None and abs(asked.setting_s - best_s) < 0.025
    if asked is None or same:
        _mark(picture, across, best_s, label + (f", as {asked.words}" if asked is not None else ""), "", "start")
        return
    before, other = best_s < asked.setting_s, f"{asked.words}: {in_ms(asked.setting_s)}"
    _mark(picture, across, best_s, label, "", "end" if before else "start")
    _mark(picture, across, asked.setting_s, other, "6 4", "start" if before else "end")


def _mark(picture: draw.Group, across: Axis, at_s: float, label: str, dashes: str, anchor: str) -> None:
    x, wide = across.at(min(at_s, across.high)), text_width(label, 12) * 1.1
    dashed = {"stroke_dasharray": dashes} if dashes else {}
    picture.append(draw.Line(x, GROUND - 14, x, FOOT, stroke=COMMANDED, stroke_width=2.4, **dashed))
    left = min(max(x + 6 if anchor == "start" else x - 6 - wide, 76), WIDTH - wide - 6)
    write(picture, label, left, GROUND - 8, weight="bold", fill=COMMANDED)


def _foot(picture: draw.Group, spot: FusedSpot, best_s: float) -> None:
    """Put what to look for into words."""
    words = (
        f"At {in_ms(best_s)} (the arc burns {spot.burning_s.middle:.2f} s): {spot.face_mm:.0f} mm wide on the face, "
        f"{as_typed(spot.wanted_mm, 'mm')} at the joint, {spot.far_mm:.0f} mm on the far side."
    )
    write(picture, words, SIDE, FOOT + 52)
    write(picture, code_sentence(spot), SIDE, FOOT + 69, 11)
    write(picture, "Starting point: prove it on scrap, and peel the first one apart.", SIDE, FOOT + 90, weight="bold")
