"""What a hand can set burnback to: the marks on the plate of its dial, or any time that the program may hold."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from timing.design.times import LONGEST_BURNBACK_US
from timing.formatting import ms

FINE_STEP_US, FINE_TO_US, COARSE_STEP_US = 5_000, 300_000, 20_000
"""Steps of a time that is fixed in the program, fine up to FINE_TO_US (choice)."""
PROOF_S = 0.010
"""A weld counts as made at a setting within this, or within a mark of it (choice: what a hand can set)."""


@dataclass(frozen=True)
class DialMark:
    """A burnback setting that can be made."""

    time_s: float
    words: str
    """Where to turn the dial to, or the time itself."""


@dataclass(frozen=True)
class Settable:
    """What burnback can be set to, by rising time."""

    marks: tuple[DialMark, ...]
    dial: bool
    """False where burnback is fixed in the program."""

    @staticmethod
    def fixed() -> Settable:
        """Any round time, each a build and an upload."""
        coarse = range(FINE_TO_US, LONGEST_BURNBACK_US + 1, COARSE_STEP_US)
        times = [*range(0, FINE_TO_US, FINE_STEP_US), *coarse]
        return Settable(tuple(DialMark(time_us / 1e6, ms(time_us)) for time_us in times), dial=False)

    @property
    def times_s(self) -> list[float]:
        """The times of the marks."""
        return [mark.time_s for mark in self.marks]

    def proved(self, mark: DialMark, free_s: Sequence[float]) -> bool:
        """Tell whether welds that came free prove a mark: made there, as nearly as a hand sets a dial, or around it."""
        others = [abs(other.time_s - mark.time_s) for other in self.marks if other is not mark]
        reach_s = max(PROOF_S, min(others, default=0.0)) + 1e-9
        return (
            min(free_s, default=math.inf) <= mark.time_s + reach_s
            and max(free_s, default=-1.0) >= mark.time_s - reach_s
        )
