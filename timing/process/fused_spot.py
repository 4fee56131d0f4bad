"""Spots without a hole in a design: the time that fuses the wanted diameter, where it burns through, what to look for.

The diameter that counts is the one at the joint; what can be measured is the one on the face. The sheet steel code's
formula leads from the second to the first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from timing.design.design import Design
from timing.design.units import as_typed
from timing.formatting import in_ms
from timing.process.arc_spot import (
    SEEN_MM,
    SpotCurve,
    SpotHeat,
    SpotWork,
    quick_spot_curve,
    spot_curve,
    spot_heat,
    spot_work,
)
from timing.process.burnback_curve import Band
from timing.process.case import BurnbackCase, burnback_setting_s
from timing.process.cooling import METALS
from timing.process.errors import ProcessError
from timing.process.spot import SpotTiming, spot_timing

CODE_SHEET_MM = (0.711, 3.81)
"""Top sheets that arc spots are made in by the code, 0.028 in (thinner needs a weld washer) to 0.15 in (published:
AISI S100, arc spot welds, seen quoted; D1.3 itself covers sheet steel to 3/16 in, scope seen)."""
CODE_LEAST_MM = 9.53
"""Smallest effective diameter of a structural arc spot, 3/8 in (published: AISI S100, arc spot welds, seen quoted)."""
LONGEST_SPOT_S = 3.0
"""Curves of a spot go at least to the end of its dial, and to this at most beyond need (choice)."""


def effective_diameter_mm(visible_mm: float, sheet_mm: float) -> float:
    """Diameter at the joint of an arc spot that is `visible_mm` wide on its face, through sheet of `sheet_mm`.

    0.7 d - 1.5 t, at most 0.55 d (AISI S100-16, equation J2.2.2.1-5, and AWS D1.3; seen quoted): a fit to measured
    sections of arc spots (Pekoz and McGuire 1980). Nothing where that is below zero.
    """
    return max(min(0.7 * visible_mm - 1.5 * sheet_mm, 0.55 * visible_mm), 0.0)


def arc_beyond_s(timing: SpotTiming, burnback_s: float) -> float:
    """How much longer the arc burns than the spot time says: burnback and drop-out come on, the start goes off."""
    late_s = -timing.start_s if timing.arc_seen_s is None else timing.arc_seen_s
    return burnback_s + timing.contactor_off.typical_s + late_s


@dataclass(frozen=True)
class FusedSpot:
    """What a spot without a hole needs, and what is known of it."""

    curve: SpotCurve
    wanted_mm: float
    beyond_s: float
    """How much longer the arc burns than the spot time says."""
    burning_s: Band
    """Burning time that fuses the wanted diameter; the high end inf where no time is sure to."""
    through_s: Band
    """Burning time from which it may burn through; inf where it does not within the curve."""

    @property
    def face_mm(self) -> float:
        """Molten diameter on the face once the wanted diameter is fused: what to look for."""
        return self.curve.at(self.burning_s.middle)[2]

    @property
    def far_mm(self) -> float:
        """Molten diameter on the far side of the back sheet then."""
        return self.curve.at(self.burning_s.middle)[1]

    @property
    def last_s(self) -> float:
        """Burning time that is of use at most: sure to be wide enough, not yet burning through, and computed at all."""
        return max(min(self.burning_s.high, self.through_s.low, LONGEST_SPOT_S), self.burning_s.middle)


def fused_spot(
    design: Design, case: BurnbackCase, sheet_mm: float, burnback_s: float | None = None, *, whole_dial: bool = True
) -> FusedSpot:
    """Return what a design's spot without a hole needs in a top sheet of `sheet_mm`, with the case's arc.

    `whole_dial` makes the curve reach the end of the spot dial. Raises ProcessError where the wanted diameter cannot
    be fused, or only by burning through.
    """
    process = design.process
    wanted_mm = process.spot_diameter_mm
    if wanted_mm is None:
        raise ProcessError(
            "spots of this design are plugs", "spot_diameter for spots without a hole", "give the diameter to be fused"
        )
    beyond_s = arc_beyond_s(spot_timing(design), burnback_setting_s(design) if burnback_s is None else burnback_s)
    end_us = design.spot.time.high_us if design.spot is not None and whole_dial else 0
    heat, work = spot_heat(case), spot_work(design, sheet_mm)
    curve = spot_curve(heat, work, wanted_mm, min(end_us / 1e6 + beyond_s, LONGEST_SPOT_S))
    spot = FusedSpot(curve, wanted_mm, beyond_s, curve.fuses_s(wanted_mm), curve.burns_through_s)
    if math.isinf(spot.burning_s.middle):
        raise too_cold(heat, work, wanted_mm, float(curve.fused_mm[0].max()))
    if spot.burning_s.middle > spot.through_s.middle:
        raise ProcessError(
            f"a spot of {as_typed(wanted_mm, 'mm')} through {_sheets(work)} burns through first: at "
            f"{seconds(spot.through_s.middle)} of arc it is {spot.curve.at(spot.through_s.middle)[0]:.1f} mm",
            f"at most that diameter, or a stack thicker than {work.stack_mm:.1f} mm",
            "want a smaller spot, or turn the wire feed speed up for a quicker one",
        )
    return spot


def too_cold(heat: SpotHeat, work: SpotWork, wanted_mm: float, most_mm: float) -> ProcessError:
    """Return the error of a spot that no time makes wide enough."""
    reached = "does not fuse the back sheet" if most_mm < SEEN_MM else f"fuses {most_mm:.1f} mm and no more"
    return ProcessError(
        f"the arc leaves {heat.sheet_w(work.metal):.0f} W for {_sheets(work)} and {reached}: "
        f"{as_typed(wanted_mm, 'mm')} is wanted",
        "an arc that melts through the top sheet faster than the sheets carry its heat away",
        "turn wire feed speed and voltage up, or punch a hole and weld plugs (leave spot_diameter out)",
    )


def quick_fused_spot(design: Design, case: BurnbackCase, sheet_mm: float, longest_s: float) -> tuple[SpotCurve, float]:
    """Return the likely curve on a coarse grid, to the longest spot time, and how much longer the arc burns than it.

    Raises ProcessError.
    """
    beyond_s = arc_beyond_s(spot_timing(design), burnback_setting_s(design))
    wanted_mm = design.process.spot_diameter_mm or SEEN_MM
    until_s = min(max(longest_s + beyond_s, 0.1), LONGEST_SPOT_S)
    return quick_spot_curve(spot_heat(case), spot_work(design, sheet_mm), wanted_mm, until_s), beyond_s


def seconds(time_s: float) -> str:
    """Return a burning time as it is told: '0.48 s'."""
    return f"{time_s:.2f} s"


def _sheets(work: SpotWork) -> str:
    return f"{as_typed(work.top_mm, 'mm')} sheet on {as_typed(work.back_mm, 'mm')}"


def fused_reasons(spot: FusedSpot) -> Iterator[str]:
    """Yield why a spot without a hole takes as long as it does, what it is to look like, and what is not sure."""
    work, burning, through = spot.curve.work, spot.burning_s, spot.through_s
    wanted = as_typed(spot.wanted_mm, "mm")
    takes = f"Fusing {_sheets(work)} over {wanted} at their joint takes {seconds(burning.middle)} of arc"
    if math.isinf(burning.high):
        yield f"{takes}, {seconds(burning.low)} with more heat than thought; with less no time is sure to."
    else:
        yield f"{takes}; nine times in ten between {seconds(burning.low)} and {seconds(burning.high)}."
    yield (
        f"Burnback and drop-out put {in_ms(spot.beyond_s)} of arc on to the spot time."
        if spot.beyond_s > 0
        else f"The start takes {in_ms(-spot.beyond_s)} of arc off the spot time."
    )
    seen = f"Look for a spot {spot.face_mm:.0f} mm wide on the face"
    if spot.far_mm >= SEEN_MM:
        seen += f", and a bulge of {spot.far_mm:.0f} mm on the far side"
    yield f"{seen}; peel the first one apart and measure what tears out."
    if math.isfinite(through.middle):
        yield (
            f"It may burn through from {seconds(through.middle)} of arc on ({seconds(through.low)} with more heat than "
            f"thought): the puddle is then {work.hangs_mm:.1f} mm wide on the far side."
        )
    else:
        yield "The back sheet is thick enough not to burn through within this dial."
    if causes := spot.curve.causes(spot.wanted_mm):
        measure = "" if spot.curve.heat.was_read else " Measure volts and amperes while welding: the band narrows."
        yield f"What widens the band most: {causes[0][0]}.{measure}"
    yield code_sentence(spot)


def code_sentence(spot: FusedSpot) -> str:
    """Say what the codes for sheet steel make of a spot, and where they do not hold."""
    sheet_mm, (thinnest_mm, thickest_mm) = spot.curve.work.top_mm, CODE_SHEET_MM
    effective_mm = effective_diameter_mm(spot.face_mm, sheet_mm)
    if spot.curve.work.metal != METALS["mild-steel"]:
        return "AWS D1.3 and AISI S100 have arc spots in plain steel sheet only, so they do not cover these."
    if not thinnest_mm <= sheet_mm <= thickest_mm:
        return (
            f"AWS D1.3 and AISI S100 do not cover arc spots through {as_typed(sheet_mm, 'mm')} sheet as they stand: "
            f"{thinnest_mm:.2f} mm to {thickest_mm:.2f} mm they do, thinner with a weld washer."
        )
    counted = f"By AWS D1.3 and AISI S100 a spot {spot.face_mm:.0f} mm wide on the face counts as {effective_mm:.1f} mm"
    if effective_mm < CODE_LEAST_MM:
        return f"{counted}; a structural arc spot needs {CODE_LEAST_MM:.1f} mm (3/8 in), so this is none."
    return f"{counted}, enough for a structural arc spot ({CODE_LEAST_MM:.1f} mm, 3/8 in)."
