"""Rules on what a hand works: the trigger with its filter, the dials with their steps."""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import DesignEdit, Figure, Finding, Remedy, error, info, time_figure, warning
from timing.checks.remedies import set_duration, whole_ms
from timing.design.times import SELECTED, TIME_KEYS
from timing.formatting import ms
from timing.project import Project

# Common practice, no source: gun triggers bounce for a few milliseconds; a delay over this is felt.
BOUNCE_US = 5_000
"""Bounce of a switch (practice)."""
DC_FILTER_US = 12_000
"""Filter for a contact on dc: over twice its bounce, and not felt (practice)."""
SLUGGISH_US = 60_000
"""A filter this long is felt in the hand (practice)."""
OTHER_FREQUENCY_HZ = {50.0: 60.0, 60.0: 50.0}
"""The line frequencies there are (exact)."""
# Timing of the filter against the line is never exact: half-waves wander with load and threshold.
GAP_MARGIN = 1.1
"""Filter over the longest gap of a held trigger (choice)."""


def longest_gap_us(optocoupler: str, line_frequency_hz: float, missing: int = 0) -> float:
    """Return the longest gap between pulses of an ac sense, `missing` pulses being lost.

    An ac-input optocoupler conducts once in each half-wave, a single one in every other. However short its
    conduction, pulses come one pulse period apart: that is the bound taken here.
    """
    pulses_per_s = line_frequency_hz * (2 if optocoupler == "ac-input" else 1)
    return (1 + missing) * 1e6 / pulses_per_s


def filter_bridges_the_gaps(project: Project) -> Iterator[Finding]:
    """With ac sensing, the filter must outlast the gap between half-waves, and should outlast a missing one."""
    trigger, line_hz = project.design.trigger, project.design.supply.line_frequency_hz
    if trigger.sense != "ac":
        return
    gap_us = longest_gap_us(trigger.optocoupler, line_hz)
    two_us = longest_gap_us(trigger.optocoupler, line_hz, missing=1)
    held = time_figure("filter", trigger.filter_us)
    wanted_us = whole_ms(GAP_MARGIN * two_us)
    change = (set_duration("trigger.filter", wanted_us),)
    article = "an" if trigger.optocoupler == "ac-input" else "a"
    kind = f"{article} {trigger.optocoupler} optocoupler at {line_hz:g} Hz"
    if trigger.filter_us < GAP_MARGIN * gap_us:
        yield error(
            "filter-bridges-the-gaps",
            "trigger.filter",
            f"the filter is {ms(trigger.filter_us)}, the gaps of {kind} are up to {ms(gap_us)}",
            "a held trigger would look like one press after the other",
            Remedy(f"a filter of {ms(wanted_us)}, which also bridges a missing half-wave", change),
            figures=(held, time_figure("longest gap", gap_us)),
        )
    elif trigger.filter_us < GAP_MARGIN * two_us:
        yield warning(
            "filter-bridges-the-gaps",
            "trigger.filter",
            f"the filter is {ms(trigger.filter_us)}; with one pulse of {kind} missing the gap is {ms(two_us)}",
            "a single pulse lost to a dirty contact would end the weld",
            Remedy(f"a filter of {ms(wanted_us)}", change),
            figures=(held, time_figure("longest gap with a pulse missing", two_us)),
        )
    other_hz = OTHER_FREQUENCY_HZ.get(line_hz)
    other_us = 0.0 if other_hz is None else longest_gap_us(trigger.optocoupler, other_hz)
    if trigger.filter_us < GAP_MARGIN * other_us:
        yield info(
            "filter-bridges-the-gaps",
            "trigger.filter",
            f"at {other_hz:g} Hz the gaps would be {ms(other_us)}",
            "this design holds on its own line frequency only",
            figures=(held, time_figure("longest gap at the other line frequency", other_us)),
        )


def filter_outlasts_bounce(project: Project) -> Iterator[Finding]:
    """A dc contact bounces; a filter shorter than that lets every bounce through."""
    trigger = project.design.trigger
    if trigger.sense == "dc" and trigger.filter_us < BOUNCE_US:
        yield warning(
            "filter-outlasts-bounce",
            "trigger.filter",
            f"the filter is {ms(trigger.filter_us)}",
            f"trigger contacts bounce for a few milliseconds (common practice, no source: up to {ms(BOUNCE_US)})",
            Remedy("a filter of 10 ms to 15 ms", (set_duration("trigger.filter", DC_FILTER_US),)),
            figures=(time_figure("filter", trigger.filter_us), time_figure("bounce", BOUNCE_US)),
        )


