"""The burnback picture: what each setting leaves of the wire, drawn as wire that hangs from a contact tip.

Down the picture is the way from contact tip to work in mm, to the right the burnback setting in ms. Zones that end
badly are hatched, each its own way; the good one is white. The balls are drawn to the scale of lengths.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import drawsvg as draw
import numpy as np

from codegen.charts.chart import Axis, canvas, line_through, write, write_on_white
from codegen.style import (
    COMMANDED,
    FRAME,
    HOT,
    INK,
    WARM,
    cross_hatch,
    dots,
    hatch,
    svg_text,
    text_width,
)
from timing.design.design import Design
from timing.design.units import as_typed, speed_text
from timing.elementwise import Floats
from timing.formatting import in_ms, percent_text
from timing.process.ball import ball_length_mm
from timing.process.braking import brake_first
from timing.process.burnback import FROZEN, FUSED, GOOD, OUTCOMES, SHORT
from timing.process.burnback_curve import BurnbackCurve
from timing.process.case import burnback_setting_s
from timing.process.measured_band import ExtensionBand, measured_band

WIDTH, HEIGHT = 1000, 739
LEFT, RIGHT = 104, 204
TIP_TOP, TOP, BOTTOM = 104, 128, 448
CHANCE_TOP, CHANCE_HEIGHT = 566, 78
WIRES = 12
"""Wire ends drawn across the picture."""
MOSTLY_FROZEN = 0.5
"""Where more welds than this share freeze, no ball is drawn."""
BELOW_WORK_MM = 1.2
"""Wire that would coast on into the work is drawn this far into it."""
COPPER, STEEL = "#c98a5a", "#8a979d"


SAME_S = 0.0005
"""Settings closer than this are marked as one."""


@dataclass(frozen=True)
class Asked:
    """A setting to mark beside the advice, and what to call it."""

    setting_s: float
    words: str
    band: ExtensionBand | None = None
    """What test welds found of the extension left; it is drawn over that of the model."""


def in_the_design(design: Design) -> Asked:
    """Return the design's own setting, to be marked, with what its test welds found."""
    return Asked(burnback_setting_s(design), "in the design", measured_band(design))


@dataclass(frozen=True)
class _Frame:
    """Where settings and wire ends lie in the picture."""

    last_s: float
    distance_mm: float

    @property
    def settings(self) -> Axis:
        """Burnback settings in seconds, to the right."""
        return Axis(0.0, self.last_s, LEFT, WIDTH - RIGHT)

    @property
    def lengths(self) -> Axis:
        """The way from contact tip to work in mm, downwards."""
        return Axis(0.0, self.distance_mm, TOP, BOTTOM)

    def x(self, setting_s: float) -> float:
        return self.settings.at(setting_s)

    def y(self, extension_mm: float) -> float:
        return self.lengths.at(extension_mm)

    def y_drawn(self, extension_mm: float) -> float:
        """The same, but no deeper in the work than can be seen."""
        return self.y(min(max(extension_mm, 0.0), self.distance_mm + BELOW_WORK_MM))


def burnback_svg(title: str, curve: BurnbackCurve, asked: Asked | None = None) -> str:
    """Return the picture as an SVG document; `asked` is marked beside the advice."""
    picture = canvas(WIDTH, HEIGHT)
    picture.append(burnback_group(title, curve, asked))
    return svg_text(picture)


def burnback_group(title: str, curve: BurnbackCurve, asked: Asked | None) -> draw.Group:
    """Return the burnback picture, WIDTH by HEIGHT, as a part of a larger one."""
    picture = draw.Group()
    case = curve.case
    frame = _Frame(float(curve.settings_s[-1]), case.distance_mm)
    zones = _zone_fills()
    _text(picture, title, 18, 28, 16, weight="bold")
    _text(
        picture,
        f"Left after burnback: {as_typed(case.wire.diameter_mm, 'mm')} wire at {speed_text(case.feed_mm_s)}, "
        f"{curve.current_a:.0f} A, contact tip {as_typed(case.distance_mm, 'mm')} from the work",
        18,
        50,
        12,
    )
    _zones(picture, frame, curve, zones)
    _grid(picture, frame)
    _band(picture, frame, curve)
    if asked is not None and asked.band is not None:
        _measured(picture, frame, asked.band)
    _wires(picture, frame, curve)
    _tip_and_work(picture, frame)
    _balls(picture, frame, curve)
    _band_words(picture, frame, curve)
    _marks(picture, frame, curve, asked)
    _key(picture, curve)
    _window(picture, frame, curve)
    _chances(picture, frame, curve, zones)
    _foot(picture, curve)
    return picture


