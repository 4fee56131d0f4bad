"""Gas through an opening: subsonic, and choked from the critical pressure ratio on.

An ideal gas that expands without loss from rest before an opening of area A lets pass

    m = A p0 f / sqrt(R T0),  f = sqrt(2 g / (g - 1) (r^(2/g) - r^((g+1)/g)))

with g the ratio of its specific heats and r the pressure behind the opening over the one before it, both absolute.
Below r* = (2 / (g+1))^(g / (g-1)) the speed in the opening is that of sound and the flow no longer depends on r: it is
choked, and f stays as it is at r* (M. J. Moran and H. N. Shapiro, Fundamentals of Engineering Thermodynamics, 8th
edition, sections 9.13 and 9.14, seen quoted).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

HEAT_RATIOS = {"argon": 1.67, "helium": 1.66, "oxygen": 1.40, "CO2": 1.30}
"""Ratio of the specific heats at 20 degC, by part of a shielding gas (published: F. M. White, Fluid Mechanics, 4th
edition, table of gases, seen quoted)."""


def heat_ratio(parts: Mapping[str, float]) -> float:
    """Return the ratio of specific heats of a mixture, from shares by volume in any unit: its molar heats add up."""
    molar = sum(share * HEAT_RATIOS[part] / (HEAT_RATIOS[part] - 1) for part, share in parts.items())
    mean = molar / sum(parts.values())
    return mean / (mean - 1)


def critical_pressure_ratio(heats: float) -> float:
    """Return the ratio of absolute pressures, behind over before, at and below which flow is choked."""
    return float((2 / (heats + 1)) ** (heats / (heats - 1)))


def flow_function(pressure_ratio: float, heats: float) -> float:
    """Return f for a ratio of absolute pressures, behind over before; 0 from a ratio of 1 on."""
    ratio = max(pressure_ratio, critical_pressure_ratio(heats))
    if ratio >= 1:
        return 0.0
    return math.sqrt(2 * heats / (heats - 1) * (ratio ** (2 / heats) - ratio ** ((heats + 1) / heats)))
