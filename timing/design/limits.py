"""[limits]: what ends a weld, a purge or an inch that nobody ends."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from timing.design.quantities import Measure
from timing.design.section import Section

# Well under half the range of a 32-bit count of microseconds (35 min), so that comparisons survive its wrap.
LONGEST_LIMIT_US = 1_800_000_000
"""Longest limit that a design may set (choice)."""


class Limits(Section):
    """Longest times; after one of them nothing starts until the trigger was seen open."""

    weld_us: Annotated[int, Measure("us", 100_000, LONGEST_LIMIT_US, "60 s")] | None = Field(
        None, description="Longest weld, counted from the first contactor-on; must be set in four-step."
    )
    arc_start_us: Annotated[int, Measure("us", 50_000, 60_000_000, "2 s")] | None = Field(
        None, description="With an arc sensor: longest wait for the arc."
    )
    purge_us: Annotated[int, Measure("us", 100_000, 600_000_000, "30 s")] = Field(
        30_000_000, description="Longest purge."
    )
    inch_us: Annotated[int, Measure("us", 100_000, 600_000_000, "10 s")] = Field(
        10_000_000, description="Longest inch."
    )