def _zone_fills() -> dict[int, draw.Pattern | str]:
    return {
        FROZEN: hatch("frozen", COMMANDED, "#dbe7ec", 45, 8, 2.4),
        GOOD: "#ffffff",
        SHORT: dots("short", HOT, "#fbeedb", 8, 1.4),
        FUSED: cross_hatch("fused", HOT, "#f6d9c8", 7, 1.6),
    }


_text = partial(write, anchor="start", weight="normal")


def _zones(picture: draw.Group, frame: _Frame, curve: BurnbackCurve, fills: dict[int, draw.Pattern | str]) -> None:
    end, right = curve.case.end, WIDTH - RIGHT
    borders = {
        FUSED: (0.0, end.fused_mm),
        SHORT: (end.fused_mm, end.short_mm),
        GOOD: (end.short_mm, frame.distance_mm - end.sticking_gap_mm),
        FROZEN: (frame.distance_mm - end.sticking_gap_mm, frame.distance_mm),
    }
    for code, (from_mm, to_mm) in borders.items():
        top, bottom = frame.y(from_mm), frame.y(to_mm)
        zone = draw.Rectangle(LEFT, top, right - LEFT, bottom - top, fill=fills[code], stroke=FRAME, stroke_width=0.6)
        what = "the ball's far side" if code == FROZEN else "the end of the solid wire"
        zone.append_title(f"{OUTCOMES[code]}: {what} at {from_mm:.1f} mm to {to_mm:.1f} mm")
        picture.append(zone)
        _text(picture, OUTCOMES[code], right + 14, (top + bottom) / 2 + 4, 12, weight="bold")


def _grid(picture: draw.Group, frame: _Frame) -> None:
    for at_mm in frame.lengths.ticks(7)[0]:
        y = frame.y(at_mm)
        picture.append(draw.Line(LEFT - 5, y, LEFT, y, stroke=INK, stroke_width=1))
        _text(picture, f"{at_mm:g} mm", LEFT - 9, y + 4, 12, anchor="end")
    _text(picture, "from the", 14, TOP - 26, 11)
    _text(picture, "contact tip", 14, TOP - 13, 11)


def _outline(
    frame: _Frame, settings_s: Floats, upper_mm: Floats, lower_mm: Floats, fill: str = WARM, opacity: float = 0.34
) -> draw.Path:
    there = [(frame.x(setting), frame.y_drawn(end)) for setting, end in zip(settings_s, upper_mm, strict=True)]
    back = [(frame.x(setting), frame.y_drawn(end)) for setting, end in zip(settings_s, lower_mm, strict=True)]
    return line_through([*there, *reversed(back)], fill=fill, fill_opacity=opacity, stroke="none").Z()


def _line(frame: _Frame, settings_s: Floats, ends_mm: Floats, **style: object) -> draw.Path:
    points = ((frame.x(setting), frame.y_drawn(end)) for setting, end in zip(settings_s, ends_mm, strict=True))
    return line_through(points, fill="none", **style)


def _band(picture: draw.Group, frame: _Frame, curve: BurnbackCurve) -> None:
    band = _outline(frame, curve.settings_s, curve.low_mm, curve.high_mm)
    band.append_title("the solid wire ends in this band in nine welds of ten")
    picture.append(band)
    for edge in (curve.low_mm, curve.high_mm):
        picture.append(_line(frame, curve.settings_s, edge, stroke=HOT, stroke_width=1, stroke_dasharray="5 3"))


def _band_words(picture: draw.Group, frame: _Frame, curve: BurnbackCurve) -> None:
    between = (float(curve.low_mm[-1]) + float(curve.middle_mm[-1])) / 2
    words = "the solid wire ends in this band in nine welds of ten; balls in mm"
    write_on_white(picture, words, WIDTH - RIGHT - 14, frame.y_drawn(between) + 4, "end")


def _rows_drawn(curve: BurnbackCurve) -> list[int]:
    rows = np.linspace(0, curve.settings_s.size - 1, WIRES).round().astype(int)
    return sorted(set(rows.tolist()))


