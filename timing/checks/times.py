"""Rules on times and limits as such, and on work that repeats; `process` holds them against wire and arc."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, error, info, time_figure, warning
from timing.checks.remedies import set_duration, start_time_at, whole_ms
from timing.design.design import Design
from timing.design.suppression import off_delay_of, on_delay_of
from timing.design.times import LONGEST_BURNBACK_US, LONGEST_US, TimeSetting
from timing.formatting import ms
from timing.process.case import burnback_case
from timing.process.coast import LONG_BURNBACK_S
from timing.process.errors import ProcessError
from timing.process.ranging import ENOUGH_BURNBACK_US
from timing.process.spot import duty_allowed_of
from timing.project import Project
from timing.sequence.of_design import arc_end_us

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
            figures=(
                time_figure("shortest spot", spot.time.low_us),
                time_figure("longest spot", spot.time.high_us),
                time_figure("shortest of usual dials", low_us),
                time_figure("longest of usual dials", high_us),
            ),
        )


def burnback_is_short(project: Project) -> Iterator[Finding]:
    """Warn of a burnback that is far longer than any wire needs: the contactor is on meanwhile, come what may."""
    burnback = project.design.times.burnback
    longest_us = burnback.high_us
    long_us = round(LONG_BURNBACK_S * 1e6)
    if longest_us >= long_us:
        shorter = burnback.dial and max(burnback.low_us, burnback.setting_us) <= ENOUGH_BURNBACK_US
        changes = (set_duration("times.burnback.to", ENOUGH_BURNBACK_US),) if shorter else ()
        yield warning(
            "burnback-is-short",
            "times.burnback",
            f"the contactor stays on for up to {ms(longest_us)} after the wire has stopped",
            f"no pull of the trigger shortens a burnback once it has begun, and {ms(LONGEST_BURNBACK_US)} is the most "
            "that is allowed; some tenths of a second burn any wire back (common practice, no source)",
            Remedy(
                f"end the dial below {ms(long_us)}; a wire that needs more coasts too long: brake its motor",
                changes,
            ),
            figures=(time_figure("longest burnback", longest_us), time_figure("long from", long_us)),
        )


def pause_parts_the_stitches(project: Project) -> Iterator[Finding]:
    """In a stitch pause the contactor must have time to drop out, and an arc sensor to see that it did."""
    design, stitch = project.design, project.design.stitch
    latest_us = off_delay_of(design, design.feeder.contactor).max_us
    if stitch is None:
        return
    seen_us = arc_end_us(design)
    shortest = time_figure("shortest pause", stitch.pause.low_us)
    if seen_us is not None and stitch.pause.low_us <= seen_us:
        yield error(
            "pause-parts-the-stitches",
            "stitch.pause",
            f"the shortest pause is {ms(stitch.pause.low_us)}; contactor and arc sensor take up to {ms(seen_us)} to "
            "show that the arc is out",
            "an arc counts as established only if the sensor was seen open since the contactor was last off: the next "
            "stitch would end at the arc-start limit, with a fault",
            _longer_pause(stitch.pause, seen_us),
            figures=(shortest, time_figure("until the arc is seen to be out", seen_us)),
        )
    if stitch.pause.low_us > latest_us or seen_us is not None:
        return
    yield warning(
        "pause-parts-the-stitches",
        "stitch.pause",
        f"the shortest pause is {ms(stitch.pause.low_us)}, the contactor takes up to {ms(latest_us)} to drop out",
        "the arc may not go out between stitches: it is one long weld then",
        _longer_pause(stitch.pause, latest_us),
        figures=(shortest, time_figure("latest drop-out of the contactor", latest_us)),
    )


def _longer_pause(pause: TimeSetting, out_us: float) -> Remedy:
    """Twice the time after which the arc is out."""
    least_us = whole_ms(2 * out_us)
    return Remedy(f"a pause from {ms(least_us)} on", start_time_at("stitch.pause", pause, least_us))


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
                _weld_limit_of(4, "a limit of 4 min, or what your longest run takes"),
            )
        else:
            yield warning(
                "weld-limit",
                "limits.weld",
                "no weld limit",
                "with a stuck trigger or a shorted trigger cable it keeps welding",
                _weld_limit_of(5, "a limit of 5 min, or what your longest run takes"),
            )
        return
    spot = design.spot
    if spot is not None and limit_us <= spot.time.high_us:
        yield error(
            "weld-limit",
            "limits.weld",
            f"the weld limit, {ms(limit_us)}, cuts into the longest spot, {ms(spot.time.high_us)}",
            "a limit is for what went wrong, not for the weld itself",
            Remedy("a limit well over the longest spot", (set_duration("limits.weld", 3 * spot.time.high_us),)),
            figures=(time_figure("weld limit", limit_us), time_figure("longest spot", spot.time.high_us)),
        )


def _weld_limit_of(minutes: int, text: str) -> Remedy:
    return Remedy(text, (DesignEdit("limits.weld", f"{minutes} min"),))


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
        max(on_delay_of(one).max_us for one in (design.feeder.contactor, design.feeder.wire_drive))
        + design.arc_sensor.filter_us
    )
    if limit_us < 3 * needed_us:
        longer = set_duration("limits.arc_start", max(1_000_000, whole_ms(3 * needed_us)))
        yield warning(
            "arc-start-limit",
            "limits.arc_start",
            f"the arc must be established {ms(limit_us)} after contactor-on; contactor, drive and sensor alone take up "
            f"to {ms(needed_us)}",
            "an ordinary start would be cut off: the wire has still to reach the work",
            Remedy("a limit of 1 s to 3 s", (longer,)),
            figures=(
                time_figure("arc-start limit", limit_us),
                time_figure("taken by contactor, drive and sensor", needed_us),
            ),
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
    least_cycle_us = 60e6 * SHORTEST_MIN_PER_H / OPERATIONS_PER_H
    for label, spot_us, pause_us in (
        ("at its settings", design.spot.time.setting_us, design.stitch.pause.setting_us),
        ("at its fastest", design.spot.time.low_us, design.stitch.pause.low_us),
    ):
        burnback = design.times.burnback
        burnback_us = burnback.low_us if label == "at its fastest" else burnback.setting_us
        cycle_us = spot_us + burnback_us + pause_us
        per_h = 3.6e9 / cycle_us
        says = f"a stitch that never ends switches contactor and wire drive {per_h:.0f} times an hour {label}"
        minutes = min(60.0, 60 * OPERATIONS_PER_H / per_h)
        reason = (
            f"small contactors are good for about {OPERATIONS_PER_H} operations an hour, which leaves {minutes:.0f} "
            f"min of stitching in each, and for {ELECTRICAL_LIFE_OPERATIONS} in their life, "
            f"{ELECTRICAL_LIFE_OPERATIONS / per_h:.0f} h of it (common practice, no source)"
        )
        figures = (
            Figure(f"operations {label}", per_h, "per hour"),
            Figure("stitching allowed", minutes, "min per hour"),
            Figure("life of a small contactor", ELECTRICAL_LIFE_OPERATIONS / per_h, "h"),
        )
        if cycle_us < least_cycle_us:
            least_us = whole_ms(least_cycle_us - spot_us - burnback_us)
            yield warning(
                "relay-operations",
                "stitch.pause",
                says,
                reason,
                Remedy("a longer pause", start_time_at("stitch.pause", design.stitch.pause, least_us)),
                "a contactor rated for frequent switching",
                figures=figures,
            )
        else:
            yield info("relay-operations", "stitch.pause", says, reason, figures=figures)


def duty_cycle(project: Project) -> Iterator[Finding]:
    """Compare arc-on time over ten minutes with the power source's duty cycle."""
    design = project.design
    allowed_percent, current = _allowed(design)
    for work, key, share_percent, less in _shares(design, allowed_percent):
        says = f"{work} keeps the arc on for {share_percent:.0f} % of {ms(DUTY_PERIOD_US)}"
        arc_on = Figure("arc on", share_percent, "%")
        if allowed_percent is not None and share_percent > allowed_percent:
            yield warning(
                "duty-cycle",
                key,
                says,
                f"by its plate the power source may weld {allowed_percent:.0f} % of the time {current} (10 min period, "
                "IEC 60974-1)",
                less,
                "rests between runs, or a lower current",
                figures=(arc_on, Figure("allowed", allowed_percent, "%")),
            )
        elif allowed_percent is None:
            yield info(
                "duty-cycle",
                key,
                says,
                "compare with the duty cycle on the power source's rating plate (10 min period, IEC 60974-1)",
                'process.duty_cycle = "60 %" with its duty_cycle_current has it checked',
                figures=(arc_on,),
            )


