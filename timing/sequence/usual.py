"""The script one looks at first: an ordinary weld with this design."""

from __future__ import annotations

from dataclasses import replace

from timing.design.design import Design
from timing.sequence.of_design import settings_of
from timing.sequence.script import Change, Script
from timing.sequence.table import Condition

PRESS_US = 100_000
HELD_US = 1_500_000
TAP_US = 300_000
ARC_STARTS_US = 80_000


def usual_script(design: Design, *, settled: bool = True) -> Script:
    """Return press and release of an ordinary weld: held in two-step, tapped twice in four-step.

    settled: as `simulate` takes it; from power-up the press waits until hold-off is over.
    With an arc sensor the arc strikes a little after each contactor-on; with stitching two spots fit in the pull.
    """
    script, settings = _from_idle(design), settings_of(design)
    if settled:
        return script
    hold_off_us = settings.settle_us + settings.open_us
    return Script(tuple(replace(change, at_us=change.at_us + hold_off_us) for change in script.changes))


def _from_idle(design: Design) -> Script:
    preflow_us = design.times.preflow.setting_us
    filter_us = design.trigger.filter_us
    weld_us = PRESS_US + filter_us + preflow_us
    if settings_of(design).fixed.get(Condition.FOUR_STEP) is True or design.trigger.mode == "four-step":
        second_us = weld_us + HELD_US
        return Script(
            (
                Change(PRESS_US, "trigger", 1),
                Change(PRESS_US + TAP_US, "trigger", 0),
                Change(second_us, "trigger", 1),
                Change(second_us + TAP_US, "trigger", 0),
            )
        )
    if design.spot is None:
        release_us = weld_us + HELD_US
        return _with_arc(design, [(weld_us, release_us)], release_us)
    spot_us = design.spot.time.setting_us + (ARC_STARTS_US if design.arc_sensor else 0)
    after_spot_us = weld_us + spot_us + design.times.burnback.setting_us
    if design.stitch is None:
        return _with_arc(design, [(weld_us, weld_us + spot_us)], after_spot_us + HELD_US // 3)
    second_us = after_spot_us + design.stitch.pause.setting_us
    release_us = second_us + spot_us + design.times.burnback.setting_us // 2
    return _with_arc(design, [(weld_us, weld_us + spot_us), (second_us, second_us + spot_us)], release_us)


def _with_arc(design: Design, welds_us: list[tuple[int, int]], release_us: int) -> Script:
    changes = [Change(PRESS_US, "trigger", 1), Change(release_us, "trigger", 0)]
    if design.arc_sensor is not None:
        filter_us = design.arc_sensor.filter_us
        burnback_us = design.times.burnback.setting_us
        for begin_us, end_us in welds_us:
            changes.append(Change(begin_us + ARC_STARTS_US - filter_us, "arc", 1))
            changes.append(Change(end_us + burnback_us, "arc", 0))
    return Script(tuple(sorted(changes, key=lambda change: change.at_us)))
