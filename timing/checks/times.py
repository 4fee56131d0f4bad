"""Rules on spot and stitch times as such; timing.checks.process checks the times against wire, arc and gas."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, error, info, warning
from timing.design.suppression import off_delay_of
from timing.design.times import LONGEST_BURNBACK_US
from timing.formatting import ms
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
