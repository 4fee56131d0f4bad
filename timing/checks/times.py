"""Rules on the times: can valve, motor and contactor follow them?"""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, error, info, warning
from timing.checks.subject import Subject, ms

# Common practice, no source: what spot dials of wire feeders usually cover.
USUAL_SPOT_US = (250_000, 2_500_000)
# Common practice, no source: a spot that varies by more than this from one to the next shows.
SPOT_SCATTER_SHARE = 0.2


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


def preflow_reaches_the_arc(subject: Subject) -> Iterator[Finding]:
    """Gas must leave the valve before the arc can strike, in the worst case of both delays."""
    valve = subject.design.feeder.gas_valve
    if valve is None:
        return
    preflow, contactor = subject.design.times.preflow, subject.design.feeder.contactor
    late_us = valve.on_delay.max_us - contactor.on_delay.min_us
    if preflow.setting_us <= late_us:
        yield warning(
            "preflow-reaches-the-arc",
            "times.preflow",
            f"with {ms(preflow.setting_us)} of preflow the valve may open {ms(late_us - preflow.setting_us)} after the "
            "contactor has closed",
            f"the valve takes up to {ms(valve.on_delay.max_us)}, the contactor as little as "
            f"{ms(contactor.on_delay.min_us)}: the arc would start in air",
            f"a preflow well over {ms(max(late_us, 0))}; hose and nozzle need time to purge on top",
        )


def spot_outlasts_the_drive(subject: Subject) -> Iterator[Finding]:
    """A spot shorter than the wire drive's own delay feeds no wire; one near it scatters."""
    spot, drive = subject.design.spot, subject.design.feeder.wire_drive
    if spot is None:
        return
    on_us, off_us = drive.on_delay, drive.off_delay
    if spot.time.low_us <= on_us.max_us:
        broken = spot.time.setting_us <= on_us.max_us
        yield (error if broken else warning)(
            "spot-outlasts-the-drive",
            "spot.time",
            f"the shortest spot is {ms(spot.time.low_us)}, the wire drive takes up to {ms(on_us.max_us)} to start",
            "the wire may not move at all before the spot is over",
            f"a spot time from {ms(3 * on_us.max_us)} on, or a faster drive",
        )
        return
    scatter_us = on_us.max_us - on_us.min_us + off_us.max_us - off_us.min_us
    if scatter_us > SPOT_SCATTER_SHARE * spot.time.low_us:
        yield info(
            "spot-outlasts-the-drive",
            "spot.time",
            f"the shortest spot, {ms(spot.time.low_us)}, may vary by {ms(scatter_us)} from one to the next",
            "the wire drive's own delays vary by that much",
        )


def burnback_outlasts_the_wire(subject: Subject) -> Iterator[Finding]:
    """The arc must burn on after the wire has lost its drive, and for most of its coast."""
    burnback, drive, contactor = (
        subject.design.times.burnback,
        subject.design.feeder.wire_drive,
        subject.design.feeder.contactor,
    )
    earliest_us = burnback.setting_us + contactor.off_delay.min_us - drive.off_delay.max_us
    if earliest_us <= 0:
        yield error(
            "burnback-outlasts-the-wire",
            "times.burnback",
            f"with {ms(burnback.setting_us)} of burnback the arc may go out {ms(-earliest_us)} before the wire drive "
            "has let go",
            f"the drive takes up to {ms(drive.off_delay.max_us)} to drop out, the contactor as little as "
            f"{ms(contactor.off_delay.min_us)}: the wire is driven into the puddle and freezes there",
            f"a burnback over {ms(drive.off_delay.max_us - contactor.off_delay.min_us + drive.coast_us)}",
        )
        return
    burning_us = burnback.setting_us + contactor.off_delay.typical_us - drive.off_delay.typical_us
    if burning_us < drive.coast_us:
        yield warning(
            "burnback-outlasts-the-wire",
            "times.burnback",
            f"the arc burns on for {ms(burning_us)} after the drive has let go, the wire coasts with a time constant "
            f"of {ms(drive.coast_us)}",
            "the wire still moves at more than a third of its speed when the arc goes out",
            f"a burnback from {ms(burnback.setting_us + drive.coast_us - burning_us)} on, or a brake on the motor",
        )


def postflow_follows_the_arc(subject: Subject) -> Iterator[Finding]:
    """With gas, some postflow must be left after the valve's and contactor's delays."""
    valve, contactor = subject.design.feeder.gas_valve, subject.design.feeder.contactor
    if valve is None:
        return
    postflow = subject.design.times.postflow
    left_us = postflow.setting_us + valve.off_delay.min_us - contactor.off_delay.max_us
    if left_us <= 0:
        yield warning(
            "postflow-follows-the-arc",
            "times.postflow",
            f"the gas may end {ms(-left_us)} before the arc does",
            f"postflow {ms(postflow.setting_us)}, valve off after {ms(valve.off_delay.min_us)} at the least, contactor "
            f"after up to {ms(contactor.off_delay.max_us)}: the crater solidifies in air",
            "a postflow that outlasts the crater's solidification, usually 0.5 s or more (common practice, no source)",
        )


def pause_parts_the_stitches(subject: Subject) -> Iterator[Finding]:
    """In a stitch pause the contactor must have time to drop out."""
    stitch, contactor = subject.design.stitch, subject.design.feeder.contactor
    if stitch is None or stitch.pause.low_us > contactor.off_delay.max_us:
        return
    yield warning(
        "pause-parts-the-stitches",
        "stitch.pause",
        f"the shortest pause is {ms(stitch.pause.low_us)}, the contactor takes up to "
        f"{ms(contactor.off_delay.max_us)} to drop out",
        "the arc may not go out between stitches: it is one long weld then",
        f"a pause from {ms(2 * contactor.off_delay.max_us)} on",
    )
