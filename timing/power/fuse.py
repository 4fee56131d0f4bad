"""Time-lag miniature fuses after IEC 60127-2, and the choice of one."""

from __future__ import annotations

from dataclasses import dataclass

RATINGS_A = (0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3)
"""Rated currents of miniature fuses: R10 and R20 numbers (published: IEC 60127-2, seen quoted from 32 mA up)."""

# IEC 60127-2, standard sheet 5 (time-lag, high breaking capacity):
# 2.1 In opens within 30 min; 2.75 In in 1 s to 80 s; 4 In in 95 ms (150 ms from 4 A) to 5 s;
# 10 In in 10 ms (20 ms from 4 A) to 100 ms.
QUICK_MULTIPLE = 10.0
"""Multiple of the rated current at which the standard bounds a quick opening (published: IEC 60127-2, standard sheet
5, seen reprinted)."""
QUICK_S = 0.1
"""Longest time to open at that (published: IEC 60127-2, standard sheet 5, seen reprinted)."""
FAIR_MULTIPLE = 4.0
"""Multiple of the rated current at which it opens within seconds (published: IEC 60127-2, standard sheet 5, seen
reprinted)."""
FAIR_S = 5.0
"""Longest time to open at that (published: IEC 60127-2, standard sheet 5, seen reprinted)."""

CONTINUOUS_SHARE = 0.6
"""Share of its rating that a fuse is loaded with continuously in a warm box (practice)."""
PULSE_SHARE = 0.5
"""Share of its least melting integral that each switching-on may use (practice)."""


def least_melting_a2s(rating_a: float) -> float:
    """Return the least melting integral in A^2 s: at 10 In no such fuse opens before 10 ms (20 ms from 4 A)."""
    return (QUICK_MULTIPLE * rating_a) ** 2 * (0.020 if rating_a >= 4.0 else 0.010)


@dataclass(frozen=True)
class FuseChoice:
    """A fuse checked against what it must carry, withstand and interrupt."""

    rating_a: float
    continuous_a: float
    inrush_a2s: float
    prospective_a: float
    """Current into a dead short behind the fuse at low line."""

    @property
    def carries(self) -> bool:
        """True where the continuous current leaves the fuse cool."""
        return self.continuous_a <= CONTINUOUS_SHARE * self.rating_a

    @property
    def survives_inrush(self) -> bool:
        """True where switching on does not wear the fuse out."""
        return self.inrush_a2s <= PULSE_SHARE * least_melting_a2s(self.rating_a)

    @property
    def opens_in_s(self) -> float | None:
        """Longest time to open on a dead short, by the standard's gates; None where they promise nothing useful."""
        if self.prospective_a >= QUICK_MULTIPLE * self.rating_a:
            return QUICK_S
        return FAIR_S if self.prospective_a >= FAIR_MULTIPLE * self.rating_a else None


def choose(continuous_a: float, inrush_a2s: float, prospective_a: float) -> FuseChoice:
    """Return the smallest fuse that carries and survives; the largest known one when none does."""
    choices = [FuseChoice(rating, continuous_a, inrush_a2s, prospective_a) for rating in RATINGS_A]
    return next((choice for choice in choices if choice.carries and choice.survives_inrush), choices[-1])