def release_delay(project: Project) -> Iterator[Finding]:
    """Tell what the filter costs at the release: time, and wire fed in it."""
    trigger, speed_mm_s = project.design.trigger, project.design.process.wire_feed_speed_mm_s
    fed_mm = speed_mm_s * trigger.filter_us / 1e6
    says = f"press and release count {ms(trigger.filter_us)} late; that feeds {fed_mm:.2g} mm of wire at the release"
    figures = (time_figure("filter", trigger.filter_us), Figure("wire fed in it", fed_mm, "mm"))
    if trigger.filter_us > SLUGGISH_US:
        yield warning(
            "release-delay",
            "trigger.filter",
            says,
            f"a delay over {ms(SLUGGISH_US)} is felt at the gun (common practice, no source)",
            _shorter_filter(project),
            figures=figures,
        )
    else:
        yield info("release-delay", "trigger.filter", says, "the filter's delay is part of every weld", figures=figures)


def _shorter_filter(project: Project) -> Remedy:
    trigger, line_hz = project.design.trigger, project.design.supply.line_frequency_hz
    if trigger.sense == "dc":
        return Remedy("a filter of 10 ms to 15 ms", (set_duration("trigger.filter", DC_FILTER_US),))
    shorter = set_duration("trigger.filter", whole_ms(GAP_MARGIN * longest_gap_us("ac-input", line_hz, missing=1)))
    if trigger.optocoupler == "ac-input":
        return Remedy("a shorter filter", (shorter,))
    both = (DesignEdit("trigger.optocoupler", "ac-input"), shorter)
    return Remedy("an ac-input optocoupler allows a shorter filter", both)


# Own judgement: a knob on a 300 degree dial is set to about two degrees, and a time should come out within a fifth.
HAND_DEG = 2.0
"""A hand sets a knob on a 300 degree dial to about this (choice)."""
TEN_TURN_DEG = 3600.0
"""Rotation of a ten-turn dial (exact)."""
COARSE_SHARE = 0.2
"""A time should come out within this share (choice)."""


def dial_step(project: Project) -> Iterator[Finding]:
    """Tell the step of each dial at both ends, by converter and by hand, and warn where it is coarse."""
    for name, dial in project.dials.items():
        setting, count_us = dial.setting, dial.count_us
        low_us, high_us = dial.degree_us
        says = (
            f"{name} dial: one count of the converter is {ms(count_us)}; one degree of the knob is {ms(low_us)} at the "
            f"low end, {ms(high_us)} at the high end"
        )
        figures = (
            time_figure("one count of the converter", count_us),
            time_figure("one degree at the low end", low_us),
            time_figure("one degree at the high end", high_us),
        )
        worst_us = max(low_us * HAND_DEG, count_us)
        if worst_us > COARSE_SHARE * setting.low_us > 0:
            audio = Remedy("an audio taper", (DesignEdit(f"{TIME_KEYS[name]}.taper", "audio"),))
            ten_turn = Remedy("a ten-turn dial", (DesignEdit(f"{TIME_KEYS[name]}.rotation", "3600 deg"),))
            yield warning(
                "dial-step",
                TIME_KEYS[name],
                says,
                f"a hand sets a knob to about {HAND_DEG:g} degrees: {ms(worst_us)} on {ms(setting.low_us)}",
                "a narrower range",
                *([audio] if setting.taper != "audio" else []),
                *([ten_turn] if setting.rotation_deg < TEN_TURN_DEG else []),
                figures=figures,
            )
        else:
            reason = f"a hand sets a knob to about {HAND_DEG:g} degrees"
            yield info("dial-step", TIME_KEYS[name], says, reason, figures=figures)


def stitch_without_spot(project: Project) -> Iterator[Finding]:
    """Two switches for spot and stitch can stand at a stitch without a spot, which is no stitch."""
    design = project.design
    if not all(project.features.fitted[role] for role in SELECTED):
        return
    reason = "nothing ends a stitch but the spot time: the board welds until the trigger ends it"
    if design.panel.has_selector:
        text = "with the selector's SPOT wire broken, STITCH is read as a stitch without a spot"
        yield info("stitch-without-spot", "panel.selector", text, reason)
        return
    # A panel that is made has its holes: another one is for its owner to decide on.
    changes = () if design.panel.made else (DesignEdit("panel.selector", "three-position"),)
    one_switch = Remedy("one switch for both", changes)
    text = "the two switches can stand at stitch on, spot off"
    yield info("stitch-without-spot", "panel.selector", text, reason, one_switch)