def _shares(design: Design, allowed_percent: float | None) -> Iterator[tuple[str, str, float, Remedy]]:
    """Give each way of working: its name, its key, arc-on time in percent, and what keeps it to what is allowed."""
    if design.spot is not None and design.stitch is not None:
        pause = design.stitch.pause
        arc_us = design.spot.time.setting_us + design.times.burnback.setting_us
        longer: tuple[DesignEdit, ...] = ()
        if allowed_percent:
            least_us = whole_ms(arc_us * (100 / allowed_percent - 1))
            fits = least_us <= (pause.high_us if pause.dial else LONGEST_US)
            longer = (set_duration("stitch.pause.setting", least_us),) if fits else ()
        share_percent = 100 * arc_us / (arc_us + pause.setting_us)
        yield "stitching", "stitch.pause", share_percent, Remedy("a longer pause", longer)
    if design.limits.weld_us is not None:
        longest_us = min(design.limits.weld_us, DUTY_PERIOD_US)
        lower: tuple[DesignEdit, ...] = ()
        if allowed_percent:
            most_us = int(DUTY_PERIOD_US * allowed_percent / 100) // 1_000_000 * 1_000_000
            enough = design.spot is None or most_us > design.spot.time.high_us
            lower = (set_duration("limits.weld", most_us),) if enough and most_us else ()
        share_percent = 100 * longest_us / DUTY_PERIOD_US
        yield "one weld up to its limit", "limits.weld", share_percent, Remedy("a lower limit", lower)


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