def _measured(picture: draw.Group, frame: _Frame, band: ExtensionBand) -> None:
    """Draw what test welds found, to the end of the solid wire as everything here."""
    inside = band.settings_s <= frame.last_s + SAME_S
    settings_s, low_mm, high_mm = (row[inside] for row in (band.settings_s, band.low_mm, band.high_mm))
    area = _outline(frame, settings_s, low_mm - band.ball_mm, high_mm - band.ball_mm, COMMANDED, 0.22)
    area.append_title("nine welds of ten end in this band on this machine, by its test welds")
    picture.append(area)
    for edge in (low_mm, high_mm):
        picture.append(_line(frame, settings_s, edge - band.ball_mm, stroke=COMMANDED, stroke_width=1.6))
    right, label_mm = frame.x(float(settings_s[-1])), float(low_mm[-1]) - band.ball_mm
    inside_it = right > (LEFT + WIDTH - RIGHT) / 2
    at = right - 8 if inside_it else right + 8
    words = "on this machine, by its test welds"
    write_on_white(picture, words, at, frame.y_drawn(label_mm) + 18, "end" if inside_it else "start")


def _wires(picture: draw.Group, frame: _Frame, curve: BurnbackCurve) -> None:
    """Draw wire that hangs from the tip as far as each setting likely leaves it."""
    for row in _rows_drawn(curve):
        x, y = frame.x(float(curve.settings_s[row])), frame.y_drawn(float(curve.middle_mm[row]))
        picture.append(draw.Line(x, TOP, x, y, stroke=INK, stroke_width=2.6))
    picture.append(_line(frame, curve.settings_s, curve.middle_mm, stroke=INK, stroke_width=1.4))


def _balls(picture: draw.Group, frame: _Frame, curve: BurnbackCurve) -> None:
    """Draw the ball on each wire's end, to scale, with its diameter; none where the puddle keeps most of them."""
    per_mm = frame.y(1.0) - frame.y(0.0)
    for row in _rows_drawn(curve):
        x, y = frame.x(float(curve.settings_s[row])), frame.y_drawn(float(curve.middle_mm[row]))
        if curve.chances[row, FROZEN] > MOSTLY_FROZEN:
            picture.append(draw.Circle(x, y - 2, 4.4, fill=INK))
            continue
        ball_mm = float(curve.ball_mm[row])
        if x + ball_mm / 2 * per_mm > WIDTH - RIGHT:
            continue
        below_mm = float(ball_length_mm(ball_mm, curve.case.wire.diameter_mm)) - ball_mm / 2
        center = y + below_mm * per_mm
        ball = draw.Circle(x, center, ball_mm / 2 * per_mm, fill=STEEL, fill_opacity=0.85, stroke=INK, stroke_width=1.2)
        ball.append_title(f"ball of {ball_mm:.1f} mm at {in_ms(float(curve.settings_s[row]))}")
        picture.append(ball)
        if ball_mm * per_mm > text_width("0.0", 11) + 4:
            _text(picture, f"{ball_mm:.1f}", x, center + 4, 11, anchor="middle", weight="bold")


def _tip_and_work(picture: draw.Group, frame: _Frame) -> None:
    right = WIDTH - RIGHT
    tip = draw.Rectangle(LEFT, TIP_TOP, right - LEFT, TOP - TIP_TOP, fill=COPPER, stroke=INK, stroke_width=0.8)
    picture.append(tip)
    _text(picture, "contact tip", right - 8, TOP - 8, 12, anchor="end", weight="bold")
    bottom = frame.y(frame.distance_mm)
    below = frame.y(frame.distance_mm + BELOW_WORK_MM) + 4
    work = draw.Rectangle(LEFT, bottom, right - LEFT, below - bottom, fill=STEEL, fill_opacity=0.55, stroke=INK)
    picture.append(work)
    _text(picture, "work", right - 8, bottom + (below - bottom) / 2 + 5, 12, anchor="end", weight="bold")


def _below(frame: _Frame) -> float:
    return frame.y(frame.distance_mm + BELOW_WORK_MM) + 4


