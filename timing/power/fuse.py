"""The fuse of the add-on: a miniature fuse 5 x 20 mm, time-lag, after IEC 60127-2.

Two sheets of that standard hold such fuses. Those of sheet 3, marked L, break 35 A or ten times their rating; those of
sheet 5, marked H and filled with sand, break 1500 A and begin at 1 A. Their gates differ, so that one does not stand in
for the other, nor for a fuse after UL 248-14, the other family.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

RATINGS_A = (0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5, 0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3)
"""Rated currents of miniature fuses: R10 and R20 numbers (published: IEC 60127-2, seen quoted from 32 mA up)."""
OTHER_FAMILY = (
    "a fuse after UL 248-14 with the same figure is another one: it must open within an hour at 135 % of it, where one "
    "after IEC 60127 must hold 150 % for an hour"
)
"""The other family, in words (published: UL 248-14, seen quoted by a maker of fuses)."""


@dataclass(frozen=True)
class FuseSheet:
    """One standard sheet: what is bounded at which multiple of the rated current."""

    number: int
    letter: str
    breaking: str
    """The breaking capacity in words."""
    breaks_a: float
    """Breaking capacity, or ten times the rating where that is more."""
    least_a: float
    """Smallest rating."""
    slow_a: float
    """From this rating on its wire is sure to last `slow_s` at ten times the rating, below it 10 ms."""
    slow_s: float
    opens: tuple[tuple[float, float], ...]
    """Multiple of the rating, and the longest time in s in which it opens; highest first."""

    def least_melting_a2s(self, rating_a: float) -> float:
        """Return the least melting integral in A^2 s: at 10 In no such fuse opens sooner than the gate."""
        return (10.0 * rating_a) ** 2 * (self.slow_s if rating_a >= self.slow_a else 0.010)

    def opens_in_s(self, rating_a: float, current_a: float) -> float | None:
        """Return the longest time to open at a current; None where the sheet promises nothing."""
        return next((longest for multiple, longest in self.opens if current_a >= multiple * rating_a), None)

    def breaks(self, rating_a: float, current_a: float) -> bool:
        """Tell whether a fuse of that rating may be asked to break a current."""
        return current_a <= max(self.breaks_a, 10.0 * rating_a)


LOW_BREAKING = FuseSheet(
    3, "L", "low breaking capacity", 35.0, 0.032, 0.125, 0.020, ((10.0, 0.3), (4.0, 3.0), (2.75, 10.0), (2.1, 120.0))
)
"""Standard sheet 3 (published: IEC 60127-2, standard sheet 3, seen reprinted in the data sheet of such a fuse)."""
HIGH_BREAKING = FuseSheet(
    5, "H", "high breaking capacity", 1500.0, 1.0, 4.0, 0.020, ((10.0, 0.1), (4.0, 5.0), (2.75, 80.0), (2.1, 1800.0))
)
"""Standard sheet 5 (published: IEC 60127-2, standard sheet 5, seen reprinted)."""

SECONDS_S = 5.0
"""A short shall be off by then (choice)."""
CONTINUOUS_SHARE = 0.6
"""Share of its rating that a fuse is loaded with continuously in a warm box (practice)."""
PULSE_SHARE = 0.5
"""Share of its least melting integral that each switching-on may use (practice)."""


@dataclass(frozen=True)
class FuseChoice:
    """A fuse checked against what it must carry, withstand and interrupt."""

    rating_a: float
    continuous_a: float
    inrush_a2s: float
    prospective_a: float
    """Current into a dead short behind the fuse at its least: low line, the winding's resistance at its most."""
    highest_a: float
    """The same at its most, which the fuse must be able to break."""
    fault_a: float
    """Current into a short behind the rectifier, where the resistor in its feed, if any, counts too; at its least."""

    @property
    def sheet(self) -> FuseSheet:
        """The low-breaking sheet, whose fuses open sooner at small overloads, unless the short is too much for it."""
        needs_high = not LOW_BREAKING.breaks(self.rating_a, self.highest_a) and self.rating_a >= HIGH_BREAKING.least_a
        return HIGH_BREAKING if needs_high else LOW_BREAKING

    @property
    def marking(self) -> str:
        """As it stands on its cap, such as 'T 1.25 A L': time-lag, rating, breaking capacity."""
        return f"T {self.rating_a:g} A {self.sheet.letter}"

    @property
    def title(self) -> str:
        """The marking with its standard."""
        return f"{self.marking} 250 V, IEC 60127-2 sheet {self.sheet.number}, {self.sheet.breaking}"

    @property
    def carries(self) -> bool:
        """True where the continuous current leaves the fuse cool."""
        return self.continuous_a <= CONTINUOUS_SHARE * self.rating_a

    @property
    def least_melting_a2s(self) -> float:
        """What is sure not to melt it, in A^2 s."""
        return self.sheet.least_melting_a2s(self.rating_a)

    @property
    def survives_inrush(self) -> bool:
        """True where switching on does not wear the fuse out."""
        return self.inrush_a2s <= PULSE_SHARE * self.least_melting_a2s

    @property
    def breaks(self) -> bool:
        """True where a dead short at its most is within the breaking capacity."""
        return self.sheet.breaks(self.rating_a, self.highest_a)

    @property
    def opens_in_s(self) -> float | None:
        """Longest time to open on a dead short at its least; None where it is not off within seconds."""
        return _seconds(self.sheet.opens_in_s(self.rating_a, self.prospective_a))

    @property
    def fault_opens_in_s(self) -> float | None:
        """The same for a short behind the rectifier."""
        return _seconds(self.sheet.opens_in_s(self.rating_a, self.fault_a))

    @property
    def works(self) -> bool:
        """True where nothing speaks against it."""
        opens = self.opens_in_s is not None and self.fault_opens_in_s is not None
        return self.carries and self.survives_inrush and self.breaks and opens

    @property
    def stands_a(self) -> float:
        """Up to this current a fault may stand for minutes."""
        return self.sheet.opens[-1][0] * self.rating_a

    @property
    def stands_s(self) -> float:
        """For so long, just above it."""
        return self.sheet.opens[-1][1]


def _seconds(longest_s: float | None) -> float | None:
    return longest_s if longest_s is not None and longest_s <= SECONDS_S else None


def choose_fuse(like: FuseChoice, inrush: bool = True) -> FuseChoice:
    """Return the smallest fuse that carries, survives and can break what another one is held against.

    The largest known one when none does. `inrush` False: as if there were no surge at switching on.
    """
    choices = [replace(like, rating_a=rating) for rating in RATINGS_A]
    bearing = (choice for choice in choices if choice.carries and choice.breaks)
    fitting = (choice for choice in bearing if choice.survives_inrush or not inrush)
    return next(fitting, choices[-1])
