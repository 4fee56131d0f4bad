"""Rules on the dials: can a hand set what the dial promises?"""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, info, warning
from timing.design.formatting import ms
from timing.design.times import TIME_KEYS, TimeSetting
from timing.project import Project
from timing.sequence.of_design import time_settings
from timing.sequence.readings import dial_scale

# Common practice, no source: an audio taper has passed this share of its resistance at half its rotation.
AUDIO_SHARE_AT_HALF = 0.15
"""Share of the track at half travel of an audio taper (practice)."""
# Own judgement: a knob on a 300 degree dial is set to about two degrees, and a time should come out within a fifth.
HAND_DEG = 2.0
"""A hand sets a knob on a 300 degree dial to about this (choice)."""
COARSE_SHARE = 0.2
"""A time should come out within this share (choice)."""


def dial_step(project: Project) -> Iterator[Finding]:
    """Tell the step of each dial at both ends, by converter and by hand, and warn where it is coarse."""
    for name, setting in time_settings(project.design).items():
        if not setting.dial:
            continue
        scale = dial_scale(setting, project.board)
        count_us = scale.step_q4_us / 16
        low_us, high_us = (slope * (scale.high_us - scale.low_us) for slope in _slopes_per_deg(setting))
        says = (
            f"{name} dial: one count of the converter is {ms(count_us)}; one degree of the knob is {ms(low_us)} at the "
            f"low end, {ms(high_us)} at the high end"
        )
        worst_us = max(low_us * HAND_DEG, count_us)
        if worst_us > COARSE_SHARE * setting.low_us > 0:
            remedy = "a narrower range" if setting.taper == "audio" else 'a narrower range, or taper = "audio"'
            yield warning(
                "dial-step",
                TIME_KEYS[name],
                says,
                f"a hand sets a knob to about {HAND_DEG:g} degrees: {ms(worst_us)} on {ms(setting.low_us)}",
                f'{remedy}; rotation = "3600 deg" where a ten-turn dial is fitted',
            )
        else:
            yield info("dial-step", TIME_KEYS[name], says, f"a hand sets a knob to about {HAND_DEG:g} degrees")


def _slopes_per_deg(setting: TimeSetting) -> tuple[float, float]:
    if setting.taper == "linear":
        slope = 1 / setting.rotation_deg
        return slope, slope
    half_deg = setting.rotation_deg / 2
    return AUDIO_SHARE_AT_HALF / half_deg, (1 - AUDIO_SHARE_AT_HALF) / half_deg
