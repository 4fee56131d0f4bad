"""The disc on the drive roll: dark and bright sectors that a reflex sensor counts, or slots for a light barrier.

One turn of the roll feeds pi times the diameter in which it grips the wire (exact); a sector is its share of that. The
diameter is best found by running wire and counting, for a roll grips it in a groove.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

USUAL_ROLL_MM = 30.0
"""Diameter of a drive roll that was not measured (practice)."""
ROLL_MM = (15.0, 80.0)
"""Diameters of drive rolls that a disc is made for (choice)."""
DISC_MM = (40.0, 120.0)
"""Outer diameters of discs: a smaller one has too few sectors, a larger one no room on the page (choice)."""
BORE_MM = (2.0, 20.0)
"""Bores of discs (choice)."""
USUAL_DISC_OVER_ROLL_MM = 15.0
"""How far a disc stands over its roll, in diameter, unless it is wished otherwise (choice)."""
USUAL_BORE_MM = 8.0
"""For the screw or the knob of a roll (practice)."""
SECTOR_MM = 2.5
"""Least width of a sector, dark or bright, in the middle of its track: wider than what a reflex sensor sees at 3 mm
(choice)."""
TRACK_MM, RIM_MM = 9.0, 1.5
"""Width of the track that the sensor sees, and the bright rim outside it that keeps cut slots together (choice)."""
HUB_MM = 4.0
"""Least paper between bore and track (choice)."""


@dataclass(frozen=True)
class RollDisc:
    """A disc, in mm."""

    outer_mm: float
    bore_mm: float
    sectors: int
    """Dark ones, with as many bright ones between them: what the recorder counts in a turn."""

    @property
    def track_outer_mm(self) -> float:
        """Outer radius of the track."""
        return self.outer_mm / 2.0 - RIM_MM

    @property
    def track_inner_mm(self) -> float:
        """Inner radius of the track."""
        return self.track_outer_mm - TRACK_MM

    @property
    def sector_mm(self) -> float:
        """Width of a sector in the middle of the track."""
        return math.pi * (self.track_outer_mm + self.track_inner_mm) / (2 * self.sectors)

    @property
    def fits(self) -> bool:
        """True where paper is left between bore and track."""
        return self.track_inner_mm - self.bore_mm / 2.0 >= HUB_MM

    def mm_per_slot(self, roll_mm: float) -> float:
        """Return the wire that one dark sector with its bright one stands for, by the roll's diameter (mm)."""
        return math.pi * roll_mm / self.sectors


def disc_for(roll_mm: float, outer_mm: float | None = None, bore_mm: float = USUAL_BORE_MM) -> RollDisc:
    """Return the disc for a roll, with as many sectors as its track has room for."""
    low, high = DISC_MM
    outer = min(max(roll_mm + USUAL_DISC_OVER_ROLL_MM, low), high) if outer_mm is None else outer_mm
    middle = outer / 2.0 - RIM_MM - TRACK_MM / 2.0
    return RollDisc(outer, bore_mm, int(math.pi * middle / SECTOR_MM))


DISC_SLOTS = disc_for(USUAL_ROLL_MM).sectors
"""Slots of the disc that is printed where nobody wished another (derived)."""
