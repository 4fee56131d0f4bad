"""Rules on repeated work: how often the relays switch, and how much of ten minutes the arc is on."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, info, warning
from timing.design.design import Design
from timing.formatting import ms
from timing.process.case import burnback_case
from timing.process.errors import ProcessError
from timing.process.spot import duty_allowed_of
from timing.project import Project

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
        current_a = float(case.operating_point().current_a[0])
    except ProcessError:
        return plate_percent, f"at {plate_a:g} A" if plate_a else ""
    return None if share is None else 100 * share, f"at the {current_a:.0f} A of this wire feed speed"
