"""Rules on the dials: can a hand set what the dial promises?"""

from __future__ import annotations

from collections.abc import Iterator

from timing.checks.finding import Finding, info, warning
from timing.design.times import TIME_KEYS
from timing.formatting import ms
from timing.project import Project

# Own judgement: a knob on a 300 degree dial is set to about two degrees, and a time should come out within a fifth.
HAND_DEG = 2.0
"""A hand sets a knob on a 300 degree dial to about this (choice)."""
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