def _marks(picture: draw.Group, frame: _Frame, curve: BurnbackCurve, asked: Asked | None) -> None:
    """Mark the advice above the picture with a full line, the setting asked about with a broken one.

    Each label lies on the side of its line that is away from the other line.
    """
    best_s = curve.best.setting_s
    if brake_first(curve) is not None:
        _text(picture, "no burnback serves: brake the drive first", LEFT, 88, 12, weight="bold")
        if asked is not None:
            _mark(picture, frame, asked.setting_s, f"{asked.words}: {in_ms(asked.setting_s)}", "6 4", 72, "start")
        return
    label = f"start with {in_ms(best_s)}"
    if asked is None or abs(asked.setting_s - best_s) < SAME_S:
        same = "" if asked is None else f", as {asked.words}"
        _mark(picture, frame, best_s, f"{label}{same}", "", 88, "start" if best_s < frame.last_s / 2 else "end")
        return
    before = best_s < asked.setting_s
    _mark(picture, frame, best_s, label, "", 88, "end" if before else "start")
    _mark(
        picture,
        frame,
        asked.setting_s,
        f"{asked.words}: {in_ms(asked.setting_s)}",
        "6 4",
        72,
        "start" if before else "end",
    )


def _mark(picture: draw.Group, frame: _Frame, at_s: float, label: str, dashes: str, y: float, anchor: str) -> None:
    x, wide = frame.x(min(at_s, frame.last_s)), text_width(label, 12) * 1.1
    dashed = {"stroke_dasharray": dashes} if dashes else {}
    picture.append(draw.Line(x, y - 10, x, _below(frame), stroke=COMMANDED, stroke_width=2.4, **dashed))
    left = x + 6 if anchor == "start" else x - 6 - wide
    left = min(max(left, 6), WIDTH - RIGHT - wide)
    _text(picture, label, left + wide if anchor == "end" else left, y, 12, anchor=anchor, weight="bold", fill=COMMANDED)


def _window(picture: draw.Group, frame: _Frame, curve: BurnbackCurve) -> None:
    """Draw the axis of settings, and on it the ones that likely end good."""
    y = _below(frame) + 8
    window = curve.sure_window
    if window is not None:
        left, right = frame.x(window.low_s), frame.x(window.high_s)
        picture.append(draw.Rectangle(left, y, max(right - left, 2), 12, fill=COMMANDED))
        words = f"likely good: {in_ms(window.low_s)} {'on' if window.open_above else 'to ' + in_ms(window.high_s)}"
        wide = text_width(words, 11)
        if right - left > wide + 8:
            _text(picture, words, (left + right) / 2, y + 10, 11, anchor="middle", weight="bold", fill="white")
        else:
            _text(picture, words, right + 6, y + 10, 11)
    else:
        _text(picture, "no setting is sure to nine in ten", LEFT, y + 10, 11)
    _settings_axis(picture, frame, y + 16)


def _settings_axis(picture: draw.Group, frame: _Frame, y: float) -> None:
    picture.append(draw.Line(LEFT, y, WIDTH - RIGHT, y, stroke=INK, stroke_width=1))
    for setting_s in frame.settings.ticks(12)[0]:
        x = frame.x(setting_s)
        picture.append(draw.Line(x, y, x, y + 5, stroke=INK, stroke_width=1))
        _text(picture, f"{setting_s * 1000:g}", x, y + 18, 12, anchor="middle")
    _text(picture, "burnback, ms", LEFT - 9, y + 18, 12, anchor="end")


