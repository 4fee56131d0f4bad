"""Rules on spot and stitch times as such; timing.checks.process checks the times against wire, arc and gas."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, info, warning
from timing.checks.subject import Subject, ms
from timing.supply.suppression import off_delay_of

# Common practice, no source: what spot dials of wire feeders usually cover.
USUAL_SPOT_US = (250_000, 2_500_000)
"""What spot dials of wire feeders cover (practice)."""


def spot_dial_range(subject: Subject) -> Iterator[Finding]:
    """Compare the spot time's range with the usual one; thick plugs need longer, thin sheet shorter."""
    spot = subject.design.spot
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


def pause_parts_the_stitches(subject: Subject) -> Iterator[Finding]:
    """In a stitch pause the contactor must have time to drop out."""
    stitch = subject.design.stitch
    latest_us = off_delay_of(subject.design, subject.design.feeder.contactor).max_us
    if stitch is None or stitch.pause.low_us > latest_us:
        return
    yield warning(
        "pause-parts-the-stitches",
        "stitch.pause",
        f"the shortest pause is {ms(stitch.pause.low_us)}, the contactor takes up to {ms(latest_us)} to drop out",
        "the arc may not go out between stitches: it is one long weld then",
        f"a pause from {ms(2 * latest_us)} on",
    )
