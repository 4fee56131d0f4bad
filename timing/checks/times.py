"""Rules on times and limits as such, and on work that repeats; `process` holds them against wire and arc."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, error, info, warning
from timing.design.design import Design
from timing.design.suppression import off_delay_of
from timing.design.times import LONGEST_BURNBACK_US
from timing.formatting import ms
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.spot import duty_allowed_of
from timing.project import Project
from timing.sequence.of_design import arc_end_us

LONG_BURNBACK_US = 500_000
"""Burnback dials of wire feeders end well below this (practice)."""
# Common practice, no source: what spot dials of wire feeders usually cover.
USUAL_SPOT_US = (250_000, 2_500_000)
"""What spot dials of wire feeders cover (practice)."""


def spot_dial_range(project: Project) -> Iterator[Finding]:
    """Compare the spot time's range with the usual one; thick plugs need longer, thin sheet shorter."""
    spot = project.design.spot
    if spot is None:
        return
    low_us, high_us = USUAL_SPOT_US
    if spot.time.low_us < low_us or spot.time.high_us > high_us:
        yield info(
            "spot-dial-range",
            "spot.time",
            f"the spot time covers {ms(spot.time.low_us)} to {ms(spot.time.high_us)}",
            f"spot dials usually cover {ms(low_us)} to {ms(high_us)} (common practice, no source); thick plugs need "
            "longer, thin sheet shorter",
        )


def burnback_is_short(project: Project) -> Iterator[Finding]:
    """Warn of a burnback that is far longer than any wire needs: the contactor is on meanwhile, come what may."""
    longest_us = project.design.times.burnback.high_us
    if longest_us >= LONG_BURNBACK_US:
        yield warning(
            "burnback-is-short",
            "times.burnback",
            f"the contactor stays on for up to {ms(longest_us)} after the wire has stopped",
            f"no pull of the trigger shortens a burnback once it has begun, and {ms(LONGEST_BURNBACK_US)} is the most "
            "that is allowed; some tenths of a second burn any wire back (common practice, no source)",
            f"end the dial below {ms(LONG_BURNBACK_US)}; a wire that needs more coasts too long: brake its motor",
        )


def pause_parts_the_stitches(project: Project) -> Iterator[Finding]:
    """In a stitch pause the contactor must have time to drop out, and an arc sensor to see that it did."""
    design, stitch = project.design, project.design.stitch
    latest_us = off_delay_of(design, design.feeder.contactor).max_us
    if stitch is None:
        return
    seen_us = arc_end_us(design)
    if seen_us is not None and stitch.pause.low_us <= seen_us:
        yield error(
            "pause-parts-the-stitches",
            "stitch.pause",
            f"the shortest pause is {ms(stitch.pause.low_us)}; contactor and arc sensor take up to {ms(seen_us)} to "
            "show that the arc is out",
            "an arc counts as established only if the sensor was seen open since the contactor was last off: the next "
            "stitch would end at the arc-start limit, with a fault",
            f"a pause from {ms(2 * seen_us)} on",
        )
    if stitch.pause.low_us > latest_us or seen_us is not None:
        return
    yield warning(
        "pause-parts-the-stitches",
        "stitch.pause",
        f"the shortest pause is {ms(stitch.pause.low_us)}, the contactor takes up to {ms(latest_us)} to drop out",
        "the arc may not go out between stitches: it is one long weld then",
        f"a pause from {ms(2 * latest_us)} on",
    )


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


# Common practice, no source: what small contactors are usually good for.
OPERATIONS_PER_H = 1200
"""What small contactors are good for (practice)."""
ELECTRICAL_LIFE_OPERATIONS = 100_000
"""Operations under load that a small contactor lasts (practice)."""
# Own judgement: less stitching than this in an hour is no use.
SHORTEST_MIN_PER_H = 5
"""Minutes of stitching an hour that the rule counts with (choice)."""
# IEC 60974-1 gives the duty cycle of a welding power source over a period of ten minutes .
DUTY_PERIOD_US = 600_000_000
"""Period over which a power source's duty cycle is stated, 10 min (published: IEC 60974-1)."""


def relay_operations(project: Project) -> Iterator[Finding]:
    """Tell how often a stitch switches the contactor in an hour, and how long it lives at that."""
    design = project.design
    if design.spot is None or design.stitch is None:
        return
    for label, spot_us, pause_us in (
        ("at its settings", design.spot.time.setting_us, design.stitch.pause.setting_us),
        ("at its fastest", design.spot.time.low_us, design.stitch.pause.low_us),
    ):
        burnback = design.times.burnback
        burnback_us = burnback.low_us if label == "at its fastest" else burnback.setting_us
        per_h = 3.6e9 / (spot_us + burnback_us + pause_us)
        says = f"a stitch that never ends switches contactor and wire drive {per_h:.0f} times an hour {label}"
        minutes = min(60.0, 60 * OPERATIONS_PER_H / per_h)
        reason = (
            f"small contactors are good for about {OPERATIONS_PER_H} operations an hour, which leaves {minutes:.0f} "
            f"min of stitching in each, and for {ELECTRICAL_LIFE_OPERATIONS} in their life, "
            f"{ELECTRICAL_LIFE_OPERATIONS / per_h:.0f} h of it (common practice, no source)"
        )
        if minutes < SHORTEST_MIN_PER_H:
            remedy = "a longer pause, or a contactor rated for frequent switching"
            yield warning("relay-operations", "stitch.pause", says, reason, remedy)
        else:
            yield info("relay-operations", "stitch.pause", says, reason)


def duty_cycle(project: Project) -> Iterator[Finding]:
    """Compare arc-on time over ten minutes with the power source's duty cycle."""
    design = project.design
    allowed_percent, current = _allowed(design)
    shares = []
    if design.spot is not None and design.stitch is not None:
        arc_us = design.spot.time.setting_us + design.times.burnback.setting_us
        shares.append(("stitching", "stitch.pause", 100 * arc_us / (arc_us + design.stitch.pause.setting_us)))
    if design.limits.weld_us is not None:
        longest_us = min(design.limits.weld_us, DUTY_PERIOD_US)
        shares.append(("one weld up to its limit", "limits.weld", 100 * longest_us / DUTY_PERIOD_US))
    for work, key, share_percent in shares:
        says = f"{work} keeps the arc on for {share_percent:.0f} % of {ms(DUTY_PERIOD_US)}"
        if allowed_percent is not None and share_percent > allowed_percent:
            yield warning(
                "duty-cycle",
                key,
                says,
                f"by its plate the power source may weld {allowed_percent:.0f} % of the time {current} (10 min period, "
                "IEC 60974-1)",
                "rests between runs, a longer pause, a lower limit or a lower current",
            )
        elif allowed_percent is None:
            yield info(
                "duty-cycle",
                key,
                says,
                "compare with the duty cycle on the power source's rating plate (10 min period, IEC 60974-1)",
                'process.duty_cycle = "60 %" with its duty_cycle_current has it checked',
            )


def _allowed(design: Design) -> tuple[float | None, str]:
    """Duty cycle in percent at the design's current, and that current in words; None where it is not given."""
    plate_percent, plate_a = design.process.duty_cycle_percent, design.process.duty_cycle_current_a
    try:
        case = burnback_case(design)
        share = duty_allowed_of(design, case)
        current_a = float(case.operating_point().current_a)
    except ProcessError:
        return plate_percent, f"at {plate_a:g} A" if plate_a else ""
    return None if share is None else 100 * share, f"at the {current_a:.0f} A of this wire feed speed"
