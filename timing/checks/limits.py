"""Rules on the limits: what ends a weld that nobody ends."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, error, info, warning
from timing.formatting import ms
from timing.project import Project


def weld_limit(project: Project) -> Iterator[Finding]:
    """Four-step needs a weld limit; two-step is better with one; no limit may cut a spot short."""
    design = project.design
    limit_us = design.limits.weld_us
    if limit_us is None:
        if design.trigger.mode != "two-step":
            yield error(
                "weld-limit",
                "limits.weld",
                "four-step without a weld limit",
                "nobody holds the trigger: only the limit ends a weld that is forgotten or whose trigger wire breaks",
                'weld = "4 min" or what your longest run takes',
            )
        else:
            yield warning(
                "weld-limit",
                "limits.weld",
                "no weld limit",
                "with a stuck trigger or a shorted trigger cable it keeps welding",
                'weld = "5 min" or what your longest run takes',
            )
        return
    spot = design.spot
    if spot is not None and limit_us <= spot.time.high_us:
        yield error(
            "weld-limit",
            "limits.weld",
            f"the weld limit, {ms(limit_us)}, cuts into the longest spot, {ms(spot.time.high_us)}",
            "a limit is for what went wrong, not for the weld itself",
            "a limit well over the longest spot",
        )


def four_step_rests(project: Project) -> Iterator[Finding]:
    """With spot welding on, a four-step setting rests."""
    design = project.design
    if design.spot is None or design.trigger.mode == "two-step":
        return
    always = "" if design.spot.time.off_switch else " always, since the spot time has no off switch"
    yield (info if not always else warning)(
        "four-step-rests",
        "trigger.mode",
        f"while spot welding is on, the trigger works in two-step{always}",
        "spot and stitch are two-step work",
        "off_switch = true on the spot time" if always else "",
    )


def arc_start_limit(project: Project) -> Iterator[Finding]:
    """The arc-start limit must leave contactor and wire time to start the arc."""
    design = project.design
    limit_us = design.limits.arc_start_us
    if limit_us is None or design.arc_sensor is None:
        return
    needed_us = (
        max(design.feeder.contactor.on_delay.max_us, design.feeder.wire_drive.on_delay.max_us)
        + design.arc_sensor.filter_us
    )
    if limit_us < 3 * needed_us:
        yield warning(
            "arc-start-limit",
            "limits.arc_start",
            f"the arc must be established {ms(limit_us)} after contactor-on; contactor, drive and sensor alone take up "
            f"to {ms(needed_us)}",
            "an ordinary start would be cut off: the wire has still to reach the work",
            'arc_start = "1 s" to "3 s"',
        )
