"""Rules on spots without a hole: whether a setting fuses the back sheet, and whether it burns through.

They compute the likely spot on a coarse grid and speak of what is far off; `wirecue advise` computes with what is not
known, and on a fine one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from timing.process.arc_spot import SpotCurve

from timing.checks.finding import Figure, Finding, Remedy, error, info, time_figure, warning
from timing.checks.remedies import stand_at
from timing.formatting import ms
from timing.once import once
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.spot import spot_advice, spot_sheet_mm
from timing.project import Project

SMALL_SHARE = 0.5
"""A spot that fuses less than this of the wanted diameter is too cold to be called unsure (choice)."""
ROUND_US = 50_000
"""Spot times that remedies write are round (choice)."""


def fuses_the_back_sheet(project: Project) -> Iterator[Finding]:
    """The spot time must be long enough for the arc to melt through the top sheet and fuse the back one."""
    found = _curve(project)
    spot = project.design.spot
    if found is None or spot is None:
        return
    curve, beyond_s, wanted_mm = found
    seen_mm = curve.seen_mm
    at_setting, at_end = (_fused_mm(curve, time / 1e6 + beyond_s) for time in (spot.time.setting_us, spot.time.high_us))
    if at_setting >= SMALL_SHARE * wanted_mm:
        return
    rule, key = "spot-fuses-the-back-sheet", "spot.time"
    figures = (
        time_figure("spot time", spot.time.setting_us),
        Figure("fused at the joint", at_setting, "mm"),
        Figure("wanted", wanted_mm, "mm"),
    )
    reaches = f"fuses {at_setting:.1f} mm of the {wanted_mm:g} mm wanted"
    does = reaches if at_setting >= seen_mm else "does not fuse the back sheet"
    reason = "a spot that only lies on the back sheet looks like a weld and holds nothing"
    if at_end < seen_mm:
        longest = f"the longest spot that can be set, {ms(spot.time.high_us)}," if spot.time.dial else "this spot"
        yield error(
            rule,
            key,
            f"{longest} does not fuse the back sheet ({curve.work.back_mm:g} mm) through {curve.work.top_mm:g} mm",
            reason,
            _right_time(project),
            "more wire feed speed and voltage, or plugs through a punched hole (leave process.spot_diameter out)",
            figures=figures,
        )
        return
    yield warning(
        rule, key, f"a spot of {ms(spot.time.setting_us)} {does}", reason, _right_time(project), figures=figures
    )


def does_not_burn_through(project: Project) -> Iterator[Finding]:
    """The spot time must end before the puddle is wide enough on the far side to drop out."""
    found = _curve(project)
    spot = project.design.spot
    if found is None or spot is None:
        return
    curve, beyond_s, _ = found
    through_us = (curve.burns_through_s.middle - beyond_s) * 1e6
    if through_us > spot.time.high_us:
        return
    rule, key = "spot-burns-through", "spot.time"
    figures = (
        time_figure("spot time", spot.time.setting_us),
        time_figure("burns through from", through_us),
        Figure("molten on the far side then", curve.work.hangs_mm, "mm"),
    )
    sheets = f"{curve.work.top_mm:g} mm on {curve.work.back_mm:g} mm"
    reason = "a puddle that wide on the far side is not sure to hang: it drops out and leaves a hole"
    if through_us < spot.time.low_us:
        yield error(
            rule,
            key,
            f"the shortest spot, {ms(spot.time.low_us)}, burns through {sheets}: likely from {ms(through_us)} on",
            reason,
            _right_time(project),
            "less wire feed speed and voltage",
            figures=figures,
        )
    elif through_us < spot.time.setting_us:
        yield warning(
            rule,
            key,
            f"a spot of {ms(spot.time.setting_us)} burns through {sheets}: likely from {ms(through_us)} on",
            reason,
            _right_time(project),
            figures=figures,
        )
    else:
        yield info(
            rule,
            key,
            f"the long end of the spot dial, {ms(spot.time.high_us)}, burns through {sheets}: likely from "
            f"{ms(through_us)} on",
            reason,
            figures=figures,
        )


@once
def _curve(project: Project) -> tuple[SpotCurve, float, float] | None:
    """The likely curve over the design's spot dial, how much longer the arc burns, and the wanted diameter.

    None where the design has no spots without a hole, or no arc.
    """
    design = project.design
    wanted_mm = design.process.spot_diameter_mm
    if design.spot is None or wanted_mm is None:
        return None
    # Of all designs those with such spots alone shall wait for the heat conduction.
    from timing.process.fused_spot import quick_fused_spot

    try:
        case, sheet_mm = burnback_case(design), spot_sheet_mm(design)
        curve, beyond_s = quick_fused_spot(design, case, sheet_mm, design.spot.time.high_us / 1e6)
    except ProcessError:
        # Of a design without an arc `arc-can-burn` tells.
        return None
    return curve, beyond_s, wanted_mm


def _fused_mm(curve: SpotCurve, burning_s: float) -> float:
    return curve.at(max(burning_s, 0.0))[0]


def _right_time(project: Project) -> Remedy | str:
    """The spot time that fuses what is wanted; words alone where no time does."""
    design = project.design
    if design.spot is None:
        return "a spot time"
    try:
        setting_us = spot_advice(design).setting_s * 1e6
    except ProcessError as impossible:
        return impossible.remedy
    round_us = max(math.floor(setting_us / ROUND_US + 0.5), 1) * ROUND_US
    return Remedy(
        f"a spot time of {ms(round_us)}; `wirecue advise` shows the whole curve",
        stand_at("spot.time", design.spot.time, round_us),
    )