def _chances(picture: draw.Group, frame: _Frame, curve: BurnbackCurve, fills: dict[int, draw.Pattern | str]) -> None:
    """Draw how many welds of a hundred end how, one over the other, for each setting."""
    order = (FROZEN, GOOD, SHORT, FUSED)
    lower = np.zeros(curve.settings_s.size)
    for code in order:
        upper = lower + curve.chances[:, code]
        area = draw.Path(fill=fills[code], stroke=FRAME, stroke_width=0.6)
        for number, (setting, share) in enumerate(zip(curve.settings_s, lower, strict=True)):
            (area.M if number == 0 else area.L)(frame.x(setting), _chance_y(share))
        for setting, share in zip(curve.settings_s[::-1], upper[::-1], strict=True):
            area.L(frame.x(setting), _chance_y(share))
        area.Z()
        area.append_title(f"share of welds that end {OUTCOMES[code]}")
        picture.append(area)
        lower = upper
    box = (LEFT, CHANCE_TOP, WIDTH - RIGHT - LEFT, CHANCE_HEIGHT)
    picture.append(draw.Rectangle(*box, fill="none", stroke=INK, stroke_width=1))
    for of_hundred in (0, 50, 100):
        y = _chance_y(of_hundred / 100)
        picture.append(draw.Line(LEFT - 5, y, LEFT, y, stroke=INK, stroke_width=1))
        _text(picture, f"{of_hundred}", LEFT - 9, y + 4, 12, anchor="end")
    _text(picture, "of 100 welds", LEFT, CHANCE_TOP - 7, 12, weight="bold")
    x = WIDTH - RIGHT + 14
    for number, code in enumerate(reversed(order)):
        y = CHANCE_TOP + 20 * number
        picture.append(draw.Rectangle(x, y, 24, 14, fill=fills[code], stroke=INK, stroke_width=0.8))
        _text(picture, OUTCOMES[code], x + 31, y + 11, 12)
    _settings_axis(picture, frame, CHANCE_TOP + CHANCE_HEIGHT + 1)
    if brake_first(curve) is not None:
        return
    best = frame.x(curve.best.setting_s)
    ends = (CHANCE_TOP, CHANCE_TOP + CHANCE_HEIGHT)
    picture.append(draw.Line(best, ends[0], best, ends[1], stroke=COMMANDED, stroke_width=2.4))


def _chance_y(share: float) -> float:
    return round(CHANCE_TOP + CHANCE_HEIGHT * (1 - min(max(float(share), 0.0), 1.0)), 2)


def _key(picture: draw.Group, curve: BurnbackCurve) -> None:
    """Draw gun, wire, ball and work at the advice, small and lying, with the words for the lengths."""
    left, right, y = WIDTH - 182, WIDTH - 24, 50
    case, best = curve.case, curve.best
    per_mm = (right - left - 34) / case.distance_mm
    tip_mm = left + 34
    end, far = (tip_mm + mm * per_mm for mm in (best.extension_mm.middle, best.to_ball_end_mm.middle))
    radius = best.ball_mm.middle / 2 * per_mm
    picture.append(draw.Rectangle(left, y - 9, 34, 18, fill=COPPER, stroke=INK, stroke_width=0.8))
    picture.append(draw.Line(tip_mm, y, end, y, stroke=INK, stroke_width=2.6))
    picture.append(draw.Circle(far - radius, y, radius, fill=STEEL, stroke=INK, stroke_width=1))
    picture.append(draw.Rectangle(right, y - 20, 10, 40, fill=STEEL, stroke=INK, stroke_width=0.8))
    for to, at, words in (
        (right, y - 27, f"{as_typed(case.distance_mm, 'mm')} to the work"),
        (end, y + 18, f"{best.extension_mm.middle:.0f} mm of solid wire"),
        (far, y + 40, f"{best.to_ball_end_mm.middle:.1f} mm to the ball's end"),
    ):
        picture.append(draw.Line(tip_mm, at, to, at, stroke=INK, stroke_width=0.8))
        for x in (tip_mm, to):
            picture.append(draw.Line(x, at - 4, x, at + 4, stroke=INK, stroke_width=0.8))
        _text(picture, words, tip_mm if at < y + 40 else left, at - 6 if at < y else at + 15, 11)


def _foot(picture: draw.Group, curve: BurnbackCurve) -> None:
    """Put what to expect at the advice into words."""
    best, y = curve.best, CHANCE_TOP + CHANCE_HEIGHT + 46
    leaves, weld = best.extension_mm, best.extension_weld_to_weld_mm
    words = (
        f"At {in_ms(best.setting_s)}: {leaves.middle:.0f} mm of solid wire, {leaves.low:.0f} mm to "
        f"{leaves.high:.0f} mm in nine welds of ten ({weld.low:.0f} mm to {weld.high:.0f} mm once the "
        f"machine is measured); {percent_text(best.chance_good)} end good."
    )
    ball = (
        f"The ball on it: {best.ball_mm.middle:.1f} mm ({best.ball_mm.low:.1f} mm to {best.ball_mm.high:.1f} mm); a "
        f"rule reads {best.to_ball_end_mm.middle:.1f} mm, to its end. {percent_text(best.share_to_clip)} of welds "
        "want it clipped before the next start."
    )
    _text(picture, words, LEFT, y, 12)
    _text(picture, ball, LEFT, y + 17, 12)
    _text(picture, "Starting point: prove it on scrap.", LEFT, y + 34, 12, weight="bold")
